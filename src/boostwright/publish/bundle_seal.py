"""The seal of a bundle: a manifest with the digest of every file, and the manifest's signature where a key is given."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, cast

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from boostwright.publish.bundle import FORMAT, Contents
from boostwright.records.atomic import write_atomically
from boostwright.records.signing import fingerprint, is_signed_by, public_key, public_pem
from boostwright.records.zip_file import zip_bytes
from boostwright.studies.rounding import json_text

MANIFEST: Final = "manifest.json"
SIGNATURE: Final = "manifest.sig"
SIGNER: Final = "signer.public.pem"
UNLISTED: Final = (MANIFEST, SIGNATURE)

_MOST_JSON = 16 << 20  # a hundred times the largest that we write; what a small text can become in memory has no end
_NOT_JSON = (ValueError, RecursionError)  # undecodable text is a ValueError too


@dataclass(frozen=True, kw_only=True)
class Listed:
    """What the manifest says of one file."""

    bytes: int
    sha256: str


@dataclass(frozen=True, kw_only=True)
class SealFault:
    """One thing that breaks the seal: the file that it is about, and what is wrong with it."""

    name: str
    problem: str


def sealed(contents: Contents, key: Ed25519PrivateKey | None) -> dict[str, bytes]:
    """Return the files of a bundle with its manifest, signed if a key is given; the key itself never enters it."""
    if key is None:
        return {**contents.files, MANIFEST: manifest(contents.files, contents.recomputed_by)}
    files = {**contents.files, SIGNER: public_pem(key.public_key())}
    listed = manifest(files, contents.recomputed_by)
    return {**files, MANIFEST: listed, SIGNATURE: key.sign(listed)}


def write_bundle(path: Path, contents: Contents, key: Ed25519PrivateKey | None) -> None:
    """Write a bundle whole or not at all; the same contents and key give the same bytes.

    Raises
    ------
    FileError
        If it cannot be written, or holds a name or a size that we would not read again.
    """
    write_atomically(path, zip_bytes(sealed(contents, key)))


def manifest(files: Mapping[str, bytes], recomputed_by: Mapping[str, str]) -> bytes:
    """Size and digest of every file by its name, and the command that makes it again from the inputs."""
    listed = {
        name: {"bytes": len(data), "sha256": _digest(data), "recomputed_by": recomputed_by.get(name)}
        for name, data in sorted(files.items())
    }
    return json_text({"format": FORMAT, "files": listed}).encode("utf-8")


def json_of(data: bytes) -> Any:
    """What a JSON text says; nothing if it is none, repeats a key, nests without end, or is far too long."""
    if len(data) > _MOST_JSON:
        return None
    try:
        return json.loads(data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_number)
    except _NOT_JSON:
        return None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A repeated key says one thing to one reader and another to the next."""
    said = dict(pairs)
    if len(said) != len(pairs):
        raise ValueError("a key is repeated")
    return said


def _no_number(said: str) -> float:
    raise ValueError(f"{said} is no number of JSON")


def seal_faults(files: Mapping[str, bytes]) -> list[SealFault]:
    """What in a bundle differs from what its manifest says, file by file."""
    if MANIFEST not in files:
        return [SealFault(name=MANIFEST, problem="is missing")]
    listed = _listed(files[MANIFEST])
    if listed is None:
        return [SealFault(name=MANIFEST, problem="is not a manifest that this version reads")]
    faults = [SealFault(name=name, problem="is listed and missing") for name in listed if name not in files]
    for name, data in files.items():
        if name in UNLISTED:
            continue
        if name not in listed:
            faults.append(SealFault(name=name, problem="is not listed in the manifest"))
        elif listed[name] != Listed(bytes=len(data), sha256=_digest(data)):
            faults.append(SealFault(name=name, problem="is not the file that the manifest lists: its digest differs"))
    return sorted(faults, key=lambda fault: fault.name)


def _listed(data: bytes) -> dict[str, Listed] | None:
    """The files that a manifest lists; nothing if it is no manifest of this format."""
    said = json_of(data)
    if not isinstance(said, dict) or said.get("format") != FORMAT or not isinstance(said.get("files"), dict):
        return None
    rows = cast("dict[str, Any]", said["files"])
    if not all(isinstance(row, dict) and {"bytes", "sha256"} <= set(row) for row in rows.values()):
        return None
    return {name: Listed(bytes=row["bytes"], sha256=row["sha256"]) for name, row in rows.items()}


@dataclass(frozen=True, kw_only=True)
class Signature:
    """What a bundle's signature is worth: whether it holds, the fingerprint of its key, and that in words."""

    is_broken: bool
    is_known: bool
    words: str


def signature_of(files: Mapping[str, bytes], key: Ed25519PublicKey | None) -> Signature:
    """Judge the signature of a bundle by the maker's key, or, where none is given, by the key within the bundle."""
    signature, own = files.get(SIGNATURE), public_key(files[SIGNER]) if SIGNER in files else None
    if signature is None:
        if key is not None:
            return _broken("is missing: this bundle is not signed, and a key was given to check it by")
        if SIGNER in files:
            return _broken("is missing, though the bundle names the key of a signer")
        return Signature(is_broken=False, is_known=False, words="not signed: nothing says who made it")
    judge = key or own
    if judge is None:
        return _broken("cannot be checked: the bundle holds no public key of Ed25519; give the maker's with --key")
    if not is_signed_by(judge, files.get(MANIFEST, b""), signature):
        if key is not None and own is not None and fingerprint(own) != fingerprint(key):
            return _broken(
                f"is not of this key: it is said to be of {fingerprint(own)}, and {fingerprint(key)} was given"
            )
        return _broken("is not of this manifest: the manifest or the signature was changed")
    if key is None:
        words = f"of key {fingerprint(judge)}, which came within the bundle: compare it with the maker's, or give --key"
        return Signature(is_broken=False, is_known=False, words=words)
    return Signature(is_broken=False, is_known=True, words=f"of the key that was given, {fingerprint(judge)}")


def _broken(words: str) -> Signature:
    return Signature(is_broken=True, is_known=False, words=words)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()

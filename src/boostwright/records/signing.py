"""Ed25519 signatures (RFC 8032) with keys as PEM files: a pair is made, a text signed, a signature checked."""

import hashlib
import os
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from boostwright.errors import Fault, FileError

SIGNATURE_BYTES = 64

_NO_PASSPHRASE = serialization.NoEncryption()


def write_key_pair(path: Path, passphrase: str) -> Path:
    """Make a pair of keys: the private one at `path`, readable by its owner only, the public one beside it.

    Without a passphrase whoever reads the private file can sign.

    Returns
    -------
    Path
        The public key, `NAME.public.pem` beside `NAME.pem`.

    Raises
    ------
    FileError
        If either file is there already, or cannot be written.
    """
    beside = path.with_name(f"{path.stem}.public.pem")
    for taken in (path, beside):
        if taken.exists():
            problem, remedy = "is there already", "choose another name: a key that is lost cannot be made again"
            raise FileError([Fault(file=str(taken), problem=problem, remedy=remedy)])
    private = Ed25519PrivateKey.generate()
    encryption = serialization.BestAvailableEncryption(passphrase.encode("utf-8")) if passphrase else _NO_PASSPHRASE
    pem = private.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, encryption)
    _write_new(path, pem, 0o600)
    _write_new(beside, public_pem(private.public_key()), 0o644)
    return beside


def needs_passphrase(path: Path) -> bool:
    """Whether a private key is locked by a passphrase."""
    return b"BEGIN ENCRYPTED PRIVATE KEY" in _content(path)


def read_private_key(path: Path, passphrase: str) -> Ed25519PrivateKey:
    """Read a private key.

    Raises
    ------
    FileError
        If it is no Ed25519 private key in PEM, or the passphrase does not open it.
    """
    is_locked = needs_passphrase(path)
    try:
        key = serialization.load_pem_private_key(_content(path), passphrase.encode("utf-8") if is_locked else None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as wrong:
        if is_locked:
            problem, remedy = "is not opened by this passphrase", "give the passphrase that it was made with"
            raise FileError([Fault(file=str(path), problem=problem, remedy=remedy)]) from wrong
        raise _no_key(path, "private") from wrong
    if not isinstance(key, Ed25519PrivateKey):
        raise _no_key(path, "private")
    return key


def read_public_key(path: Path) -> Ed25519PublicKey:
    """Read a public key.

    Raises
    ------
    FileError
        If it is no Ed25519 public key in PEM.
    """
    key = public_key(_content(path))
    if key is None:
        raise _no_key(path, "public")
    return key


def public_key(pem: bytes) -> Ed25519PublicKey | None:
    """The public key in a PEM text; nothing if it holds none."""
    try:
        key = serialization.load_pem_public_key(pem)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        return None
    return key if isinstance(key, Ed25519PublicKey) else None


def public_pem(key: Ed25519PublicKey) -> bytes:
    """A public key as PEM."""
    return key.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)


def fingerprint(key: Ed25519PublicKey) -> str:
    """What tells one public key from another when read aloud: the beginning of its SHA-256, in groups of four."""
    raw = key.public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    digest = hashlib.sha256(raw).hexdigest().upper()[:32]
    return "-".join(digest[i : i + 4] for i in range(0, len(digest), 4))


def is_signed_by(key: Ed25519PublicKey, data: bytes, signature: bytes) -> bool:
    """Whether a signature of data was made with the private key that belongs to a public one."""
    try:
        key.verify(signature, data)
    except InvalidSignature:
        return False
    return True


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as wrong:
        problem = f"cannot be read: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError([Fault(file=str(path), problem=problem, remedy="check the name and the folder")]) from wrong


def _write_new(path: Path, data: bytes, permissions: int) -> None:
    """Write a file that must not be there; its permissions are its own from the first byte."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, permissions), "wb") as file:
            file.write(data)
    except OSError as wrong:
        problem = f"cannot be written: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError(
            [Fault(file=str(path), problem=problem, remedy="give a folder in which you may write")]
        ) from wrong


def _no_key(path: Path, kind: str) -> FileError:
    other = "private" if kind == "public" else "public"
    remedy = f"make a pair with: boostwright keys NAME.pem; this place takes the {kind} key, not the {other} one"
    return FileError([Fault(file=str(path), problem=f"is no {kind} Ed25519 key in PEM", remedy=remedy)])

"""Keys and signatures: what a pair does, and what is said of a file that is no key."""

import base64
import re
import stat

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from boostwright.errors import FileError
from boostwright.records.signing import (
    fingerprint,
    is_signed_by,
    needs_passphrase,
    read_private_key,
    read_public_key,
    write_key_pair,
)


def test_signatures_are_those_of_the_standard():
    """RFC 8032, section 7.1, TEST 2 (from memory): one byte, 0x72, signed."""
    secret = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.sign(b"\x72") == signature
    assert is_signed_by(key.public_key(), b"\x72", signature)
    assert not is_signed_by(key.public_key(), b"\x73", signature)
    assert not is_signed_by(key.public_key(), b"\x72", signature[:-1])


@pytest.mark.parametrize("passphrase", ["", "a passphrase with ü"])
def test_a_pair_signs_and_checks_and_only_its_owner_reads_the_private_half(tmp_path, passphrase):
    private = tmp_path / "keys" / "maker.pem"
    public = write_key_pair(private, passphrase)
    assert public == tmp_path / "keys" / "maker.public.pem"
    assert stat.S_IMODE(private.stat().st_mode) == 0o600
    assert needs_passphrase(private) is bool(passphrase)
    key = read_private_key(private, passphrase)
    assert is_signed_by(read_public_key(public), b"text", key.sign(b"text"))
    assert re.fullmatch(r"([0-9A-F]{4}-){7}[0-9A-F]{4}", fingerprint(read_public_key(public)))
    raw = key.private_bytes(serialization.Encoding.Raw, serialization.PrivateFormat.Raw, serialization.NoEncryption())
    held = base64.b64decode("".join(private.read_text().splitlines()[1:-1]))
    assert (raw in held) is not bool(passphrase)


def test_a_key_is_never_written_over(tmp_path):
    private = tmp_path / "maker.pem"
    write_key_pair(private, "")
    before = private.read_bytes()
    with pytest.raises(FileError, match=r"maker\.pem: is there already; choose another name"):
        write_key_pair(private, "")
    assert private.read_bytes() == before


def test_a_wrong_passphrase_and_the_wrong_half_are_named(tmp_path):
    private = tmp_path / "maker.pem"
    public = write_key_pair(private, "right")
    with pytest.raises(FileError, match=r"maker\.pem: is not opened by this passphrase"):
        read_private_key(private, "wrong")
    with pytest.raises(FileError, match=r"maker\.public\.pem: is no private Ed25519 key in PEM"):
        read_private_key(public, "")
    with pytest.raises(FileError, match=r"maker\.pem: is no public Ed25519 key in PEM; .* takes the public key"):
        read_public_key(private)


def test_a_key_of_another_kind_is_refused(tmp_path):
    path = tmp_path / "other.pem"
    pem = ec.generate_private_key(ec.SECP256R1()).private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    path.write_bytes(pem)
    with pytest.raises(FileError, match="is no private Ed25519 key"):
        read_private_key(path, "")

"""`boostwright keys`: a pair of keys to sign bundles with, and the passphrase that opens a private one."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

PASSPHRASE = "BOOSTWRIGHT_PASSPHRASE"

New = Annotated[Path, typer.Argument(metavar="NEW.pem", help="Where the private key goes; the public one beside it.")]
NoPassphrase = Annotated[
    bool, typer.Option("--no-passphrase", help="Lock the private key by nothing but the permissions of its file.")
]


def keys(new: New, no_passphrase: NoPassphrase = False) -> None:
    """Make a pair of keys: NEW.pem signs and stays with you, NEW.public.pem goes to whoever checks.

    The passphrase is asked for, or taken from the environment variable BOOSTWRIGHT_PASSPHRASE.

    Example: boostwright keys maker.pem
    """
    from boostwright.records.signing import fingerprint, read_public_key, write_key_pair

    passphrase = "" if no_passphrase else _asked_passphrase(f"Passphrase for {new}", is_new=True)
    public = write_key_pair(new, passphrase)
    typer.echo(f"Private key: {new} (keep it; it signs in your name)\nPublic key: {public}")
    typer.echo(f"Fingerprint: {fingerprint(read_public_key(public))}")


def private_key(path: Path) -> "Ed25519PrivateKey":
    """The private key of a file, its passphrase asked for if it has one."""
    from boostwright.records.signing import needs_passphrase, read_private_key

    said = _asked_passphrase(f"Passphrase of {path}", is_new=False) if needs_passphrase(path) else ""
    return read_private_key(path, said)


def _asked_passphrase(question: str, *, is_new: bool) -> str:
    """A passphrase from the environment, else from whoever sits there; never from the command line, which shows."""
    from boostwright.errors import DataError, Fault

    said = os.environ.get(PASSPHRASE)
    if said is None and sys.stdin.isatty():
        said = typer.prompt(question, hide_input=True, confirmation_prompt=is_new, err=True)
    if not said:
        remedy = f"set {PASSPHRASE}, or run it in a terminal" + (", or say --no-passphrase" if is_new else "")
        raise DataError(str(Fault(key="passphrase", problem="is not given, and nobody can be asked", remedy=remedy)))
    return said

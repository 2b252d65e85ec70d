"""What a result was made from: version, command and the digest of every input file."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from boostwright import __version__

_CHUNK = 1 << 20


@dataclass(frozen=True, kw_only=True)
class Identity:
    """Enough to make a result again and to see whether it is the same."""

    version: str
    command: str
    inputs: tuple[tuple[str, str], ...]


def digest(path: Path) -> str:
    """SHA-256 of a file, read in pieces."""
    total = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_CHUNK):
            total.update(piece)
    return total.hexdigest()


def identity(folder: Path, files: Iterable[str], command: str) -> Identity:
    """The identity of a result made from files of a campaign folder."""
    inputs = tuple((name, digest(folder / name)) for name in files)
    return Identity(version=__version__, command=command, inputs=inputs)

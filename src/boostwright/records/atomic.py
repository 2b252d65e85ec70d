"""Writing a file whole or not at all."""

import errno
import os
import tempfile
from pathlib import Path

from boostwright.errors import Fault, FileError


def write_atomically(path: Path, data: bytes) -> None:
    """Put `data` into the file `path`: a reader sees the old content or the new, never a part.

    Raises
    ------
    FileError
        If the folder cannot be made or written to.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as wrong:
        raise _cannot_write(path, wrong) from wrong
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, _permissions(path))
        os.replace(temporary, path)
    except OSError as wrong:
        Path(temporary).unlink(missing_ok=True)
        raise _cannot_write(path, wrong) from wrong


def refuse_unwritable(path: Path) -> None:
    """Refuse a place that `write_atomically` could not write to, before any work is done for it.

    Raises
    ------
    FileError
        If the path is a folder, or the folder that is there of its parents is none or may not be written to.
    """
    place = next(parent for parent in path.absolute().parents if parent.exists())
    if path.is_dir():
        raise _cannot_write(path, OSError(errno.EISDIR, os.strerror(errno.EISDIR)))
    if not place.is_dir():
        raise _cannot_write(path, OSError(errno.ENOTDIR, os.strerror(errno.ENOTDIR)))
    if not os.access(place, os.W_OK | os.X_OK):
        raise _cannot_write(path, OSError(errno.EACCES, os.strerror(errno.EACCES)))


def _permissions(path: Path) -> int:
    """Return those of the file that is replaced, else those of a new file: `mkstemp` would be stricter than either."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _cannot_write(path: Path, wrong: OSError) -> FileError:
    reason = (wrong.strerror or str(wrong)).lower()
    remedy = "give a folder in which you may write"
    return FileError([Fault(file=str(path), problem=f"cannot be written: {reason}", remedy=remedy)])

"""A zip of plain files: written the same way every time, and opened only where nothing in it can do harm.

Whoever opens an archive from outside opens what a stranger has made. Everything is judged before anything is unpacked,
and nothing is written: the files come back as bytes by their names.
"""

import io
import re
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from boostwright.errors import Fault, FileError
from boostwright.records.unpacked import unpacked_size

MOST_FILES: Final = 2_000
MOST_FILE: Final = 64 << 20
MOST_TOTAL: Final = 256 << 20
MOST_RATIO: Final = 200  # a log of text packs to a tenth, a drawing to a twentieth
LEAST_SUSPECT: Final = 1 << 20  # below this no ratio does harm
DEEPEST: Final = 8
LONGEST_NAME: Final = 200

_MOST_FAULTS = 20
_ENTRY = b"PK\x01\x02"  # begins every entry of a directory
_MOST_ENTRIES = 100_000  # of the archive and of all workbooks in it: beyond, listing them is what costs
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first date that the format knows
_PLAIN_FILE = (stat.S_IFREG | 0o644) << 16
_WORKBOOKS = (".xlsx", ".xlsm")
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"|?*]')
# What the standard library says of a file that is no zip, or is damaged, cut off or made to confuse.
_SIGNS_OF_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    RuntimeError,  # NotImplementedError is one
    ValueError,
    IndexError,  # an entry without a name, on Python 3.11
    EOFError,
    OSError,
    OverflowError,
)


def zip_bytes(files: Mapping[str, bytes]) -> bytes:
    """Return a zip of files by their names; the same files give the same bytes, on any system.

    Nothing is packed: what packs a file differs from one library of compression to the next.

    Raises
    ------
    FileError
        If a name could not be read back safely, or there is more than we would read.
    """
    faults = [
        *(replace(fault, remedy="rename it") for fault in _name_faults(list(files))),
        *_size_faults((name, len(data), len(data)) for name, data in files.items()),
        *(fault for name, data in files.items() for fault in _nested_faults(name, data)),
    ]
    if faults:
        raise FileError(faults[:_MOST_FAULTS])
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _EARLIEST)
            entry.create_system = 3
            entry.external_attr = _PLAIN_FILE
            archive.writestr(entry, files[name])
    return whole.getvalue()


def read_zip(path: Path) -> dict[str, bytes]:
    """Return the files of a zip by their names, and write nothing.

    Raises
    ------
    FileError
        If it is no zip, is damaged, or holds anything that could do harm, each by its name.
    """
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_TOTAL + MOST_FILE else b""
    except OSError as wrong:
        problem = f"cannot be read: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError([Fault(file=str(path), problem=problem, remedy="check the name and the folder")]) from wrong
    if size > MOST_TOTAL + MOST_FILE:
        _refuse(str(path), [_too_large(f"has {size >> 20} MB", MOST_TOTAL)])
    return unzipped(data, path.name)


def unzipped(data: bytes, name: str) -> dict[str, bytes]:
    """Return the files of a zip by their names; `name` is the archive's own, for messages.

    Raises
    ------
    FileError
        As `read_zip` does.
    """
    entries = data.count(_ENTRY)
    if entries > _MOST_ENTRIES:
        _refuse(name, [_too_many(entries, _MOST_ENTRIES)])
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            listed = archive.infolist()
            _refuse(name, _listing_faults(listed))
            files = {entry.filename: archive.read(entry) for entry in listed if not entry.is_dir()}
    except FileError:
        raise
    except _SIGNS_OF_DAMAGE as wrong:
        problem = f"is no zip that can be read: {str(wrong) or type(wrong).__name__}"
        raise FileError([Fault(file=name, problem=problem, remedy="fetch or copy it again")]) from wrong
    _refuse(name, (fault for own, data in files.items() for fault in _nested_faults(own, data)))
    return files


def _refuse(name: str, faults: Iterable[Fault]) -> None:
    found = list(faults)
    if found:
        raise FileError([replace(fault, file=name) for fault in found[:_MOST_FAULTS]])


def _listing_faults(listed: Sequence[zipfile.ZipInfo]) -> Iterator[Fault]:
    """What is wrong with a directory of entries; nothing has been unpacked."""
    if len(listed) > MOST_FILES:
        yield _too_many(len(listed), MOST_FILES)
        return
    yield from _name_faults([entry.orig_filename for entry in listed])
    for entry in listed:
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.flag_bits & _ENCRYPTED:
            yield _wrong(entry.orig_filename, "is encrypted", "ask for the bundle as it was published")
        elif entry.compress_type not in _PACKED:
            yield _wrong(entry.orig_filename, "is packed in a way that we do not unpack", "store or deflate it")
        elif kind == stat.S_IFLNK:
            yield _wrong(entry.orig_filename, "is a link")
        elif kind not in (0, stat.S_IFDIR if entry.is_dir() else stat.S_IFREG):
            yield _wrong(entry.orig_filename, "is no plain file")
        elif entry.is_dir() and entry.file_size:
            yield _wrong(entry.orig_filename, "is a folder with content of its own")
    yield from _size_faults((entry.orig_filename, entry.file_size, entry.compress_size) for entry in listed)


def _size_faults(sizes: Iterable[tuple[str, int, int]]) -> Iterator[Fault]:
    """What is too large of names with sizes unpacked and packed."""
    total = 0
    for name, size, packed in sizes:
        total += size
        if size > MOST_FILE:
            yield _too_large(f"unpacks to {size >> 20} MB", MOST_FILE, name)
        elif size > LEAST_SUSPECT and size > MOST_RATIO * packed:
            yield _wrong(name, f"unpacks to more than {MOST_RATIO} times its size, which no log or report does")
    if total > MOST_TOTAL:
        yield _too_large(f"unpacks to {total >> 20} MB in all", MOST_TOTAL)


def _name_faults(names: Sequence[str]) -> Iterator[Fault]:
    """What is wrong with names one by one and beside each other."""
    seen: dict[str, str] = {}
    folders = {_plain(parent): name for name in names for parent in _parents(name)}
    for name in names:
        problem = _name_problem(name)
        if problem:
            yield _wrong(name, problem)
            continue
        plain = _plain(name)
        if seen.get(plain) == name:
            yield _wrong(name, "stands there twice")
        elif plain in seen:
            yield _wrong(name, f"differs from {_shown(seen[plain])} only in case, or in being a folder")
        elif not name.endswith("/") and plain in folders:
            yield _wrong(name, f"is a file, and a folder in {_shown(folders[plain])}")
        seen[plain] = name


def _name_problem(name: str) -> str:
    """What is wrong with one name; nothing if it is a plain path that goes downwards."""
    parts = name.removesuffix("/").split("/")
    if "\\" in name:
        return "holds a backslash, which leads elsewhere on another system"
    if name.startswith("/"):
        return "is an absolute path"
    if re.match(r"[A-Za-z]:", name):
        return "begins with the letter of a drive"
    if ".." in parts:
        return "leads out of its folder"
    if _FORBIDDEN.search(name):
        return "holds a character that not every system allows in a name"
    if len(name) > LONGEST_NAME:
        return f"is a name of more than {LONGEST_NAME} letters"
    if len(parts) > DEEPEST:
        return f"lies more than {DEEPEST} folders deep"
    if any(part != part.strip() or part.endswith(".") or not part or _RESERVED.fullmatch(part) for part in parts):
        return "is a name that not every system can write"
    return ""


def _plain(name: str) -> str:
    """A name as systems see it that tell neither case nor the ways to write an accent apart."""
    return unicodedata.normalize("NFC", name.rstrip("/")).casefold()


def _parents(name: str) -> list[str]:
    parts = name.rstrip("/").split("/")
    return ["/".join(parts[:count]) for count in range(1, len(parts))]


def _nested_faults(name: str, data: bytes) -> Iterator[Fault]:
    """What is wrong with a file that is itself packed: a workbook or a compressed log may be, another archive not."""
    if data.startswith(b"PK") and not name.lower().endswith(_WORKBOOKS):
        yield _wrong(name, "is an archive within the archive")
    elif data.count(_ENTRY) > _MOST_ENTRIES:
        yield _too_many(data.count(_ENTRY), _MOST_ENTRIES, name)
    elif (size := unpacked_size(data)) > MOST_TOTAL or (size > 32 * LEAST_SUSPECT and size > MOST_RATIO * len(data)):
        yield _wrong(name, f"unpacks to {size >> 20} MB when it is read, from {len(data) / (1 << 20):.1f} MB")


def _wrong(
    name: str, problem: str, remedy: str = "do not open it; ask whoever made it for a bundle as published"
) -> Fault:
    return Fault(value=_shown(name), problem=problem, remedy=remedy)


def _too_large(what: str, most: int, name: str = "") -> Fault:
    return Fault(value=name and _shown(name), problem=what, remedy=f"{most >> 20} MB is the most")


def _too_many(count: int, most: int, name: str = "") -> Fault:
    return Fault(value=name and _shown(name), problem=f"lists {count} files", remedy=f"{most} are the most")


def _shown(name: str) -> str:
    """A name in quotes, with what a terminal would obey escaped."""
    short = name if len(name) <= 80 else f"{name[:60]}…{name[-15:]}"
    return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in short) + '"'

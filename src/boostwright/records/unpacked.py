"""How large a dropped file would become when it is read, told from its own headers before anything opens it.

A header may lie. What then grows without bound meets the memory limit of the process that reads it.
"""

import io
import re
import struct
import zipfile
import zlib
from typing import Any, Final

_PARQUET: Final = b"PAR1"
_MDF: Final = (b"MDF     ", b"UnFinMF ")
_COMPRESSED_BLOCK: Final = b"##DZ"
_BLOCK_SIZE_AT: Final = 32  # of the uncompressed size in such a block: 24 of header, 8 of what it packs
_ROW_GROUPS, _GROUP_SIZE, _GROUP_ROWS, _ROWS, _SCHEMA = 4, 2, 3, 3, 2  # fields of a Parquet footer
_STOP, _BOOLEANS, _BYTE, _INTEGERS, _DOUBLE, _BINARY, _LISTS, _STRUCT = 0, (1, 2), 3, (4, 5, 6), 7, 8, (9, 10), 12
_DEEPEST: Final = 16
_PLACE: Final = re.compile(rb"[\"']([A-Za-z]+)(\d+)[\"']")
_FAR_COLUMN: Final = re.compile(rb"[\"'](?:[A-Za-z]{3,}\d|[A-Za-z]+\d{7})")  # or a row beyond a million
_ROW: Final = re.compile(rb"<row[^>]*?\sr=[\"'](\d+)")
_TWO_LETTERS: Final = 26 * 27  # columns from A to ZZ
_CELL: Final = 24  # bytes of a cell of a workbook that is open
_NUMBER: Final = 8  # bytes of a cell once it is a number
MOST_UNPACKED: Final = 2 << 30  # bytes; an hour of a thousand channels at 50 Hz is 1.4 GB
MOST_RATIO: Final = 200  # a log of text packs to a tenth, one of numbers to a half
LEAST_SUSPECT: Final = 32 << 20  # below this no ratio does harm
_SIGNS_OF_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    RuntimeError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    OverflowError,
    struct.error,
    OSError,
)


def unpacked_size(data: bytes) -> int:
    """Bytes that a file of any kind would take when it is read; its own size if nothing in it is packed.

    A file whose headers cannot be followed is as large as it is: the reader says what is wrong with it.
    """
    try:
        if data.startswith(b"PK"):
            return _workbook_size(zipfile.ZipFile(io.BytesIO(data)))
        if data.startswith(_PARQUET):
            return _parquet_size(data)
        if data.startswith(_MDF):
            return _mdf_size(data)
    except _SIGNS_OF_DAMAGE:
        pass
    return len(data)


def grows_too_far(data: bytes) -> bool:
    """Whether a file says of itself that it becomes far larger than any log when it is read."""
    size = unpacked_size(data)
    return size > MOST_UNPACKED or (size > LEAST_SUSPECT and size > MOST_RATIO * len(data))


def _workbook_size(archive: zipfile.ZipFile) -> int:
    """Size of the parts of a zip, or of the largest sheet: a reader lays out every cell up to the farthest."""
    parts = archive.infolist()
    size = sum(part.file_size for part in parts)
    if size > MOST_UNPACKED:
        return size
    sheets = [part for part in parts if part.filename.lower().startswith("xl/worksheets/")]
    return max(size, *(_sheet_size(archive.read(part)) for part in sheets), 0)


def _sheet_size(sheet: bytes) -> int:
    """Exact only where it could matter: every place of a large sheet takes as long to look at as to read."""
    rows = max(sheet.count(b"<row"), *map(int, _ROW.findall(sheet)), 0)
    if not _FAR_COLUMN.search(sheet) and (most := _CELL * rows * _TWO_LETTERS) <= LEAST_SUSPECT:
        return most
    places = set(_PLACE.findall(sheet))
    rows = max(rows, *(int(row) for _, row in places), 0)
    return _CELL * rows * max((_column_number(letters.upper()) for letters, _ in places), default=0)


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + letter - 64
    return number


def _mdf_size(data: bytes) -> int:
    """Size of an MDF file with every compressed block unpacked; blocks begin at multiples of eight bytes."""
    size, at = len(data), data.find(_COMPRESSED_BLOCK)
    while at >= 0:
        if at % 8 == 0 and at + _BLOCK_SIZE_AT + 8 <= len(data):
            size += struct.unpack_from("<Q", data, at + _BLOCK_SIZE_AT)[0]
        at = data.find(_COMPRESSED_BLOCK, at + 4)
    return size


def _parquet_size(data: bytes) -> int:
    """What the footer says of uncompressed pages, or what its cells take as numbers, whichever is more."""
    (length,) = struct.unpack_from("<I", data, len(data) - 8)
    footer = _Compact(data[len(data) - 8 - length : len(data) - 8]).struct_fields(0)
    groups = [group for group in footer.get(_ROW_GROUPS, []) if isinstance(group, dict)]
    pages = sum(group.get(_GROUP_SIZE, 0) for group in groups)
    rows = max(footer.get(_ROWS, 0), sum(group.get(_GROUP_ROWS, 0) for group in groups))
    return max(len(data), pages, rows * _NUMBER * max(1, len(footer.get(_SCHEMA, [])) - 1))


class _Compact:
    """Enough of Thrift's compact protocol to read the integers and lists of a footer, and to pass over the rest."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    def struct_fields(self, depth: int) -> dict[int, Any]:
        """The fields of a struct by their number: integers, and lists of structs; others are none."""
        if depth > _DEEPEST:
            raise ValueError("nested too deeply")
        fields: dict[int, Any] = {}
        number = 0
        while (head := self._byte()) != _STOP:
            number = number + (head >> 4) if head >> 4 else self._zigzag()
            fields[number] = self._value(head & 15, depth)
        return fields

    def _value(self, kind: int, depth: int) -> Any:
        if kind in _INTEGERS:
            return self._zigzag()
        if kind == _STRUCT:
            return self.struct_fields(depth + 1)
        if kind in _LISTS:
            head = self._byte()
            count = head >> 4 if head >> 4 < 15 else self._varint()
            return [self._member(head & 15, depth) for _ in range(min(count, len(self._data)))]
        self._pass(kind)
        return None

    def _member(self, kind: int, depth: int) -> Any:
        return self._byte() if kind in _BOOLEANS else self._value(kind, depth)

    def _pass(self, kind: int) -> None:
        if kind in _BOOLEANS:
            return
        steps = {_BYTE: 1, _DOUBLE: 8, _BINARY: self._varint() if kind == _BINARY else 0}
        if kind not in steps:
            raise ValueError("is no field of a footer")
        self._at += steps[kind]

    def _byte(self) -> int:
        self._at += 1
        return self._data[self._at - 1]

    def _varint(self) -> int:
        value = shift = 0
        while (byte := self._byte()) & 128:
            value |= (byte & 127) << shift
            shift += 7
            if shift > 63:
                raise ValueError("no end of a number")
        return value | byte << shift

    def _zigzag(self) -> int:
        value = self._varint()
        return (value >> 1) ^ -(value & 1)

"""Delimited text: encoding, delimiter and decimal sign are found from the head; Polars reads the rest in blocks."""

import codecs
import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import IO, AnyStr

import numpy as np
import polars as pl
from numpy.typing import NDArray
from polars.exceptions import PolarsError

from boostwright.errors import Fault, FileError
from boostwright.records.table import (
    PLAIN,
    CellFaults,
    Cells,
    NumberStyle,
    Table,
    TableHead,
    count_numeric,
    find_table,
    number_style,
    read_cells,
)

_HEAD = 64 * 1024  # bytes, and
_TOP = 300  # lines, in which the table must begin
_BLOCK = 4 * 1024 * 1024  # bytes that are parsed at once; what a large log costs beyond its numbers
_PROBED = 10  # last rows of the head, which show the delimiter
_STYLED = 25  # rows, spread over the head, that show how numbers are written
_DELIMITERS = ("\t", ";", "|", ",")  # the comma last: where another fits as well, it is the decimal sign
_CELL_END = "\x1f"  # the separator that no log holds
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_OTHER_FORMATS = (
    (b"PK\x03\x04", "an Excel workbook", ".xlsx"),
    (b"PAR1", "a Parquet file", ".parquet"),
    (b"MDF", "an MDF file", ".mf4"),
)


@dataclass(frozen=True, kw_only=True)
class _Layout:
    """How the file is written."""

    encoding: str
    raw: bool  # UTF-8 with ordinary line ends goes to the parser as it is
    delimiter: str
    style: NumberStyle
    head: TableHead
    width: int
    skipped: tuple[str, ...]  # header lines, which some loggers repeat


def open_text(path: Path) -> Table:
    """Return the table of a delimited text file.

    Raises
    ------
    FileError
        If there is no table in it.
    """
    layout = _layout(path)

    def read(positions: Sequence[int]) -> Cells:
        return _read(path, layout, positions)

    return Table(headers=layout.head.headers, units=layout.head.units, read=read)


def _layout(path: Path) -> _Layout:
    with path.open("rb") as file:
        start = file.read(_HEAD)
    encoding = _encoding(start)
    raw = encoding in ("utf-8", "utf-8-sig") and (b"\r" not in start or b"\n" in start)
    if raw:
        lines = start.decode(encoding, errors="replace").replace("\r\n", "\n").split("\n")
    else:
        with path.open(encoding=encoding, errors="replace") as file:
            lines = file.read(_HEAD).split("\n")
    if len(lines) > 1 and len(start) == _HEAD:
        lines.pop()  # cut off in its middle
    last = list(islice((line for line in reversed(lines) if line.strip()), _PROBED))
    if not last:
        raise _refuse("is empty", "check that the logger has saved the pull")
    delimiter = _delimiter(last)
    rows = [_split(line, delimiter) for line in (*lines[:_TOP], *lines[max(_TOP, len(lines) - _PROBED) :])]
    head = find_table(rows)
    return _Layout(
        encoding=encoding,
        raw=raw,
        delimiter=delimiter,
        style=_style(lines[head.first_row :], delimiter),
        head=head,
        width=max(len(head.headers), len(rows[head.first_row])),
        skipped=tuple(line.strip() for line in lines[: head.first_row] if line.strip()),
    )


def _encoding(start: bytes) -> str:
    for mark, encoding in _BYTE_ORDER_MARKS:
        if start.startswith(mark):
            return encoding
    for magic, what, suffix in _OTHER_FORMATS:
        if start.startswith(magic):
            raise _refuse(f"is {what}, not text", f"name it {suffix}")
    even, odd = start[::2].count(0), start[1::2].count(0)
    if even + odd:
        if max(even, odd) < 0.4 * len(start) / 2 or min(even, odd) > 0:
            raise _refuse("is not text", "export the pull as CSV, Excel, Parquet or MDF4")
        return "utf-16-le" if odd > even else "utf-16-be"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(start)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _delimiter(lines: Sequence[str]) -> str:
    rows = {mark: [_split(line, mark) for line in lines] for mark in _DELIMITERS}
    several = [mark for mark in _DELIMITERS if max(map(len, rows[mark])) > 1]
    if several:
        return max(several, key=lambda mark: sum(map(count_numeric, rows[mark])))
    remedy = "separate the columns by comma, semicolon, tab or |"
    raise _refuse(f'is one column wide, such as "{lines[0].strip()[:40]}"', remedy)


def _split(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line.replace("\r", " ")], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:  # a quotation without end, longer than any cell
        return line.split(delimiter)


def _style(lines: Sequence[str], delimiter: str) -> NumberStyle:
    text = "\n".join(lines)
    marks = " '\u2019\u00a0\u202f\u2009" + ("," if delimiter != "," or '"' in text else "")
    if not any(mark in text for mark in marks):
        return PLAIN
    sample = lines[:: max(1, len(lines) // _STYLED)]
    return number_style([cell for line in sample for cell in _split(line, delimiter)])


def _refuse(problem: str, remedy: str) -> FileError:
    return FileError([Fault(problem=problem, remedy=remedy)])


def _read(path: Path, layout: _Layout, positions: Sequence[int]) -> Cells:
    faults = CellFaults(layout.head.headers)
    parts: list[dict[int, NDArray[np.float64]]] = []
    rows: list[NDArray[np.int64]] = []
    line = layout.head.first_row + 1
    for block in _blocks(path, layout):
        lines = block.count(b"\n") + (not block.endswith(b"\n"))
        values = _parse_at_once(block, lines, layout, positions)
        kept = np.arange(line, line + lines)
        if values is None:
            values, kept = _parse_with_care(block, line, layout, positions, faults)
        parts.append(values)
        rows.append(kept)
        line += lines
    joined = {position: np.concatenate([part.pop(position) for part in parts]) for position in positions}
    return Cells(values=joined, rows=np.concatenate(rows), faults=faults.all())


def _blocks(path: Path, layout: _Layout) -> Iterator[bytes]:
    """Yield the rows of numbers as UTF-8, whole lines at a time."""
    if layout.raw:
        with path.open("rb") as file:
            for _ in range(layout.head.first_row):
                file.readline()
            yield from _whole_lines(file)
    else:
        with path.open(encoding=layout.encoding, errors="replace") as file:
            for _ in range(layout.head.first_row):
                file.readline()
            for text in _whole_lines(file):
                yield text.encode("utf-8")


def _whole_lines(file: IO[AnyStr]) -> Iterator[AnyStr]:
    while block := file.read(_BLOCK):
        yield block + file.readline()


def _parse_at_once(
    block: bytes, lines: int, layout: _Layout, positions: Sequence[int]
) -> dict[int, NDArray[np.float64]] | None:
    """Return the numbers of a block in which every cell is one, else nothing."""
    delimiter = layout.delimiter.encode()
    if block.count(delimiter) != lines * (layout.width - 1) or b'"' in block:
        return None
    if layout.style.decimal_comma and b"." in block:  # grouped digits, or another style
        return None
    try:
        frame = pl.read_csv(
            block,
            has_header=False,
            schema={str(place): pl.Float64 for place in range(layout.width)},
            columns=sorted(positions),
            separator=layout.delimiter,
            decimal_comma=layout.style.decimal_comma,
            quote_char=None,
            ignore_errors=True,
            encoding="utf8-lossy",
        )
    except PolarsError:  # one row is as much too long as another is too short
        return None
    if frame.height != lines:
        return None
    values = {position: frame[str(position)].to_numpy() for position in positions}
    return values if all(np.isfinite(column).all() for column in values.values()) else None


def _parse_with_care(
    block: bytes, line: int, layout: _Layout, positions: Sequence[int], faults: CellFaults
) -> tuple[dict[int, NDArray[np.float64]], NDArray[np.int64]]:
    """Return what can be read of a block that holds blanks, repeated headers, grouped digits or faults."""
    last, rows = max(positions), list[int]()
    kept = [_CELL_END * (layout.width - 1)]  # says how many columns there are
    texts = block.decode("utf-8", errors="replace").replace(_CELL_END, " ").split("\n")
    for row, text in enumerate(texts, start=line):
        repeated = text.strip() in layout.skipped
        blank = not text.strip(f'"{layout.delimiter} \t\r')
        if repeated or blank:
            continue
        cells = _split(text, layout.delimiter)
        if fault := _wrong_width(cells, row, layout, last):
            faults.add(fault)
        else:
            rows.append(row)
            kept.append(_CELL_END.join(cells[: layout.width]))
    frame = pl.read_csv(
        "\n".join(kept).encode(),
        has_header=False,
        schema={str(place): pl.String for place in range(layout.width)},
        separator=_CELL_END,
        quote_char=None,
    ).slice(1)
    numbers = np.array(rows, dtype=np.int64)
    return read_cells(frame, numbers, positions, layout.style, faults), numbers


def _wrong_width(cells: Sequence[str], row: int, layout: _Layout, last: int) -> Fault | None:
    if len(cells) == layout.width:
        return None
    problem = f"has {len(cells)} cells where the header has {len(layout.head.headers)}"
    if any(cell.strip() for cell in cells[layout.width :]):
        return Fault(row=row, problem=problem, remedy="is there a delimiter in a number? delete the row or mend it")
    if len(cells) <= last:
        return Fault(row=row, problem=problem, remedy="delete the row, or fill it in")
    return None

"""The table inside a log, whatever the file format: headers, units, numbers, and what is wrong in its cells."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.units import find_unit

_SHOWN = 20  # faults of one kind in one column that are spelled out; the rest is counted
_BLANKS = " \t\r\u00a0\u202f\u2009"
_THOUSANDS = "'\u2019 \u00a0\u202f\u2009"
_NUMERIC = re.compile(
    rf"[+-]?[\d.,{_THOUSANDS}]*\d[\d.,{_THOUSANDS}]*(?:[eE][+-]?\d+)?|[+-]?(?:nan|inf|infinity)", re.I
)
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+")
_GROUPED_BY_BLANK = re.compile(rf"\d[{_THOUSANDS}]\d{{3}}")
_PROBED = 10  # rows that say what a row of numbers looks like in this log


@dataclass(frozen=True, kw_only=True)
class TableHead:
    """Where the table begins: its headers, the units beneath them, and the index of its first row of numbers."""

    headers: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int


@dataclass(frozen=True, kw_only=True)
class NumberStyle:
    """How a log writes its numbers: the decimal sign, and whether digits are grouped by thousands."""

    decimal_comma: bool = False
    grouped: bool = False


PLAIN = NumberStyle()


@dataclass(frozen=True, kw_only=True)
class Cells:
    """The numbers of the wanted columns, the row in the file that each came from, and what could not be read."""

    values: Mapping[int, NDArray[np.float64]]
    rows: NDArray[np.int64]
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Table:
    """An opened log: headers and units are known; `read` takes the positions of the wanted columns."""

    headers: tuple[str, ...]
    units: tuple[str, ...]
    read: Callable[[Sequence[int]], Cells]


class CellFaults:
    """Gathers what is wrong in cells; of each kind in each column it keeps the first and counts the rest."""

    def __init__(self, headers: Sequence[str]) -> None:
        self._headers = headers
        self._kept: dict[tuple[str, str], list[Fault]] = {}
        self._counts: dict[tuple[str, str], int] = {}

    def add(self, fault: Fault) -> None:
        """Note a fault."""
        kind = (fault.column, fault.problem)
        self._counts[kind] = self._counts.get(kind, 0) + 1
        kept = self._kept.setdefault(kind, [])
        if len(kept) < _SHOWN:
            kept.append(fault)

    def add_cells(self, position: int, rows: NDArray[np.int64], texts: Sequence[str | None]) -> None:
        """Note the cells of one column that hold no finite number."""
        for row, text in zip(rows.tolist(), texts, strict=True):
            problem, remedy = _what_is_wrong(text)
            said = f'"{text.strip()}"' if text and text.strip() else ""
            column = self._headers[position]
            self.add(Fault(row=row, column=column, value=said, problem=problem, remedy=remedy))

    def all(self) -> tuple[Fault, ...]:
        """Everything, by row; what was only counted comes last."""
        kept = [fault for faults in self._kept.values() for fault in faults]
        kept.sort(key=lambda fault: fault.row or 0)
        for (column, problem), count in self._counts.items():
            if count > _SHOWN:
                more = f"{problem} in {count - _SHOWN} more rows"
                kept.append(Fault(column=column, problem=more, remedy="mend the rows above first"))
        return tuple(kept)


def _what_is_wrong(text: str | None) -> tuple[str, str]:
    if text is None or not text.strip():
        return "is empty", "fill it in, or delete the row"
    if re.fullmatch(r"[+-]?(nan|inf|infinity|null|none|na|n/a|#n/?a|-+)", text.strip(), re.IGNORECASE):
        return "stands where the logger had no reading", "delete the row, or the column if the sensor was not connected"
    if re.search(r"\d,\d", text):
        return "is not a number", "take out the comma, or write all of the file with decimal commas"
    return "is not a number", "correct it, or delete the row"


def tidy(cell: str | None) -> str:
    """Text of a header fit to be printed: one line, no control characters."""
    words = "".join(mark if mark.isprintable() else " " for mark in cell or "")
    return " ".join(words.split())


def is_numeric(cell: str) -> bool:
    """Whether a cell looks like a number in any way of writing it."""
    return _NUMERIC.fullmatch(cell.strip(_BLANKS)) is not None


def count_numeric(row: Sequence[str]) -> int:
    """How many cells of a row look like numbers."""
    return sum(map(is_numeric, row))


def find_table(rows: Sequence[Sequence[str]]) -> TableHead:
    """Return where the table stands among the first rows of a log.

    Raises
    ------
    FileError
        If there are no rows of numbers, or no headers above them.
    """
    last = islice((row for row in reversed(rows) if any(cell.strip() for cell in row)), _PROBED)
    usual = max(map(count_numeric, last), default=0)
    enough = max(1.0, 0.6 * usual)
    first = next((i for i, row in enumerate(rows) if count_numeric(row) >= enough), None) if usual else None
    if first is None:
        raise _refuse("holds headers but no rows of numbers", "check that the logger has saved the pull")
    header = _filled_row_above(rows, first)
    while header is not None and count_numeric(rows[header]) and _filled_row_above(rows, header) == header - 1:
        first, header = header, header - 1  # a first row with a bad cell is a row, not a header
    if header is None or count_numeric(rows[header]) == len(rows[header]):
        raise _refuse("has no header above its numbers", 'put one there, such as "Engine speed [rpm],Torque [N*m]"')
    above = _filled_row_above(rows, header)
    if above is not None and above == header - 1 and _are_units(rows[header], rows[above]):
        return _head(rows[above], rows[header], rows[first], first)
    return _head(rows[header], (), rows[first], first)


def _filled_row_above(rows: Sequence[Sequence[str]], index: int) -> int | None:
    return next((i for i in range(index - 1, -1, -1) if any(cell.strip() for cell in rows[i])), None)


def _are_units(row: Sequence[str], above: Sequence[str]) -> bool:
    said = [re.sub(r"^[\[({]|[\])}]$", "", cell.strip()) for cell in row if cell.strip()]
    return bool(said) and all(map(find_unit, said)) and len(above) >= len(row) and count_numeric(above) == 0


def _head(headers: Sequence[str], units: Sequence[str], numbers: Sequence[str], first: int) -> TableHead:
    named = [tidy(header) for header in headers]
    while named and not named[-1]:
        named.pop()
    filled = max((place + 1 for place, cell in enumerate(numbers) if cell.strip()), default=0)
    if len(named) == 1 and filled > 1:
        remedy = "separate the columns by comma, semicolon, tab or |, in the header as in the rows"
        raise _refuse(f'has one column in its header, "{named[0]}", and {filled} in its rows', remedy)
    if filled > len(named):
        remedy = "name every column; if the comma is also the decimal sign, separate the columns by semicolons"
        raise _refuse(f"has {len(named)} columns in its header and {filled} in its rows", remedy)
    named[0] = named[0].lstrip("# ") or named[0]
    return TableHead(
        headers=tuple(named),
        units=tuple(tidy(units[place]) if place < len(units) else "" for place in range(len(named))),
        first_row=first,
    )


def _refuse(problem: str, remedy: str) -> FileError:
    return FileError([Fault(problem=problem, remedy=remedy)])


def number_style(cells: Sequence[str]) -> NumberStyle:
    """Return how a log writes its numbers, from cells of its first rows.

    Raises
    ------
    FileError
        If the cells contradict each other, or could be read either way.
    """
    numbers = [cell.strip(_BLANKS) for cell in cells if is_numeric(cell)]
    doubtful = [cell for cell in numbers if _GROUPED.fullmatch(cell)]
    comma = [cell for cell in numbers if cell.rfind(",") > cell.rfind(".") and not _GROUPED.fullmatch(cell)]
    point = [cell for cell in numbers if cell.rfind(".") > cell.rfind(",")]
    by_comma = [cell for cell in doubtful if cell.count(",") > 1] + [cell for cell in point if "," in cell]
    if comma and by_comma:
        raise _refuse(f'writes its numbers in two ways, "{comma[0]}" and "{by_comma[0]}"', "write all of them alike")
    if doubtful and not (comma or point or by_comma):
        whole, broken = doubtful[0].replace(",", ""), doubtful[0].replace(",", ".")
        problem = f'does not say whether its "{doubtful[0]}" is {whole} or {broken}'
        raise _refuse(problem, "write the numbers without thousands separators")
    by_point = any("." in cell for cell in comma)
    by_blank = any(map(_GROUPED_BY_BLANK.search, numbers))
    if comma:
        return NumberStyle(decimal_comma=True, grouped=by_point or by_blank)
    return NumberStyle(grouped=bool(doubtful or by_comma) or by_blank)


def clean_numbers(texts: pl.Series, style: NumberStyle) -> pl.Series:
    """Return text as numbers; what is none becomes null. Thousands separators must stand where they belong."""
    text = texts.str.strip_chars(_BLANKS)
    decimal, group = (",", ".") if style.decimal_comma else (".", ",")
    if style.grouped:
        grouped = rf"^[+-]?\d{{1,3}}(?:[{group}{_THOUSANDS}]\d{{3}})+(?:\{decimal}\d*)?$"
        together = text.str.replace_all(rf"[{group}{_THOUSANDS}]", "")
        text = together.zip_with(text.str.contains(grouped).fill_null(value=False), text)
    if style.decimal_comma:
        text = text.set(text.str.contains(".", literal=True), None).str.replace(",", ".", literal=True)
    return text.cast(pl.Float64, strict=False)


def read_cells(
    frame: pl.DataFrame,
    rows: NDArray[np.int64],
    positions: Sequence[int],
    style: NumberStyle,
    faults: CellFaults,
    exact: pl.DataFrame | None = None,
) -> dict[int, NDArray[np.float64]]:
    """Return the wanted columns as numbers, noting cells that hold none; numbers in `exact` go before their text."""
    values: dict[int, NDArray[np.float64]] = {}
    for position in positions:
        column = frame.to_series(position)
        numbers = column if column.dtype.is_numeric() else clean_numbers(column.cast(pl.String), style)
        if exact is not None:
            numbers = exact.to_series(position).fill_null(numbers)
        values[position] = numbers.cast(pl.Float64).to_numpy()
        bad = np.flatnonzero(~np.isfinite(values[position]))
        if bad.size:
            faults.add_cells(position, rows[bad], column[bad.tolist()].cast(pl.String).to_list())
    return values

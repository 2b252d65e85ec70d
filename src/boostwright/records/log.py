"""A log: the channels of one file in SI, and what was understood of its columns."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.nomenclature import WORDS
from boostwright.records.columns import BOOST, Column, ColumnRule, IgnoredColumn, understand_columns
from boostwright.records.mdf import open_mdf
from boostwright.records.parquet import open_parquet
from boostwright.records.table import Cells, Table
from boostwright.records.text import open_text
from boostwright.records.unpacked import grows_too_far
from boostwright.records.workbook import open_workbook
from boostwright.units import GaugePressure

Channels = Mapping[str, NDArray[np.float64]]

_OPENERS: dict[str, Callable[[Path], Table]] = {
    **dict.fromkeys((".csv", ".tsv", ".txt", ".asc", ".dat"), open_text),
    **dict.fromkeys((".xlsx", ".xlsm", ".xls"), open_workbook),
    ".parquet": open_parquet,
    **dict.fromkeys((".mf4", ".mdf"), open_mdf),
}
LOG_SUFFIXES = tuple(_OPENERS)
# SI unit: lowest and highest value that a log can hold; outside it the unit is wrong.
_POSSIBLE = {"Pa": (15e3, 1.5e6), "K": (200.0, 1500.0), "1/s": (-1.0, 1000.0)}


@dataclass(frozen=True, kw_only=True)
class Log:
    """One log file as it was understood.

    `channels` are in SI with absolute pressures; what was logged as gauge pressure waits in `gauge`, by the name of the
    absolute quantity, for a barometer. Rows that a logger wrote twice were left out and are counted.
    """

    file: str
    channels: Channels
    gauge: Mapping[str, GaugePressure]
    columns: tuple[Column, ...]
    ignored: tuple[IgnoredColumn, ...]
    repeated_rows: int

    def values_of(self, column: Column) -> NDArray[np.float64]:
        """What one column holds, in SI, a gauge pressure still gauge."""
        if column.unit.reference == "gauge":
            return self.gauge[_absolute_name(column)].values
        return self.channels[column.quantity]

    def absolute_channels(self, barometer: float) -> dict[str, NDArray[np.float64]]:
        """All channels, gauge pressures made absolute with the barometer [Pa]."""
        absolute = {quantity: pressure.absolute(barometer).values for quantity, pressure in self.gauge.items()}
        return {**self.channels, **absolute}


def _absolute_name(column: Column) -> str:
    return "manifold_pressure" if column.quantity == BOOST else column.quantity


def read_log(path: Path, rules: Sequence[ColumnRule] = ()) -> Log:
    """Read a log of any format.

    Raises
    ------
    FileError
        With everything that is wrong in the file.
    """
    try:
        return _read(path, rules)
    except FileError as wrong:
        raise FileError([replace(fault, file=str(path)) for fault in wrong.faults]) from wrong


def open_table(path: Path) -> Table:
    """Return the table in a log, its headers known and its numbers unread.

    Raises
    ------
    FileError
        If there is no such file, or no table in it.
    """
    opener = _OPENERS.get(path.suffix.lower())
    if opener is None:
        remedy = f"give one of {' '.join(LOG_SUFFIXES)}"
        raise FileError([Fault(problem=f'is no kind of log that we read, "{path.suffix}"', remedy=remedy)])
    try:
        if not path.is_file():
            raise FileError([Fault(problem="is not there", remedy="check the name and the folder")])
        if not path.stat().st_size:
            raise FileError([Fault(problem="is empty", remedy="check that the logger has saved the pull")])
        if opener is not open_text and grows_too_far(path.read_bytes()):
            problem = "says that it unpacks to far more than any log holds"
            raise FileError([Fault(problem=problem, remedy="export the pull again, with the channels that matter")])
        return opener(path)
    except OSError as wrong:
        problem = f"cannot be read: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError([Fault(problem=problem, remedy="check that you may read it")]) from wrong


def _read(path: Path, rules: Sequence[ColumnRule]) -> Log:
    table = open_table(path)
    understood = understand_columns(table.headers, table.units, rules)
    if not understood.columns:
        raise FileError(understood.faults)
    cells = table.read([column.position for column in understood.columns])
    faults = [*understood.faults, *cells.faults]
    if not faults:
        faults += [fault for column in understood.columns for fault in _impossible(column, cells)]
    if faults:
        raise FileError(faults)
    return _in_si(path, understood.columns, understood.ignored, cells)


def _impossible(column: Column, cells: Cells) -> list[Fault]:
    """What can only be another unit: the first such row of a column, and how many there are."""
    absolute = column.unit.reference != "gauge"
    low, high = _POSSIBLE.get(WORDS[column.quantity].unit, (-np.inf, np.inf)) if absolute else (-110e3, 1.5e6)
    values = column.unit.to_si(cells.values[column.position])
    outside = np.flatnonzero((values < low) | (values > high) | ~np.isfinite(values))
    if not outside.size:
        return []
    first = int(outside[0])
    value = f"{cells.values[column.position][first]:.6g}"
    size = "low" if values[first] < low else "high"
    more = f" (and in {outside.size - 1} more rows)" if outside.size > 1 else ""
    problem = f"is too {size} for {column.quantity} in {column.unit.symbol}{more}"
    row = int(cells.rows[first])
    return [Fault(row=row, column=column.header, value=value, problem=problem, remedy=_which_unit(column))]


def _which_unit(column: Column) -> str:
    units = {"Pa": ("psi gauge", "psi abs", "kPa gauge"), "K": ("degC", "degF"), "1/s": ("rpm", "1/s")}
    quantity = _absolute_name(column)
    others = [unit for unit in units.get(WORDS[quantity].unit, ()) if unit != column.unit.symbol]
    if not others:
        return "correct it, or delete the row"
    says = " or ".join(f'"{quantity} [{unit}]"' for unit in others)
    return f'if the logger wrote another unit, say so under [columns] or with --column: "{column.header}" = {says}'


def _in_si(path: Path, columns: Sequence[Column], ignored: Sequence[IgnoredColumn], cells: Cells) -> Log:
    values = {column: cells.values[column.position] for column in columns}
    kept = _first_of_repeated(columns, values)
    channels: dict[str, NDArray[np.float64]] = {}
    gauge: dict[str, GaugePressure] = {}
    for column, numbers in values.items():
        si = column.unit.to_si(numbers if kept is None else numbers[kept])
        if column.unit.reference == "gauge":
            gauge[_absolute_name(column)] = GaugePressure(values=si)
        else:
            channels[column.quantity] = si - si[0] if column.quantity == "time" else si
    repeated = 0 if kept is None else int(kept.size - np.count_nonzero(kept))
    return Log(
        file=str(path),
        channels=channels,
        gauge=gauge,
        columns=tuple(columns),
        ignored=tuple(column for column in ignored if column.header),
        repeated_rows=repeated,
    )


def _first_of_repeated(
    columns: Sequence[Column], values: Mapping[Column, NDArray[np.float64]]
) -> NDArray[np.bool_] | None:
    """Return which rows to keep where a logger wrote a row twice, clock included, else nothing."""
    time = next((values[column] for column in columns if column.quantity == "time"), None)
    if time is None or not (np.diff(time) == 0).any():
        return None
    same = np.logical_and.reduce([np.diff(numbers) == 0 for numbers in values.values()])
    return np.concatenate(([True], ~same))

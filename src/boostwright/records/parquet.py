"""Parquet: the headers are the column names, and only the wanted columns are read."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import polars as pl
import polars.selectors as cs
from polars.exceptions import PanicException, PolarsError

from boostwright.errors import Fault, FileError
from boostwright.records.table import PLAIN, CellFaults, Cells, Table, read_cells, tidy

# A damaged page is an error to Polars, or a panic of its compiled part, which is no `Exception`.
DAMAGED_PARQUET = (PolarsError, PanicException)


def open_parquet(path: Path) -> Table:
    """Return the table of a Parquet file.

    Raises
    ------
    FileError
        If it is not one, or has no rows.
    """
    try:
        schema = pl.read_parquet_schema(path)
        height = pl.scan_parquet(path).select(pl.len()).collect().item()
    except DAMAGED_PARQUET as wrong:
        raise _broken(wrong) from wrong
    if not height:
        raise FileError([Fault(problem="holds headers but no rows", remedy="check that the logger has saved the pull")])
    headers = tuple(map(tidy, schema))
    units = tuple("s" if kind.base_type() in (pl.Datetime, pl.Duration) else "" for kind in schema.values())

    def read(positions: Sequence[int]) -> Cells:
        wanted = sorted(positions)
        try:
            frame = _in_seconds(pl.read_parquet(path, columns=wanted))
        except DAMAGED_PARQUET as wrong:
            raise _broken(wrong) from wrong
        rows = np.arange(1, height + 1)
        faults = CellFaults([headers[position] for position in wanted])
        values = read_cells(frame, rows, range(len(wanted)), PLAIN, faults)
        return Cells(values={wanted[place]: column for place, column in values.items()}, rows=rows, faults=faults.all())

    return Table(headers=headers, units=units, read=read)


def _broken(wrong: BaseException) -> FileError:
    problem = f"cannot be read as Parquet: {next(iter(str(wrong).splitlines()), 'it is damaged')}"
    return FileError([Fault(problem=problem, remedy="write it again, or export the pull as CSV")])


def _in_seconds(frame: pl.DataFrame) -> pl.DataFrame:
    microseconds = (cs.duration().dt.total_microseconds(), cs.datetime().dt.timestamp("us"))
    return frame.with_columns(*(moments / 1e6 for moments in microseconds))

"""Excel workbooks: the first sheet that holds a table of numbers is the log."""

from collections.abc import Sequence
from pathlib import Path

import fastexcel
import numpy as np
import polars as pl

from boostwright.errors import Fault, FileError
from boostwright.records.table import CellFaults, Cells, NumberStyle, Table, find_table, number_style, read_cells

_HEAD = 300  # rows in which the table must begin


def open_workbook(path: Path) -> Table:
    """Return the table of an Excel workbook.

    Raises
    ------
    FileError
        If it cannot be opened, or no sheet holds a table.
    """
    try:
        book = fastexcel.read_excel(path)
    except fastexcel.FastExcelError as wrong:
        reason = str(wrong).splitlines()[0].removeprefix("calamine error: ")
        problem = f"cannot be opened as a workbook: {reason}"
        raise FileError([Fault(problem=problem, remedy="save it again as .xlsx, without a password")]) from wrong
    faults: list[Fault] = []
    for name in book.sheet_names:
        sheet = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars()
        try:
            return _open_sheet(sheet)
        except FileError as wrong:
            faults += [
                Fault(problem=f'{fault.problem} (sheet "{name}")', remedy=fault.remedy) for fault in wrong.faults
            ]
    raise FileError(faults)


def _open_sheet(sheet: pl.DataFrame) -> Table:
    sheet = sheet.fill_null("")
    rows = [list(row) for row in sheet.head(_HEAD).iter_rows()]
    if not any(any(row) for row in rows):
        raise FileError([Fault(problem="is empty", remedy="check that the logger has saved the pull")])
    head = find_table(rows)
    style = number_style([cell for row in rows[head.first_row :: 6] for cell in row if cell])
    repeated = [row for row in rows[: head.first_row] if any(row)]

    def read(positions: Sequence[int]) -> Cells:
        return _read(sheet, repeated, head.first_row, positions, style, CellFaults(head.headers))

    return Table(headers=head.headers, units=head.units, read=read)


def _read(
    sheet: pl.DataFrame,
    repeated: Sequence[Sequence[str]],
    first_row: int,
    positions: Sequence[int],
    style: NumberStyle,
    faults: CellFaults,
) -> Cells:
    skipped = {tuple(row) for row in repeated} | {("",) * sheet.width}
    kept = [row for row in range(first_row, sheet.height) if sheet.row(row) not in skipped]
    rows = np.array(kept, dtype=np.int64)
    values = read_cells(sheet[kept], rows + 1, positions, style, faults)
    return Cells(values=values, rows=rows + 1, faults=faults.all())

"""Excel workbooks: the first sheet that holds a table of numbers is the log."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import fastexcel
import numpy as np

from boostwright.errors import Fault, FileError
from boostwright.records.table import CellFaults, Cells, Table, find_table, number_style, read_cells

_HEAD = 300  # rows in which the table must begin
_STYLED = 6  # every which row of them shows how numbers in text cells are written


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
        raise _broken(wrong) from wrong
    faults: list[Fault] = []
    for name in book.sheet_names:
        try:
            return _open_sheet(book, name)
        except FileError as wrong:
            faults += [replace(fault, problem=f'{fault.problem} (sheet "{name}")') for fault in wrong.faults]
        except fastexcel.FastExcelError as wrong:
            raise _broken(wrong) from wrong
    raise FileError(faults or [Fault(problem="holds no sheet", remedy="check that the logger has saved the pull")])


def _broken(wrong: fastexcel.FastExcelError) -> FileError:
    reason = next(iter(str(wrong).splitlines()), "it is damaged").removeprefix("calamine error: ")
    problem = f"cannot be opened as a workbook: {reason}"
    return FileError([Fault(problem=problem, remedy="save it again as .xlsx, without a password")])


def _open_sheet(book: fastexcel.ExcelReader, name: str) -> Table:
    texts = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars().fill_null("")
    rows = [list(row) for row in texts.head(_HEAD).iter_rows()]
    if not any(any(row) for row in rows):
        raise FileError([Fault(problem="is empty", remedy="check that the logger has saved the pull")])
    head = find_table(rows)
    style = number_style([cell for row in rows[head.first_row :: _STYLED] for cell in row])
    skipped = {tuple(row) for row in rows[: head.first_row]} | {("",) * texts.width}

    def read(positions: Sequence[int]) -> Cells:
        below = enumerate(texts[head.first_row :].iter_rows(), start=head.first_row)
        kept = [row for row, cells in below if cells not in skipped]
        places = np.array(kept, dtype=np.int64)
        exact = book.load_sheet(  # as text the numbers would be rounded to nine decimals
            name, header_row=None, skip_rows=head.first_row, dtypes=dict.fromkeys(positions, "float")
        ).to_polars()
        faults = CellFaults(head.headers)
        values = read_cells(texts[kept], places + 1, positions, style, faults, exact[places - head.first_row])
        return Cells(values=values, rows=places + 1, faults=faults.all())

    return Table(headers=head.headers, units=head.units, read=read)

"""The gain curve as CSV and as a workbook; no text of the user's can act as a formula in a spreadsheet."""

import csv
import datetime
import io

import xlsxwriter

from boostwright.studies.compare_result import CompareResult

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "|", "%")


def inert(text: str) -> str:
    """Text that a spreadsheet shows and does not compute: an apostrophe ahead of what would begin a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def _header(result: CompareResult) -> list[str]:
    unit = result.unit.symbol
    return [
        "engine speed [rpm]",
        f"{result.baseline} [{unit}]",
        f"{result.candidate} [{unit}]",
        f"gain [{unit}]",
        f"gain, lower edge [{unit}]",
        f"gain, upper edge [{unit}]",
        "gain [%]",
        "gain, lower edge [%]",
        "gain, upper edge [%]",
    ]


def gain_csv(result: CompareResult) -> str:
    """The curve as comma-separated text with units in the header."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow([inert(name) for name in _header(result)])
    writer.writerows(result.as_frame().rows())
    return target.getvalue()


def gain_workbook(result: CompareResult) -> bytes:
    """The curve as an Excel workbook: text is written as text, so that nothing is computed on opening."""
    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": result.title, "created": datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)})
    sheet = book.add_worksheet("gain")
    bold = book.add_format({"bold": True, "text_wrap": True})
    for place, name in enumerate(_header(result)):
        sheet.write_string(0, place, inert(name), bold)
    for place, values in enumerate(result.as_frame().to_dict(as_series=False).values()):
        sheet.write_column(1, place, values)
    sheet.write_string(len(result.curves.engine_speed) + 2, 0, inert(result.sentence))
    sheet.set_column(0, 8, 14)
    sheet.freeze_panes(1, 1)
    book.close()
    return target.getvalue()

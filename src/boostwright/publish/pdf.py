"""A document as a tagged PDF, conforming to PDF/UA-1, the same bytes for the same document."""

import json
from functools import cache
from pathlib import Path
from typing import Any, Final

import typst

from boostwright.publish import tokens
from boostwright.publish.document import Document, Paper, page_data
from boostwright.publish.figure_style import FONTS

STANDARD: Final = "ua-1"
_TEMPLATE = Path(__file__).parent / "templates" / "document.typ"
_WIDE_FROM = 26  # letters: a column with such cells takes what the others leave
_COLOURS = {
    "ink": tokens.INK,
    "ink2": tokens.INK_SECOND,
    "ink3": tokens.INK_THIRD,
    "edge": tokens.EDGE,
    "rule": "#c4c4c4",
    "cand": tokens.CANDIDATE,
    "warn": tokens.WARN,
    "warnpaper": "#fff6dc",
}


@cache
def _fonts() -> typst.Fonts:
    """The fonts that we ship and those within the typesetter; none of this machine's, or bytes would differ."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[FONTS])


def document_pdf(document: Document, paper: Paper) -> bytes:
    """Set a document on paper; what does not meet PDF/UA-1 is an error of ours and stops here."""
    return typst.compile(
        _TEMPLATE.read_bytes(),
        font_paths=_fonts(),
        sys_inputs={"document": json.dumps(_typeset(document, paper), ensure_ascii=False)},
        pdf_standards=[STANDARD],
    )


def _typeset(document: Document, paper: Paper) -> dict[str, Any]:
    """What the template needs besides the document: paper, colours, the date in parts, and which columns are wide."""
    data = page_data(document)
    for part in (data["opening"], *data["sections"]):
        for table in (block for block in part["blocks"] if block["kind"] == "table"):
            for place, column in enumerate(table["columns"]):
                longest = max((len(row[place]) for row in table["rows"]), default=0)
                column["wide"] = column["side"] == "left" and longest >= _WIDE_FROM
    dated = document.dated
    units = ("year", "month", "day", "hour", "minute", "second")
    parts = {unit: getattr(dated, unit) for unit in units} if dated else None
    return data | {"paper": paper, "tokens": _COLOURS, "dated": parts}

"""The noun that a published page is set from."""

import io
from dataclasses import replace
from datetime import datetime

import pypdf
import pytest

from boostwright.publish.document import (
    Bullets,
    Column,
    Document,
    Facts,
    Foot,
    Opening,
    Paragraph,
    Picture,
    Section,
    Table,
    document_json,
)
from boostwright.publish.document_page import document_page
from boostwright.publish.pdf import document_pdf

SVG = "<svg xmlns='http://www.w3.org/2000/svg' width='9pt' height='9pt' viewBox='0 0 9 9'><path d='M1 1h7'/></svg>"
HOSTILE = '<script>alert(1)</script> #panic("x") *b* $x$ \\ {{ 7*7 }}'


def small_document(text: str = "At 3\u202f000–5\u202f800\u00a0rev/min nothing.") -> Document:
    table = Table(caption=text, columns=(Column(head="file", side="left"), Column(head="kW")), rows=((text, "1.5"),))
    opening = Opening(
        kicker="Test report",
        sentence=text,
        standing="Not a claim.",
        is_allowed=False,
        blocks=(Facts(rows=(("Stand", text),)), Picture(verdict=text, svg=SVG, spoken=text)),
    )
    foot = Foot(
        job=text, standing="no claim", version="boostwright 0", check_words="code", page_words="page", of_words="of"
    )
    return Document(
        title=text,
        language="en",
        dated=datetime(2026, 3, 14, 12, 4),
        opening=opening,
        sections=(Section(heading=text, blocks=(Paragraph(text=text), table, Bullets(items=(text,)))),),
        foot=foot,
    )


def test_an_opening_without_words_on_its_standing_is_refused():
    with pytest.raises(ValueError, match="without words on what its sentence may be taken for"):
        replace(small_document().opening, standing="")


def test_a_ragged_table_is_refused_with_its_row():
    with pytest.raises(ValueError, match=r"a row of 1 cells in a table of 2 columns: \('1',\)"):
        Table(caption="", columns=(Column(head="a"), Column(head="b")), rows=(("1",),))


def test_the_check_code_follows_words_and_not_drawings():
    document = small_document()
    picture = document.opening.blocks[1]
    assert isinstance(picture, Picture)
    redrawn = replace(document.opening, blocks=(document.opening.blocks[0], replace(picture, svg="<svg />")))
    assert replace(document, opening=redrawn).check_code == document.check_code
    assert small_document("1.1").check_code != small_document("1.2").check_code
    assert len(document.check_code) == 19


def test_no_number_is_torn_from_its_range_or_unit_by_a_line():
    page = document_page(small_document())
    assert 'At <span class="whole">3\u202f000–5\u202f800\u00a0rev/min</span> nothing.</p>' in page
    assert 'aria-label="At 3 000–5 800 rev/min nothing."' in page


def test_hidden_characters_come_into_no_copied_text():
    """A joiner would keep lines together as well, and would then be copied with the check code."""
    document = small_document("777 At 3\u202f007–5\u202f807\u00a0rev/min 1.7 ± 0.7 lb/min")
    (page,) = pypdf.PdfReader(io.BytesIO(document_pdf(document, "a4"))).pages
    said = page.extract_text()
    assert document.check_code in said.replace("\n", "")
    for text in (said, document_page(document), document_json(document)):
        assert not {"\u2060", "\u200b", "\ufeff"} & set(text)

"""The application sheet of the example's build: what it says, that it fits a page, that it is no claim."""

import io
import re
from dataclasses import replace

import html5lib
import numpy as np
import pypdf
import pytest

from boostwright.publish.document import Document, Table, document_json
from boostwright.publish.document_files import write_document
from boostwright.publish.document_page import document_page
from boostwright.publish.pdf import document_pdf
from boostwright.publish.published_sheet import SheetRequest, build_sheet
from boostwright.records.examples import example_folder
from boostwright.studies.match_request import ambient_from_text
from boostwright.studies.pulley_request import ask_of
from tests.publish.test_claim_report import html_text, pdf_text, squeezed
from tests.publish.test_document import HOSTILE

BUILD = example_folder("inlet-elbow") / "builds" / "machined.toml"
SPEEDS = np.array([3000.0, 4500.0, 6000.0]) / 60.0
PLACES = (ambient_from_text("100 kPa, 25 degC, 0.4"), ambient_from_text("95 kPa, 38 degC, 0.3"))
ASK = ask_of("72 mm, 60 mm", None, None, 100.0, PLACES)
REQUEST = SheetRequest(engine_speed=SPEEDS, ask=ASK, command="boostwright sheet machined.toml")


@pytest.fixture(scope="module")
def notes(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "notes.toml"
    path.write_text(f"title = 'Kit 7'\n[notes]\n'Belt tension' = '350 N a strand'\n'Bolt' = '''{HOSTILE}'''\n")
    return path


@pytest.fixture(scope="module")
def sheet(notes) -> Document:
    return build_sheet(BUILD, notes, REQUEST)


def pulley_rows(sheet: Document) -> list[tuple[str, ...]]:
    (table,) = (block for block in sheet.sections[0].blocks if isinstance(block, Table))
    return list(table.rows)


def test_a_pulley_beyond_the_rotor_limit_is_too_much_and_a_slower_one_is_chosen(sheet):
    """160 mm on the crank over 60 mm turn the rotors at more than 14 000 rev/min: 16 000 without belt line and slip."""
    small_ratio, large_ratio = pulley_rows(sheet)
    assert (small_ratio[0], small_ratio[-1]) == ("72 mm", "largest")
    assert (large_ratio[0], large_ratio[-1]) == ("60 mm", "too much")
    assert large_ratio[-3].startswith("rotor speed, from ")
    assert 14_000 < int(large_ratio[2].replace("\u202f", "")) < 16_000
    assert large_ratio[-2] == "100 %"


def test_every_predicted_number_carries_its_range(sheet):
    for row in pulley_rows(sheet):
        for cell in row[3:7]:
            value, lower, upper = (float(x) for x in re.fullmatch(r"(\d+) \((\d+)–(\d+)\)", cell).groups())
            assert lower < value < upper


def test_the_sheet_is_a_prediction_on_every_page_and_says_what_is_not_known(sheet):
    assert not sheet.opening.is_allowed
    assert sheet.opening.standing.startswith("A prediction from the description of the build, not a test and no claim.")
    said = document_json(sheet)
    assert "Not known, and in no number here: rotor tip speed" in said
    assert "Belts, pulleys and rotors maim and kill" in said
    for page in pypdf.PdfReader(io.BytesIO(document_pdf(sheet, "a4"))).pages:
        assert squeezed("prediction, no claim") in squeezed(page.extract_text())


def test_the_sheet_is_one_page_and_the_makers_notes_stand_word_for_word(sheet):
    printed = pypdf.PdfReader(io.BytesIO(document_pdf(sheet, "a4")))
    assert len(printed.pages) == 1
    assert printed.metadata is not None
    assert printed.metadata.title == "Kit 7"
    assert printed.metadata.creation_date is None  # a build has no date, and the day of printing is none of its words
    page = document_page(sheet)
    html5lib.HTMLParser(strict=True).parse(page)
    for text in ("350 N a strand", HOSTILE, "unchecked"):
        assert squeezed(text) in pdf_text(printed)
        assert squeezed(text) in html_text(page)
    assert "<script>" not in page


def test_same_build_same_bytes_and_both_files(sheet, notes, tmp_path):
    first = write_document(sheet, tmp_path / "one", "letter")
    second = write_document(build_sheet(BUILD, notes, REQUEST), tmp_path / "two", "letter")
    assert [path.suffix for path in first] == [".pdf", ".html"]
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


def test_us_units_and_german_reach_the_sheet():
    said = document_json(build_sheet(BUILD, None, replace(REQUEST, units="us", language="de")))
    for text in ("Ladedruck, psi", "Leistung, hp", "6,30\u00a0in", "°F", "lb/min", "Welche Riemenscheibe"):
        assert text in said
    for text in ('kPa"', "°C", "Belts, pulleys"):
        assert text not in said

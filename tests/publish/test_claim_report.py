"""The published report of the example campaign: what PDF and HTML say, how they are built, what is refused."""

import io
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from html import unescape

import html5lib
import pypdf
import pytest

from boostwright.errors import DataError
from boostwright.publish.document import Document, Picture, Table, document_json, page_data
from boostwright.publish.document_files import write_document
from boostwright.publish.document_page import document_page
from boostwright.publish.pdf import document_pdf
from boostwright.publish.published import ReportRequest, campaign_document, pulls_document
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.claim import claim_request
from boostwright.studies.compare import reduced_pulls
from boostwright.studies.language import ENGLISH
from tests.publish.test_document import HOSTILE, small_document

EXAMPLE = example_folder("inlet-elbow")
CAMPAIGN = read_campaign(EXAMPLE)
PLAIN = ReportRequest(with_model=False)


@pytest.fixture(scope="module")
def pulls():
    return reduced_pulls(CAMPAIGN)


@pytest.fixture(scope="module")
def document(pulls) -> Document:
    return pulls_document(CAMPAIGN, pulls, PLAIN)


@pytest.fixture(scope="module")
def reader(document) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(document_pdf(document, "a4")))


def squeezed(text: str) -> str:
    """Text without what a typesetter may change: spaces and line ends."""
    return re.sub(r"\s+", "", text)


def every_text(document: Document) -> list[str]:
    """All that the document says, in order, without drawings."""

    def texts(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for key, inner in value.items():
                if key not in ("kind", "side", "svg", "spoken", "language", "dated", "foot"):
                    yield from texts(inner)
        elif isinstance(value, list | tuple):
            for inner in value:
                yield from texts(inner)

    return [text for text in texts(page_data(document)) if text]


def pdf_text(reader: pypdf.PdfReader) -> str:
    return squeezed("".join(page.extract_text() for page in reader.pages))


def html_text(page: str) -> str:
    return squeezed(unescape(re.sub(r"<svg.*?</svg>|<style>.*?</style>|<[^>]+>", "", page, flags=re.DOTALL)))


def test_pdf_and_html_say_every_word_of_the_document(document, reader):
    on_paper, on_screen = pdf_text(reader), html_text(document_page(document))
    said = every_text(document)
    assert len(said) > 200
    # the foot may fall into a text that runs over a page, so long texts are looked for by their halves
    halves = [half for text in said for half in (squeezed(text)[:40], squeezed(text)[-40:])]
    assert [half for half in halves if half not in on_screen] == []
    assert [half for half in halves if half not in on_paper] == []


def test_the_first_page_says_claim_grade_and_verdict(document, reader):
    first = squeezed(reader.pages[0].extract_text())
    assert document.opening.is_allowed
    assert re.match(
        r"With machined this engine gave at least \d\.\d\u00a0% more power than with cast", document.opening.sentence
    )
    for text in (
        document.opening.sentence,
        document.opening.standing,
        "Gain shown at",
        "Order of pulls",
        "publishable",
    ):
        assert squeezed(text) in first


def test_every_page_carries_job_standing_version_and_check_code(document, reader):
    count = len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        said = squeezed(page.extract_text())
        for text in (
            f"{CAMPAIGN.title} · publishable claim",
            f"{document.foot.version} · check code {document.check_code}",
            f"page {number} of {count}",
        ):
            assert squeezed(text) in said


def test_the_pdf_is_tagged_and_says_that_it_is_accessible(reader):
    """ISO 14289-1 (PDF/UA-1) asks for marked content, a structure tree, language, shown title and its identification;
    clauses from memory. The typesetter itself refuses what breaks the rest."""
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert reader.metadata.title == CAMPAIGN.title
    assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data().decode("utf-8")
    assert str(reader.metadata.creation_date).startswith("2026-03-14 12:04:00")


def structure(element, found: dict[str, list]) -> dict[str, list]:
    kids = element.get("/K", [])
    if "/S" in element:
        found.setdefault(element["/S"], []).append(element)
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(kid, dict):
            structure(kid, found)
    return found


def test_the_structure_has_headings_tables_with_heads_lists_and_spoken_figures(document, reader):
    found = structure(reader.trailer["/Root"]["/StructTreeRoot"], {})
    tables = [block for section in document.sections for block in section.blocks if isinstance(block, Table)]
    pictures = [b for part in (document.opening, *document.sections) for b in part.blocks if isinstance(b, Picture)]
    assert len(found["/H1"]) == len(document.sections)
    assert len(found["/Table"]) == len(tables)
    assert len(found["/TH"]) == sum(len(table.columns) for table in tables)
    assert len(found["/Caption"]) == len(tables)
    spoken = [squeezed(figure["/Alt"]) for figure in found["/Figure"]]
    assert spoken == [squeezed(picture.spoken) for picture in pictures]
    assert {"/L", "/LI", "/Lbl", "/LBody", "/P", "/Title"} <= set(found)


def test_only_our_static_fonts_are_embedded(reader):
    names = {
        font["/DescendantFonts"][0]["/BaseFont"].split("+")[1]
        for page in reader.pages
        for font in (reference.get_object() for reference in page["/Resources"]["/Font"].values())
    }
    assert names == {"SourceSans3-Regular", "SourceSans3-SemiBold", "SourceSerif4-SemiBold"}


def size(page: pypdf.PageObject) -> tuple[float, float]:
    return float(page.mediabox.width), float(page.mediabox.height)


def test_both_papers_have_their_size_and_the_same_words(document, reader):
    printed = pypdf.PdfReader(io.BytesIO(document_pdf(document, "letter")))
    assert size(printed.pages[0]) == (612.0, 792.0)
    assert size(reader.pages[0]) == pytest.approx((595.276, 841.89), abs=0.01)
    assert squeezed(f"check code {document.check_code}") in squeezed(printed.pages[0].extract_text())
    assert len(printed.pages) <= 6
    assert squeezed("Gain shown at") in squeezed(printed.pages[0].extract_text())


def test_the_html_is_valid_asks_for_nothing_and_has_no_name_twice(document):
    page = document_page(document)
    html5lib.HTMLParser(strict=True).parse(page)
    links = re.findall(r"(?:src|href)=['\"]?([^'\" >]+)", page)
    assert [link for link in links if not link.startswith(("#", "data:"))] == []
    assert "url(http" not in page
    names = re.findall(r' id="([^"]+)"', page)
    assert len(names) == len(set(names)) > 10
    assert {used for used in re.findall(r"(?:url\(|href=\")#([^)\"]+)", page)} <= set(names)


def test_same_inputs_give_the_same_bytes_in_another_process(document, tmp_path):
    write_document(document, tmp_path / "here" / "report", "a4")
    command = [
        sys.executable,
        "-m",
        "boostwright",
        "publish",
        str(EXAMPLE),
        "--out",
        str(tmp_path / "there"),
        "--no-model",
    ]
    subprocess.run(command, check=True, capture_output=True)
    for name in ("report.pdf", "report.html", "report.json"):
        assert (tmp_path / "here" / name).read_bytes() == (tmp_path / "there" / name).read_bytes(), name


def test_hostile_text_stays_text():
    document = small_document(HOSTILE)
    page = document_page(document)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script>" not in page
    assert squeezed(HOSTILE) in html_text(page)
    assert squeezed(HOSTILE) in pdf_text(pypdf.PdfReader(io.BytesIO(document_pdf(document, "a4"))))


def test_us_units_reach_every_table(pulls):
    said = document_json(pulls_document(CAMPAIGN, pulls, replace(PLAIN, units="us")))
    assert "--units us" in said
    for text in ("cast, hp", "psi abs", "barometer, psi", "air, °F"):
        assert text in said
    for text in (", kW", "kPa", "°C", "kg·m"):
        assert text not in said


def test_german_has_its_own_sentences_numbers_and_language(pulls):
    document = pulls_document(CAMPAIGN, pulls, replace(PLAIN, language="de"))
    reader = pypdf.PdfReader(io.BytesIO(document_pdf(document, "a4")))
    assert reader.trailer["/Root"]["/Lang"] == "de"
    assert '<html lang="de">' in document_page(document)
    assert re.search(r"mindestens \d,\d\u00a0% mehr Leistung", document.opening.sentence)
    ours = set(ENGLISH.sentences.values()) & set(every_text(document))
    assert ours <= {"SHA-256"}  # whatever else is English would be a sentence without its German


@cache
def weak_document() -> Document:
    """The example with one installation of each setup, by the first, second and third pull alone."""
    entries = CAMPAIGN.pulls[:3]
    campaign = replace(CAMPAIGN, pulls=entries)
    return campaign_document(campaign, PLAIN)


def test_what_is_not_publishable_says_so_at_the_top_and_at_the_foot_of_every_page():
    document = weak_document()
    assert not document.opening.is_allowed
    assert re.match(r"No claim: the evidence is (indicative|unsupported); ", document.opening.sentence)
    assert document.opening.standing.startswith("Not a claim. The evidence is ")
    assert "Nobody may quote a number" in document.opening.standing
    for page in pypdf.PdfReader(io.BytesIO(document_pdf(document, "a4"))).pages:
        assert "noclaim(" in squeezed(page.extract_text())
    assert 'class="notice"' in document_page(document)


def test_a_claim_across_days_without_bridging_pulls_is_refused_with_reason_and_remedy(pulls):
    days = {"cast": "2026-03-14", "machined": "2026-03-15"}
    apart = [replace(pull, session=days[pull.setup]) for pull in pulls]
    with pytest.raises(
        DataError, match=r"machined over cast cannot be claimed: the setups never share a day and a stand"
    ):
        pulls_document(CAMPAIGN, apart, PLAIN)


def test_a_claim_across_correction_rules_is_refused_with_the_rules(pulls):
    mixed = [replace(pulls[0], correction_rule="iso-1585"), *pulls[1:]]
    with pytest.raises(DataError, match=r"mixes correction rules .*iso-1585.*reduce all pulls with one rule"):
        pulls_document(CAMPAIGN, mixed, PLAIN)


@pytest.mark.parametrize("kind", ["best-pull", "at-speed 5000"])
def test_another_claim_is_in_sentence_table_and_command(pulls, kind):
    document = pulls_document(CAMPAIGN, pulls, replace(PLAIN, claim=claim_request(kind)))
    said = document_json(document)
    assert "Claimed gain" in said
    assert f'--claim \\"{kind}\\"' in said
    assert document.opening.is_allowed


def test_where_no_gain_may_be_claimed_the_report_says_it(pulls):
    swapped = replace(CAMPAIGN, baseline="machined", candidate="cast")
    document = pulls_document(swapped, pulls, PLAIN)
    assert document.opening.sentence.startswith("No gain may be claimed over 3\u202f000–5\u202f800\u00a0rev/min: −")
    assert not document.opening.is_allowed
    assert document.foot.standing == "no claim (publishable)"


def test_files_of_other_names_stay_and_a_file_in_place_of_the_folder_is_named(document, tmp_path):
    folder = tmp_path / "report"
    folder.mkdir()
    (folder / "my notes.txt").write_text("kept")
    write_document(document, folder / "report", "a4")
    assert (folder / "my notes.txt").read_text() == "kept"
    with pytest.raises(Exception, match=r"is a file where a folder would be; move that file away"):
        write_document(document, folder / "my notes.txt" / "report", "a4")

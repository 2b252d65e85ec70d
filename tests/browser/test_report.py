"""The HTML report in a real browser: access for everybody, narrow screens, and what a printer gets."""

import re

import pytest
from playwright.sync_api import Browser
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.records.examples import example_folder
from tests.browser.test_page import violations

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The report of the example campaign with its why part."""
    target = tmp_path_factory.mktemp("report") / "report.html"
    arguments = ["compare", str(example_folder("inlet-elbow")), "--no-files", "--why", "--report", str(target)]
    assert CliRunner().invoke(app, arguments).exit_code == 0
    return target.as_uri()


def test_axe_finds_nothing_and_the_page_never_scrolls_sideways(browser: Browser, report: str):
    page = browser.new_page(viewport={"width": 390, "height": 900})
    page.goto(report)
    assert violations(page) == []
    for width in (320, 390, 1000):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") == width
    page.close()


def test_a_printed_figure_fits_its_page_and_no_sentence_stands_alone_at_a_foot(browser: Browser, report: str):
    """In print width, 174 mm of A4, each picture is lower than the 265 mm between the margins."""
    page = browser.new_page(viewport={"width": round(174 / 25.4 * 96), "height": 1000})
    page.goto(report)
    page.emulate_media(media="print")
    heights = page.evaluate("[...document.querySelectorAll('figure svg')].map(e => e.getBoundingClientRect().height)")
    assert len(heights) == 6
    assert max(heights) < 265 / 25.4 * 96
    rules = page.evaluate(
        "[...document.querySelectorAll('h2, h3, .sentence, figure')]"
        ".map(e => [e.tagName, getComputedStyle(e).breakInside, getComputedStyle(e).breakAfter])"
    )
    assert {tuple(rule) for rule in rules} == {
        ("H2", "auto", "avoid"),
        ("H3", "auto", "avoid"),
        ("P", "avoid", "avoid"),
        ("FIGURE", "avoid", "auto"),
    }
    pages = len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4")))
    assert 8 <= pages <= 18
    page.close()

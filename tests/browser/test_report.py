"""The published HTML in a real browser: readable for everybody, on a narrow screen as on a wide one."""

import pytest
from playwright.sync_api import Browser

from tests.browser.test_page import violations
from tests.examples.test_published_reports import PUBLISHED, REPORTS

pytestmark = pytest.mark.browser
EMPTY = "document.querySelectorAll('svg').forEach(picture => picture.replaceChildren())"
"""Takes out the hundreds of paths, which a reader hears as one image by the sentence on it; axe would ask each."""


@pytest.mark.parametrize("name", PUBLISHED)
def test_axe_finds_nothing_in_a_published_page_and_it_never_scrolls_sideways(browser: Browser, name: str):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((REPORTS / f"{name}.html").as_uri())
    assert page.locator("svg").count() == page.locator("svg[role=img][aria-label]").count()
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") == width
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.evaluate(EMPTY)
    assert violations(page) == []
    page.close()

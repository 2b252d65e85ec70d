"""The published HTML in a real browser: readable for everybody, on a narrow screen as on a wide one."""

import pytest
from playwright.sync_api import Browser

from tests.browser.test_page import violations
from tests.examples.test_published_reports import PUBLISHED, REPORTS

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing_in_a_published_page_and_it_never_scrolls_sideways(browser: Browser, name: str, width: int):
    page = browser.new_page(viewport={"width": width, "height": 900})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((REPORTS / f"{name}.html").as_uri())
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.close()

"""The published HTML in a real browser: readable for everybody, on a narrow screen as on a wide one."""

import pytest
from playwright.sync_api import Browser

from tests.browser.test_page import AXE
from tests.examples.test_published_reports import PUBLISHED, REPORTS

pytestmark = pytest.mark.browser
INSIDE_PICTURES = "svg *"  # hundreds of paths that a reader hears as one image, by the sentence on their svg


@pytest.mark.parametrize("name", PUBLISHED)
def test_axe_finds_nothing_in_a_published_page_and_it_never_scrolls_sideways(browser: Browser, name: str):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((REPORTS / f"{name}.html").as_uri())
    page.evaluate(AXE)
    found = page.evaluate(
        "inside => axe.run({ exclude: [[inside]] }, { resultTypes: ['violations'] })", INSIDE_PICTURES
    )
    assert [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found["violations"]] == []
    assert page.locator("svg").count() == page.locator("svg[role=img][aria-label]").count()
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") == width
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.close()

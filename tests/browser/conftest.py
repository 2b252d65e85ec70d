"""A real Chromium on a real server. Without Chromium these tests are skipped, unless BOOSTWRIGHT_REQUIRE_BROWSER=1."""

import os
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from boostwright.records.examples import copy_example
from tests.browser.serving import ARGUMENTS, Served, chromium, served

WAIT, FIRST_WAIT = 60_000, 120_000  # ms: a first compile of the kernels may fall into the opening of a page


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = chromium()
    if path is None:
        reason = "Chromium is not installed: apt-get install chromium"
        if os.environ.get("BOOSTWRIGHT_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def elbow(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The example campaign, with a claim and a pull that is left out."""
    with served(copy_example("inlet-elbow", tmp_path_factory.mktemp("served") / "elbow")) as one:
        yield one


@pytest.fixture
def nothing(tmp_path: Path) -> Iterator[Served]:
    """An empty folder."""
    folder = tmp_path / "empty"
    folder.mkdir()
    with served(folder) as one:
        yield one


@dataclass
class Watched:
    """A page, and everything that it asked for or complained of."""

    page: Page
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture
def watched(browser: Browser) -> Iterator[Watched]:
    """A page that is asserted, at the end, to have stayed at home and not to have complained."""
    context = browser.new_context(
        viewport={"width": 1440, "height": 900}, reduced_motion="reduce", accept_downloads=True
    )
    context.set_default_timeout(WAIT)
    watched = Watched(context.new_page())
    watched.page.on("request", lambda request: watched.asked.append(request.url))
    watched.page.on("console", lambda message: message.type == "error" and watched.complaints.append(message.text))
    watched.page.on("pageerror", lambda error: watched.complaints.append(str(error)))
    watched.page.on("dialog", lambda dialog: (watched.complaints.append(f"asked: {dialog.message}"), dialog.dismiss()))
    yield watched
    context.close()
    assert [address for address in watched.asked if urlsplit(address).hostname not in ("127.0.0.1", None, "")] == []
    assert watched.complaints == []


def open_page(watched: Watched, served: Served, rest: str = "/") -> Page:
    """Open the served folder and wait until every figure is drawn."""
    page = watched.page
    page.goto(f"{served.address}{rest}")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.wait_for_selector("#f-gain canvas", state="attached", timeout=FIRST_WAIT)
    page.wait_for_selector("#f-map canvas", state="attached", timeout=FIRST_WAIT)
    page.wait_for_selector("#f-plan canvas", state="attached", timeout=FIRST_WAIT)
    page.wait_for_selector("#f-why canvas", state="attached", timeout=FIRST_WAIT)
    return page


def until(page: Page, expression: str, given: object = None) -> None:
    """Wait until a JavaScript function says yes. Our policy forbids the driver's own polling."""
    deadline = time.monotonic() + WAIT / 1000
    while not page.evaluate(expression, given):
        assert time.monotonic() < deadline, f"still not: {expression} of {given}"
        page.wait_for_timeout(20)

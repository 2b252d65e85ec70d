"""Pictures of every section of the page: `python -m tests.browser.screenshots --out DIR`.

Desk, tablet and phone, dark, print (as PDF and its pages), the states, the view from two metres, and a setting far from
what was tested. They are there to be looked at.
"""

import argparse
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from boostwright.records.examples import copy_example
from tests.browser.serving import ARGUMENTS, Served, chromium, served

SECTIONS = ("top", "measured", "gain", "next", "why", "elsewhere", "limits", "claim")
SIZES = {"desk": (1440, 900), "tablet": (820, 1180), "phone": (390, 844)}


def main() -> None:
    """Take all of them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--out", type=Path, required=True, help="folder for the pictures")
    out: Path = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        empty = Path(place) / "empty"
        empty.mkdir()
        with served(copy_example("inlet-elbow", Path(place) / "elbow")) as elbow, served(empty) as nothing:
            for size in SIZES:
                _sections(browser, elbow, out, size, "light", "")
            _sections(browser, elbow, out, "desk", "dark", "-dark")
            _sections(browser, elbow, out, "desk", "light", "-us", "&units=us", ("gain", "why", "elsewhere", "limits"))
            _moments(browser, elbow, out)
            _states(browser, elbow, nothing, out)
            _printed(browser, elbow, out)
        browser.close()


def _page(browser: Browser, size: str = "desk") -> Page:
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, reduced_motion="reduce", has_touch=size != "desk"
    )
    context.set_default_timeout(120_000)
    return context.new_page()


def _settled(page: Page) -> None:
    for selector in ("#f-gain canvas", "#f-plan canvas", "#f-why canvas", "#f-map canvas"):
        page.wait_for_selector(selector, state="attached")
    page.wait_for_selector(".work", state="detached")
    page.wait_for_timeout(300)


def _sections(
    browser: Browser,
    on: Served,
    out: Path,
    size: str,
    theme: str,
    suffix: str,
    more: str = "",
    some: tuple[str, ...] = SECTIONS,
) -> None:
    page = _page(browser, size)
    page.goto(f"{on.address}/?theme={theme}{more}")
    _settled(page)
    for number, section in enumerate(SECTIONS):
        if section in some:
            page.evaluate("id => document.getElementById(id).scrollIntoView({ behavior: 'instant' })", section)
            page.wait_for_timeout(120)
            page.screenshot(path=out / f"{size}{suffix}-{number}-{section}.png")
    page.context.close()


def _moments(browser: Browser, on: Served, out: Path) -> None:
    page = _page(browser)
    page.goto(f"{on.address}/?theme=light&drive_ratio=2.6&zoom=3800-4800&n=4300#elsewhere")
    _settled(page)
    page.screenshot(path=out / "desk-far-setting.png")
    page.evaluate("document.getElementById('limits').scrollIntoView({ behavior: 'instant' })")
    page.screenshot(path=out / "desk-far-limits.png")
    page.evaluate("document.getElementById('gain').scrollIntoView({ behavior: 'instant' })")
    page.screenshot(path=out / "desk-zoomed.png")
    for section in ("gain", "next", "why", "elsewhere"):
        page.locator(f"#{section} button", has_text="Show table").first.click()
        page.evaluate(
            "id => document.querySelector(`#${id} .nums`).scrollIntoView({ block: 'center', behavior: 'instant' })",
            section,
        )
        page.screenshot(path=out / f"desk-table-{section}.png")
    page.click("#edit")
    page.evaluate("document.getElementById('measured').scrollIntoView({ behavior: 'instant' })")
    page.screenshot(path=out / "desk-edit.png")
    page.context.close()
    for size in ("desk", "tablet"):
        page = _page(browser, size)
        page.goto(f"{on.address}/?theme=light")
        _settled(page)
        page.click("#b-far")
        page.screenshot(path=out / f"{size}-read-from-2m.png")
        page.context.close()


def _states(browser: Browser, on: Served, nothing: Served, out: Path) -> None:
    page = _page(browser)
    page.goto(f"{nothing.address}/?theme=light")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.screenshot(path=out / "state-empty.png")
    page.context.close()
    for name, path, section in (("computing", "/api/explain", "why"), ("first", "/api/compare", "gain")):
        page = _page(browser)
        page.add_init_script(f'({HALF_WAY})("{path}")')
        page.goto(f"{on.address}/?theme=light#{section}")
        page.wait_for_selector(".work progress")
        page.wait_for_timeout(400)
        page.screenshot(path=out / f"state-{name}.png")
        page.context.close()
    page = _page(browser)
    page.goto(f"{on.address}/?theme=light")
    _settled(page)
    page.route("**/api/version", lambda route: route.fulfill(json={"version": "x", "content": "x"}))
    page.wait_for_selector(".stale")
    page.screenshot(path=out / "state-stale.png")
    page.unroute("**/api/version")
    page.route("**/api/version", lambda route: route.abort())
    page.wait_for_selector("#lost:not([hidden])")
    page.screenshot(path=out / "state-lost.png")
    page.context.close()


# A stream that has told how far it is and goes on for ever.
HALF_WAY = """(path) => {
  const real = window.fetch;
  const words = "Fitting it 200 times more, to the curves within their errors";
  const told = { words, percent: 50, elapsed_s: 6.2, left_s: 6.2 };
  const bytes = new TextEncoder().encode(`event: progress\\ndata: ${JSON.stringify(told)}\\n\\n`);
  window.fetch = (url, init) => String(url).startsWith(path)
    ? Promise.resolve(new Response(new ReadableStream({ start: stream => {
        stream.enqueue(bytes);
        init.signal.addEventListener("abort", () => stream.error(init.signal.reason));
      } })))
    : real(url, init);
}"""


def _printed(browser: Browser, on: Served, out: Path) -> None:
    page = _page(browser)
    page.goto(f"{on.address}/?theme=dark")
    _settled(page)
    page.pdf(path=out / "print-a4.pdf", prefer_css_page_size=True)
    page.context.close()


if __name__ == "__main__":
    main()

"""How fast the page is in a real browser: `python -m tests.browser.speed`.

Prints the time from a slider's move to the frame that shows the new curves, that of a move of the hand, and that of the
first view of a saved campaign on a server that runs, with the load of the machine beside them.
"""

import os
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from boostwright.records.examples import copy_example
from tests.browser.serving import ARGUMENTS, Served, chromium, served

MOVES = 60
SLIDE = """async (moves) => {
  const slider = document.getElementById("w-drive_ratio"), place = document.getElementById("f-torque"), times = [];
  for (let i = 0; i < moves; i++) {
    const before = place.plot.data, started = performance.now();
    slider.value = String(2.16 + 0.01 * (1 + i % 20));
    slider.dispatchEvent(new Event("input"));
    while (place.plot.data === before) await new Promise(requestAnimationFrame);
    await new Promise(requestAnimationFrame);
    times.push(performance.now() - started);
  }
  return times;
}"""
SCRUB = """async (moves) => {
  const slider = document.getElementById("speed"), times = [];
  for (let i = 0; i < moves; i++) {
    const started = performance.now();
    slider.value = String(3300 + 40 * i);
    slider.dispatchEvent(new Event("input"));
    await new Promise(requestAnimationFrame);
    await new Promise(requestAnimationFrame);
    times.push(performance.now() - started);
  }
  return times;
}"""
# From the moment at which the page is asked for to the first frame that shows the gain, by the browser's own clock: a
# question from outside is answered only when the page has drawn what came meanwhile as well.
FIRST_VIEW = """new MutationObserver((_, watching) => {
  if (!document.querySelector("#f-gain canvas")) return;
  watching.disconnect();
  requestAnimationFrame(() => setTimeout(() => { window.firstView = performance.now(); }));
}).observe(document, { childList: true, subtree: true });"""

SEEN = "async () => { while (!window.firstView) await new Promise(r => setTimeout(r, 20)); return window.firstView; }"


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        with served(copy_example("inlet-elbow", Path(place) / "elbow")) as elbow:
            page = _opened(browser, elbow)
            sys.stdout.write(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores\n")
            _say("slider to redrawn curves", page.evaluate(SLIDE, MOVES))
            _say("hand to redrawn readings, two frames", page.evaluate(SCRUB, MOVES))
            page.context.close()
            _say("first view of a saved campaign", [_first_view(browser, elbow) for _ in range(5)])
        browser.close()


def _opened(browser: Browser, on: Served) -> Page:
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.set_default_timeout(180_000)
    page.goto(on.address)
    page.wait_for_selector("#f-why canvas", state="attached")
    page.wait_for_selector("#w-drive_ratio", state="attached")
    page.wait_for_timeout(3000)  # the what-if of the fitted machine comes last
    return page


def _first_view(browser: Browser, on: Served) -> float:
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.add_init_script(FIRST_VIEW)
    page.goto(on.address)
    taken = float(page.evaluate(SEEN))
    page.context.close()
    return taken


def _say(what: str, times: list[float]) -> None:
    high = statistics.quantiles(times, n=20)[-1] if len(times) > 5 else max(times)
    sys.stdout.write(
        f"{what}: median {statistics.median(times):.0f} ms, 95th percentile {high:.0f} ms, of {len(times)}\n"
    )


if __name__ == "__main__":
    main()

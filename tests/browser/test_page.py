"""The page in a real browser: one hand for all readings, drawn data, keys, states, access for everybody."""

import json
from pathlib import Path

import axe_core_python
import pytest

from tests.browser.conftest import Served, Watched, open_page, until

pytestmark = pytest.mark.browser
AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def plain(text: str | None) -> str:
    return (text or "").replace("\u2060", "").replace("\u202f", " ").replace("\u00a0", " ")


def readings(page) -> dict[str, str]:
    return {
        "hand": plain(page.text_content("#now")),
        "gain": plain(page.text_content("#rd-gain")),
        "elsewhere": plain(page.text_content("#rd-elsewhere")),
        "spoken": plain(page.get_attribute("#speed", "aria-valuetext")),
    }


def violations(page) -> list[str]:
    """What axe finds; the script goes in through the inspector, which the page's policy does not bind."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found["violations"]]


def test_the_hand_moves_every_reading_to_the_same_speed(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    said = page.request.get(f"{elbow.address}/api/compare").json()["page"]
    rows = dict(zip(said["readings_rpm"], said["readings"], strict=True))
    for speed in range(3200, 5700, 170):
        page.locator("#speed").evaluate("(e, n) => { e.value = n; e.dispatchEvent(new Event('input')) }", speed)
        words = f"{speed // 1000} {speed % 1000:03} rev/min"
        until(page, "w => document.getElementById('now').textContent.replace(/\\s/g, ' ').includes(w)", words)
        row, now = rows[speed], readings(page)
        for text in now.values():
            assert words in text
        percent = plain(f"{row['percent']} ± {row['percent_half_width']} %")
        assert percent in now["hand"]
        assert percent in now["gain"]
        assert now["spoken"] == f"{words}: gain {percent}, {row['state']}"
        assert row["state"] in now["hand"]


def test_hovering_previews_a_click_pins_and_leaving_returns(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?n=4000#gain")
    box = page.locator("#f-gain .u-over").bounding_box()
    page.mouse.move(box["x"] + 0.9 * box["width"], box["y"] + 20)
    until(page, "() => !document.getElementById('now').textContent.includes('000')")
    assert "4 000 rev/min" not in readings(page)["elsewhere"]
    page.mouse.move(5, 5)
    until(page, "() => document.getElementById('now').textContent.replace(/\\s/g, ' ').includes('4 000 rev/min')")
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 20)
    page.mouse.move(5, 5)
    until(page, "() => new URL(location).searchParams.get('n') !== '4000'")
    assert abs(int(page.evaluate("new URL(location).searchParams.get('n')")) - 4400) <= 10


def test_keys_go_to_turning_points_and_questions_but_not_inside_fields(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?n=3500")
    points = page.request.get(f"{elbow.address}/api/compare").json()["page"]["turning_points_rpm"]
    page.keyboard.press("]")
    after = next(point for point in points if point > 3500)
    until(page, "n => document.getElementById('speed').value == n", after)
    page.keyboard.press(".")
    until(page, "n => document.getElementById('speed').value == n", after + 50)
    page.keyboard.press("6")
    assert page.evaluate("document.activeElement.id") == "h-limits"
    page.click("#edit")
    page.focus('[data-key="title"]')
    page.keyboard.press("1")
    assert page.evaluate("document.activeElement.dataset.key") == "title"
    assert page.input_value('[data-key="title"]').endswith("1")


def test_a_link_reopens_the_same_view(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?n=5000&quantity=torque&setup=cast&drive_ratio=2.3#elsewhere")
    until(page, "() => document.getElementById('elsewhere-say').textContent.includes('this would')")
    assert page.input_value("#quantity") == "torque"
    assert page.input_value("#w-setup") == "cast"
    assert page.text_content("#w-drive_ratio-out") == "2.30"
    assert "5 000 rev/min" in readings(page)["hand"]
    assert page.evaluate("document.getElementById('elsewhere').getBoundingClientRect().top") < 300


def test_what_is_drawn_is_what_the_server_said(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?theme=light&n=5000")
    curve = page.request.get(f"{elbow.address}/api/compare").json()["result"]["curve"]
    speeds, upper, lower, gain = page.evaluate("document.getElementById('f-gain').plot.data")
    assert (speeds, gain) == (curve["engine_speed_rpm"], curve["gain_percent"])
    assert (lower, upper) == (curve["lower_percent"], curve["upper_percent"])
    *_, baseline, candidate = page.evaluate("document.getElementById('f-over').plot.data")
    assert (baseline, candidate) == (curve["baseline"], curve["candidate"])
    assert pixel(page, "f-gain", curve["engine_speed_rpm"][15], curve["gain_percent"][15]) == [10, 90, 156]
    middle = (curve["gain_percent"][15] + curve["upper_percent"][15]) / 2
    tint = pixel(page, "f-gain", curve["engine_speed_rpm"][15], middle)
    assert tint[2] > tint[0] + 10, "the band is tinted"
    ring = page.evaluate(
        "(() => { const p = document.getElementById('f-gain').plot, d = p.over.querySelector('.dot');"
        " return [p.posToVal(parseFloat(d.style.left), 'x'), p.posToVal(parseFloat(d.style.top), 'y')] })()"
    )
    assert ring[0] == pytest.approx(5000, abs=3)
    row = page.request.get(f"{elbow.address}/api/compare").json()["page"]
    said = float(row["readings"][row["readings_rpm"].index(5000)]["percent"].replace("\u2212", "-"))
    assert ring[1] == pytest.approx(said, abs=0.06)


def pixel(page, figure: str, speed: float, value: float) -> list[int]:
    """The colour on the canvas at a place of the figure's own axes."""
    return page.evaluate(
        """([id, speed, value]) => {
          const plot = document.getElementById(id).plot;
          const [x, y] = [plot.valToPos(speed, "x", true), plot.valToPos(value, "y", true)].map(Math.round);
          return [...plot.ctx.getImageData(x, y, 1, 1).data].slice(0, 3);
        }""",
        [figure, speed, value],
    )


@pytest.mark.parametrize(("theme", "width"), [("light", 1440), ("dark", 1440), ("light", 820)])
def test_axe_finds_nothing(watched: Watched, elbow: Served, theme: str, width: int):
    watched.page.set_viewport_size({"width": width, "height": 1000})
    page = open_page(watched, elbow, f"/?theme={theme}&drive_ratio=2.6")
    until(page, "() => document.getElementById('reach').dataset.s === 'far'")
    page.locator('tr[data-file="pulls/05-cast.tsv"] button').click()
    page.evaluate("document.querySelectorAll('button[aria-expanded=false]').forEach(button => button.click())")
    page.evaluate("document.querySelectorAll('details.more').forEach(more => { more.open = true })")
    assert page.locator(".nums").count() >= 8
    assert violations(page) == []
    page.click("#edit")
    page.locator("details.more summary").first.click()
    assert violations(page) == []


def test_the_page_never_scrolls_sideways(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    for is_edited in (False, True):
        if is_edited:
            page.click("#edit")
            page.wait_for_selector("#edit-form")
        for width in (1440, 820, 390, 320):
            page.set_viewport_size({"width": width, "height": 900})
            until(page, "w => document.documentElement.scrollWidth <= w && innerWidth === w", width)


def test_html_in_the_title_is_text(watched: Watched, elbow: Served):
    page = watched.page

    def with_markup(route) -> None:
        view = route.fetch().json()
        view["campaign"]["title"] = "<img src=x onerror=alert(1)><b>bold</b>"
        view["campaign"]["pulls"][0]["file"] = "pulls/<script>alert(1)</script>.csv"
        route.fulfill(json=view)

    page.route("**/api/campaign", with_markup)
    open_page(watched, elbow)
    assert page.text_content("#job b") == "<img src=x onerror=alert(1)><b>bold</b>"
    assert page.locator("main img, #job img, #job b b, main script").count() == 0


class TestStates:
    """Each state has its sentence, its reason and its button."""

    def test_a_refused_claim_says_why_and_its_buttons_are_off(self, watched: Watched, elbow: Served):
        page = watched.page

        def refuse(route) -> None:
            view = json.loads(route.fetch().text().rpartition("event: result\ndata: ")[2])
            view["page"]["claim"] = {
                "sentence": "No gain may be claimed over 3 000–5 800 rev/min: +1 ± 2 %.",
                "is_allowed": False,
            }
            route.fulfill(content_type="text/event-stream", body=f"event: result\ndata: {json.dumps(view)}\n\n")

        page.route("**/api/compare?*", refuse)
        open_page(watched, elbow)
        for button in ("#report", "#report-html", "#bundle", "#copy-claim"):
            assert page.is_disabled(button)
        assert "No gain may be claimed" in page.text_content("#claim-text")
        assert plain(page.text_content("#off-because")).startswith(
            "Off because: no gain may be claimed over 3 000–5 800"
        )

    def test_a_comparison_that_cannot_be_made_shows_its_faults_and_tries_again(self, watched: Watched, elbow: Served):
        page = watched.page
        fault = {"problem": "one pull of each setup", "remedy": "run B again, then A", "file": "", "row": None}
        fault |= {"column": "", "key": "", "value": "", "said": ""}
        page.route("**/api/compare?*", lambda route: route.fulfill(status=422, json={"faults": [fault]}))
        page.goto(elbow.address)
        page.wait_for_selector("#gain-body .pvr")
        assert "run B again, then A" in page.text_content("#gain-body")
        assert "Nothing may be claimed yet" in page.text_content("#claim-body")
        page.unroute("**/api/compare?*")
        page.get_by_role("button", name="Try again").click()
        page.wait_for_selector("#f-gain canvas", state="attached")
        watched.complaints.clear()  # the refused request, noted by the browser

    def test_while_it_works_the_old_figure_stays_dimmed(self, watched: Watched, elbow: Served):
        page = open_page(watched, elbow)
        held = []
        page.route("**/api/compare?quantity=torque", lambda route: held.append(route))
        page.select_option("#quantity", "torque")
        page.wait_for_selector("#gain-body.old .work[aria-busy]")
        assert "Comparing the pulls again" in page.text_content("#gain-body")
        assert "The figure below is from before." in page.text_content("#gain-body")
        assert page.locator("#f-gain canvas").count() == 1
        held[0].continue_()
        until(page, "() => document.querySelector('#rd-gain').textContent.includes('N·m')")
        assert page.locator("#gain-body.old").count() == 0

    def test_a_server_that_is_gone_is_said(self, watched: Watched, elbow: Served):
        page = watched.page
        page.route("**/api/campaign", lambda route: route.abort())
        page.goto(elbow.address)
        page.wait_for_selector("html[data-ready]", state="attached")
        assert "The server does not answer" in page.text_content("h1")
        assert "this page then goes on by itself" in page.text_content("#lost")
        page.unroute("**/api/campaign")
        page.wait_for_selector("#f-gain canvas", state="attached")
        assert page.locator("#lost").is_hidden()
        watched.complaints.clear()  # the aborted request, noted by the browser


def test_themes_far_view_and_print(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?theme=light")
    page.click("#b-theme")
    assert page.get_attribute("html", "data-theme") == "dark"
    page.click("#b-far")
    assert page.locator("#gain").is_hidden()
    assert page.locator("h1").is_visible()
    assert page.locator("#hand").is_visible()
    page.click("#b-far")
    page.emulate_media(media="print")
    assert page.locator("#hand").is_hidden()
    assert page.locator(".mast").is_hidden()
    assert page.locator("#drop").is_hidden()
    assert page.locator("#claim-text").is_visible()
    assert page.locator("#f-gain").is_visible()

"""The page beyond its verdict: what next, why, limits, zoom, lines, units, tables, copies, and the states."""

import csv
import io
import json
import re

import pytest

from tests.browser.conftest import FIRST_WAIT, Served, Watched, open_page, until
from tests.browser.screenshots import HALF_WAY
from tests.browser.test_page import plain, violations

pytestmark = pytest.mark.browser


def answered(page, served: Served, path: str):
    return page.request.get(f"{served.address}{path}").json()


def calibrated(page) -> None:
    """Wait until question 5 speaks of the machine that fits the pulls."""
    until(page, "() => document.getElementById('reach')?.textContent.includes('the machine that fits the pulls')")


def test_the_gain_is_carried_to_other_builds_when_it_is_asked_for(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    assert "other-engine, racing-methanol" in page.text_content("#carried")
    until(page, "() => !document.getElementById('carry').disabled")
    page.click("#carry")
    page.wait_for_selector("#carried tbody tr")
    said = answered(page, elbow, "/api/carry")["page"]["builds"]
    rows = page.locator("#carried tbody tr")
    assert rows.count() == len(said) == 2
    for row, build in zip(rows.all(), said, strict=True):
        words = plain(row.text_content())
        for part in ("build", "gain", "boost", "power", "against"):
            assert plain(build[part]) in words
        assert plain(build["sentence"]) in plain(page.text_content("#carried"))
    assert violations(page) == []


def test_limits_carry_their_chances_as_tested_and_the_setting_of_question_5_otherwise(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    until(page, "() => document.getElementById('room')")
    said = answered(page, elbow, "/api/limits?setup=machined")["page"]
    assert page.text_content("#limits-say").replace("\u2060", "") == said["limits_headline"]
    assert said["chance"] in page.text_content("#rd-limits")
    known = [limit for limit in said["limits"] if limit["share_percent"] is not None]
    assert page.locator(".lims tbody td:last-child").all_text_contents() == [limit["chance"] for limit in known]
    page.set_viewport_size({"width": 820, "height": 900})
    until(page, "() => (w => w.scrollWidth === w.clientWidth)(document.querySelector('#limits-body .tablewrap'))")
    page.set_viewport_size({"width": 1440, "height": 900})
    marks = page.evaluate("[...document.querySelectorAll('.lims .mk')].map(mark => parseFloat(mark.style.left))")
    assert marks == pytest.approx([0.8 * limit["share_percent"] for limit in known], abs=1e-3)
    page.locator("#w-drive_ratio").evaluate("e => { e.value = 2.35; e.dispatchEvent(new Event('input')) }")
    until(page, "() => document.getElementById('rd-limits').textContent.includes('In the setting of question 5')")
    assert page.locator(".lims thead th").last.text_content() == "At"
    page.click("#w-reset")
    until(page, "() => document.getElementById('room')")


def test_why_follows_the_hand_in_words_and_boxes(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    said = answered(page, elbow, "/api/explain")["page"]
    shares = [*said["causes"], said["interaction"], said["unexplained"], said["measured"]]
    for speed in (3500, 4200, 5300):
        page.locator("#speed").evaluate("(e, n) => { e.value = n; e.dispatchEvent(new Event('input')) }", speed)
        until(page, "n => document.getElementById('parts-h').textContent.replace(/\\D/g, '') == n", speed)
        i = said["readings_rpm"].index(speed)
        assert plain(page.text_content("#rd-why")).startswith(f"At {speed // 1000} {speed % 1000:03} rev/min: power ")
        assert plain(said["air"]["readings"][i]) in plain(page.text_content("#rd-why"))
        words = [plain(text) for text in page.locator("#parts .part:not(.head) .v").all_text_contents()]
        assert words == [plain(share["readings"][i]) for share in shares]
        boxes = page.evaluate(
            "[...document.querySelectorAll('#parts .part:not(.head)')].map(row => {"
            " const [z, b, m] = [...row.querySelectorAll('i')].map(i => i.getBoundingClientRect());"
            " return [b.left - z.left, m.left + 1.5 - z.left, b.right - z.left] })"
        )
        for words_of, (low, mark, high) in zip(words, boxes, strict=True):
            value, half = (float(n.replace("−", "-")) for n in re.findall(r"[−+]?[\d.]+", words_of)[:2])
            assert low <= mark + 0.6
            assert mark <= high + 0.6
            if abs(value) > half + 0.05:  # a share that is shown stands on its side of zero
                assert (low > -1) == (value > 0)


def test_the_run_card_keeps_its_ticks_and_follows_what_a_session_costs(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    page.fill("#p-hours_left", "1.5")
    page.press("#p-hours_left", "Enter")
    until(page, "() => document.querySelectorAll('.steps li').length > 3")
    said = answered(page, elbow, "/api/plan?hours_left=1.5")["page"]
    assert page.locator(".steps b").all_text_contents() == [step["name"] for step in said["steps"]]
    assert page.text_content("#next-say").replace("\u2060", "") == said["headline"]
    page.locator(".steps input").first.check()
    assert page.evaluate("document.activeElement.type") == "checkbox"
    page.reload()
    page.wait_for_selector("#f-plan canvas", state="attached", timeout=FIRST_WAIT)
    assert page.input_value("#p-hours_left") == "1.5"
    assert page.locator(".steps input").first.is_checked()
    page.click("#b-far")
    assert page.locator("#next .card").is_visible()
    assert page.locator("#next .rests").is_hidden()


def test_zoom_is_shared_by_every_figure_over_speed_and_kept_in_the_link(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?n=4500")
    ends = "id => { const s = document.getElementById(id).plot.scales.x; return [s.min, s.max] }"
    whole = page.evaluate(ends, "f-gain")
    page.keyboard.press("+")
    until(page, "() => document.getElementById('f-gain').plot.scales.x.max < 5500")
    zoomed = [page.evaluate(ends, figure) for figure in ("f-over", "f-gain", "f-why", "f-torque", "f-difference")]
    assert all(pair == zoomed[0] for pair in zoomed)
    assert zoomed[0][0] < 4500 < zoomed[0][1]
    until(page, "() => new URL(location).searchParams.has('zoom')")
    page.reload()
    page.wait_for_selector("#f-gain canvas", state="attached", timeout=FIRST_WAIT)
    assert page.evaluate(ends, "f-gain") == zoomed[0]
    page.keyboard.press("0")
    until(page, "n => document.getElementById('f-gain').plot.scales.x.max === n", whole[1])
    page.locator("#f-gain").scroll_into_view_if_needed()
    box = page.locator("#f-gain .u-over").bounding_box()
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 40, steps=5)
    page.mouse.up()
    until(page, "n => document.getElementById('f-gain').plot.scales.x.max < n", whole[1])
    low, high = page.evaluate(ends, "f-gain")
    assert low == pytest.approx(whole[0] + 0.4 * (whole[1] - whole[0]), abs=25)
    assert high == pytest.approx(whole[0] + 0.6 * (whole[1] - whole[0]), abs=25)
    page.locator("#gain button", has_text="Whole range").click()
    until(page, "n => document.getElementById('f-gain').plot.scales.x.max === n", whole[1])


def test_a_line_that_is_switched_off_is_not_drawn(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?theme=light")
    ink = """() => { const p = document.getElementById('f-over').plot, c = p.ctx.canvas;
      const d = p.ctx.getImageData(p.bbox.left, p.bbox.top, p.bbox.width, p.bbox.height).data;
      let n = 0;
      for (let i = 0; i < d.length; i += 4) if (d[i] === 10 && d[i + 1] === 90 && d[i + 2] === 156) n++;
      return n }"""
    drawn = page.evaluate(ink)
    assert drawn > 500, "the candidate's blue"
    page.locator('#gain [data-line="B"]').click()
    until(page, "() => document.querySelector('#gain [data-line=B]').getAttribute('aria-pressed') === 'false'")
    assert page.evaluate(ink) < 0.1 * drawn
    until(page, "() => new URL(location).searchParams.get('off') === 'B'")


def test_us_units_reach_every_question(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    calibrated(page)
    page.locator("#w-air_temperature_degC").evaluate("e => { e.value = 35; e.dispatchEvent(new Event('input')) }")
    page.keyboard.press("u")
    until(page, "() => document.getElementById('w-air_temperature_degF-out')?.textContent === '95\\u00a0°F'")
    until(page, "() => document.getElementById('rd-gain').textContent.includes('hp')")
    until(page, "() => document.getElementById('derived').textContent.includes('lb/min')")
    until(page, "() => document.getElementById('outs').textContent.includes('lb-ft')")
    until(page, "() => new URL(location).searchParams.get('air_temperature_degF') === '95'")
    for section in ("gain", "next", "why", "elsewhere", "limits", "claim"):  # question 1 says what the logs say
        assert re.findall(".{40}(?:kW|kPa|N·m)", plain(page.text_content(f"#{section}"))) == []
    assert page.text_content("#b-units") == "Metric"
    curve = json.loads(
        page.request.get(f"{elbow.address}/api/compare?units=us", headers={"accept": "application/json"}).text()
    )["result"]["curve"]
    assert page.evaluate("document.getElementById('f-over').plot.data.at(-1)") == curve["candidate"]


def test_every_figure_has_a_table_a_csv_and_a_picture(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=elbow.address)
    figures = page.locator("main .acts:has(button:has-text('Copy figure'))").all()
    assert len(figures) == 6
    for acts in figures:
        acts.get_by_role("button", name="Copy CSV").click()
        until(page, "() => document.getElementById('toast').textContent === 'CSV copied'")
        rows = list(csv.reader(io.StringIO(page.evaluate("navigator.clipboard.readText()"))))
        assert len(rows) > 2
        assert len({len(row) for row in rows}) == 1
        page.evaluate("document.getElementById('toast').textContent = ''")
        acts.get_by_role("button", name="Copy figure").click()
        until(page, "() => document.getElementById('toast').textContent === 'Figure copied, verdict on top'")
        page.evaluate("document.getElementById('toast').textContent = ''")
        dark = page.evaluate(
            """async () => {
              const [item] = await navigator.clipboard.read();
              const picture = await createImageBitmap(await item.getType("image/png"));
              const c = new OffscreenCanvas(picture.width, picture.height).getContext("2d");
              c.drawImage(picture, 0, 0);
              const top = c.getImageData(0, 0, picture.width, Math.min(160, picture.height)).data;
              return [picture.width, [...Array(top.length / 4).keys()].filter(i => top[4 * i] < 60).length];
            }"""
        )
        assert dark[0] > 800
        assert dark[1] > 200, "the words of the verdict are in the picture"


def test_limits_carry_their_range_and_the_value_at_the_hand(watched: Watched, elbow: Served):
    page = open_page(watched, elbow, "/?n=4000&drive_ratio=2.6")
    calibrated(page)
    until(page, "() => document.querySelector('.lims tbody tr')?.dataset.status === 'over'")
    assert "gives first: over its limit by" in page.text_content("#limits-say")
    places = page.evaluate(
        "[...document.querySelectorAll('.lims tbody tr:first-child .lb i')]"
        ".map(i => [i.className, i.getBoundingClientRect().left])"
    )
    place = dict(places)
    assert place["hd"] < place["zone"] < place["mk"], "below the limit at the hand, above it at the end"
    assert place["box"] < place["mk"] + 1.5, "a mark three pixels wide stands in its box"


class TestStates:
    """Each state has its sentence, its reason and its button."""

    def test_nothing_measured_yet(self, nothing: Served, watched: Watched):
        page = watched.page
        page.goto(nothing.address)
        page.wait_for_selector("html[data-ready]", state="attached")
        assert page.text_content("h1") == "Nothing measured yet."
        for section, words in (
            ("gain", "It begins with the logs"),
            ("next", "question 1 asks for"),
            ("why", "It follows"),
            ("limits", "name one in question 1"),
        ):
            assert words in page.text_content(f"#{section}-body")
        assert page.get_by_role("button", name="Choose files").is_visible()
        assert page.locator("#hand").is_hidden()
        assert violations(page) == []

    def test_not_enough_pulls_say_what_to_run(self, nothing: Served, watched: Watched, elbow: Served):
        page = watched.page
        text = (elbow.folder / "campaign.toml").read_text(encoding="utf-8")
        head, *pulls = text.split("[[pulls]]")
        (nothing.folder / "campaign.toml").write_text("[[pulls]]".join([head, pulls[0]]), encoding="utf-8")
        for place in ("pulls", "builds"):
            (nothing.folder / place).mkdir()
            for path in (elbow.folder / place).iterdir():
                if place == "builds" or path.name.startswith("01"):
                    (nothing.folder / place / path.name).write_bytes(path.read_bytes())
        page.goto(nothing.address)
        page.wait_for_selector("#gain-body .pvr", timeout=FIRST_WAIT)
        assert "No verdict yet." in page.text_content("#gain-body")
        assert "machined" in page.text_content("#gain-body .pvr")
        assert page.locator("#gain-body button", has_text="Try again").is_visible()
        assert "Nothing may be claimed yet." in page.text_content("#claim-body")
        watched.complaints.clear()

    def test_long_work_says_what_is_left_and_can_be_stopped(self, watched: Watched, elbow: Served):
        page = watched.page
        page.add_init_script(f'({HALF_WAY})("/api/explain")')
        page.goto(elbow.address)
        page.wait_for_selector("#why-body .work progress")
        assert plain(page.text_content("#why-body .say")) == "Explaining the gain: about 6 s left …"
        assert "Fitting it 200 times more" in page.text_content("#why-body .read")
        assert page.evaluate("document.querySelector('#why-body progress').value") == 50
        assert violations(page) == []
        page.locator("#why-body .stop").click()
        until(page, "() => document.getElementById('why-body').textContent.includes('stopped before its answer')")
        assert page.locator("#why-body button", has_text="Work it out").is_visible()

    def test_a_report_under_way_says_how_far_it_is_and_can_be_stopped(self, watched: Watched, elbow: Served):
        watched.page.add_init_script(f'({HALF_WAY})("/api/publish")')
        page = open_page(watched, elbow)
        page.click("#report")
        page.wait_for_selector("#claim-body .work progress[value]")
        assert "Writing the report: about 6" in page.text_content("#claim-body")
        assert page.is_disabled("#bundle")
        assert violations(page) == []
        page.locator("#claim-body .stop").click()
        until(page, "() => document.getElementById('published')?.textContent.includes('was stopped')")
        assert page.is_enabled("#report")

    def test_a_folder_that_changed_strikes_the_verdicts_through_until_they_are_made_again(
        self, watched: Watched, elbow: Served
    ):
        page = open_page(watched, elbow)
        path = elbow.folder / "campaign.toml"
        before = path.read_text(encoding="utf-8")
        path.write_text(before.replace("[3000, 5800]", "[3200, 5800]"), encoding="utf-8")
        try:
            page.wait_for_selector("h1 s")
            for section in ("gain", "next", "why", "elsewhere", "limits"):
                assert page.locator(f"#{section} s").count() >= 1
                assert "Made before the folder changed, just now." in page.text_content(f"#{section}-body")
            assert "the folder has changed since" in page.text_content("#off-because")
            assert page.is_disabled("#report")
            assert violations(page) == []
            page.locator("#lead-acts .again").click()
            until(page, "() => document.getElementById('rd-gain') && !document.querySelector('main s')")
            until(page, "() => document.getElementById('f-gain').plot.scales.x.min === 3200")
        finally:
            path.write_text(before, encoding="utf-8")

    def test_a_lost_server_is_said_and_the_page_goes_on_when_it_is_back(self, watched: Watched, elbow: Served):
        page = open_page(watched, elbow)
        page.route("**/api/version", lambda route: route.abort())
        page.wait_for_selector("#lost:not([hidden])")
        assert "The server does not answer." in page.text_content("#lost")
        assert page.locator("#f-gain canvas").count() == 1, "what is shown stays"
        assert violations(page) == []
        page.unroute("**/api/version")
        page.wait_for_selector("#lost", state="hidden")
        watched.complaints.clear()  # the aborted requests, noted by the browser

    def test_far_from_what_was_tested_is_said_beside_the_number(self, watched: Watched, elbow: Served):
        page = open_page(watched, elbow, "/?drive_ratio=2.6")
        until(page, "() => document.getElementById('reach').dataset.s === 'far'")
        assert "Far from what was tested. Treat as a first guess; test before quoting." in page.text_content("#reach")
        assert "±" in page.text_content("#elsewhere-say")

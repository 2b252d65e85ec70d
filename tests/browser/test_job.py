"""The whole job through the page alone, from an empty folder to the published report, over every obstacle."""

import csv
import html
import io
import re
from pathlib import Path

import pytest

from boostwright.publish.verify import Outcome, verified
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from tests.browser.conftest import FIRST_WAIT, Served, Watched, open_page, until

pytestmark = pytest.mark.browser


def logs_with_a_wrong_unit(target: Path) -> list[Path]:
    """The example's logs; the header of one says kelvin over degrees Celsius, as loggers do."""
    target.mkdir()
    for path in (example_folder("inlet-elbow") / "pulls").iterdir():
        (target / path.name).write_bytes(path.read_bytes())
    first = target / "01-cast.csv"
    first.write_text(
        first.read_text(encoding="utf-8").replace("Charge temp [degC]", "Charge temp [K]"), encoding="utf-8"
    )
    return sorted(target.iterdir())


DROP = """([id, files]) => {
  const data = new DataTransfer();
  for (const [name, text] of files) data.items.add(new File([text], name));
  const drop = new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true });
  document.getElementById(id).dispatchEvent(drop);
}"""


def test_from_an_empty_folder_to_a_report(nothing: Served, watched: Watched, tmp_path: Path):
    page, example = watched.page, example_folder("inlet-elbow")
    page.goto(nothing.address)
    page.wait_for_selector("html[data-ready]", state="attached")
    assert page.text_content("h1") == "Nothing measured yet."

    page.set_input_files("#files", logs_with_a_wrong_unit(tmp_path / "logs"))
    page.wait_for_selector("#edit-form")
    builds = [[path.name, path.read_text(encoding="utf-8")] for path in sorted((example / "builds").iterdir())]
    page.evaluate(DROP, ["drop", builds])
    until(page, "() => document.querySelector('[data-key=\"setups.cast.build\"]')?.value === 'builds/cast.toml'")

    wrong = page.locator("tr.wrong")
    assert wrong.count() == 1
    assert "is too low for charge_temperature in K" in wrong.text_content()
    wrong.get_by_role("button", name="charge_temperature [degC]").click()
    page.wait_for_selector("tr.wrong", state="detached")

    tell_the_campaign(page, example)
    page.click("#save")
    page.wait_for_selector("#f-gain canvas", timeout=FIRST_WAIT)
    written = read_campaign(nothing.folder)
    assert (written.baseline, written.candidate, len(written.pulls)) == ("cast", "machined", 7)
    assert page.locator("#verdict").text_content().startswith("Gain shown at ")

    left_out = page.locator('tr[data-file="pulls/05-cast.tsv"] button')
    left_out.click()
    assert "the rotor falls behind" in page.locator(".faultrow:visible").text_content()

    page.wait_for_selector("#f-torque canvas", state="attached", timeout=FIRST_WAIT)
    before = drawn(page)
    page.locator("#w-drive_ratio").evaluate("e => { e.value = 2.35; e.dispatchEvent(new Event('input')) }")
    until(page, "() => document.getElementById('elsewhere-say').textContent.includes('would gain')")
    after = drawn(page)
    assert all(a > b for a, b in zip(after, before, strict=True))

    claim = page.text_content("#claim-text").replace("\u2060", "")
    assert claim.startswith("With machined this engine gave at least ")
    files = {name: kept_file(page, button, tmp_path) for name, button in PUBLISHED.items()}
    source = files["report-power.html"].read_text(encoding="utf-8")
    text = html.unescape(re.sub("</?span[^>]*>", "", source))
    assert claim in text
    assert "Elbow <img src=x onerror=alert(1)>" in text
    assert "<img" not in source
    assert files["report-power.pdf"].read_bytes().startswith(b"%PDF-")
    code = page.text_content("#published").partition("Check code ")[2].partition(". ")[0]
    assert code in text
    assert verified(files["claim-power.zip"]).outcome is Outcome.HOLDS


PUBLISHED = {"report-power.pdf": "#report", "report-power.html": "#report-html", "claim-power.zip": "#bundle"}


def kept_file(page, button: str, place: Path) -> Path:
    """What a button of question 7 downloads, under the name that it comes with."""
    with page.expect_download() as kept:
        page.click(button)
    target = place / kept.value.suggested_filename
    kept.value.save_as(target)
    return target


def tell_the_campaign(page, example: Path) -> None:
    """Fill in what only a person knows, as the example's campaign says it; the weather once, then filled down."""
    page.fill('[data-key="title"]', "Elbow <img src=x onerror=alert(1)>")
    page.select_option('[data-key="baseline"]', "cast")
    page.select_option('[data-key="candidate"]', "machined")
    low, high = page.locator('[data-key="speed_range_rpm"]').all()
    low.fill("3000")
    high.fill("5800")
    page.fill('[data-key="stand.name"]', "bench 2")
    page.fill('[data-key="stand.rotating_inertia"]', "0.45 kg*m**2")
    for number, pull in enumerate(read_campaign(example).pulls, start=1):
        page.fill(f'[data-key="pulls[{number}].started"]', pull.started.isoformat())
    for name, said in (("barometer", "1006 hPa"), ("air_temperature", "23 degC"), ("relative_humidity", "52 %")):
        page.fill(f'[data-key="pulls[1].{name}"]', said)
    page.click("#fill-down")
    until(page, """() => document.querySelector('[data-key="pulls[7].barometer"]').value === "1006 hPa" """)


def drawn(page) -> list[float]:
    """The solid line of the torque figure, as it was handed to the canvas."""
    return page.evaluate("document.getElementById('f-torque').plot.data[4]")


def test_wrong_weather_is_shown_at_its_field_and_nothing_is_written(watched: Watched, elbow: Served):
    page = open_page(watched, elbow)
    before = (elbow.folder / "campaign.toml").read_bytes()
    page.click("#edit")
    page.fill('[data-key="pulls[2].barometer"]', "29.9 hPa")
    page.wait_for_selector("h1 s")  # the verdict is struck through while changes wait
    assert "changes are not saved yet" in page.text_content("#off-because")
    with page.expect_response("**/api/campaign"):
        page.click("#save")
    fault = page.locator("#save-faults .pvr")
    assert "pulls[2].barometer" in fault.text_content()
    assert "lies outside 50 to 110 kPa" in fault.text_content()
    assert page.get_attribute('[data-key="pulls[2].barometer"]', "aria-invalid") == "true"
    assert (elbow.folder / "campaign.toml").read_bytes() == before
    watched.complaints.clear()  # the browser itself notes the refused request in its console


def test_the_copied_table_is_that_of_the_command(watched: Watched, elbow: Served):
    page = watched.page
    page.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=elbow.address)
    page.goto(elbow.address)
    page.wait_for_selector("#f-gain canvas", state="attached", timeout=FIRST_WAIT)
    page.locator("#gain button", has_text="Copy CSV").click()
    until(page, "() => document.getElementById('toast').textContent === 'CSV copied'")
    rows = list(csv.reader(io.StringIO(page.evaluate("navigator.clipboard.readText()"))))
    result = page.request.get(f"{elbow.address}/api/compare").json()["result"]
    assert [float(row[3]) for row in rows[1:]] == result["curve"]["gain"]

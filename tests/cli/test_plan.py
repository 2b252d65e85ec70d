"""`boostwright plan`."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError

RUN = CliRunner()
FOUR = str(Path(__file__).parents[2] / "examples" / "workboat-family" / "four")


def test_orders_are_printed_and_given_as_json():
    done = RUN.invoke(app, ["plan", "--pull", "5 min", "--change", "45 min", "--json", "-"], catch_exceptions=False)
    orders = json.loads(done.stdout)["orders"]
    assert orders[0] == {**orders[0], "order": "AB", "pulls": 2, "changes_of_setup": 1}
    assert orders[0]["duration_h"] == pytest.approx(55 / 60, abs=1e-5)
    assert "would" in RUN.invoke(app, ["plan"], catch_exceptions=False).stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--range", "5800:3000"], r'"5800:3000" is not a range of engine speeds in rpm; write the lower first'),
        (["--pull", "6"], r"--pull: .*6.*"),
        (["--change", "6 kg"], r"--change: .*6 kg.*"),
        (["--pull", "0 min"], r'--pull: "0 min" is no time; write one above zero'),
    ],
)
def test_wrong_times_and_ranges_are_refused(arguments, words):
    with pytest.raises(BoostwrightError, match=words):
        RUN.invoke(app, ["plan", *arguments], catch_exceptions=False)


def test_with_a_campaign_the_next_pull_and_what_would_settle_it_are_said():
    arguments = ["plan", FOUR, "--hours-left", "1 h", "--gain", "1.5 %"]
    said = RUN.invoke(app, arguments, catch_exceptions=False).stdout.replace("\u00a0", " ")
    words = " ".join(said.split())
    assert words.startswith("Next: a pull of machined, as it stands (6 min). Done: A B B A A B (A cast, B machined;")
    assert "The sharpest in the 1.0 hours left:" in words
    assert "To show a gain of 1.5 %, if it is there:" in words
    assert "To exclude a gain of 1.5 %, if there is none:" in words


def test_a_card_as_json_has_the_next_pull_and_keeps_the_keys_of_a_plan():
    card = json.loads(RUN.invoke(app, ["plan", FOUR, "--json", "-"], catch_exceptions=False).stdout)
    assert card["next"]["setup"] in ("cast", "machined")
    assert {"confidence", "probability", "orders", "now", "to_show", "to_exclude"} <= set(card)
    assert card["reach"] is None
    assert card["orders"][0]["pulls"] == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([FOUR, "--hours-left", "soon"], r"--hours-left: .*soon"),
        ([FOUR, "--gain", "-1 %"], r'--gain: "-1 %" is no gain; write one above zero'),
        ([FOUR, "--gain", "1 kW"], r"--gain: .*1 kW"),
        (["--hours-left", "1 h"], r"--hours-left: .* needs a campaign"),
        (["no-such-folder"], "no-such-folder"),
    ],
)
def test_wrong_hours_gains_and_folders_are_refused(arguments, words):
    with pytest.raises(BoostwrightError, match=words):
        RUN.invoke(app, ["plan", *arguments], catch_exceptions=False)

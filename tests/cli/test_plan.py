"""`boostwright plan`."""

import json

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError

RUN = CliRunner()


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
        (["--pull", "6"], r"key --pull: .*6.*"),
        (["--change", "6 kg"], r"key --change: .*6 kg.*"),
        (["--pull", "0 min"], r'key --pull: "0 min" is no time; write one above zero'),
    ],
)
def test_wrong_times_and_ranges_are_refused(arguments, words):
    with pytest.raises(BoostwrightError, match=words):
        RUN.invoke(app, ["plan", *arguments], catch_exceptions=False)

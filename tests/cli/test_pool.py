"""`boostwright pool`."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError

RUN = CliRunner()
FAMILY = Path(__file__).parents[2] / "examples" / "workboat-family"
THREE = [str(FAMILY / name) for name in ("four", "five", "six")]


def test_json_alone_goes_to_standard_output():
    done = RUN.invoke(app, ["pool", *THREE, "--json", "-"], catch_exceptions=False)
    found = json.loads(done.stdout)
    assert found["quantity"] == "power"
    assert [row["campaign"] for row in found["campaigns"]] == ["four", "five", "six"]
    assert found["next_engine"]["lower_percent"] < found["mean"]["lower_percent"]


def test_words_are_printed_and_a_picture_is_drawn(tmp_path):
    target = tmp_path / "family.svg"
    arguments = ["pool", *THREE, "--trend", "boost", "--figure", str(target)]
    done = RUN.invoke(app, arguments, catch_exceptions=False)
    assert "together" in done.stdout
    assert "more boost" in done.stdout.replace("\n", " ")
    assert target.read_text().lstrip().startswith("<?xml")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([*THREE, "--figure", "pool.gif"], "is not the name of a picture that we draw"),
        ([*THREE, "--range", "5000:3000"], "is not a range of engine speeds in rpm"),
        ([*THREE, "--quantity", "charge_temperature"], "four: pulls/01-cast.csv: charge temperature is not logged"),
        (THREE[:1], "1 is too few campaigns for a pool"),
    ],
)
def test_wrong_input_is_refused(arguments, words):
    with pytest.raises(BoostwrightError, match=words):
        RUN.invoke(app, ["pool", *arguments], catch_exceptions=False)

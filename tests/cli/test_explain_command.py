"""`boostwright explain` on the example campaign, as a user types it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"


@pytest.fixture(scope="module")
def printed():
    result = CliRunner().invoke(app, ["explain", str(EXAMPLE)])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_answer_comes_first(printed):
    assert printed.splitlines()[0].startswith(("More air", "More pressure", "Less", "Neither", "Only"))


def test_causes_unknowns_and_channels_are_printed(printed):
    for words in ("not explained", "measured gain", "variance removed", "inlet depression", "sharpens most"):
        assert words in printed


def test_a_report_holds_the_answer_and_names_its_inputs(tmp_path):
    target = tmp_path / "why.html"
    result = CliRunner().invoke(app, ["explain", str(EXAMPLE), "--report", str(target)])
    assert result.exit_code == 0, result.output
    text = target.read_text(encoding="utf-8")
    assert "What did the data determine?" in text
    assert "builds/cast.toml: SHA-256" in text


def test_json_on_standard_output_stands_alone():
    result = CliRunner().invoke(app, ["explain", str(EXAMPLE), "--json", "-"])
    written = json.loads(result.stdout)
    mean = sum(term["mean_kw"] for term in [*written["causes"], written["interaction"], written["unexplained"]])
    assert mean == pytest.approx(written["measured_gain"]["mean_kw"], abs=1e-3)
    assert written["baseline"] == "cast"

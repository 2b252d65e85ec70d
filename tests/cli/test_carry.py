"""`boostwright carry` on the example campaign, as a user types it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"
OTHER, METHANOL = (EXAMPLE / "builds" / name for name in ("other-engine.toml", "racing-methanol.toml"))


def run(*options):
    return CliRunner().invoke(app, ["carry", str(EXAMPLE), *map(str, options)])


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """Two builds at once, printed, drawn and written as JSON."""
    folder = tmp_path_factory.mktemp("carried")
    files = {"--figure": folder / "carried.svg", "--json": folder / "carried.json"}
    result = run("--to", OTHER, "--to", METHANOL, *(word for pair in files.items() for word in pair))
    assert result.exit_code == 0, result.output
    return result.stdout, files


def test_several_builds_are_one_table_and_a_sentence_and_table_each(asked):
    printed, _ = asked
    summary = printed.split("On other-engine")[0]
    for word in ("other-engine", "racing-methanol", "far outside", "boost", "power"):
        assert word in summary
    assert "known only to ±" in printed
    assert "methanol instead of E10" in printed
    assert "keep guards fitted" in printed


def test_json_and_picture_are_written(asked):
    _, files = asked
    written = json.loads(files["--json"].read_text())
    assert [build["build"] for build in written["builds"]] == ["other-engine", "racing-methanol"]
    for build in written["builds"]:
        n = len(build["engine_speed_rpm"])
        assert len(build["gain"]["brake_power_relative"]["lower_percent"]) == n
        assert len(build["baseline"]["brake_power"]["kw"]) == n
        assert len(build["outside_of_test"]["reach"]) == n
    assert files["--figure"].read_text().startswith("<?xml")


def test_asked_air_and_speeds_are_those_of_the_answer_and_json_stands_alone():
    result = run("--to", OTHER, "--ambient", "82 kPa, 30 degC, 0.3", "--speeds", "3000:5000:1000", "--json", "-")
    build = json.loads(result.stdout)["builds"][0]
    assert build["engine_speed_rpm"] == [3000, 4000, 5000]
    assert build["ambient"]["pressure_kpa"] == pytest.approx(82)
    assert build["outside_of_test"]["ambient_pressure_kpa"] == pytest.approx(-18.6, abs=0.5)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ((), "names no build to carry to; add --to BUILD.toml"),
        (("--to", OTHER, "--ambient", "82 kPa"), "three readings"),
        (("--to", OTHER, "--speeds", "fast"), "rising row of positive engine speeds"),
        (("--to", OTHER, "--figure", "carried.bmp"), "end it in .svg, .png or .pdf"),
        (("--to", OTHER, "--to", METHANOL, "--baseline", EXAMPLE), "give --to once"),
    ],
)
def test_wrong_input_is_refused_before_anything_is_fitted(options, message):
    result = run(*options)
    assert isinstance(result.exception, BoostwrightError)
    assert message in str(result.exception)
    assert result.stdout == ""

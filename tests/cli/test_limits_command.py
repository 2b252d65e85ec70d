"""`boostwright limits` from the shell: what it prints, writes and refuses."""

import json

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import DataError
from boostwright.publish.cautions import CAUTIONS
from boostwright.records.examples import example_folder
from boostwright.units import UnitError

CAMPAIGN = example_folder("inlet-elbow")
BUILD = CAMPAIGN / "builds" / "cast.toml"
RUN = CliRunner()


def limits(*arguments):
    return RUN.invoke(app, ["limits", *map(str, arguments)], catch_exceptions=False)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("limits")
    build = folder / "tight.toml"
    build.write_text(BUILD.read_text(encoding="utf-8").replace('"70 degC"', '"48 degC"'), encoding="utf-8")
    files = folder / "limits.json", folder / "limits.svg"
    done = limits(build, "--speeds", "4000:6000:1000", "--json", files[0], "--figure", files[1])
    assert done.exit_code == 0
    return done.stdout, *(path.read_text(encoding="utf-8") for path in files)


def test_the_sentence_comes_first_then_the_limits_with_margin_and_chance(made):
    printed, said, _ = made[0], json.loads(made[1]), made[2]
    assert printed.startswith("Charge temperature ")
    assert said["sentence"] == " ".join(printed.split("\n\n")[0].split("\n"))
    row = next(line for line in printed.splitlines() if line.startswith("charge temperature"))
    assert "48\u00a0°C" in row
    assert row.rstrip().endswith(("over", "near"))
    tip = next(line for line in printed.splitlines() if line.startswith("rotor tip speed"))
    assert "not known: give" in tip
    assert "ok" not in tip


def test_what_would_give_room_is_printed_with_its_range(made):
    printed = made[0]
    assert "What would give room" in printed
    pulley = next(line for line in printed.splitlines() if "blower pulley" in line)
    assert "72.0\u00a0mm" in pulley
    assert "kW" in pulley
    assert "cooler effectiveness" in printed


def test_the_cautions_are_always_there(made):
    unbroken = " ".join(made[0].split("\n"))
    assert all(caution in unbroken for caution in CAUTIONS)


def test_the_picture_is_written(made):
    assert made[2].startswith("<?xml")


def test_a_campaign_is_calibrated_and_its_json_stands_alone():
    done = limits(CAMPAIGN, "--setup", "cast", "--json", "-")
    said = json.loads(done.stdout)
    assert said["setup"] == "cast"
    assert said["basis"].startswith("the engine as calibrated")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((BUILD, "--setup", "cast"), "is a build file and has no pulls; leave --setup out"),
        ((CAMPAIGN, "--speeds", "2000:3000:500"), "speeds are those of its pulls; leave --speeds out"),
    ],
)
def test_an_option_that_means_nothing_is_refused(arguments, message):
    with pytest.raises(DataError, match=message):
        limits(*arguments)


def test_a_figure_of_another_form_is_refused_first(tmp_path):
    with pytest.raises(UnitError, match="not the name of a picture"):
        limits(tmp_path / "none.toml", "--figure", tmp_path / "x.bmp")

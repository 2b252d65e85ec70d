"""`boostwright match --vary` from the shell: what it prints, keeps and refuses."""

import json

import polars as pl
import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import FileError
from boostwright.records.examples import example_folder
from boostwright.units import UnitError

BUILD = example_folder("inlet-elbow") / "builds" / "cast.toml"
QUICK = ("--vary", "inlet.flow_area=40:70:3", "--sets", "8", "--speeds", "3000:5000:1000", "--workers", "1")
RUN = CliRunner()


def match(*arguments):
    return RUN.invoke(app, ["match", str(BUILD), *map(str, arguments)], catch_exceptions=False)


def test_json_on_standard_output_is_alone_there_and_its_keys_carry_units():
    done = match(*QUICK, "--json", "-")
    result = json.loads(done.stdout)
    assert result["designs"] == 3
    assert result["varied"] == [
        {"key": "inlet.flow_area", "unit": "cm^2", "low": 40.0, "high": 70.0, "present": pytest.approx(48.1, abs=0.1)}
    ]
    best = result["best"]
    assert best["values"] == {"inlet.flow_area": 70.0}
    assert best["gain_kw_lower"] < best["gain_kw"] < best["gain_kw_upper"]
    assert len(result["curve"]["gain_kw"]) == 3
    assert {limit["name"] for limit in best["limits"]} >= {"rotor speed", "charge temperature"}


def test_where_no_design_is_possible_that_is_the_answer():
    varied = ("--vary", "inlet.port_closing_angle=330deg:350deg:3", *QUICK[2:], "--blower", "chamber")
    said = " ".join(match(*varied).stdout.split())
    assert "None of 3 designs is possible: port_closing_angle 330.0 deg must come before outlet_opening_angle" in said
    assert "Best of" not in said


def test_results_are_kept_and_another_goal_is_asked_of_them_without_running_again(tmp_path):
    target = tmp_path / "inlet.parquet"
    first = match(*QUICK, "--results", target, "--figure", tmp_path / "inlet.png")
    assert "Best of 3 designs: inlet.flow_area 70" in " ".join(first.stdout.split())
    assert (tmp_path / "inlet.png").stat().st_size > 10_000
    written = target.stat().st_mtime_ns
    table = pl.read_parquet(target)
    assert table.height == 4 * 9 * 3  # designs with the build as it stands, sets with the middle one, speeds
    assert {"inlet.flow_area [cm^2]", "brake_power_kw", "used of limit: charge temperature"} <= set(table.columns)
    again = match(*QUICK, "--results", target, "--objective", "5000 rpm")
    assert "power at 5 000 rev/min" in " ".join(again.stdout.split())
    assert target.stat().st_mtime_ns == written
    with pytest.raises(FileError, match="holds the results of another study"):
        match("--vary", "inlet.flow_area=40:71:3", *QUICK[2:], "--results", target)


def test_what_is_wrong_is_refused_before_anything_is_computed():
    for arguments, error, message in (
        (("--search", "guess"), UnitError, "is no way to choose designs; write grid, latin or optimise"),
        (("--designs", "7"), UnitError, "is for latin and optimise; say the steps of a grid in --vary"),
        (("--blower", "map.csv"), UnitError, "is no form of blower that can be varied"),
        (("--objective", "fast"), UnitError, "objective"),
        (("--results", "grid.csv"), FileError, "is not the name of a results file"),
    ):
        with pytest.raises(error, match=message):
            match(*QUICK, *arguments)

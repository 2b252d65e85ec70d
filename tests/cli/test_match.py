"""`boostwright match` from the shell: what it prints, writes and refuses."""

import json
import re
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import FileError
from boostwright.publish.cautions import CAUTIONS
from boostwright.records.examples import example_folder
from boostwright.units import UnitError

BUILD = example_folder("inlet-elbow") / "builds" / "cast.toml"
RUN = CliRunner()


def match(*arguments, build=BUILD):
    return RUN.invoke(app, ["match", str(build), *map(str, arguments)], catch_exceptions=False)


@pytest.fixture(scope="module")
def printed():
    return match("--speeds", "2000:5000:1000").stdout


def test_the_answer_comes_first_then_a_row_a_speed_with_ranges(printed):
    assert " kW at 5\u202f000 rev/min with " in printed.splitlines()[0]
    rows = [line.split("  ") for line in printed.splitlines() if "(" in line and line.startswith("  ")]
    rows = [[cell.strip(" ") for cell in row if cell.strip()] for row in rows]
    assert [row[0] for row in rows] == ["2\u202f000", "3\u202f000", "4\u202f000", "5\u202f000"]
    assert all(re.fullmatch(r"\d+ \(\d+–\d+\)", row[2]) for row in rows)  # boost, kPa


def test_limits_are_listed_with_their_margin_and_the_unknown_with_what_would_tell(printed):
    assert "charge temperature" in printed
    rotor = next(line for line in printed.splitlines() if line.startswith("rotor speed"))
    assert "14\u202f000\u00a0rpm" in rotor
    assert rotor.rstrip().endswith(("ok", "near"))
    tip = next(line for line in printed.splitlines() if line.startswith("rotor tip speed"))
    assert "not known: give" in tip


def test_the_cautions_are_always_there(printed):
    unbroken = " ".join(printed.split("\n"))
    assert all(caution in unbroken for caution in CAUTIONS)


def test_json_on_standard_output_is_alone_there():
    done = match("--speeds", "3000:3000:1", "--json", "-")
    assert json.loads(done.stdout)["engine_speed_rpm"] == [3000.0]


def test_json_and_figure_are_written_beside_the_table(tmp_path):
    done = match("--speeds", "2000:5000:500", "--json", tmp_path / "m.json", "--figure", tmp_path / "m.svg")
    assert done.exit_code == 0
    assert len(json.loads((tmp_path / "m.json").read_text(encoding="utf-8"))["boost_kpa"]) == 7
    assert (tmp_path / "m.svg").read_text(encoding="utf-8").startswith("<?xml")
    assert "pressure" in done.stdout or "limit" in done.stdout


def test_a_figure_of_another_form_is_refused_before_anything_is_computed(tmp_path):
    with pytest.raises(
        UnitError, match=r"m\.gif\" is not the name of a picture that we draw; end it in \.svg, \.png or"
    ):
        match("--figure", tmp_path / "m.gif", build=tmp_path / "none.toml")


def test_assumptions_are_printed_with_range_and_source():
    printed = match("--speeds", "3000:3000:1", "--assumptions").stdout
    row = next(line for line in printed.splitlines() if line.startswith("blower.leakage_area"))
    assert "cm²" in row
    assert " – " in row
    assert "[bypass] table" in printed  # square brackets are no markup here
    assert "cycle: burn duration" in printed


def test_the_weather_changes_the_air_and_a_wrong_one_is_refused():
    def flow(*options):
        return json.loads(match("--speeds", "3000:3000:1", "--json", "-", *options).stdout)["air_mass_flow_kg_per_s"][0]

    assert flow("--ambient", "80 kPa, 25 degC, 0.4") < 0.85 * flow()
    with pytest.raises(UnitError, match="weather station"):
        match("--ambient", "80 kPa")


def test_a_bad_build_ends_with_status_2_and_all_its_faults(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text(
        BUILD.read_text(encoding="utf-8").replace('"4.2 L"', '"0 L"').replace('"E10"', '"E110"'), encoding="utf-8"
    )
    with pytest.raises(FileError) as caught:
        match(build=bad)
    assert [fault.key for fault in caught.value.faults] == ["engine.displacement", "fuel.blend"]
    done = subprocess.run(
        [sys.executable, "-m", "boostwright", "match", bad], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 2


def test_a_key_that_a_limit_asks_for_stands_whole():
    done = CliRunner().invoke(app, ["match", str(BUILD), "--speeds", "3000:5000:1000"], catch_exceptions=False)

    assert "limits.blower_outlet_temperature" in done.stdout
    assert "…" not in done.stdout

"""`boostwright match --pulleys` and its companions from the shell."""

import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.publish.cautions import CAUTIONS
from boostwright.records.examples import example_folder
from boostwright.units import UnitError

BUILD = example_folder("inlet-elbow") / "builds" / "cast.toml"
RUN = CliRunner()


def match(*arguments):
    call = ["match", str(BUILD), "--speeds", "4000:6000:1000", *map(str, arguments)]
    return RUN.invoke(app, call, catch_exceptions=False)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pulleys")
    files = {end: folder / f"chart.{end}" for end in ("json", "svg", "html")}
    options = ("--pulleys", "66 mm, 70 mm, 3 in", "--target-boost", "70 kPa")
    done = match(*options, "--json", files["json"], "--figure", files["svg"], "--report", files["html"])
    assert done.exit_code == 0
    return done.stdout, {end: path.read_text(encoding="utf-8") for end, path in files.items()}


def test_the_answer_comes_first_and_a_row_a_pulley_for_each_place(made):
    printed, _ = made
    assert printed.startswith("For 70 kPa of boost: 70 mm (ratio 2.216), ")
    rows = [line for line in printed.splitlines() if " reference  " in line]
    assert [row.split(" mm")[0].split()[-1] for row in rows[1:]] == ["70", "66"]
    assert rows[0].lstrip().startswith("3 in")
    assert "▶" in rows[1]
    assert "×" in rows[2]
    assert sum(line.lstrip().startswith("hot ") for line in printed.splitlines()) == 3


def test_what_is_not_known_and_the_cautions_are_said(made):
    printed, files = made
    unbroken = " ".join(printed.split("\n"))
    assert all(caution in unbroken for caution in CAUTIONS)
    assert "Not known, and in no chance: rotor tip speed" in unbroken
    assert "Not known, and in no chance: rotor tip speed" in files["html"]


def test_json_picture_and_page_say_the_same(made):
    printed, files = made
    said = json.loads(files["json"])
    assert said["chosen_pulley"] == "70 mm"
    assert [row["pulley"] for row in said["pulleys"]] == ["3 in", "70 mm", "66 mm"]
    assert said["pulleys"][0]["driven_pulley_mm"] == pytest.approx(76.2)
    assert said["sentence"] in " ".join(printed.split("\n")).replace("  ", " ")
    assert files["svg"].startswith("<?xml")
    assert said["sentence"] in files["html"]
    assert "https://" not in files["html"].replace("http://www.w3.org", "")
    assert "boostwright match cast.toml --speeds 4000:6000:1000 --pulleys" in files["html"]


def test_json_on_standard_output_is_alone_there():
    done = match("--pulleys", "70 mm", "--at", "5000 rpm", "--hot", "80 kPa, 30 degC, 0.2", "--json", "-")
    said = json.loads(done.stdout)
    assert said["engine_speed_rpm"] == 5000.0
    assert said["hot"]["pressure_kpa"] == 80.0
    assert said["pulleys"][0]["hot"]["boost_kpa"] < said["pulleys"][0]["reference"]["boost_kpa"]


def test_a_page_of_another_form_is_refused_before_anything_is_computed(tmp_path):
    with pytest.raises(UnitError, match=r"chart\.docx\" is not the name of a page that we write; end it in \.html"):
        match("--pulleys", "70 mm", "--report", tmp_path / "chart.docx")
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_pulley_ends_with_status_2_and_the_remedy():
    call = [sys.executable, "-m", "boostwright", "match", str(BUILD), "--pulleys", "30 mm"]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "45 mm effective diameter or more" in done.stderr


def test_varying_the_build_in_the_same_breath_is_refused():
    with pytest.raises(UnitError, match="cannot be varied in a chart of pulleys; ask one of them"):
        match("--pulleys", "70 mm", "--vary", "inlet.flow_area=0.004:0.006:3")


def test_a_diameter_without_its_unit_is_told_to_say_it():
    with pytest.raises(UnitError, match='a diameter needs its unit: "66 mm"'):
        match("--pulleys", "66, 68")

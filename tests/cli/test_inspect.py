"""`boostwright inspect`: what it prints, what it writes, and what it refuses."""

import json
import re
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import FileError
from boostwright.records.examples import example_folder

EXAMPLE = example_folder("inlet-elbow")
LOG = "Time [s],rpm,Torque [N*m]\n" + "\n".join(f"{i / 50:.2f},{2500 + 6 * i},{500 - i / 10}" for i in range(500))


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "cast 1.csv"
    path.write_text(LOG)
    return path


def run(*arguments):
    return CliRunner(env={"COLUMNS": "160"}).invoke(app, ["inspect", *map(str, arguments)], catch_exceptions=False)


def test_a_log_is_shown_with_columns_rates_and_a_plot(log):
    done = run(log)

    assert done.exit_code == 0
    words = " ".join(done.stdout.split())
    assert "rpm engine_speed rpm 2500 5494 value / 60 [1/s]" in words
    assert "500 samples, 50 a second, sweep " in words
    assert " 300 rpm/s" in words
    low, high = map(float, re.findall(r"torque, (\S+) to (\S+) N\*m", words)[0])
    assert (low, high) == (pytest.approx(452, abs=1), pytest.approx(498, abs=1))  # the ends of the ramp are left out
    assert "█" in done.stdout


def test_the_example_campaign_is_understood_whole():
    done = run(EXAMPLE, "--json", "-")

    found = json.loads(done.stdout)
    assert len(found["logs"]) == 7
    assert found["faults"] == []
    assert all(log["faults"] == [] and log["sample_rate_hz"] == pytest.approx(50) for log in found["logs"])


def test_json_goes_into_a_file_beside_the_words(log, tmp_path):
    done = run(log, "--json", tmp_path / "out.json")

    assert "engine_speed" in done.stdout
    assert json.loads((tmp_path / "out.json").read_text())["logs"][0]["samples"] == 500


def test_faults_end_with_status_2_and_stand_on_standard_error(tmp_path):
    path = tmp_path / "01.csv"
    path.write_text("rpm,Torque,IAT [degC]\n3000,400,30\n")

    done = subprocess.run(
        [sys.executable, "-m", "boostwright", "inspect", str(path)], capture_output=True, text=True, check=False
    )

    assert done.returncode == 2
    assert "engine_speed" in done.stdout
    assert done.stderr.splitlines() == [
        f'{path}, column "Torque": has no unit; write it in the header, or say under [columns] or with --column: '
        '"Torque" = "torque [N*m]"',
        f'{path}, column "IAT [degC]": may mean two things; say under [columns] or with --column: '
        '"IAT" = "charge_temperature" or "air_temperature" or "ignore"',
    ]


def test_what_a_message_says_to_write_mends_the_fault(tmp_path):
    path = tmp_path / "01.csv"
    path.write_text("rpm,Torque,IAT [degC],MAP [psi]\n3000,400,30,21\n")

    done = run(path, "--column", "Torque=torque [N*m]", "--column", "IAT=charge_temperature", "--unit", "MAP=psi abs")

    assert done.exit_code == 0
    words = " ".join(done.stdout.split())
    assert "Torque torque N*m 400 400 value [N*m]" in words
    assert "IAT [degC] charge_temperature degC 30 30 value + 273.15 [K]" in words
    assert "manifold_pressure psi abs 21 21" in words


@pytest.mark.parametrize(
    ("option", "said", "message"),
    [
        ("--column", "Trq", '"Trq" names no column: write --column "Trq=torque [N*m]"'),
        ("--unit", "=psi", '"=psi" names no column: write --unit "MAP=psi abs"'),
        ("--write", None, "--write drafts a campaign for a folder: give the folder of the logs"),
    ],
)
def test_an_option_that_cannot_be_meant_is_refused(log, option, said, message):
    done = run(log, option, *([said] if said else []))

    assert done.exit_code == 2
    assert message in " ".join(done.stderr.replace("│", " ").split())


def test_a_rule_about_no_column_is_refused(log):
    with pytest.raises(FileError, match='column "Trq": is the header of no column in any log'):
        run(log, "--column", "Trq=torque [N*m]")


def test_headers_and_names_are_never_markup(tmp_path):
    path = tmp_path / "[red]01.csv"
    path.write_text("rpm,[bold]x[/bold],<script>,=1+1,Torque [N*m]\n3000,1,2,3,400\n")

    done = run(path)

    assert "[red]01.csv" in done.stdout.replace("\n", "")
    for header in ("[bold]x[/bold]", "<script>", "=1+1"):
        assert f'"{header}" is left out: not known' in done.stdout


def test_a_draft_is_written_once_and_says_what_is_open(log, tmp_path):
    done = run(tmp_path, "--write")

    assert done.exit_code == 0
    assert f"Draft: {tmp_path / 'campaign.toml'}" in done.stdout.replace("\n", "")
    assert "speed_range_rpm: write speed_range_rpm = [3000, 5800]" in done.stdout
    before = (tmp_path / "campaign.toml").read_bytes()
    with pytest.raises(FileError, match="is there already; edit it, or move it away first"):
        run(tmp_path, "--write")
    assert (tmp_path / "campaign.toml").read_bytes() == before


def test_a_draft_into_a_folder_that_cannot_be_written_is_refused(log, tmp_path, monkeypatch):
    """Root may write anywhere, so the system's refusal is played."""

    def denied(**_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("boostwright.records.atomic.tempfile.mkstemp", denied)

    with pytest.raises(
        FileError, match=r"campaign\.toml: cannot be written: permission denied; give a folder in which"
    ):
        run(tmp_path, "--write")


def test_what_is_not_there_is_said_to_be_not_there(tmp_path):
    with pytest.raises(FileError, match="gone: is not there; check the name and the folder"):
        run(tmp_path / "gone")

"""`boostwright archive` from adding a campaign to using what it says."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"


def run(*arguments: str, place: Path):
    done = CliRunner().invoke(app, ["archive", *arguments], env={"BOOSTWRIGHT_ARCHIVE": str(place), "COLUMNS": "120"})
    return done.exit_code, done.stdout.replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("archive") / "archive"
    done = run("add", str(EXAMPLE), place=folder)
    assert "7 pulls (7 added)" in done[1]
    return folder


def test_adding_again_adds_nothing(place):
    assert "7 pulls (7 known)" in run("add", str(EXAMPLE), place=place)[1]


def test_pulls_are_listed_shown_and_taken_out(place, tmp_path):
    listed = json.loads(run("list", "--setup", "machined", "--json", "-", place=place)[1])["pulls"]

    shown = run("show", listed[0]["digest"][:10], "--csv", str(tmp_path / "pull.csv"), place=place)

    assert len(listed) == 3
    assert "pulls/02-machined.csv" in shown[1]
    assert (tmp_path / "pull.csv").read_text().startswith("time [s],engine_speed [1/s],torque [N*m]")


def test_stands_and_means_are_printed(place):
    assert "bench 2" in run("stands", place=place)[1]
    queried = json.loads(run("query", "torque", "--speeds", "3000:5800:400", "--json", "-", place=place)[1])
    assert len(queried["mean"]) == 7
    assert all(
        low < mean < high for low, mean, high in zip(*(queried[k] for k in ("lower", "mean", "upper")), strict=True)
    )


def test_check_repair_export_and_import(place, tmp_path):
    assert "7 pulls read, 0 faults." in run("check", place=place)[1]
    assert "Index sound, 0 lost pulls named again, 0 unfinished files removed." in run("repair", place=place)[1]
    assert "3 added" in run("export", str(tmp_path / "other"), "--setup", "machined", place=place)[1]
    assert "3 known" in run("import", str(tmp_path / "other"), place=place)[1]


def test_a_damaged_pull_makes_the_check_fail(place, tmp_path):
    run("export", str(tmp_path / "other"), place=place)
    next((tmp_path / "other" / "pulls").glob("*/*.parquet")).write_bytes(b"torn")

    done = run("check", place=tmp_path / "other")

    assert (done[0], "7 pulls read, 1 fault." in done[1]) == (2, True)


def test_comparing_uses_an_archive_and_says_what_it_knows(place):
    done = CliRunner().invoke(app, ["compare", str(EXAMPLE), "--no-files", "--archive", str(place)])

    assert "holds no repeated pulls of stand" in " ".join(done.stdout.split())


def test_a_narrow_terminal_keeps_the_digest_that_show_asks_for(place, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    pulls = json.loads(run("list", "--json", "-", place=place)[1])["pulls"]
    listed = run("list", place=place)[1]

    assert all(pull["digest"][:12] in listed for pull in pulls)
    assert "…" not in listed

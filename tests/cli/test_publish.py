"""`boostwright publish` and `boostwright sheet` at the door: what they print, write and refuse."""

import shutil

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError
from boostwright.records.examples import example_folder

EXAMPLE = example_folder("inlet-elbow")
RUN = CliRunner()


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    folder = tmp_path_factory.mktemp("campaigns") / "elbow"
    shutil.copytree(EXAMPLE, folder)
    return folder


def run(*arguments):
    return RUN.invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)


def changed(campaign, tmp_path, old, new):
    folder = tmp_path / "copy"
    shutil.copytree(campaign, folder)
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    assert old in text
    (folder / "campaign.toml").write_text(text.replace(old, new), encoding="utf-8")
    return folder


def test_a_report_is_written_beside_the_campaign_and_its_claim_is_printed(campaign):
    done = run("publish", campaign, "--no-model", "--claim", "largest", "--paper", "letter")
    assert done.exit_code == 0
    assert "more power than with cast at its best speed within" in done.stdout
    assert "Check code: " in done.stdout
    assert {path.name for path in (campaign / "report").iterdir()} == {"report.pdf", "report.html", "report.json"}


def test_setups_of_different_days_are_refused_and_nothing_is_written(campaign, tmp_path):
    """Every pull of one setup gets a session of its own, so that no day has both."""
    folder = changed(campaign, tmp_path, 'setup = "machined"\n', 'setup = "machined"\nsession = "another day"\n')
    with pytest.raises(
        BoostwrightError, match=r"cannot be claimed: the setups never share a day and a stand, .*; pull both"
    ):
        run("publish", folder, "--no-model", "--out", tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--claim", "mean"), r'--claim: "mean" is not a kind of claim; choose average, peak'),
        (("--claim", "at-speed 9000"), r"9\u202f000 rev/min lies outside the speeds that were measured"),
        (("--language", "xx"), r'language "xx" has no catalogue of sentences; choose en or de'),
        (("--quantity", "oil_pressure"), r"oil pressure is not logged"),
    ],
)
def test_wrong_input_is_refused_with_place_value_and_remedy(campaign, tmp_path, arguments, words):
    with pytest.raises(BoostwrightError, match=words):
        run("publish", campaign, "--no-model", "--out", tmp_path / "out", *arguments)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("arguments", [("--paper", "a3"), ("--units", "imperial")])
def test_a_choice_that_is_none_ends_with_status_2_and_the_choices(campaign, arguments):
    done = run("publish", campaign, *arguments)
    assert done.exit_code == 2
    assert "is not one of" in done.stderr


def test_a_quantity_that_is_not_claimed_is_reported_as_no_claim(campaign, tmp_path):
    done = run("publish", campaign, "--no-model", "--quantity", "boost", "--out", tmp_path)
    assert "A claim speaks about power or torque, not about boost." in done.stdout
    assert "Not a claim" in done.stdout


def test_a_sheet_is_written_beside_its_build(campaign):
    build = campaign / "builds" / "machined.toml"
    done = run("sheet", build, "--pulleys", "72 mm, 60 mm", "--speeds", "3000:6000:1500")
    assert done.exit_code == 0
    assert "72 mm is the largest ratio here within a risk of 5\u00a0%" in done.stdout
    assert "not a test and no claim" in done.stdout
    assert (campaign / "builds" / "machined-sheet.pdf").read_bytes().startswith(b"%PDF-")


def test_a_sheet_of_impossible_pulleys_is_refused(campaign):
    with pytest.raises(BoostwrightError, match=r'"2 mm" is not possible'):
        run("sheet", campaign / "builds" / "machined.toml", "--pulleys", "2 mm")

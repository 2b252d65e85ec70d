"""`boostwright watch`, played once over a folder whose logs stand still."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import FileError
from boostwright.records.campaign import read_campaign

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"


@pytest.fixture
def job(tmp_path) -> Path:
    """The example with its first two pulls, the logs of the others still with the logger."""
    shutil.copytree(EXAMPLE, tmp_path / "job", ignore=shutil.ignore_patterns("results", "report*"))
    head, first, second, *_ = (EXAMPLE / "campaign.toml").read_text().split("[[pulls]]")
    (tmp_path / "job" / "campaign.toml").write_text("[[pulls]]".join([head, first, second]))
    (tmp_path / "logger").mkdir()
    for log in sorted((tmp_path / "job" / "pulls").iterdir())[2:4]:
        shutil.move(log, tmp_path / "logger" / log.name)
    for log in sorted((tmp_path / "job" / "pulls").iterdir())[2:]:
        log.unlink()
    return tmp_path / "job"


def once(job: Path, *options: str):
    return CliRunner().invoke(app, ["watch", str(job), "--once", "--quiet", "0.1", *options], catch_exceptions=False)


def test_logs_are_copied_from_the_logger_taken_once_and_compared(job):
    said = once(job, "--from", str(job.parent / "logger")).stdout
    again = once(job, "--from", str(job.parent / "logger")).stdout

    files = [entry.file for entry in read_campaign(job).pulls]
    assert files[2:] == ["pulls/03-machined.xlsx", "pulls/04-cast.xlsx"]
    assert "pulls/03-machined.xlsx is taken as a pull of" in said
    assert "4\N{NO-BREAK SPACE}pulls used" in " ".join(said.split(" "))
    assert "is taken" not in again
    assert set(json.loads((job / "results/watched.json").read_text())) >= set(files[2:])


def test_a_setup_that_the_campaign_does_not_have_is_refused(job):
    with pytest.raises(FileError, match='--setup: "forged" is not one of the setups; choose cast or machined'):
        once(job, "--setup", "forged")


def test_once_with_a_folder_that_is_not_there_is_an_error_and_no_wait(job):
    with pytest.raises(FileError, match="nowhere: cannot be reached; check --from, or leave --once out to wait"):
        once(job, "--from", str(job.parent / "nowhere"))


def test_a_share_that_goes_and_a_campaign_file_that_is_damaged_are_waited_out(job, monkeypatch):
    """What happens in the folders between two looks, one step a look, and at last Ctrl-C."""
    logger, away = job.parent / "logger", job.parent / "away"
    campaign_file = job / "campaign.toml"
    good = campaign_file.read_text(encoding="utf-8")

    def interrupted() -> None:
        raise KeyboardInterrupt

    steps = iter(
        (
            lambda: logger.rename(away),
            lambda: away.rename(logger),
            lambda: campaign_file.write_text(f"{good}\nbroken = [", encoding="utf-8"),
            lambda: campaign_file.write_text(good.replace("title = ", "title = 'Read again'  # "), encoding="utf-8"),
            interrupted,
        )
    )
    monkeypatch.setattr("boostwright.cli.watch.time.sleep", lambda _: next(steps)())
    done = CliRunner().invoke(app, ["watch", str(job), "--from", str(logger), "--quiet", "60"], catch_exceptions=False)

    said = [" ".join(line.split()) for line in done.stderr.splitlines()]
    assert done.exit_code == 0
    assert said[0] == f"Watching {logger}; end with Ctrl-C."
    assert said[1:3] == [f"{logger} cannot be reached; waiting for it", f"{logger} is back"]
    row = good.count("\n") + 2
    assert said[3:] == [
        f'{campaign_file}, row {row}: is not TOML: invalid value; write key = value, and text in "quotes"',
        "campaign.toml is read again when it changes.",
        "Stopped; all pulls are in campaign.toml.",
    ]
    assert len(read_campaign(job).pulls) == 2

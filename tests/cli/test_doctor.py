"""`boostwright doctor` on a sound installation, and on one whose fonts are gone."""

import json
from pathlib import Path

from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.publish import doctor


def test_a_sound_installation_is_called_sound_and_no_folder_is_named():
    done = CliRunner().invoke(app, ["doctor", "--json", "-"], catch_exceptions=False)

    said = json.loads(done.stdout)
    assert done.exit_code == 0
    assert [check["is_sound"] for check in said["checks"]] == [True] * 4
    assert said["versions"]["extra mdf (asammdf)"] != "not installed"
    assert str(Path.home()) not in done.stdout


def test_what_is_broken_is_named_and_the_status_is_2(monkeypatch, tmp_path):
    monkeypatch.setattr(doctor, "FONTS", tmp_path)

    done = CliRunner().invoke(app, ["doctor"], catch_exceptions=False)

    assert done.exit_code == 2
    assert "WRONG  fonts of reports are there: some are missing: install boostwright again" in done.stdout

"""Mistakes that a person makes at the terminal, each ending with a place, a remedy and status 2."""

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import Fault, FileError


def run(*arguments):
    return CliRunner().invoke(app, [*map(str, arguments)], catch_exceptions=False)


def test_a_copy_that_cannot_be_written_is_refused_and_the_file_there_kept(tmp_path):
    (tmp_path / "file").write_text("mine")

    with pytest.raises(FileError, match=r"cannot be written: .*; give a folder in which you may write"):
        run("demo", tmp_path / "file" / "copy")
    assert (tmp_path / "file").read_text() == "mine"


def test_a_file_where_a_folder_belongs_is_answered_with_its_folder(tmp_path):
    (tmp_path / "campaign.toml").write_text("")

    with pytest.raises(FileError, match=f"is a file, where a folder with campaign.toml is wanted; give {tmp_path}$"):
        run("compare", tmp_path / "campaign.toml")


def test_a_folder_where_a_file_belongs_is_said_to_be_one(tmp_path):
    with pytest.raises(FileError, match=r"is a folder; name the \.toml file in it"):
        run("match", tmp_path)


def test_the_blanks_inside_a_number_are_no_danger_and_stand_as_they_are():
    fault = Fault(problem="2\u202f400\u00a0rev/min is too fast\x1b", remedy="slow down")

    assert str(fault) == "2\u202f400\u00a0rev/min is too fast\\x1b; slow down"

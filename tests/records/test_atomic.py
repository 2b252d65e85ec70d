"""A file is written whole or not at all."""

import os

import pytest

from boostwright.errors import FileError
from boostwright.records.atomic import refuse_unwritable, write_atomically


def test_a_file_is_made_with_its_folders_and_replaced(tmp_path):
    path = tmp_path / "results" / "a.json"

    write_atomically(path, b"old")
    write_atomically(path, b"new")

    assert path.read_bytes() == b"new"
    assert [entry.name for entry in path.parent.iterdir()] == ["a.json"]


def test_a_new_file_may_be_read_by_those_whom_the_system_allows(tmp_path):
    write_atomically(tmp_path / "ours", b"")
    (tmp_path / "theirs").touch()

    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "theirs").stat().st_mode


def test_a_replaced_file_keeps_its_permissions(tmp_path):
    path = tmp_path / "a.json"
    path.touch()
    path.chmod(0o640)

    write_atomically(path, b"new")

    assert path.stat().st_mode & 0o777 == 0o640


def test_a_failure_in_the_middle_leaves_the_old_file_and_no_other(tmp_path, monkeypatch):
    path = tmp_path / "a.json"
    path.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)

    with pytest.raises(FileError, match=r"a\.json: cannot be written: no space left on device; give a folder in which"):
        write_atomically(path, b"new")
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.json"]
    assert path.read_bytes() == b"old"


def test_a_folder_that_is_a_file_is_refused(tmp_path):
    (tmp_path / "results").touch()

    with pytest.raises(
        FileError, match=r"results/a\.json: cannot be written: (file exists|not a directory); give a folder"
    ):
        write_atomically(tmp_path / "results" / "a.json", b"")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_write_permission_is_refused(tmp_path):
    (tmp_path / "results").mkdir(mode=0o500)

    with pytest.raises(
        FileError, match=r"results/a\.json: cannot be written: permission denied; give a folder in which"
    ):
        write_atomically(tmp_path / "results" / "a.json", b"")


@pytest.mark.parametrize(
    ("name", "reason"),
    [("", "is a directory"), ("file/a.json", "not a directory"), ("file/below/a.json", "not a directory")],
)
def test_a_place_that_cannot_be_written_is_refused_before_the_work(tmp_path, name, reason):
    (tmp_path / "file").touch()

    with pytest.raises(FileError, match=f"cannot be written: {reason}; give a folder in which you may write"):
        refuse_unwritable(tmp_path / name)


def test_a_place_that_can_be_made_is_not_refused(tmp_path):
    refuse_unwritable(tmp_path / "new" / "folder" / "a.json")
    assert list(tmp_path.iterdir()) == []

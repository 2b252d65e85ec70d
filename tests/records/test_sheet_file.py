"""The maker's own notes for an application sheet."""

import pytest

from boostwright.errors import FileError
from boostwright.records.sheet_file import SheetNotes, read_sheet_notes


def test_title_and_notes_are_kept_word_for_word_in_their_order(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text('title = "Kit 7"\n[notes]\n"Crank bolt" = "new each time"\n"Belt" = "<b>350 N</b>"\n')
    notes = (("Crank bolt", "new each time"), ("Belt", "<b>350 N</b>"))
    assert read_sheet_notes(path) == SheetNotes(title="Kit 7", notes=notes)


def test_both_are_optional(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text("")
    assert read_sheet_notes(path) == SheetNotes()


def test_every_fault_is_said_with_its_place_and_remedy(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text('titel = "Kit 7"\n[notes]\n"Belt" = 350\n')
    with pytest.raises(FileError) as refused:
        read_sheet_notes(path)
    assert "notes.toml, key notes.Belt: 350 is not a text; write" in str(refused.value)
    assert "key titel: is not a key that we know; did you mean title?" in str(refused.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FileError, match=r"none\.toml: is not there; check its name; the notes are optional"):
        read_sheet_notes(tmp_path / "none.toml")

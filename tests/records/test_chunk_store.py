"""Portions of a long study on disk: whole or not at all, never mixed, and in the end one file."""

import io

import polars as pl
import pytest

from boostwright.errors import FileError
from boostwright.records.chunk_store import open_store


def portion(first, rows=3):
    target = io.BytesIO()
    pl.DataFrame({"design": range(first, first + rows), "word": ["a"] * rows}).write_parquet(target)
    return target.getvalue()


def test_portions_that_come_in_any_order_become_one_file_and_the_folder_goes(tmp_path):
    store = open_store(tmp_path / "grid.parquet", "abc", "a grid")
    for first in (3, 0, 6):
        store.save(first, portion(first))
    assert store.known() == {0, 3, 6}
    store.finish([0, 3, 6])
    assert pl.read_parquet(tmp_path / "grid.parquet")["design"].to_list() == list(range(9))
    assert not store.folder.exists()
    assert [block.height for block in store.blocks(["design"], 4)] == [4, 4, 1]


def test_a_study_finds_its_own_portions_again_and_a_torn_one_is_not_counted(tmp_path):
    store = open_store(tmp_path / "grid.parquet", "abc", "a grid")
    store.save(0, portion(0))
    store.save(3, portion(3)[:-20])  # as after a fault of the disk
    (store.folder / ".000000006.parquet.x.part").write_bytes(b"half")  # as after a kill in the middle of writing
    again = open_store(tmp_path / "grid.parquet", "abc", "a grid")
    assert again.known() == {0}
    assert not list(store.folder.glob(".*.part"))


def test_another_study_is_refused_before_and_after_the_file_is_whole(tmp_path):
    target = tmp_path / "grid.parquet"
    store = open_store(target, "abc", "a grid over one thing")
    store.save(0, portion(0))
    with pytest.raises(
        FileError, match=r"grid\.parquet\.parts: holds portions of another study \(a grid over one thing\); g"
    ):
        open_store(target, "other", "another grid")
    store.finish([0])
    with pytest.raises(FileError, match=r"grid\.parquet: holds the results of another study; give another name, or"):
        open_store(target, "other", "another grid")
    assert open_store(target, "abc", "a grid over one thing").is_complete
    assert pl.read_parquet(target).height == 3


def test_what_is_no_results_file_of_ours_is_never_written_over(tmp_path):
    mine = tmp_path / "mine.parquet"
    pl.DataFrame({"x": [1]}).write_parquet(mine)
    with pytest.raises(FileError, match="holds the results of another study"):
        open_store(mine, "abc", "a grid")
    with pytest.raises(FileError, match=r"is not the name of a results file; end it in \.parquet"):
        open_store(tmp_path / "grid.csv", "abc", "a grid")
    full = tmp_path / "full.parquet.parts"
    full.mkdir()
    (full / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(FileError, match="is not empty, and no study is named in it"):
        open_store(tmp_path / "full.parquet", "abc", "a grid")
    assert (full / "letter.txt").exists()

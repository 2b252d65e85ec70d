"""When a log counts as complete: played with a clock of our own on real files, so that nothing waits."""

import shutil

import pytest

from boostwright.records.arrivals import Arrivals


class Watcher:
    """Looks every second; keeps what it was given."""

    def __init__(self, folder):
        self.folder, self.known, self.now, self.given = folder, Arrivals(quiet=5.0), 0.0, []

    def look(self, seconds: int) -> list[str]:
        before = len(self.given)
        for _ in range(seconds):
            self.known, ready = self.known.looked(self.folder, self.now)
            self.given += ready
            self.now += 1.0
        return self.given[before:]


@pytest.fixture
def watcher(tmp_path):
    folder = tmp_path / "pulls"
    folder.mkdir()
    return Watcher(folder)


def test_a_log_is_given_out_once_when_it_has_stood_still(watcher):
    (watcher.folder / "01.csv").write_text("rpm\n1\n")

    assert watcher.look(5) == []
    assert watcher.look(1) == ["01.csv"]
    assert watcher.look(50) == []


def test_a_slow_writer_is_waited_for(watcher):
    for row in range(20):
        with (watcher.folder / "01.csv").open("a") as log:
            log.write(f"{row}\n")
        assert watcher.look(4) == []

    assert watcher.look(3) == ["01.csv"]


def test_two_logs_written_in_turns_come_out_when_each_is_done(watcher):
    for row in range(10):
        for name in ("01.csv", "02.csv") if row < 5 else ("02.csv",):
            with (watcher.folder / name).open("a") as log:
                log.write(f"{row}\n")
        watcher.look(2)

    assert watcher.given == ["01.csv"]
    assert watcher.look(6) == ["02.csv"]


def test_a_log_that_grows_or_is_cut_after_it_stood_still_is_given_out_again(watcher):
    log = watcher.folder / "01.csv"
    log.write_text("1\n2\n")
    assert watcher.look(6) == ["01.csv"]
    log.write_text("1\n2\n3\n")
    assert watcher.look(6) == ["01.csv"]
    log.write_text("1\n")
    assert watcher.look(6) == ["01.csv"]


def test_a_log_of_the_same_size_and_date_in_another_file_is_another_one(watcher, tmp_path):
    log = watcher.folder / "01.csv"
    log.write_text("1\n")
    watcher.look(6)
    (tmp_path / "new").write_text("2\n")
    shutil.copystat(log, tmp_path / "new")
    (tmp_path / "new").replace(log)

    assert watcher.look(6) == ["01.csv"]


def test_unfinished_names_hidden_and_empty_files_are_nobodys_pull(watcher):
    for name in ("01.csv.part", ".02.csv", "~$03.xlsx", "notes.doc"):
        (watcher.folder / name).write_text("1\n")
    (watcher.folder / "04.csv").touch()
    (watcher.folder / "05.csv").mkdir()
    assert watcher.look(20) == []

    (watcher.folder / "01.csv.part").rename(watcher.folder / "01.csv")

    assert watcher.look(6) == ["01.csv"]


def test_a_share_that_goes_and_comes_back_gives_nothing_twice(watcher, tmp_path):
    (watcher.folder / "01.csv").write_text("1\n")
    watcher.look(6)
    watcher.folder.rename(tmp_path / "gone")
    assert watcher.look(20) == []
    assert not watcher.known.is_reachable
    (tmp_path / "gone" / "02.csv").write_text("2\n")
    (tmp_path / "gone").rename(watcher.folder)

    assert watcher.look(20) == ["02.csv"]
    assert watcher.known.is_reachable

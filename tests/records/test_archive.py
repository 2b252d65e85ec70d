"""The archive of pulls: what is acknowledged is kept, what is half done is seen nowhere; all data is invented."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.records.archive import (
    PullDescription,
    Search,
    add_pulls,
    archived_channels,
    created,
    found_pulls,
    one_pull,
    opened,
)
from boostwright.records.archive_upkeep import SETTLED, channels_csv, check_archive, copied, repair_archive
from boostwright.records.log import read_log

NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)
PULL = PullDescription(
    campaign="Elbow",
    stand="bench 2",
    engine_family="workboat six",
    setup="cast",
    build="",
    file="pulls/01.csv",
    session="2026-03-14",
    installation=1,
    started="2026-03-14T09:12:00",
    barometer=1.006e5,
    air_temperature=297.0,
    relative_humidity=0.52,
    soak_temperature=None,
    speed_from=50.0,
    speed_to=96.0,
    correction="none",
    level=6.1,
    fault="",
)


def channels_of(seed: int, rows: int = 50) -> dict[str, np.ndarray]:
    noise = np.random.default_rng(seed).normal(0.0, 1.0, rows)
    return {"engine_speed": np.linspace(50.0, 96.0, rows), "torque": 450.0 + noise}


def added(archive, *pulls, when=NOW):
    return list(add_pulls(archive, pulls, when))


@pytest.fixture
def archive(tmp_path):
    return created(tmp_path / "archive")


def test_a_pull_comes_back_as_it_was_added(archive):
    [addition] = added(archive, (PULL, channels_of(1)))

    [pull] = found_pulls(archive, Search())

    assert addition.outcome == "added"
    assert (pull.description, pull.quantities, pull.samples) == (PULL, ("engine_speed", "torque"), 50)
    back = archived_channels(archive, pull)
    assert all(np.array_equal(back[name], values) for name, values in channels_of(1).items())


def test_the_same_pull_is_kept_once_whoever_adds_it(archive):
    added(archive, (PULL, channels_of(1)), (PULL, channels_of(1)))

    again = added(archive, (PULL, channels_of(1)), when=NOW + timedelta(days=1))

    assert [addition.outcome for addition in again] == ["known"]
    assert len(found_pulls(archive, Search(with_superseded=True))) == 1


def test_the_same_log_described_anew_stands_in_place_of_the_earlier_and_may_be_taken_back(archive):
    corrected = replace(PULL, barometer=1.001e5)
    added(archive, (PULL, channels_of(1)))
    [second] = added(archive, (corrected, channels_of(1)), when=NOW + timedelta(hours=1))
    assert second.outcome == "described anew"
    assert [pull.description for pull in found_pulls(archive, Search())] == [corrected]
    assert len(found_pulls(archive, Search(with_superseded=True))) == 2

    added(archive, (PULL, channels_of(1)), when=NOW + timedelta(hours=2))

    assert [pull.description for pull in found_pulls(archive, Search())] == [PULL]


@pytest.mark.parametrize(
    ("search", "files"),
    [
        (Search(stand="bench 2"), {"a", "b", "c"}),
        (Search(setup="machined"), {"b"}),
        (Search(quantity="air_mass_flow"), {"c"}),
        (Search(quantity="torqu"), set()),
        (Search(first_day="2026-03-15"), {"b", "c"}),
        (Search(last_day="2026-03-15"), {"a", "b"}),
        (Search(engine_family="workboat six", first_day="2026-03-15", last_day="2026-03-15"), {"b"}),
        (Search(stand="bench 1"), set()),
    ],
)
def test_pulls_are_found_by_what_is_known_of_them(archive, search, files):
    added(
        archive,
        (replace(PULL, file="a"), channels_of(1)),
        (replace(PULL, file="b", setup="machined", started="2026-03-15T08:00:00"), channels_of(2)),
        (
            replace(PULL, file="c", started="2026-03-16T08:00:00"),
            channels_of(3) | {"air_mass_flow": np.full(50, 0.3)},
        ),
    )

    assert {pull.description.file for pull in found_pulls(archive, search)} == files


def test_one_pull_is_named_by_the_first_letters_of_its_digest(archive):
    [addition] = added(archive, (PULL, channels_of(1)))

    assert one_pull(archive, addition.pull.digest[:8].upper()).digest == addition.pull.digest
    with pytest.raises(FileError, match='"xyz" begins the digest of no pull; copy it from: boostwright archive list'):
        one_pull(archive, "xyz")


def test_a_changed_digit_or_a_lost_file_is_found(archive):
    [first, second] = added(archive, (PULL, channels_of(1)), (replace(PULL, file="b"), channels_of(2)))
    assert list(check_archive(archive)) == []
    archive.path(first.pull).write_bytes(archive.path(second.pull).read_bytes())
    archive.path(second.pull).unlink()

    faults = list(check_archive(archive))

    assert len(faults) == 2
    assert {"does not hold what was added" in str(fault) for fault in faults} == {True, False}


def test_a_lost_index_is_made_again_from_the_pulls(archive):
    corrected = replace(PULL, barometer=1.001e5)
    added(archive, (PULL, channels_of(1)))
    added(
        archive, (corrected, channels_of(1)), (replace(PULL, file="b"), channels_of(2)), when=NOW + timedelta(hours=1)
    )
    before = found_pulls(archive, Search(with_superseded=True))
    for name in ("", "-wal", "-shm"):
        archive.index.with_name(archive.index.name + name).unlink(missing_ok=True)
    with pytest.raises(FileError, match="holds no archive; its pulls are there: make the index again"):
        opened(archive.folder)

    done = repair_archive(archive.folder)

    assert (done.named, done.index_made) == (3, True)
    assert found_pulls(archive, Search(with_superseded=True)) == before


def test_a_damaged_index_is_set_aside_and_made_again(archive):
    added(archive, (PULL, channels_of(1)))
    archive.index.write_bytes(b"not an index at all" * 400)
    with pytest.raises(FileError, match="cannot be used: file is not a database; run: boostwright archive repair"):
        opened(archive.folder)

    assert repair_archive(archive.folder).index_made
    assert len(found_pulls(archive, Search())) == 1
    assert archive.index.with_name("index.sqlite.damaged-1").read_bytes().startswith(b"not an index")


def test_repair_removes_old_leftovers_and_leaves_work_in_progress_alone(archive):
    added(archive, (PULL, channels_of(1)))
    month = archive.folder / "pulls" / "2026-03"
    for name, age in ((".old.1.part", 2 * SETTLED), (".new.2.part", 1.0)):
        (month / name).write_bytes(b"half")
        os.utime(month / name, (time.time() - age,) * 2)

    done = repair_archive(archive.folder)

    assert (done.removed, done.named, done.index_made) == (1, 0, False)
    assert [path.name for path in month.glob(".*")] == [".new.2.part"]


def test_pulls_travel_to_another_archive_and_are_known_when_they_come_back(archive, tmp_path):
    added(archive, (PULL, channels_of(1)), (replace(PULL, setup="machined", file="b"), channels_of(2)))

    there = list(copied(archive, tmp_path / "other", Search(setup="machined"), NOW))
    back = list(copied(opened(tmp_path / "other"), archive.folder, Search(), NOW))

    assert [addition.outcome for addition in there] == ["added"]
    assert [addition.outcome for addition in back] == ["known"]


def test_a_pull_taken_out_as_csv_is_read_as_the_same_log(archive, tmp_path):
    channels = channels_of(1) | {
        "manifold_pressure": np.full(50, 1.7e5),
        "throttle_position": np.ones(50),
        "charge_temperature": np.full(50, 320.0),
        "time": np.linspace(0.0, 5.0, 50),
    }
    (tmp_path / "log.csv").write_bytes(channels_csv(channels))

    read = read_log(tmp_path / "log.csv")

    assert read.channels.keys() == channels.keys()
    assert all(np.allclose(read.channels[name], values, rtol=1e-12) for name, values in channels.items())


def test_an_archive_is_not_made_in_a_folder_of_something_else(tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(FileError, match="is not an archive, and not an empty folder"):
        created(tmp_path)
    with pytest.raises(FileError, match="holds no archive; make one with: boostwright archive add"):
        opened(tmp_path)


def test_a_later_form_of_archive_is_refused_and_left_alone(archive):
    with sqlite3.connect(archive.index) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(FileError, match="is of form 99, and this version of boostwright reads form 1"):
        opened(archive.folder)


WRITER = """
import sys
from tests.records.test_archive import PULL, NOW, channels_of, add_pulls, created, replace
from pathlib import Path
archive, own = created(Path(sys.argv[1])), sys.argv[2]
pulls = ((replace(PULL, file=f"{own}-{n}"), channels_of(hash((own, n)) % 2**32)) for n in range(int(sys.argv[3])))
for addition in add_pulls(archive, pulls, NOW):
    print(addition.pull.digest, flush=True)
"""


def writer(archive, own, count=10**6):
    command = [sys.executable, "-c", WRITER, str(archive.folder), own, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONHASHSEED": "0"})


def test_two_writers_and_a_reader_at_once_lose_nothing_and_never_see_half_a_pull(archive):
    writers = [writer(archive, own, 60) for own in "ab"]

    while any(process.poll() is None for process in writers):
        for pull in found_pulls(archive, Search())[-3:]:
            assert archived_channels(archive, pull)["torque"].size == 50

    acknowledged = {line for process in writers for line in process.communicate()[0].split()}
    assert [process.returncode for process in writers] == [0, 0]
    assert len(acknowledged) == 120
    assert {pull.digest for pull in found_pulls(archive, Search())} == acknowledged
    assert list(check_archive(archive)) == []


def test_a_writer_killed_anywhere_loses_nothing_acknowledged_and_shows_nothing_half_done(archive):
    """Three kills here; `benchmarks/archive_kills.py` makes as many as asked."""
    chance = np.random.default_rng(7)
    acknowledged: set[str] = set()
    for round_ in range(3):
        process = writer(archive, f"k{round_}")
        acknowledged.add(process.stdout.readline().strip())
        time.sleep(float(chance.uniform(0.0, 0.2)))
        process.send_signal(signal.SIGKILL)
        acknowledged |= {line.strip() for line in process.communicate()[0].splitlines(True) if line.endswith("\n")}

    assert acknowledged <= {pull.digest for pull in found_pulls(archive, Search())}
    assert list(check_archive(archive)) == []

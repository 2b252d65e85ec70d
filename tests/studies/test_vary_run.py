"""Long studies: the same bytes whoever does the work, in whatever order, and however often it was stopped."""

import os
import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from boostwright.errors import DataError
from boostwright.records.chunk_store import open_store
from boostwright.studies.vary import Search, chunks, grid_designs
from boostwright.studies.vary_request import goal_from_text
from boostwright.studies.vary_run import run_plan, study_digest
from boostwright.studies.workers import LocalProcesses, ThisProcess, Workers
from tests.studies.varied import PULLEY_AND_AREA, limited_file, plan_for, stored, study_of

MANY = ("drive.driven_pulley=66:72:20", "inlet.flow_area=40:70:20")
SLOW = {"sets": 8, "speeds": "2500:5500:1000"}


class _Backwards(Workers):
    """Somebody who does the last chunk first."""

    def results(self, work):
        yield from ThisProcess().results(list(reversed(work)))

    def close(self):
        """Nothing to close."""


class _StopsAfter(Workers):
    """Somebody who is stopped after so many chunks."""

    def __init__(self, chunk_count):
        self._left = chunk_count

    def results(self, work):
        for result in ThisProcess().results(work):
            if self._left == 0:
                raise KeyboardInterrupt
            self._left -= 1
            yield result

    def close(self):
        """Nothing to close."""


@pytest.fixture(scope="module")
def plan():
    return plan_for(study_of(*MANY, **SLOW))


@pytest.fixture(scope="module")
def whole(plan, tmp_path_factory):
    """The bytes of an uninterrupted run in this process."""
    return stored(plan, tmp_path_factory.mktemp("whole") / "r.parquet").target.read_bytes()


def test_there_are_enough_portions_for_these_tests_to_ask_something(plan):
    assert len(chunks(plan.study, grid_designs(plan.study.variations), 1)) > 6


def test_the_order_in_which_portions_are_done_does_not_show(plan, whole, tmp_path):
    assert stored(plan, tmp_path / "r.parquet", _Backwards()).target.read_bytes() == whole


def test_two_processes_one_of_which_is_killed_midway_give_the_bytes_of_one(plan, whole, tmp_path):
    with LocalProcesses(2) as workers:
        store = open_store(tmp_path / "r.parquet", plan.digest, plan.title)
        killed = []

        def advance(amount):
            if not killed and len(store.known()) >= 2:
                killed.append(next(iter(workers._pool._processes)))
                os.kill(killed[0], signal.SIGKILL)

        run_plan(plan, store, workers, advance)
    assert killed
    assert store.target.read_bytes() == whole


def test_an_interrupted_search_asks_for_the_same_designs_again(tmp_path):
    study = study_of("drive.driven_pulley=66:72", "inlet.flow_area=40:70", search=Search.OPTIMISE)
    plan = plan_for(study, search=Search.OPTIMISE, designs=60)
    calm = stored(plan, tmp_path / "calm.parquet").target.read_bytes()
    target = tmp_path / "stopped.parquet"
    for chunk_count in (3, 1):
        with pytest.raises(KeyboardInterrupt):
            stored(plan, target, _StopsAfter(chunk_count))
    again = _StopsAfter(1000)
    assert stored(plan, target, again).target.read_bytes() == calm


def test_killed_at_random_points_and_resumed_the_file_is_that_of_an_uninterrupted_run(whole, tmp_path):
    """The whole command in its own process, ended by SIGKILL twice at moments that nobody chose."""
    target, script = tmp_path / "r.parquet", Path(__file__).with_name("killed_study.py")
    command = [sys.executable, str(script), str(target)]
    moments, kills = random.Random(20260412), 0
    folder = target.with_name("r.parquet.parts")
    for _ in range(2):
        running = subprocess.Popen(command, cwd=Path(__file__).parents[2])
        had, deadline = _portions(folder), time.monotonic() + 60.0
        while _portions(folder) <= had and running.poll() is None and time.monotonic() < deadline:
            time.sleep(0.002)
        time.sleep(moments.uniform(0.0, 0.12))
        if running.poll() is None:
            running.kill()
            kills += 1
        running.wait()
    assert kills == 2
    assert not target.exists()  # or nothing was left to resume
    assert _portions(folder) >= 2
    subprocess.run(command, check=True, cwd=Path(__file__).parents[2])
    assert target.read_bytes() == whole


def _portions(folder: Path) -> int:
    return len(list(folder.glob("0*.parquet")))


def test_a_finished_study_is_not_run_again_but_asked_anew(plan, tmp_path):
    small = plan_for(study_of(*PULLEY_AND_AREA))
    store = stored(small, tmp_path / "r.parquet")
    again = open_store(tmp_path / "r.parquet", plan_for(small.study, goal_from_text("4000 rpm", [], 0.5)).digest, "")
    assert again.is_complete
    assert again == store


def test_another_build_range_weather_set_or_search_is_another_study():
    base = study_of(*PULLEY_AND_AREA)
    others = [
        study_of("drive.driven_pulley=66:72:4", "inlet.flow_area=40:71:3"),
        study_of(*PULLEY_AND_AREA, sets=9),
        study_of(*PULLEY_AND_AREA, speeds="2500:5500:1000"),
        study_of(*PULLEY_AND_AREA, file=limited_file(charge_temperature="71 degC")),
        study_of(*PULLEY_AND_AREA, blower="chamber"),
        replace(base, sets=replace(base.sets, points=base.sets.points[::-1])),  # as after another fit
    ]
    digests = {study_digest(study, "grid") for study in (base, *others)} | {study_digest(base, "latin")}
    assert len(digests) == 8
    assert study_digest(study_of(*PULLEY_AND_AREA), "grid") in digests


def test_processes_that_die_every_time_end_with_words_and_not_in_a_circle(plan, monkeypatch):
    monkeypatch.setattr("boostwright.studies.workers.MOST_RESTARTS", 0)
    work = chunks(plan.study, grid_designs(plan.study.variations), 1)
    with LocalProcesses(1) as workers, pytest.raises(DataError, match="worker processes were ended 1 times by the sys"):
        _killing_at_every_result(workers, work)


def _killing_at_every_result(workers, work):
    for _ in workers.results(work):
        os.kill(next(iter(workers._pool._processes)), signal.SIGKILL)


def test_threads_of_one_worker_do_not_meet_in_the_kernels(plan):
    from boostwright.studies.workers import chunk_bytes

    work = chunks(plan.study, grid_designs(plan.study.variations), 1)[:2]
    found = {}
    threads = [threading.Thread(target=lambda c=c: found.setdefault(c.first, chunk_bytes(c))) for c in work]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {chunk.first: chunk_bytes(chunk) for chunk in work}

"""A study on a Dask cluster of two workers, one of which is killed midway: nothing is lost, and no bit differs."""

import os
import signal

import pytest

from boostwright.errors import DataError
from boostwright.records.chunk_store import open_store
from boostwright.studies.vary_run import run_plan
from tests.studies.varied import plan_for, stored, study_of

distributed = pytest.importorskip("distributed", reason="the extra cluster is not installed")
from boostwright.studies.cluster import Cluster  # noqa: E402

pytestmark = [
    pytest.mark.filterwarnings("ignore::ResourceWarning"),  # sockets to the worker that is killed
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


def test_one_of_two_workers_is_killed_midway_and_the_result_is_that_of_one_process(tmp_path):
    plan = plan_for(study_of("drive.driven_pulley=66:72:14", "inlet.flow_area=40:70:16", speeds="2500:5500:1000"))
    alone = stored(plan, tmp_path / "alone.parquet").target.read_bytes()
    killed: list[int] = []
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
        ) as machines,
        Cluster(machines.scheduler_address) as workers,
    ):
        store = open_store(tmp_path / "shared.parquet", plan.digest, plan.title)

        def advance(amount):
            if not killed and len(store.known()) >= 2:
                killed.append(next(iter(machines.workers.values())).pid)
                os.kill(killed[0], signal.SIGKILL)

        run_plan(plan, store, workers, advance)
    assert killed
    assert store.target.read_bytes() == alone


def test_a_scheduler_that_does_not_answer_is_named_with_what_to_start(monkeypatch):
    monkeypatch.setattr("boostwright.studies.cluster.ANSWER_WITHIN", 0.3)
    with pytest.raises(
        DataError, match=r"--scheduler tcp://127\.0\.0\.1:9: nobody answers there; start one with `dask"
    ):
        Cluster("tcp://127.0.0.1:9")

"""Long work: told as it goes, made once for all who wait, ended when nobody does, several people side by side."""

import asyncio
import json
import threading
import time
from pathlib import Path

import pytest

from boostwright.errors import FileError
from boostwright.records.examples import copy_example
from boostwright.web import workers as processes
from boostwright.web.access import Access
from boostwright.web.app import create_app
from boostwright.web.work import Job, Workshop
from boostwright.web.workers import Errand, Leash, Progress, Stopped, Workers
from tests.web import slow
from tests.web.client import Client


def a_folder(place: Path, title: str, speed_range: str) -> Client:
    """The example under another title and range, served."""
    folder = copy_example("inlet-elbow", place)
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    text = text.replace("Machined inlet elbow against the cast one", title)
    text = text.replace("[3000, 5800]", speed_range)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return Client(create_app(folder, Access()))


def test_a_comparison_tells_its_progress_and_then_its_result(client):
    events = client.events("/api/compare?quantity=torque")
    told = [data for name, data in events if name == "progress"]
    assert any(data["words"].startswith("Reading pull ") for data in told)
    shares = [data["percent"] for data in told if data["percent"] is not None]
    assert shares == sorted(shares)
    assert [name for name, _ in events if name != "progress"] == ["result"]
    assert events[-1][1] == client.get("/api/compare?quantity=torque").json


def test_a_stream_ends_with_the_faults_that_json_would_carry(client):
    name, data = client.events("/api/compare?quantity=nothing")[-1]
    assert name == "faults"
    assert data == client.get("/api/compare?quantity=nothing").json


def test_who_leaves_ends_the_work_and_the_next_one_gets_an_answer(client):
    """The process is killed: work that goes on unseen would hold up whoever comes next."""
    workshop = workshop_of(client)
    events = client.events("/api/explain", leave_at="progress")
    assert "result" not in [name for name, _ in events]
    key_of_nothing_under_way = list(workshop._under_way)
    assert key_of_nothing_under_way == []
    assert client.get("/api/explain").json["result"]["sentence"]


def workshop_of(client: Client) -> Workshop:
    route = next(route for route in client.app.routes if route.path == "/api/explain")
    return route.endpoint.__self__.workshop


def test_one_who_leaves_takes_nothing_from_the_other(client):
    async def both() -> tuple[list, list]:
        patient = asyncio.create_task(client.followed("/api/explain"))
        hasty = asyncio.create_task(client.followed("/api/explain", leave_at="progress"))
        return await patient, await hasty

    patient, hasty = asyncio.run(both())
    assert "result" not in [name for name, _ in hasty]
    assert patient[-1][0] == "result"


def test_who_leaves_while_progress_is_told_leaves():
    """Both reach the follower in the same turn of the loop; neither may make it forget the other."""

    async def left_at_the_bell() -> bool:
        job = Job()

        async def follow() -> None:
            async for _ in job.progress():
                pass

        following = asyncio.create_task(follow())
        await asyncio.sleep(0.01)
        job._ring()
        await asyncio.sleep(0)
        following.cancel()
        await asyncio.wait((following,), timeout=1.0)
        job.end()
        return following.cancelled()

    assert asyncio.run(left_at_the_bell())


def test_several_people_at_once_get_each_their_own(tmp_path):
    """Two folders, two quantities, two systems of units, all at the same time."""
    clients = {
        "one": a_folder(tmp_path / "one", "one", "[3000, 5800]"),
        "two": a_folder(tmp_path / "two", "two", "[3500, 5500]"),
    }
    asked = [
        (title, quantity, units) for title in clients for quantity in ("power", "torque") for units in ("metric", "us")
    ]

    async def everybody() -> list:
        ways = [clients[title].followed(f"/api/compare?quantity={q}&units={u}") for title, q, u in asked]
        return await asyncio.gather(*ways)

    for (title, quantity, units), events in zip(asked, asyncio.run(everybody()), strict=True):
        view = events[-1][1]
        assert view["page"]["title"] == title
        assert view["result"]["quantity"] == quantity
        assert view["result"]["range"]["from_rpm"] == {"one": 3000, "two": 3500}[title]
        assert (
            view["page"]["unit"]
            == {"power": {"metric": "kW", "us": "hp"}, "torque": {"metric": "N·m", "us": "lb-ft"}}[quantity][units]
        )


def test_a_slider_is_answered_while_a_study_runs(client):
    client.post("/api/match", {"setup": "cast"})  # the process is there, its kernels loaded

    async def both() -> tuple[float, float]:
        started = time.monotonic()
        study = asyncio.create_task(client.followed("/api/explain"))
        await asyncio.sleep(0.05)
        body = json.dumps({"setup": "cast", "drive_ratio": 2.3}).encode()
        answer = await client._send("POST", "/api/match", body, {"content-type": "application/json"})
        answered = time.monotonic() - started
        assert answer.status == 200
        await study
        return answered, time.monotonic() - started

    answered, explained = asyncio.run(both())
    assert answered < explained


@pytest.fixture
def workers(monkeypatch) -> Workers:
    monkeypatch.setattr(processes, "_serve_errands", slow.serve)
    return Workers(1)


def ask(workers: Workers, name: str, *arguments: object, leash: Leash | None = None) -> object:
    told.clear()
    return workers.do(Errand(folder=Path(), name=name, arguments=arguments), told.append, leash or Leash())


told: list[Progress] = []


def test_a_process_that_dies_or_wants_too_much_is_a_fault_and_the_next_one_works(workers):
    with pytest.raises(FileError, match="the work ended before its answer"):
        ask(workers, "die")
    with pytest.raises(FileError, match="more memory than one piece of work may take"):
        ask(workers, "hoard")
    assert ask(workers, "count", 3) == 4
    assert told == [Progress(words="counting", share=0.5)]


def test_a_bug_in_a_process_is_raised_with_its_traceback(workers):
    with pytest.raises(RuntimeError, match="KeyError: 'ours'"):
        ask(workers, "fail")


def test_work_on_a_cut_leash_is_ended_at_once(workers):
    leash, started = Leash(), time.monotonic()
    threading.Timer(0.3, leash.cut).start()
    with pytest.raises(Stopped):
        ask(workers, "sleep", leash=leash)
    assert time.monotonic() - started < 20
    assert ask(workers, "count", 1) == 2


def test_what_two_ask_at_once_is_made_once_and_failures_are_not_kept(workers):
    workshop = Workshop(workers, workers)
    errand = Errand(folder=Path(), name="count", arguments=(1,))

    async def both() -> list:
        return list(await asyncio.gather(*(workshop.made("same", errand) for _ in range(2))))

    assert asyncio.run(both()) == [2, 2]
    with pytest.raises(FileError):
        asyncio.run(workshop.made("wrong", Errand(folder=Path(), name="die")))
    assert workshop.kept("wrong") is None
    assert asyncio.run(workshop.made("wrong", errand)) == 2

"""Twenty people at one server: does it grow, and does anybody get another's answer? `python -m benchmarks.web_soak`.

One process serves a folder to each user; all of them share its workers and its store of answers. Each folder is the
example campaign with a title and a speed range of its own, and first each user is alone: what he is told then is what
he must be told, byte for byte, among the others. Then all ask at once, at random, with pauses as people make them;
titles are changed and changed back, logs dropped. Linux only: memory is read from /proc.
"""

import argparse
import hashlib
import json
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections import Counter
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parents[1]
QUANTITIES = ("power", "torque")
PATIENCE = 120.0  # s


def serve(folder: Path, users: int, port: int) -> None:
    """One server with a folder for each user, below a path of his own."""
    import uvicorn
    from starlette.applications import Starlette
    from starlette.routing import Mount

    from boostwright.web.access import Access
    from boostwright.web.app import create_app

    apps = [create_app(folder / f"user-{user:02}", Access()) for user in range(users)]
    routes = [Mount(f"/user-{user:02}", app) for user, app in enumerate(apps)]
    uvicorn.run(Starlette(routes=routes), host="127.0.0.1", port=port, log_level="error")


def folder_of(user: int, folder: Path) -> Path:
    """The example campaign with a title and a speed range that nobody else has."""
    own = folder / f"user-{user:02}"
    shutil.copytree(HERE / "examples" / "inlet-elbow", own, ignore=shutil.ignore_patterns("results"))
    said = (own / "campaign.toml").read_text(encoding="utf-8")
    said = re.sub(r'^title = ".*"', f'title = "Elbow of user {user}"', said, flags=re.MULTILINE)
    said = re.sub(r"^speed_range_rpm = .*", f"speed_range_rpm = [3000, {5300 + 20 * user}]", said, flags=re.MULTILINE)
    (own / "campaign.toml").write_text(said, encoding="utf-8")
    return own


class User:
    """One person: what he asks, and what he was told when he was alone."""

    def __init__(self, number: int, port: int) -> None:
        self.title = f"Elbow of user {number}"
        self._base = f"http://127.0.0.1:{port}/user-{number:02}"
        self._chance = random.Random(number)
        self._ratio = 2.0 + 0.02 * number
        self.alone: dict[str, str] = {}
        self.counts: Counter[str] = Counter()
        self.seconds: list[float] = []
        self.wrong: list[str] = []

    def ask(self, path: str, said: object = None, method: str = "POST", kind: str = "application/json") -> bytes:
        """What comes back; a refusal is an error."""
        body = said if isinstance(said, bytes) or said is None else json.dumps(said).encode()
        headers = {"content-type": kind} if body is not None else {}
        request = urllib.request.Request(
            self._base + path, data=body, headers=headers, method=method if body is not None else "GET"
        )
        start = time.monotonic()
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            data = answer.read()
        self.seconds.append(time.monotonic() - start)
        return data

    def questions(self) -> dict[str, tuple[str, object]]:
        """What has one right answer."""
        asked: dict[str, tuple[str, object]] = {
            f"compare {q}": (f"/api/compare?quantity={q}", None) for q in QUANTITIES
        }
        asked["table"] = ("/api/gain.csv", None)
        asked["what-if"] = ("/api/match", {"setup": "cast", "drive_ratio": self._ratio})
        asked["plan"] = (f"/api/plan?pull_min={5 + self._ratio:.2f}", None)
        return asked

    def be_alone(self) -> None:
        """Ask everything once, before the others come."""
        for name, (path, said) in self.questions().items():
            self.alone[name] = hashlib.sha256(self.ask(path, said)).hexdigest()

    def live(self, until: float, pause: float) -> None:
        """Ask at random until the end."""
        while time.monotonic() < until:
            name = self._chance.choice(["folder", "folder", "page", "title", "log", "nonsense", *self.questions()])
            try:
                problem = self._do(name)
            except (OSError, ValueError, KeyError) as wrong:
                problem = f"{type(wrong).__name__}: {wrong}"
            self.counts[name] += 1
            if problem:
                self.wrong.append(f"{self.title}, {name}: {problem}")
            time.sleep(self._chance.uniform(0.2, 2.0) * pause)

    def _do(self, name: str) -> str:
        """What is wrong with the answer to one request."""
        if name == "folder":
            return "" if self.title in self.ask("/api/campaign").decode() else "the title is not mine"
        if name == "page":
            return "" if b"<html" in self.ask("/") else "no page came"
        if name == "title":
            return self._titled(f"{self.title} again") or self._titled(self.title)
        if name == "log":
            return self._dropped()
        if name == "nonsense":
            return self._refused()
        path, said = self.questions()[name]
        told = hashlib.sha256(self.ask(path, said)).hexdigest()
        return "" if told == self.alone[name] else "another answer than when I was alone"

    def _titled(self, title: str) -> str:
        seen = json.loads(self.ask("/api/campaign"))
        change = {"version": seen["version"], "campaign": {**seen["campaign"], "title": title}}
        told = json.loads(self.ask("/api/campaign", change, "PUT"))
        return "" if told["campaign"]["title"] == title else f"the title is {told['draft']['title']}"

    def _dropped(self) -> str:
        """A log of the folder once more: it is known, so that the folder stays as it is."""
        data = b"a,b\n1\n" + str(self._chance.random()).encode()
        form = b'--b\r\nContent-Disposition: form-data; name="logs"; filename="x.exe"\r\n\r\n' + data + b"\r\n--b--\r\n"
        return self._expected_refusal("/api/logs", form, "multipart/form-data; boundary=b")

    def _refused(self) -> str:
        return self._expected_refusal("/api/match", {"setup": "nobody"}, "application/json")

    def _expected_refusal(self, path: str, said: object, kind: str) -> str:
        try:
            self.ask(path, said, kind=kind)
        except urllib.error.HTTPError as wrong:
            return "" if wrong.code == 422 and b"faults" in wrong.read() else f"status {wrong.code}"
        return "wrong input was taken"


def memory(process: int) -> float:
    """Proportional memory of a process and all its children [MB]."""
    total = 0.0
    for path in Path("/proc").glob("[0-9]*"):
        try:
            number = int(path.name)
            if number == process or _ancestor(number, process):
                total += int(re.search(r"^Pss:\s+(\d+)", (path / "smaps_rollup").read_text(), re.MULTILINE)[1]) / 1024
        except (OSError, TypeError):
            continue
    return total


def _ancestor(number: int, process: int) -> bool:
    while number > 1:
        number = int(Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[1])
        if number == process:
            return True
    return False


def soak(users: int, minutes: float, pause: float) -> dict[str, object]:
    """The whole trial, as numbers."""
    with tempfile.TemporaryDirectory(prefix="boostwright-soak-") as name, socket.socket() as free:
        folder = Path(name)
        for user in range(users):
            folder_of(user, folder)
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        command = [sys.executable, "-m", "benchmarks.web_soak", "--serve", str(folder), "--port", str(port)]
        server = subprocess.Popen([*command, "--users", str(users)], cwd=HERE)
        try:
            return _with_server([User(user, port) for user in range(users)], server, 60 * minutes, pause)
        finally:
            server.terminate()
            server.wait(30)


def _with_server(
    people: list[User], server: "subprocess.Popen[bytes]", seconds: float, pause: float
) -> dict[str, object]:
    for _ in range(120):
        try:
            people[0].ask("/api/version")
            break
        except OSError:
            time.sleep(0.5)
    for user in people:
        user.be_alone()
    if len({user.alone["compare power"] for user in people}) < len(people):
        raise SystemExit("two users have the same answer, so that a mixed one would not be seen")
    for user in people:
        user.seconds.clear()
    start = time.monotonic()
    threads = [threading.Thread(target=user.live, args=(start + seconds, pause)) for user in people]
    for thread in threads:
        thread.start()
    held: list[tuple[float, float]] = []
    while any(thread.is_alive() for thread in threads):
        held.append((time.monotonic() - start, memory(server.pid)))
        time.sleep(5.0)
    times = np.sort(np.concatenate([user.seconds for user in people]))
    at, size = np.array(held).T
    settled = at > 0.25 * at[-1]  # the first quarter fills the stores of answers
    slope = np.polyfit(at[settled], size[settled], 1)[0] if settled.sum() > 2 else float("nan")
    counts = sum((user.counts for user in people), Counter())
    return {
        "users": len(people),
        "minutes": round(at[-1] / 60, 1),
        "requests": len(times),
        "by kind": dict(sorted(counts.items())),
        "wrong answers": [line for user in people for line in user.wrong],
        "seconds_median": round(float(np.median(times)), 3),
        "seconds_95_percent": round(float(np.quantile(times, 0.95)), 3),
        "seconds_longest": round(float(times[-1]), 2),
        "memory_mb_first": round(float(size[0])),
        "memory_mb_after_a_quarter": round(float(size[settled][0])),
        "memory_mb_last": round(float(size[-1])),
        "memory_mb_per_minute": round(60 * float(slope), 2),
    }


def main() -> None:
    """Read the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--users", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--pause", type=float, default=1.0, help="Times the usual pause of a user.")
    parser.add_argument("--serve", type=Path)
    parser.add_argument("--port", type=int, default=0)
    asked = parser.parse_args()
    if asked.serve is not None:
        serve(asked.serve, asked.users, asked.port)
    else:
        print(json.dumps(soak(asked.users, asked.minutes, asked.pause), indent=1))


if __name__ == "__main__":
    main()

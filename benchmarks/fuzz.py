"""Fuzz every reader: `python -m benchmarks.fuzz run [READER ...] --inputs 100000 --minutes 4`, then `... report`.

Each input is read in this process, under guard: a result or a refusal in words is sound; any other exception, more than
two seconds of work, or 500 MB more memory is a find. A reader that kills the process is a find as well: the process
is watched by its parent, which starts it again. With atheris installed (it is no part of the lock file) the first fifth
of the inputs is chosen by the branches of our own readers that it reaches, and what reached a new one is among the
parents of the others; without it all of them are bred from the first parents by chance.
"""

import argparse
import faulthandler
import hashlib
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parents[1]
DOCUMENT = HERE / "docs" / "fuzzing.md"
BEGIN, END = "<!-- counts of a run -->", "<!-- end of counts -->"
LONGEST, MOST_MEMORY = 2.0, 500  # s, MB
LARGEST = 64 << 10  # bytes of an input
POOL = 400  # parents that are kept
MOST_DEATHS = 500
SUMMED = ("inputs", "read", "refused", "finds", "deaths", "seconds")


class Hang(BaseException):
    """An input that takes more than two seconds of processor time."""


def hung(_number: int, _frame: object) -> None:
    """Stop a reader that does not end."""
    raise Hang


class Guard:
    """Reads one input after the other, counts how they end, and keeps one input of each kind of find."""

    def __init__(self, name: str, finds: Path) -> None:
        from benchmarks.fuzz_readers import READERS, unsound

        self.reader, self._unsound = READERS[name], unsound
        self._finds = finds
        self._folder = Path(tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
        self.last = finds / "last-input"
        self.counts = {"inputs": 0, "read": 0, "refused": 0, "finds": 0}
        self.slowest = 0.0
        signal.signal(signal.SIGVTALRM, hung)

    def read(self, data: bytes) -> bool:
        """Whether an input was read rather than refused."""
        self.last.write_bytes(data)
        self.counts["inputs"] += 1
        before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
        faulthandler.dump_traceback_later(60, exit=True)
        try:
            signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST)
            try:
                self.reader.read(data, self._folder)
            finally:
                signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
            self.counts["read"] += 1
            is_read = True
        except KeyboardInterrupt:
            raise
        except BaseException as wrong:  # noqa: BLE001  (a panic of a compiled reader is one too)
            is_read = False
            if problem := self._unsound(wrong):
                self._keep(data, wrong, problem)
            else:
                self.counts["refused"] += 1
        taken = time.process_time() - start
        self.slowest = max(self.slowest, taken)
        grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
        if taken > LONGEST and self.counts["inputs"] > 20:  # the first inputs load libraries
            self._keep(data, Hang(), f"takes {taken:.1f} s")
        if grown > MOST_MEMORY:
            self._keep(data, MemoryError(), f"takes {grown:.0f} MB")
        faulthandler.cancel_dump_traceback_later()
        return is_read

    def _keep(self, data: bytes, wrong: BaseException, problem: str) -> None:
        self.counts["finds"] += 1
        frames = traceback.extract_tb(wrong.__traceback__)
        own = [frame for frame in frames if "boostwright" in frame.filename]
        places = [f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in (*own[-1:], *frames[-1:])]
        key = f"{type(wrong).__name__} {problem.rstrip('0123456789. sMB')} {' '.join(places)}"
        name = hashlib.sha256(key.encode()).hexdigest()[:10]
        kept = self._finds / f"{name}.input"
        if not kept.exists() or kept.stat().st_size > len(data):
            kept.write_bytes(data)
            said = "".join(traceback.format_exception(wrong, limit=-8))
            (self._finds / f"{name}.txt").write_text(f"{key}\n{problem}\n{said}", encoding="utf-8", errors="replace")

    def close(self) -> None:
        """Remove the work folder."""
        shutil.rmtree(self._folder, ignore_errors=True)


def work(name: str, inputs: int, seconds: float, seed: int, folder: Path, *, with_atheris: bool) -> None:
    """Fuzz one reader in this process and leave the counts in a file."""
    finds, corpus = folder / "finds", folder / "corpus"
    finds.mkdir(parents=True, exist_ok=True)
    corpus.mkdir(exist_ok=True)
    if with_atheris:
        _with_atheris(name, inputs, seconds, seed, finds, corpus)
    else:
        _by_chance(name, inputs, seconds, seed, finds, corpus)


def _record(guard: Guard, folder: Path, start: float) -> None:
    said = {**guard.counts, "seconds": round(time.monotonic() - start, 1), "slowest": round(guard.slowest, 3)}
    (folder / "counts.json").write_text(json.dumps(said))


def _by_chance(name: str, inputs: int, seconds: float, seed: int, finds: Path, corpus: Path) -> None:
    from benchmarks.fuzz_readers import bred

    guard, chance, start = Guard(name, finds), random.Random(seed), time.monotonic()
    parents = list(guard.reader.parents())
    firsts = len(parents)
    reached = [path.read_bytes() for path in sorted(corpus.iterdir())]
    parents += chance.sample(reached, min(POOL - firsts, len(reached)))
    while guard.counts["inputs"] < inputs and time.monotonic() - start < seconds:
        data = bred(chance.choice(parents), parents, guard.reader, chance)[:LARGEST]
        if guard.read(data) and chance.random() < 0.05:  # what is still read is the parent of stranger things
            parents.append(data)
            if len(parents) > POOL:
                del parents[chance.randrange(firsts, len(parents))]
        if guard.counts["inputs"] % 500 == 0:
            _record(guard, finds.parent, start)
    _record(guard, finds.parent, start)
    guard.close()


def _with_atheris(name: str, inputs: int, seconds: float, seed: int, finds: Path, corpus: Path) -> None:
    import atheris

    with atheris.instrument_imports(include=["boostwright.records", "boostwright.units", "boostwright.studies"]):
        from benchmarks.fuzz_readers import bred
    guard, start = Guard(name, finds), time.monotonic()
    parents = list(guard.reader.parents())
    for place, data in enumerate(parents):
        (corpus / f"parent-{place:02}").write_bytes(data)

    def one(data: bytes) -> None:
        guard.read(data)
        if guard.counts["inputs"] % 500 == 0:
            _record(guard, finds.parent, start)
        if guard.counts["inputs"] >= inputs or time.monotonic() - start > seconds:
            _record(guard, finds.parent, start)
            guard.close()
            os._exit(0)

    def mutated(data: bytes, most: int, seed: int) -> bytes:
        chance = random.Random(seed)
        if chance.random() < (0.15 if guard.reader.is_zip else 0.5):
            return atheris.Mutate(data, len(data))[:most]
        return bred(data, parents, guard.reader, chance)[:most]

    options = [
        f"-seed={seed}",
        f"-artifact_prefix={finds.parent}/",
        f"-max_len={LARGEST}",
        "-timeout=120",
        "-rss_limit_mb=0",
        "-print_final_stats=1",
    ]
    atheris.Setup([name, str(corpus), *options], one, custom_mutator=mutated)
    atheris.Fuzz()


def run(names: list[str], inputs: int, minutes: float, seed: int, folder: Path) -> None:
    """Fuzz readers one after the other, each in a process of its own that is started again if it dies."""
    try:
        import atheris  # noqa: F401

        with_atheris = True
    except ImportError:
        with_atheris = False
    for name in names:
        own = folder / name.replace(" ", "-")
        shutil.rmtree(own, ignore_errors=True)
        parts: list[dict[str, Any]] = []
        if with_atheris:
            parts.append(_watched(name, inputs // 5, 12 * minutes, seed, own, with_atheris=True))
        done = sum(part["inputs"] for part in parts)
        left = 60 * minutes - sum(part["seconds"] for part in parts)
        parts.append(_watched(name, inputs - done, left, seed + 100, own, with_atheris=False))
        totals: dict[str, Any] = {key: sum(part[key] for part in parts) for key in SUMMED}
        totals |= {
            "by branches": parts[0]["inputs"] if with_atheris else 0,
            "branches": _branches(own / "log.txt"),
            "slowest": max(part["slowest"] for part in parts),
            "kinds of find": len(list((own / "finds").glob("*.input"))),
        }
        (own / "totals.json").write_text(json.dumps(totals))
        print(name, json.dumps(totals), flush=True)


def _watched(name: str, inputs: int, seconds: float, seed: int, own: Path, *, with_atheris: bool) -> dict[str, Any]:
    totals: dict[str, Any] = {**dict.fromkeys(SUMMED, 0), "slowest": 0.0}
    while totals["inputs"] < inputs and totals["seconds"] < seconds and totals["deaths"] < MOST_DEATHS:
        (own / "counts.json").unlink(missing_ok=True)
        own.mkdir(parents=True, exist_ok=True)
        left = [
            name,
            str(inputs - totals["inputs"]),
            str(seconds - totals["seconds"]),
            str(seed + totals["deaths"]),
            str(own),
        ]
        with (own / "log.txt").open("ab") as log:
            command = [sys.executable, "-m", "benchmarks.fuzz", "work", *left, *(["--atheris"] if with_atheris else [])]
            status = subprocess.run(command, cwd=HERE, stdout=log, stderr=log, check=False).returncode
        counts = json.loads((own / "counts.json").read_text()) if (own / "counts.json").exists() else {"seconds": 1.0}
        for key in SUMMED:
            totals[key] += counts.get(key, 0)
        totals["slowest"] = max(totals["slowest"], counts.get("slowest", 0.0))
        if status == 0:
            break
        totals["deaths"] += 1
        last = own / "finds" / "last-input"
        if last.exists():
            data = last.read_bytes()
            (own / "finds" / f"death-{hashlib.sha256(data).hexdigest()[:10]}.input").write_bytes(data)
    return totals


def report(folders: list[Path]) -> str:
    """The table of docs/fuzzing.md, from the counts that runs have left; runs of one reader are added up."""
    from benchmarks.fuzz_readers import READERS

    lines = [
        "| reader | inputs | chosen by branches | read | refused in words | branches reached | slowest, s | finds |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name in READERS:
        found = [folder / name.replace(" ", "-") / "totals.json" for folder in folders]
        runs = [json.loads(path.read_text()) for path in found if path.exists()]
        if not runs:
            lines.append(f"| {name} | not run | | | | | | |")
            continue
        sums = [sum(run[key] for run in runs) for key in ("inputs", "by branches", "read", "refused")]
        most = [max(run["branches"] for run in runs), f"{max(run['slowest'] for run in runs):.2f}"]
        kinds = sum(run["kinds of find"] for run in runs)
        lines.append(
            f"| {' | '.join(map(str, (name, *(f'{count:,}'.replace(',', ' ') for count in sums), *most, kinds)))} |"
        )
    return "\n".join(lines)


def write_report(folders: list[Path]) -> None:
    """Put the table into the document, between its marks."""
    said = DOCUMENT.read_text(encoding="utf-8")
    head, _, rest = said.partition(BEGIN)
    DOCUMENT.write_text(f"{head}{BEGIN}\n{report(folders)}\n{END}{rest.partition(END)[2]}", encoding="utf-8")


def _branches(log: Path) -> int:
    """Edges of our own readers that were reached, as atheris printed them last."""
    return max((int(found) for found in re.findall(r"cov: (\d+)", log.read_text(errors="replace"))), default=0)


def main() -> None:
    """Read the command."""
    parser = argparse.ArgumentParser(description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    running = commands.add_parser("run")
    running.add_argument("readers", nargs="*")
    running.add_argument("--inputs", type=int, default=100_000)
    running.add_argument("--minutes", type=float, default=4.0)
    running.add_argument("--seed", type=int, default=20260412)
    running.add_argument("--folder", type=Path, default=Path("fuzz-runs"))
    reporting = commands.add_parser("report")
    reporting.add_argument("folders", nargs="+", type=Path)
    working = commands.add_parser("work")
    for word, kind in (("name", str), ("inputs", int), ("seconds", float), ("seed", int), ("folder", Path)):
        working.add_argument(word, type=kind)
    working.add_argument("--atheris", action="store_true")
    asked = parser.parse_args()
    if asked.command == "work":
        work(asked.name, asked.inputs, asked.seconds, asked.seed, asked.folder, with_atheris=asked.atheris)
        return
    if asked.command == "report":
        write_report(asked.folders)
        return
    from benchmarks.fuzz_readers import READERS

    run(asked.readers or list(READERS), asked.inputs, asked.minutes, asked.seed, asked.folder.resolve())


if __name__ == "__main__":
    main()

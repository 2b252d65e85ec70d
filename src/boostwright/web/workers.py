"""Processes beside the server: each does one errand at a time, says how far it is, and can be ended in the middle.

A thread cannot be stopped while it computes, and holds up everybody else's answers. A process can be ended, and what a
hostile file makes of it ends with it.
"""

import multiprocessing
import signal
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final, TypeAlias

from boostwright.errors import BoostwrightError, Fault, FileError

MOST_MEMORY: Final = 6 << 30  # bytes that one process may hold
_SPAWN: Final = multiprocessing.get_context("spawn")  # a fork of a process with threads may hang


@dataclass(frozen=True, kw_only=True)
class Errand:
    """What to ask of the studies of a folder: the name of a method and its arguments."""

    folder: Path
    name: str
    arguments: tuple[object, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Progress:
    """What is being done, and the share of the whole that is behind it, if it is known."""

    words: str
    share: float | None = None


Tell: TypeAlias = Callable[[Progress], None]


class Stopped(Exception):
    """The work was ended because nobody waits for it any more."""


class Leash:
    """Ends the process of an errand, or keeps the errand from beginning."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: Any = None
        self.is_cut = False

    def cut(self) -> None:
        """End it."""
        with self._lock:
            self.is_cut = True
            if self._process is not None:
                self._process.kill()

    def hold(self, process: Any) -> None:
        """Take the process that now does the errand, or let go of it."""
        with self._lock:
            self._process = process
            if self.is_cut and process is not None:
                process.kill()


class _Worker:
    """One process with the pipe to it."""

    def __init__(self) -> None:
        self.pipe, theirs = _SPAWN.Pipe()
        self.process = _SPAWN.Process(target=_serve_errands, args=(theirs,), daemon=True)
        self.process.start()
        theirs.close()

    def end(self) -> None:
        self.pipe.close()
        self.process.kill()
        self.process.join()


class Workers:
    """A few processes, begun when they are first needed and kept for the next errand."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._free: list[_Worker] = []
        self._busy = 0
        self._turn = threading.Condition()

    def warm(self) -> None:
        """Begin one process ahead of the first errand."""
        with self._turn:
            if not self._free and not self._busy:
                self._free.append(_Worker())

    def do(self, errand: Errand, tell: Tell, leash: Leash) -> Any:
        """The result of an errand; waits for a free process and for its answer.

        Raises
        ------
        FileError
            With what is wrong in the input, or if the process was ended by something else.
        Stopped
            If the leash was cut.
        """
        worker = self._taken(leash)
        leash.hold(worker.process)
        kind, said = _answer(worker.pipe, errand, tell)
        leash.hold(None)
        self._give_back(worker if kind != "ended" else None)
        if kind == "ended":
            worker.end()
        return _outcome(kind, said, leash)

    def _taken(self, leash: Leash) -> _Worker:
        with self._turn:
            while self._busy >= self._most:
                if leash.is_cut:
                    raise Stopped
                self._turn.wait(0.1)
            if leash.is_cut:
                raise Stopped
            self._busy += 1
            worker = self._free.pop() if self._free else None
        return worker or _Worker()

    def _give_back(self, worker: _Worker | None) -> None:
        with self._turn:
            self._busy -= 1
            if worker is not None:
                self._free.append(worker)
            self._turn.notify()


def _answer(pipe: Connection, errand: Errand, tell: Tell) -> tuple[str, Any]:
    try:
        pipe.send(errand)
        while True:
            kind, said = pipe.recv()
            if kind != "told":
                return kind, said
            tell(said)
    except (EOFError, OSError):
        return "ended", None


def _outcome(kind: str, said: Any, leash: Leash) -> Any:
    if kind == "done":
        return said
    if kind == "wrong":
        raise FileError(said)
    if leash.is_cut:
        raise Stopped
    if kind == "ended":
        remedy = f"a log may need more than the {MOST_MEMORY >> 30} GB that one piece of work may take: leave it out"
        raise FileError([Fault(problem="the work ended before its answer", remedy=remedy)])
    raise RuntimeError(f"an errand failed in its process:\n{said}")


def _serve_errands(pipe: Connection) -> None:
    """The life of a process: errands until the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the server, which ends us
    _limit_memory()
    from boostwright.web.studies import studies_of  # heavy, and of no use to the server itself

    while True:
        try:
            errand = pipe.recv()
        except (EOFError, OSError):
            return
        pipe.send(_done(errand, studies_of, lambda progress: pipe.send(("told", progress))))


def _done(errand: Errand, studies_of: Callable[[Path], Any], tell: Tell) -> tuple[str, Any]:
    from boostwright.web.faults import faults_of

    try:
        return "done", getattr(studies_of(errand.folder), errand.name)(tell, *errand.arguments)
    except BoostwrightError as wrong:
        return "wrong", tuple(faults_of(wrong))
    except MemoryError:
        remedy = "leave the largest log out, or thin it"
        return "wrong", (Fault(problem="the logs need more memory than one piece of work may take", remedy=remedy),)
    except Exception:  # noqa: BLE001  it is our bug, and is raised again where it can be answered
        return "failed", traceback.format_exc()


def _limit_memory() -> None:
    try:
        import resource
    except ImportError:  # a system without such limits
        return
    _, most = resource.getrlimit(resource.RLIMIT_DATA)
    if most == resource.RLIM_INFINITY or most > MOST_MEMORY:
        resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY, most))

"""Work under way: each piece made once for all who wait for it, kept by what it was made from, ended when nobody waits.

What is asked here is answered in other processes; the event loop only waits, so that everybody else is served.
"""

import asyncio
import threading
import time
from collections.abc import AsyncIterator, Callable, Generator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import anyio.to_thread

from boostwright.web.workers import Errand, Leash, Progress, Stopped, Workers

Result = TypeVar("Result")

MOST_KEPT: Final = 64
_TICK: Final = 0.5  # s between two words of progress when nothing else is said
_WAITING: Final = Progress(words="Waiting for other work to end")


@dataclass(frozen=True, kw_only=True)
class Told:
    """How far a piece of work is: its words, the share behind it in percent, seconds gone and, if known, left."""

    words: str
    percent: float | None
    elapsed_s: float
    left_s: float | None


class _Bell:
    """Wakes one who waits, from another thread."""

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self.rung = asyncio.Event()

    def ring(self) -> None:
        with suppress(RuntimeError):  # the loop was closed meanwhile: nobody waits there
            self._loop.call_soon_threadsafe(self.rung.set)


class Job:
    """One piece of work: how far it is, and in the end its result or what was wrong."""

    def __init__(self) -> None:
        self.leash = Leash()
        self.waiting = 0
        self.is_over = False
        self._result: Any = None
        self._wrong: BaseException | None = None
        self._said = _WAITING
        self._started = time.monotonic()
        self._bells: set[_Bell] = set()
        self._lock = threading.Lock()

    def do(self, workers: Workers, errand: Errand) -> None:
        """Have it done, in a thread that waits for the process."""
        try:
            self._result = workers.do(errand, self._tell, self.leash)
        except BaseException as wrong:  # noqa: BLE001  raised again where the result is asked for
            self._wrong = wrong

    def end(self) -> None:
        """Wake everybody who waits for it."""
        self.is_over = True
        self._ring()

    def _tell(self, progress: Progress) -> None:
        if self._said is _WAITING:
            self._started = time.monotonic()
        self._said = progress
        self._ring()

    def _ring(self) -> None:
        with self._lock:
            bells = list(self._bells)
        for bell in bells:
            bell.ring()

    @property
    def succeeded(self) -> bool:
        """Whether it came to a result."""
        return self._wrong is None

    def result(self) -> Any:
        """The result, or the error, of work that is over."""
        if self._wrong is not None:
            raise self._wrong
        return self._result

    def told(self) -> Told:
        """How far it is now."""
        elapsed, share = time.monotonic() - self._started, self._said.share
        left = elapsed * (1.0 - share) / share if share is not None and share > 0.1 and elapsed > 0.3 else None
        percent = None if share is None else round(100.0 * share, 1)
        words = self._said.words
        return Told(words=words, percent=percent, elapsed_s=round(elapsed, 1), left_s=left and round(left, 1))

    async def progress(self) -> AsyncIterator[Told]:
        """How far it is, whenever that changes and every half second, until it is over."""
        bell = _Bell()
        with self._lock:
            self._bells.add(bell)
        try:
            while not self.is_over:
                yield self.told()
                try:
                    async with asyncio.timeout(_TICK):  # `wait_for` forgets a cancellation that comes with the bell
                        await bell.rung.wait()
                except TimeoutError:
                    continue
                bell.rung.clear()
        finally:
            with self._lock:
                self._bells.discard(bell)


class Workshop:
    """All work of one server: long studies on some processes, what answers a hand at once on another."""

    def __init__(self, long: Workers, prompt: Workers) -> None:
        self.long = long
        self.prompt = prompt
        self._kept: dict[str, Job] = {}
        self._under_way: dict[str, Job] = {}
        self._guard = threading.Lock()

    async def beside(self, work: Callable[[], Result]) -> Result:
        """Do what takes a moment in a thread."""
        return await anyio.to_thread.run_sync(work)

    def kept(self, key: str) -> Any:
        """A result that was made, or nothing."""
        with self._guard:
            job = self._kept.get(key)
        return None if job is None else job.result()

    @contextmanager
    def joined(self, key: str, errand: Errand, *, is_long: bool) -> Generator[Job]:
        """The work of this key, begun now if nobody has; who leaves last while it is long and not over ends it."""
        job = self._entered(key, errand, self.long if is_long else self.prompt)
        try:
            yield job
        finally:
            self._left(key, job, is_long=is_long)

    async def made(self, key: str, errand: Errand, *, is_long: bool = True) -> Any:
        """The result of this key."""
        with self.joined(key, errand, is_long=is_long) as job:
            async for _ in job.progress():
                pass
            return job.result()

    def _entered(self, key: str, errand: Errand, workers: Workers) -> Job:
        with self._guard:
            job = self._kept.get(key) or self._under_way.get(key)
            if job is None:
                job = self._under_way[key] = Job()
                threading.Thread(target=self._finished, args=(key, job, workers, errand), daemon=True).start()
            job.waiting += 1
            return job

    def _finished(self, key: str, job: Job, workers: Workers, errand: Errand) -> None:
        job.do(workers, errand)
        with self._guard:
            if self._under_way.get(key) is job:
                del self._under_way[key]
            if job.succeeded:
                self._kept[key] = job
                while len(self._kept) > MOST_KEPT:
                    del self._kept[next(iter(self._kept))]
        job.end()  # last, so that nobody who comes now joins work that has failed

    def _left(self, key: str, job: Job, *, is_long: bool) -> None:
        with self._guard:
            job.waiting -= 1
            is_forsaken = is_long and job.waiting == 0 and not job.is_over
            if is_forsaken and self._under_way.get(key) is job:
                del self._under_way[key]
        if is_forsaken:
            job.leash.cut()


__all__ = ["Job", "Stopped", "Told", "Workshop"]

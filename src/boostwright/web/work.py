"""Work beside the event loop: in threads, a few at once, each result made once and kept by what it was made from."""

import threading
from collections.abc import Callable
from typing import Any, Final, TypeVar, cast

import anyio.to_thread
from anyio import CapacityLimiter

Result = TypeVar("Result")

MOST_KEPT: Final = 64
AT_ONCE: Final = 2


class Workshop:
    """Results by their key; two who ask for the same at once wait for one piece of work."""

    def __init__(self) -> None:
        self._kept: dict[str, Any] = {}
        self._locks: dict[str, threading.Lock] = {}
        self._guard = threading.Lock()
        self._limiter: CapacityLimiter | None = None

    async def promptly(self, work: Callable[[], Result]) -> Result:
        """Do what takes a moment in a thread; it never waits for a study."""
        return await anyio.to_thread.run_sync(work)

    async def beside(self, work: Callable[[], Result]) -> Result:
        """Do a study in a thread, a few at once."""
        if self._limiter is None:
            self._limiter = CapacityLimiter(AT_ONCE)
        return await anyio.to_thread.run_sync(work, limiter=self._limiter)

    def kept(self, key: str, work: Callable[[], Result]) -> Result:
        """The result of this key, made now if it is not there; called in a thread."""
        with self._guard:
            lock = self._locks.setdefault(key, threading.Lock())
        with lock:
            if key in self._kept:
                return cast("Result", self._kept[key])
            try:
                result = work()
                self._keep(key, result)
                return result
            finally:
                self._locks.pop(key, None)

    def _keep(self, key: str, result: object) -> None:
        with self._guard:
            self._kept[key] = result
            while len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]

"""Stands for the studies in a process of the tests: imports little, so that it begins at once."""

import os
import time
from multiprocessing.connection import Connection

from boostwright.web import workers as processes
from boostwright.web.workers import Progress


class Slow:
    """Counts, takes long, dies, or wants too much."""

    def count(self, tell, much: int) -> int:
        tell(Progress(words="counting", share=0.5))
        return much + 1

    def sleep(self, tell) -> None:
        tell(Progress(words="sleeping"))
        time.sleep(60)

    def die(self, tell) -> None:
        os._exit(1)

    def hoard(self, tell) -> None:
        bytearray(processes.MOST_MEMORY + (1 << 30))

    def fail(self, tell) -> None:
        raise KeyError("ours")


def serve(pipe: Connection) -> None:
    """The life of such a process."""
    processes._limit_memory()
    while True:
        try:
            errand = pipe.recv()
        except EOFError:
            return
        pipe.send(processes._done(errand, lambda _: Slow(), lambda told: pipe.send(("told", told))))

"""How long a piece of work takes, for ratios within one run."""

import time
from collections.abc import Callable


def best(work: Callable[[], object], runs: int, clock: Callable[[], float] = time.process_time) -> float:
    """Least time of several runs, after one that compiles and does not count. [s]

    `clock` is that of the process; give `time.perf_counter` for work that runs on several cores.
    """
    work()
    times: list[float] = []
    for _ in range(runs):
        begun = clock()
        work()
        times.append(clock() - begun)
    return min(times)

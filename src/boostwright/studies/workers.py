"""Who does the portions of a long study: this process, others beside it, or those of a cluster.

What comes back hangs on the portion alone, never on who did it, how many there were, or in which order they ended.
"""

import io
import multiprocessing
import os
import threading
from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from types import TracebackType

import numba  # type: ignore[import-untyped]
import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError
from boostwright.studies.vary import Chunk, VaryStudy, chunk_table

MOST_RESTARTS = 3
_ONE_AT_A_TIME = threading.Lock()  # threads of one worker must not enter the parallel kernels side by side


def chunk_bytes(chunk: Chunk) -> bytes:
    """The table of a chunk as the bytes of a Parquet file."""
    with _ONE_AT_A_TIME:
        table = chunk_table(chunk)
    target = io.BytesIO()
    table.write_parquet(target)
    return target.getvalue()


class Workers(ABC):
    """Somebody who does chunks."""

    @abstractmethod
    def results(self, work: Sequence[Chunk]) -> Iterator[tuple[int, bytes]]:
        """First design number and table of each chunk, as they are done."""

    def __enter__(self) -> "Workers":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Send the workers home."""
        self.close()

    @abstractmethod
    def close(self) -> None:
        """Send the workers home."""


class ThisProcess(Workers):
    """The process that asks, one chunk after another."""

    def results(self, work: Sequence[Chunk]) -> Iterator[tuple[int, bytes]]:
        """First design number and table of each chunk, in their order."""
        for chunk in work:
            yield chunk.first, chunk_bytes(chunk)

    def close(self) -> None:
        """Nobody is to be sent home."""


class LocalProcesses(Workers):
    """Processes on this machine for one study; when one dies, what it had is given to new ones.

    Each process gets the study once, when it begins: were it sent with every chunk, the pipe could be full when a
    process dies, and Python before 3.12.1 would then wait for a reader that is no more.
    """

    def __init__(self, worker_count: int) -> None:
        self._count = worker_count
        self._pool: ProcessPoolExecutor | None = None
        self._study: VaryStudy | None = None

    def results(self, work: Sequence[Chunk]) -> Iterator[tuple[int, bytes]]:
        """First design number and table of each chunk, as they are done."""
        left = {chunk.first: chunk for chunk in work}
        for _ in range(1 + MOST_RESTARTS):
            try:
                for number, data in self._done(list(left.values())):
                    del left[number]
                    yield number, data
                return
            except BrokenProcessPool:
                self._leave(wait_for_end=False)
        raise DataError(
            f"worker processes were ended {1 + MOST_RESTARTS} times by the system, as when memory runs out; "
            "run with --workers 1, or fewer sets"
        )

    def _done(self, work: list[Chunk]) -> Iterator[tuple[int, bytes]]:
        """Results as they come, with never more than a few chunks on the way: memory must not grow with the study."""
        if not work:
            return
        pool = self._pool_for(work[0].study)
        coming, on_the_way = iter(work), dict[Future[bytes], int]()
        while True:
            while len(on_the_way) < 2 * self._count and (chunk := next(coming, None)) is not None:
                on_the_way[pool.submit(_portion_bytes, chunk.first, chunk.designs)] = chunk.first
            if not on_the_way:
                return
            for future in wait(on_the_way, return_when=FIRST_COMPLETED).done:
                yield on_the_way.pop(future), future.result()

    def _pool_for(self, study: VaryStudy) -> ProcessPoolExecutor:
        if self._pool is None or study is not self._study:
            self._leave(wait_for_end=True)
            self._study = study
            self._pool = ProcessPoolExecutor(
                self._count,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=_begin_work,
                initargs=(study,),
            )
        return self._pool

    def close(self) -> None:
        """End the processes; what they have not begun is left."""
        self._leave(wait_for_end=True)

    def _leave(self, *, wait_for_end: bool) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=wait_for_end, cancel_futures=True)
            self._pool = None


class _AtWork:
    """The study that a process of `LocalProcesses` works on."""

    study: VaryStudy | None = None


def _begin_work(study: VaryStudy) -> None:
    _AtWork.study = study
    numba.set_num_threads(1)  # type: ignore[no-untyped-call]
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _portion_bytes(first: int, designs: NDArray[np.float64]) -> bytes:
    if _AtWork.study is None:
        raise RuntimeError("a process was given designs before it was given their study")
    return chunk_bytes(Chunk(study=_AtWork.study, first=first, designs=designs))


def _end_with_parent() -> None:
    """A parent that is killed cannot send anybody home: its workers would wait for work for ever."""
    if (parent := multiprocessing.parent_process()) is not None:
        parent.join()
        os._exit(1)

"""Chunks of a study done by a Dask cluster: the extra `cluster` brings it."""

from collections.abc import Iterator, Sequence
from typing import Any

from distributed import Client, as_completed  # type: ignore[import-untyped]

from boostwright.errors import DataError
from boostwright.studies.vary import Chunk
from boostwright.studies.workers import Workers, chunk_bytes

ANSWER_WITHIN = 20.0  # s, of the scheduler
CHUNKS_A_THREAD = 4  # on the way at one time


class Cluster(Workers):
    """Workers behind a scheduler; what a worker had when it was lost is done again by another."""

    def __init__(self, address: str) -> None:
        try:
            self._client: Any = Client(address, timeout=ANSWER_WITHIN)
        except (OSError, ValueError) as wrong:
            raise DataError(
                f"--scheduler {address}: nobody answers there; start one with `dask scheduler`, and workers with "
                "`dask worker ADDRESS --nthreads 1`"
            ) from wrong

    def results(self, work: Sequence[Chunk]) -> Iterator[tuple[int, bytes]]:
        """First design number and table of each chunk, as they are done."""
        threads = sum(self._client.nthreads().values())
        coming = iter(work)
        first = [
            self._submit(chunk) for chunk, _ in zip(coming, range(max(1, CHUNKS_A_THREAD * threads)), strict=False)
        ]
        numbers = {future.key: number for number, future in first}
        done = as_completed([future for _, future in first])
        for future in done:
            yield numbers.pop(future.key), future.result()
            if (chunk := next(coming, None)) is not None:
                number, another = self._submit(chunk)
                numbers[another.key] = number
                done.add(another)

    def _submit(self, chunk: Chunk) -> tuple[int, Any]:
        return chunk.first, self._client.submit(chunk_bytes, chunk, pure=False)

    def close(self) -> None:
        """Leave the cluster, which stays as it was."""
        self._client.close()

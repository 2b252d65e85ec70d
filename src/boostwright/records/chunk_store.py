"""Results of a long study, kept in portions: what is done stays done when the program is stopped in any way.

Beside the wanted file, `grid.parquet`, stands the folder `grid.parquet.parts` with a manifest, which says whose results
they are, and one Parquet file a portion. A portion is there whole or not at all. When all are there they become the one
file, which keeps the name of its study in its metadata, and the folder goes.
"""

import json
import os
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl
from polars.exceptions import PolarsError

from boostwright.errors import Fault, FileError
from boostwright.records.atomic import write_atomically

STUDY_KEY = "boostwright.study"
_MANIFEST = "study.json"


@dataclass(frozen=True, kw_only=True)
class ChunkStore:
    """Portions of one study on disk; `digest` names the study, and nothing of another study is ever mixed in."""

    target: Path
    digest: str

    @property
    def folder(self) -> Path:
        """Where the portions are until they are one file."""
        return self.target.with_name(f"{self.target.name}.parts")

    @property
    def is_complete(self) -> bool:
        """Whether the one file is there."""
        return self.target.exists()

    def known(self) -> set[int]:
        """First design numbers of the portions that are there and can be read."""
        return {number for number in _numbers(self.folder) if _is_sound(self._part(number))}

    def save(self, number: int, data: bytes) -> None:
        """Keep one portion, as the bytes of a Parquet file."""
        write_atomically(self._part(number), data)

    def read(self, number: int) -> pl.DataFrame:
        """One portion."""
        return pl.read_parquet(self._part(number))

    def finish(self, numbers: Iterable[int]) -> None:
        """Make one file of these portions, in this order, and remove the folder."""
        whole = self.folder / "whole.part"
        parts = [self._part(number) for number in numbers]
        pl.scan_parquet(parts).sink_parquet(whole, metadata={STUDY_KEY: self.digest}, maintain_order=True)
        os.replace(whole, self.target)
        self.tidy()

    def tidy(self) -> None:
        """Remove what is left of the portions once the one file is there."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def blocks(self, columns: list[str], rows: int) -> Iterator[pl.DataFrame]:
        """The finished file in blocks of so many rows, these columns only: memory does not grow with the file."""
        table = pl.scan_parquet(self.target).select(columns)
        height = pl.scan_parquet(self.target).select(pl.len()).collect().item()
        for start in range(0, height, rows):
            yield table.slice(start, rows).collect()

    def _part(self, number: int) -> Path:
        return self.folder / f"{number:09d}.parquet"


def open_store(target: Path, digest: str, title: str) -> ChunkStore:
    """The portions of a study beside the file that they will become; made anew, or found again after an interruption.

    Raises
    ------
    FileError
        If the file or the folder belongs to another study, or cannot be made.
    """
    store = ChunkStore(target=target, digest=digest)
    if target.suffix.lower() != ".parquet":
        raise _refusal(target, "is not the name of a results file", "end it in .parquet")
    if target.exists() and _digest_of_file(target) != digest:
        raise _refusal(target, "holds the results of another study", "give another name, or delete the file")
    manifest = store.folder / _MANIFEST
    if manifest.exists():
        said = _read_manifest(manifest)
        if said.get("study") != digest:
            problem = f"holds portions of another study ({said.get('title', 'unknown')})"
            raise _refusal(store.folder, problem, "give another name to --results, or delete the folder")
    elif store.folder.exists() and any(store.folder.iterdir()):
        raise _refusal(store.folder, "is not empty, and no study is named in it", "give another name to --results")
    if target.exists():
        store.tidy()
    else:
        write_atomically(manifest, json.dumps({"study": digest, "title": title}, indent=1).encode("utf-8"))
        for left in store.folder.glob(".*.part"):  # of a portion that was being written when the program was stopped
            left.unlink(missing_ok=True)
    return store


def _refusal(path: Path, problem: str, remedy: str) -> FileError:
    return FileError([Fault(file=str(path), problem=problem, remedy=remedy)])


def _digest_of_file(path: Path) -> str | None:
    try:
        return pl.read_parquet_metadata(path).get(STUDY_KEY)
    except (PolarsError, OSError):
        return None


def _read_manifest(path: Path) -> dict[str, str]:
    try:
        return dict(json.loads(path.read_text(encoding="utf-8")))
    except (ValueError, OSError):
        return {}


def _numbers(folder: Path) -> Iterator[int]:
    for path in folder.glob("*.parquet"):
        if path.stem.isdigit():
            yield int(path.stem)


def _is_sound(path: Path) -> bool:
    try:
        return pl.scan_parquet(path).select(pl.len()).collect().item() > 0
    except (PolarsError, OSError):
        return False

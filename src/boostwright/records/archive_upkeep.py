"""Looking after an archive: is all there and whole, what was left behind, and moving pulls from one to another."""

import os
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import polars as pl

from boostwright.errors import Fault, FileError
from boostwright.nomenclature import WORDS
from boostwright.records.archive import (
    PART,
    PULLS,
    Addition,
    Archive,
    ArchivedPull,
    Channels,
    Search,
    add_pulls,
    archived_channels,
    created,
    described,
    digests,
    found_pulls,
    index_of,
    insert,
    let_the_latest_stand,
    make_index,
)
from boostwright.records.parquet import DAMAGED_PARQUET

_LOG_UNITS = {"Pa": "Pa abs", "-": "1"}  # where a log says more than an equation does

SETTLED = 3600.0
"""Seconds after which a file that no index names is nobody's work in progress."""


@dataclass(frozen=True, kw_only=True)
class Upkeep:
    """What a repair did: unfinished files removed, whole pulls named again, and whether the index was made anew."""

    removed: int
    named: int
    index_made: bool


def check_archive(archive: Archive) -> Iterator[Fault]:
    """Everything that is not as the index says: each pull is read and its digest computed again."""
    for pull in found_pulls(archive, Search(with_superseded=True)):
        path = archive.path(pull)
        try:
            computed, _ = digests(pull.description, archived_channels(archive, pull))
        except FileError as wrong:
            yield from wrong.faults
            continue
        if computed != pull.digest:
            problem = "does not hold what was added under its name"
            yield Fault(file=str(path), problem=problem, remedy="take it from a backup, or add the pull again")


def repair_archive(folder: Path, now: float | None = None) -> Upkeep:
    """Remove what stopped programs left behind, and name whole pulls that the index has lost.

    An index that cannot be read is set aside and made again from the pulls. Files younger than an hour are left alone,
    unless the index is made again: another program may be about to name them.
    """
    archive = Archive(folder=folder)
    made = not _is_sound(archive)
    if made:
        _set_aside(archive)
        archive.folder.mkdir(parents=True, exist_ok=True)
        with index_of(archive) as connection:
            make_index(connection)
    settled = (time.time() if now is None else now) - SETTLED
    removed = 0
    for part in sorted((folder / PULLS).glob(f"*/.*{PART}")):
        if part.stat().st_mtime < settled:
            part.unlink(missing_ok=True)
            removed += 1
    return Upkeep(removed=removed, named=_named_again(archive, None if made else settled), index_made=made)


def copied(source: Archive, target: Path, search: Search, added: datetime) -> Iterator[Addition]:
    """Copy the pulls that match into another archive, made if it is not there."""
    pulls = found_pulls(source, search)
    return add_pulls(created(target), ((pull.description, archived_channels(source, pull)) for pull in pulls), added)


def _is_sound(archive: Archive) -> bool:
    if not archive.index.is_file():
        return False
    try:
        with index_of(archive) as connection:
            whole = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            connection.execute("SELECT digest FROM pulls LIMIT 1")
    except FileError as wrong:
        if isinstance(wrong.__cause__, sqlite3.OperationalError) and "locked" in str(wrong.__cause__):
            raise
        return False
    return whole


def _set_aside(archive: Archive) -> None:
    """Keep the damaged index beside the new one."""
    for suffix in ("", "-wal", "-shm"):
        part = Path(f"{archive.index}{suffix}")
        if part.exists():
            place = next(p for p in (Path(f"{part}.damaged-{n}") for n in range(1, 10_000)) if not p.exists())
            os.replace(part, place)


def _named_again(archive: Archive, settled: float | None) -> int:
    known = {pull.digest for pull in found_pulls(archive, Search(with_superseded=True))}
    lost = [path for path in sorted((archive.folder / PULLS).glob("*/*.parquet")) if path.stem not in known]
    if settled is not None:
        lost = [path for path in lost if path.stat().st_mtime < settled]
    whole = sorted(filter(None, map(_whole_pull, lost)), key=lambda pull: (pull.added, pull.digest))
    with index_of(archive) as connection:
        for pull in whole:
            insert(connection, pull)
            let_the_latest_stand(connection, pull.log_digest)
    return len(whole)


def _whole_pull(path: Path) -> ArchivedPull | None:
    """The pull in a Parquet file, if the file is whole and holds what its name says."""
    try:
        description, added = described(pl.read_parquet_metadata(path))
        frame = pl.read_parquet(path)
    except (OSError, ValueError, *DAMAGED_PARQUET):
        return None
    channels = {name: np.asarray(frame[name].to_numpy(), np.float64) for name in frame.columns}
    digest, log_digest = digests(description, channels)
    if digest != path.stem:
        return None
    return ArchivedPull(
        digest=digest,
        log_digest=log_digest,
        description=description,
        quantities=tuple(sorted(channels)),
        samples=frame.height,
        added=added,
    )


def channels_csv(channels: Channels) -> bytes:
    """A pull as a log that `read_log` understands: names and SI units in the header."""
    units = {name: WORDS[name].unit for name in channels}
    named = {f"{name} [{_LOG_UNITS.get(units[name], units[name])}]": values for name, values in channels.items()}
    return pl.DataFrame(named).write_csv().encode()

"""All the pulls of a firm: one Parquet file a pull, found through an SQLite index.

A pull is written to its Parquet file first, whole and flushed to disk, and named in the index afterwards, in one
transaction: what the index names is complete, and what a stopped program left behind is named nowhere. The Parquet file
also carries the description of its pull, so that a lost index can be made again (`archive_upkeep`).
"""

import hashlib
import json
import os
import sqlite3
from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from itertools import islice
from pathlib import Path
from threading import get_ident
from typing import Any, Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.records.parquet import DAMAGED_PARQUET

Channels = Mapping[str, NDArray[np.float64]]

INDEX = "index.sqlite"
PULLS = "pulls"
DESCRIPTION = "boostwright.pull"  # key of the description in the metadata of a Parquet file
PART = ".part"
_VERSION = 1
_PATIENCE = 60.0  # seconds that a writer waits for another one
_BATCH = 16  # pulls that are acknowledged together
_HANDS = 4  # pulls written at a time: digesting, packing and waiting for the disk overlap
_SQL_TYPES = {str: "TEXT NOT NULL", int: "INTEGER NOT NULL", float: "REAL NOT NULL"}


@dataclass(frozen=True, kw_only=True)
class PullDescription:
    """What the archive knows of a pull beside its channels.

    `level` is the mean of the logarithm of corrected torque over the declared range, where the pull covers all of it;
    `fault` is what the screen found. Texts that nobody gave are empty; moments are ISO 8601.
    """

    campaign: str
    stand: str
    engine_family: str
    setup: str
    build: str
    file: str
    session: str
    installation: int
    started: str
    barometer: float | None
    air_temperature: float | None
    relative_humidity: float | None
    soak_temperature: float | None
    speed_from: float
    speed_to: float
    correction: str
    level: float | None
    fault: str


@dataclass(frozen=True, kw_only=True)
class ArchivedPull:
    """One row of the index. `superseded_by` is the digest of the same log described anew, empty while it stands."""

    digest: str
    log_digest: str
    description: PullDescription
    quantities: tuple[str, ...]
    samples: int
    added: str
    superseded_by: str = ""


@dataclass(frozen=True, kw_only=True)
class Addition:
    """What became of a pull that was to be added; whoever receives it may rely on the pull being kept."""

    pull: ArchivedPull
    outcome: Literal["added", "known", "described anew"]


@dataclass(frozen=True, kw_only=True)
class Search:
    """Which pulls are wanted; what is `None` does not matter. Days are ISO dates, the last one included."""

    stand: str | None = None
    engine_family: str | None = None
    setup: str | None = None
    build: str | None = None
    campaign: str | None = None
    quantity: str | None = None
    first_day: str | None = None
    last_day: str | None = None
    digest: str | None = None
    with_superseded: bool = False


@dataclass(frozen=True, kw_only=True)
class Archive:
    """An archive that is known to be one; `opened` and `created` make it."""

    folder: Path

    @property
    def index(self) -> Path:
        """Path of the index."""
        return self.folder / INDEX

    def path(self, pull: ArchivedPull) -> Path:
        """Path of a pull's Parquet file: a folder a month, a file a pull."""
        return self.folder / PULLS / pull.description.started[:7] / f"{pull.digest}.parquet"


def created(folder: Path) -> Archive:
    """Return the archive of a folder, made if it is not there yet.

    Raises
    ------
    FileError
        If the folder holds something else, or cannot be written to.
    """
    if (folder / INDEX).exists():
        return opened(folder)
    if folder.exists() and (not folder.is_dir() or any(entry.name != PULLS for entry in folder.iterdir())):
        problem = "is not an archive, and not an empty folder that one could be made in"
        raise FileError([Fault(file=str(folder), problem=problem, remedy="name a folder of its own for the archive")])
    try:
        (folder / PULLS).mkdir(parents=True, exist_ok=True)
        with closing(_connected(folder / INDEX)) as connection:
            make_index(connection)
    except (OSError, sqlite3.OperationalError) as wrong:
        problem = f"cannot be made: {wrong}"
        raise FileError([Fault(file=str(folder), problem=problem, remedy="give a folder you may write in")]) from wrong
    return Archive(folder=folder)


def opened(folder: Path) -> Archive:
    """Return the archive of a folder.

    Raises
    ------
    FileError
        If there is none, its index is damaged, or a later version of boostwright made it.
    """
    archive = Archive(folder=folder)
    if not archive.index.is_file():
        remedy = f"make one with: boostwright archive add --archive {folder} CAMPAIGN"
        if any((folder / PULLS).glob("*/*.parquet")):
            remedy = f"its pulls are there: make the index again with: boostwright archive repair --archive {folder}"
        raise FileError([Fault(file=str(folder), problem="holds no archive", remedy=remedy)])
    with index_of(archive) as connection:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version != _VERSION:
        problem = f"is of form {version}, and this version of boostwright reads form {_VERSION}"
        raise FileError([Fault(file=str(archive.index), problem=problem, remedy="use the version that made it")])
    return archive


def add_pulls(
    archive: Archive, pulls: Iterable[tuple[PullDescription, Channels]], added: datetime
) -> Iterator[Addition]:
    """Add pulls; each addition comes out once it is on disk and in the index, in the order that the pulls came in.

    The same pull is kept once, whoever adds it and however often. The same log described otherwise (a corrected
    barometer, another setup) is added and stands in place of the earlier one, which is kept.
    """
    source = iter(pulls)
    with ThreadPoolExecutor(_HANDS) as hands:
        while batch := list(islice(source, _BATCH)):
            waiting = [hands.submit(_written, archive, description, channels, added) for description, channels in batch]
            rows = [written.result() for written in waiting]
            for month in sorted({archive.path(row).parent for row in rows}):
                _flushed(month)
            with index_of(archive) as connection:
                additions = [_indexed(connection, row) for row in rows]
            yield from additions


def found_pulls(archive: Archive, search: Search) -> tuple[ArchivedPull, ...]:
    """The pulls that match, oldest first."""
    clauses = [f"{key} = ?" for key in _EQUAL if getattr(search, key) is not None]
    values = [getattr(search, key) for key in _EQUAL if getattr(search, key) is not None]
    if search.first_day is not None:
        clauses, values = [*clauses, "started >= ?"], [*values, search.first_day]
    if search.last_day is not None:
        clauses, values = [*clauses, "substr(started, 1, 10) <= ?"], [*values, search.last_day]
    if search.digest is not None:
        clauses, values = [*clauses, "substr(digest, 1, ?) = ?"], [*values, len(search.digest), search.digest]
    if search.quantity is not None:
        clauses, values = [*clauses, "',' || quantities || ',' LIKE ?"], [*values, f"%,{search.quantity},%"]
    if not search.with_superseded:
        clauses.append("superseded_by = ''")
    where = f" WHERE {' AND '.join(clauses)}" if clauses else ""
    order = " ORDER BY started, digest"
    with index_of(archive) as connection:
        return tuple(_row(row) for row in connection.execute(f"SELECT * FROM pulls{where}{order}", values))


def one_pull(archive: Archive, digest: str) -> ArchivedPull:
    """The pull whose digest begins with the given letters.

    Raises
    ------
    FileError
        If none does, or several do.
    """
    found = found_pulls(archive, Search(digest=digest.lower(), with_superseded=True))
    if len(found) != 1 or not digest:
        problem = "begins the digest of no pull" if not found else f"begins the digests of {len(found)} pulls"
        remedy = "copy it from: boostwright archive list"
        raise FileError([Fault(file=str(archive.folder), value=f'"{digest}"', problem=problem, remedy=remedy)])
    return found[0]


def archived_channels(archive: Archive, pull: ArchivedPull) -> dict[str, NDArray[np.float64]]:
    """The channels of a pull, in SI.

    Raises
    ------
    FileError
        If its file is gone or damaged.
    """
    try:
        frame = pl.read_parquet(archive.path(pull))
    except (OSError, *DAMAGED_PARQUET) as wrong:
        problem = f"cannot be read: {next(iter(str(wrong).splitlines()), 'it is damaged')}"
        remedy = f"run: boostwright archive check --archive {archive.folder}"
        raise FileError([Fault(file=str(archive.path(pull)), problem=problem, remedy=remedy)]) from wrong
    return {name: np.asarray(frame[name].to_numpy(), np.float64) for name in frame.columns}


@contextmanager
def index_of(archive: Archive) -> Generator[sqlite3.Connection]:
    """A connection to the index, in one transaction that is kept if all went well.

    Raises
    ------
    FileError
        If the index is damaged, or another program holds it for a minute.
    """
    try:
        with closing(_connected(archive.index)) as connection, connection:
            yield connection
    except sqlite3.DatabaseError as wrong:
        remedy = f"run: boostwright archive repair --archive {archive.folder}"
        if "locked" in str(wrong):
            remedy = "another program is writing to it: wait for it, and do it again"
        raise FileError([Fault(file=str(archive.index), problem=f"cannot be used: {wrong}", remedy=remedy)]) from wrong


def make_index(connection: sqlite3.Connection) -> None:
    """Make the table of an empty index; one that is made already stays as it is."""
    columns = ", ".join(f"{name} {kind}" for name, kind in _COLUMNS.items())
    connection.execute(f"CREATE TABLE IF NOT EXISTS pulls ({columns}, PRIMARY KEY (digest)) WITHOUT ROWID")
    connection.execute("CREATE INDEX IF NOT EXISTS by_stand ON pulls (stand, engine_family, setup, started)")
    connection.execute("CREATE INDEX IF NOT EXISTS by_log ON pulls (log_digest)")
    connection.execute(f"PRAGMA user_version = {_VERSION}")
    connection.commit()


def insert(connection: sqlite3.Connection, pull: ArchivedPull) -> bool:
    """Name a pull in the index; false if it was there already."""
    row = _flat(pull)
    marks = ", ".join("?" * len(row))
    command = f"INSERT OR IGNORE INTO pulls ({', '.join(row)}) VALUES ({marks})"
    return connection.execute(command, list(row.values())).rowcount > 0


def let_the_latest_stand(connection: sqlite3.Connection, log_digest: str) -> bool:
    """Of all descriptions of one log, let the one added last stand; true if there are several."""
    asked = "SELECT digest FROM pulls WHERE log_digest = ? ORDER BY added DESC, digest DESC"
    latest, *earlier = [row["digest"] for row in connection.execute(asked, [log_digest])]
    command = "UPDATE pulls SET superseded_by = CASE digest WHEN ? THEN '' ELSE ? END WHERE log_digest = ?"
    connection.execute(command, [latest, latest, log_digest])
    return bool(earlier)


def digests(description: PullDescription, channels: Channels) -> tuple[str, str]:
    """Digest of the pull as described, and of its channels alone."""
    log = hashlib.sha256()
    for name in sorted(channels):
        log.update(name.encode() + b"\0")
        log.update(np.ascontiguousarray(channels[name], "<f8").data)
    said = json.dumps(asdict(description), sort_keys=True, ensure_ascii=False).encode()
    return hashlib.sha256(log.digest() + said).hexdigest(), log.hexdigest()


def described(metadata: Mapping[str, str]) -> tuple[PullDescription, str]:
    """The description and the moment of adding that a Parquet file carries.

    Raises
    ------
    ValueError
        If they are not there or not whole.
    """
    try:
        said = json.loads(metadata[DESCRIPTION])
        return PullDescription(**said["pull"]), str(said["added"])
    except (KeyError, TypeError) as wrong:
        raise ValueError("carries no description of its pull") from wrong


def _connected(index: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(index, timeout=_PATIENCE, isolation_level="IMMEDIATE")
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    return connection


def _written(archive: Archive, description: PullDescription, channels: Channels, added: datetime) -> ArchivedPull:
    """Put the Parquet file of a pull in place, flushed to disk, unless it is there."""
    digest, log_digest = digests(description, channels)
    pull = ArchivedPull(
        digest=digest,
        log_digest=log_digest,
        description=description,
        quantities=tuple(sorted(channels)),
        samples=max((values.size for values in channels.values()), default=0),
        added=added.isoformat(timespec="microseconds"),
    )
    path = archive.path(pull)
    if path.exists():
        return pull
    said = json.dumps({"pull": asdict(description), "added": pull.added}, ensure_ascii=False)
    part = path.with_name(f".{path.name}.{os.getpid()}-{get_ident()}{PART}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        pl.DataFrame(dict(channels)).write_parquet(part, metadata={DESCRIPTION: said})
        _flushed(part)
        os.replace(part, path)
    except OSError as wrong:
        part.unlink(missing_ok=True)
        problem = f"cannot be written: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError([Fault(file=str(path), problem=problem, remedy="make room, or check your rights")]) from wrong
    return pull


def _indexed(connection: sqlite3.Connection, pull: ArchivedPull) -> Addition:
    if not insert(connection, pull):
        there = connection.execute("SELECT superseded_by FROM pulls WHERE digest = ?", [pull.digest]).fetchone()
        if not there["superseded_by"]:
            return Addition(pull=pull, outcome="known")
        connection.execute("UPDATE pulls SET added = ? WHERE digest = ?", [pull.added, pull.digest])
    return Addition(
        pull=pull, outcome="described anew" if let_the_latest_stand(connection, pull.log_digest) else "added"
    )


def _flushed(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on disk."""
    if os.name == "nt" and path.is_dir():
        return  # Windows keeps names with the file and opens no folder
    handle = os.open(path, os.O_RDWR if os.name == "nt" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sql_type(annotation: Any) -> str:
    return _SQL_TYPES.get(annotation, "REAL")  # what may be missing is a number


_DESCRIBED = {field.name: _sql_type(field.type) for field in fields(PullDescription)}
_OWN = {"digest": "TEXT NOT NULL", "log_digest": "TEXT NOT NULL", "quantities": "TEXT NOT NULL"}
_COLUMNS = (
    _OWN | {"samples": "INTEGER NOT NULL", "added": "TEXT NOT NULL", "superseded_by": "TEXT NOT NULL"} | _DESCRIBED
)
_EQUAL: Sequence[str] = ("stand", "engine_family", "setup", "build", "campaign")


def _flat(pull: ArchivedPull) -> dict[str, Any]:
    return {
        "digest": pull.digest,
        "log_digest": pull.log_digest,
        "quantities": ",".join(pull.quantities),
        "samples": pull.samples,
        "added": pull.added,
        "superseded_by": pull.superseded_by,
        **asdict(pull.description),
    }


def _row(row: sqlite3.Row) -> ArchivedPull:
    return ArchivedPull(
        digest=row["digest"],
        log_digest=row["log_digest"],
        description=PullDescription(**{name: row[name] for name in _DESCRIBED}),
        quantities=tuple(row["quantities"].split(",")),
        samples=row["samples"],
        added=row["added"],
        superseded_by=row["superseded_by"],
    )

"""An archive of many pulls: rate of adding and of averaging by speed, as ratios to bare Polars on the same files.

python -m benchmarks.archive_speed --pulls 3000
"""

import argparse
import resource
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl

from boostwright.records.archive import Channels, PullDescription, Search, add_pulls, created
from boostwright.studies.archive import speed_profile

NOW = datetime(2026, 3, 20, tzinfo=UTC)
ROWS, CHANNELS = 10_000, 30
EDGES = np.arange(2000.0, 6001.0, 250.0) / 60


def description(name: str, number: int) -> PullDescription:
    """An invented pull; one a minute from the first of January on, every other one of the other setup."""
    moment = np.datetime64("2026-01-01T00:00:00") + np.timedelta64(number, "m")
    return PullDescription(
        campaign="generated",
        stand="bench 2",
        engine_family="workboat six",
        setup="cast" if number % 2 else "machined",
        build="",
        file=name,
        session=str(moment)[:10],
        installation=1,
        started=str(moment),
        barometer=1e5,
        air_temperature=298.0,
        relative_humidity=0.5,
        soak_temperature=None,
        speed_from=50.0,
        speed_to=96.0,
        correction="none",
        level=6.1,
        fault="",
    )


def generated(number: int) -> pl.DataFrame:
    """A log of 30 channels, as noisy and as rounded as a logger writes them."""
    generator = np.random.default_rng(number)
    time_, names = np.arange(ROWS) / 100.0, [f"channel_{k}" for k in range(CHANNELS - 3)]
    noise = generator.normal(0.0, 0.3, (CHANNELS - 2, ROWS))
    values = np.round(100.0 + 10.0 * np.sin(time_ / 9.0 + np.arange(CHANNELS - 2)[:, None]) + noise, 2)
    return pl.DataFrame(
        {"time": time_, "engine_speed": (2000 + 40 * time_) / 60} | dict(zip(["torque", *names], values, strict=True))
    )


def main() -> None:
    """Generate logs, add them both ways in slices that take turns, then average both ways."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pulls", type=int, default=3000)
    parser.add_argument("--folder", type=Path, help="where to work; needs about 2 MB a pull")
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(dir=asked.folder))
    try:
        _measure(folder, asked.pulls)
    finally:
        shutil.rmtree(folder)


def _measure(folder: Path, pulls: int) -> None:
    logs, bare = folder / "logs", folder / "bare"
    logs.mkdir()
    bare.mkdir()
    archive = created(folder / "archive")
    spent = {"bare": 0.0, "archive": 0.0}
    slices = [range(start, min(start + 100, pulls)) for start in range(0, pulls, 100)]
    for numbers in slices:
        for n in numbers:
            generated(n).write_parquet(logs / f"{n}.parquet")
        spent["bare"] += _timed(lambda numbers=numbers: [_copy(logs, bare, n) for n in numbers])
        spent["archive"] += _timed(lambda numbers=numbers: list(add_pulls(archive, _read(logs, numbers), NOW)))
        for n in numbers:
            (logs / f"{n}.parquet").unlink()
    print(
        f"adding {pulls} pulls of {ROWS} rows and {CHANNELS} channels: {pulls / spent['archive']:.0f} pulls a second,"
    )
    print(f"  {spent['archive'] / spent['bare']:.2f} times as long as reading and writing them with bare Polars")
    ours, theirs = [], []
    for _ in range(3):
        theirs.append(_timed(lambda: _bare_means([bare / f"{n}.parquet" for n in range(1, pulls, 2)])))
        ours.append(_timed(lambda: speed_profile(archive, Search(setup="cast"), "torque", EDGES)))
    print(f"mean torque in speed bins over {pulls // 2} pulls of one setup: {min(ours):.2f} s,")
    print(f"  {min(ours) / min(theirs):.2f} times as long as bare Polars")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _copy(source: Path, target: Path, number: int) -> None:
    pl.read_parquet(source / f"{number}.parquet").write_parquet(target / f"{number}.parquet")


def _read(logs: Path, numbers: range) -> Iterator[tuple[PullDescription, Channels]]:
    for n in numbers:
        frame = pl.read_parquet(logs / f"{n}.parquet")
        yield description(f"{n}.parquet", n), {name: frame[name].to_numpy() for name in frame.columns}


def _bare_means(paths: list[Path]) -> pl.DataFrame:
    width = float(EDGES[1] - EDGES[0])
    place = ((pl.col("engine_speed") - float(EDGES[0])) / width).floor().cast(pl.Int32)
    frame = pl.scan_parquet(paths).select(place.alias("bin"), "torque").filter(pl.col("bin").is_between(0, 15))
    return frame.group_by("bin").agg(pl.col("torque").mean()).sort("bin").collect(engine="streaming")


if __name__ == "__main__":
    main()

"""What was understood of a log, or of all the logs of a folder: columns, units, ranges, rates, the sweep, faults."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault, FileError
from boostwright.records.campaign import CAMPAIGN_FILE, PullEntry, read_campaign, read_column_rules
from boostwright.records.columns import Column, ColumnRule, IgnoredColumn, idle_rules, understand_columns
from boostwright.records.folder import find_logs
from boostwright.records.log import Log, open_table, read_log
from boostwright.records.pull import RawPull, lone_pull, pull_faults
from boostwright.reduction.stages import Reason
from boostwright.reduction.sweep import find_sweep

_CURVE_BINS = 48
_POWER_AGREEMENT = 0.03  # hp against PS is 1.4 %, and a roller's own losses may hide that; kW against hp is 34 %


@dataclass(frozen=True, kw_only=True)
class InspectedColumn:
    """A column that was understood, and the range of its numbers as logged, which is unknown in a faulty log."""

    header: str
    quantity: str
    unit: str
    conversion: str
    lowest: float | None = None
    highest: float | None = None


@dataclass(frozen=True, kw_only=True)
class InspectedSweep:
    """The full-throttle sweep of a log, and what the engine gave along it."""

    from_speed: float
    to_speed: float
    sweep_rate: float
    quantity: str
    curve: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class InspectedLog:
    """One log: everything that was understood, and everything that was not."""

    file: str
    columns: tuple[InspectedColumn, ...]
    ignored: tuple[IgnoredColumn, ...]
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    samples: int = 0
    sample_rate: float | None = None
    sweep: InspectedSweep | None = None


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """All the logs of a file or folder, and what is wrong in its campaign."""

    place: str
    logs: tuple[InspectedLog, ...]
    faults: tuple[Fault, ...] = ()

    @property
    def all_faults(self) -> tuple[Fault, ...]:
        """Those of the campaign and those of every log."""
        return (*self.faults, *(fault for log in self.logs for fault in log.faults))

    def as_json(self) -> dict[str, Any]:
        """The inspection with the unit of each number in its key, or beside it."""
        faults = [asdict(fault) for fault in self.faults]
        return {"place": self.place, "logs": [_log_as_json(log) for log in self.logs], "faults": faults}


def inspect_path(place: Path, rules: Sequence[ColumnRule] = ()) -> Inspection:
    """Inspect one log, a folder of logs, or a campaign.

    Raises
    ------
    FileError
        If the place is not there, or there are no logs.
    """
    if not place.exists():
        raise FileError([Fault(file=str(place), problem="is not there", remedy="check the name and the folder")])
    if not place.is_dir():
        return _inspection(place, (inspect_log(place, rules),), rules)
    logs = find_logs(place)
    if not logs:
        remedy = "give a log, or a folder with logs in it or in its pulls/"
        raise FileError([Fault(file=str(place), problem="holds no logs", remedy=remedy)])
    if not (place / CAMPAIGN_FILE).exists():
        return _inspection(place, tuple(_inspect(place / file, file, rules) for file in logs), rules)
    return _inspect_campaign(place, logs, rules)


def inspect_log(place: Path, rules: Sequence[ColumnRule] = ()) -> InspectedLog:
    """Inspect one log; what is wrong with it is in the result."""
    return _inspect(place, str(place), rules)


def _inspect_campaign(folder: Path, files: Sequence[str], rules: Sequence[ColumnRule]) -> Inspection:
    said = (*read_column_rules(folder), *rules)
    try:
        entries = {entry.file: entry for entry in read_campaign(folder).pulls}
        faults: list[Fault] = []
    except FileError as wrong:
        entries, faults = dict[str, PullEntry](), list(wrong.faults)
    logs = tuple(_inspect(folder / file, file, said, entries.get(file)) for file in entries or files)
    found = _inspection(folder, logs, said)
    return replace(found, faults=(*faults, *found.faults))


def _inspection(place: Path, logs: tuple[InspectedLog, ...], rules: Sequence[ColumnRule]) -> Inspection:
    if any(log.faults for log in logs):
        return Inspection(place=str(place), logs=logs)  # the headers may not be known
    headers = [column.header for log in logs for column in (*log.columns, *log.ignored)]
    idle = (replace(fault, file=str(place)) for fault in idle_rules(rules, headers))
    return Inspection(place=str(place), logs=logs, faults=tuple(idle))


def _inspect(path: Path, name: str, rules: Sequence[ColumnRule], entry: PullEntry | None = None) -> InspectedLog:
    try:
        log = read_log(path, rules)
    except FileError as wrong:
        return _unread(path, name, rules, wrong.faults)
    faults = [replace(fault, file=name) for fault in pull_faults(entry, log)] if entry else []
    pull = replace(lone_pull(log), file=name)
    notes = list(_notes(log, pull))
    sweep = None
    try:
        sweep = _sweep(pull)
    except DataError as wrong:
        notes.append(str(wrong))
    return InspectedLog(
        file=name,
        columns=tuple(_with_range(column, log) for column in log.columns),
        ignored=log.ignored,
        faults=tuple(faults),
        notes=tuple(notes),
        samples=log.channels["engine_speed"].size,
        sample_rate=_sample_rate(log),
        sweep=sweep,
    )


def _unread(path: Path, name: str, rules: Sequence[ColumnRule], faults: Sequence[Fault]) -> InspectedLog:
    """What the headers say where the numbers could not be read."""
    placed = tuple(replace(fault, file=name) for fault in faults)
    try:
        table = open_table(path)
    except FileError:
        return InspectedLog(file=name, columns=(), ignored=(), faults=placed)
    understood = understand_columns(table.headers, table.units, rules)
    columns = tuple(_without_range(column) for column in understood.columns)
    return InspectedLog(file=name, columns=columns, ignored=understood.ignored, faults=placed)


def _without_range(column: Column) -> InspectedColumn:
    return InspectedColumn(
        header=column.header, quantity=column.quantity, unit=column.unit.symbol, conversion=column.conversion
    )


def _with_range(column: Column, log: Log) -> InspectedColumn:
    logged = column.unit.from_si(log.values_of(column))
    return replace(_without_range(column), lowest=float(logged.min()), highest=float(logged.max()))


def _sample_rate(log: Log) -> float | None:
    steps = np.diff(log.channels.get("time", np.empty(0)))
    return 1 / float(np.median(steps)) if steps.size and np.median(steps) > 0 else None


def _notes(log: Log, pull: RawPull) -> Iterator[str]:
    if log.repeated_rows:
        yield f"{log.repeated_rows} rows that the logger wrote twice are left out"
    if "time" not in log.channels:
        yield "no time is logged, so the sample rate and the sweep rate are not known"
    if {"torque", "power"} <= set(log.channels):
        turning = math.tau * pull.channels["engine_speed"] * pull.channels["torque"]
        loaded = turning > 0.5 * turning.max()
        ratio = float(np.median(pull.channels["power"][loaded] / turning[loaded]))
        if abs(ratio - 1) > _POWER_AGREEMENT:
            yield f"power is {ratio:.3f} times torque by speed: is the unit of one of them another (kW, hp, PS)?"


def _sweep(pull: RawPull) -> InspectedSweep:
    steady = find_sweep(pull)
    used = steady.reason == Reason.USED
    if not used.any():
        raise DataError("no part of it is a full-throttle sweep that could be used")
    quantity = "torque" if "torque" in pull.channels else "power"
    speed, values = steady.engine_speed[used], pull.channels.get(quantity, steady.engine_speed)[used]
    return InspectedSweep(
        from_speed=float(speed.min()),
        to_speed=float(speed.max()),
        sweep_rate=float(np.mean(steady.sweep_rate[used])),
        quantity=quantity,
        curve=_curve(speed, values),
    )


def _curve(speed: NDArray[np.float64], values: NDArray[np.float64]) -> tuple[float, ...]:
    """Medians of the values in even steps of speed."""
    order = np.argsort(speed)
    edges = np.linspace(speed.min(), speed.max(), _CURVE_BINS + 1)[1:-1]
    parts = np.split(values[order], np.searchsorted(speed[order], edges))
    return tuple(float(np.median(part)) for part in parts if part.size)


def _log_as_json(log: InspectedLog) -> dict[str, Any]:
    sweep = log.sweep and {
        "from_rpm": 60 * log.sweep.from_speed,
        "to_rpm": 60 * log.sweep.to_speed,
        "sweep_rate_rpm_per_s": 60 * log.sweep.sweep_rate if math.isfinite(log.sweep.sweep_rate) else None,
    }
    return {
        "file": log.file,
        "samples": log.samples,
        "sample_rate_hz": log.sample_rate,
        "sweep": sweep,
        "columns": [asdict(column) for column in log.columns],
        "ignored": [{"header": column.header, "reason": column.reason} for column in log.ignored],
        "faults": [asdict(fault) for fault in log.faults],
        "notes": list(log.notes),
    }

"""A pull as it was logged: its channels in SI with absolute pressures, its weather, and its place in the campaign."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign, PullEntry
from boostwright.records.columns import idle_rules
from boostwright.records.log import Log, read_log
from boostwright.records.weather import Weather

__all__ = ["RawPull", "Weather", "lone_pull", "pull_faults", "read_pulls"]

_LEAST_FILLED = 0.75  # of the barometer: a manifold at full throttle is never emptier than that


@dataclass(frozen=True, kw_only=True)
class RawPull:
    """One logged pull; `elapsed` is the time in seconds since the first pull of its session."""

    file: str
    setup: str
    session: str
    installation: int
    started: datetime
    elapsed: float
    weather: Weather | None
    soak_temperature: float | None
    channels: Mapping[str, NDArray[np.float64]]


def read_pulls(campaign: Campaign, progress: Callable[[str], None] | None = None) -> tuple[RawPull, ...]:
    """Read the log of every pull; `progress` is told each file as it is read.

    Raises
    ------
    FileError
        With everything that is wrong in all the files.
    """
    faults: list[Fault] = []
    logs: list[tuple[PullEntry, Log]] = []
    for entry in campaign.pulls:
        if progress is not None:
            progress(entry.file)
        try:
            logs.append((entry, read_log(campaign.folder / entry.file, campaign.columns)))
        except FileError as wrong:
            faults += [replace(fault, file=entry.file) for fault in wrong.faults]
    for entry, log in logs:
        faults += [replace(fault, file=entry.file) for fault in pull_faults(entry, log)]
    if len(logs) == len(campaign.pulls):
        headers = [column.header for _, log in logs for column in (*log.columns, *log.ignored)]
        idle = idle_rules(campaign.columns, headers)
        faults += [replace(fault, file=str(campaign.folder / CAMPAIGN_FILE)) for fault in idle]
    if faults:
        raise FileError(faults)
    first = _first_starts(campaign.pulls)
    return tuple(_raw_pull(entry, log, first[entry.session]) for entry, log in logs)


def lone_pull(log: Log) -> RawPull:
    """Return a log that no campaign speaks of as a pull; its gauge pressures stay out for want of a barometer."""
    return RawPull(
        file=log.file,
        setup="",
        session="",
        installation=1,
        started=datetime.min,
        elapsed=0.0,
        weather=None,
        soak_temperature=None,
        channels=_with_torque_and_power(log.channels),
    )


def pull_faults(entry: PullEntry, log: Log) -> list[Fault]:
    """Return what is wrong with a log as the pull that the campaign calls it."""
    faults: list[Fault] = []
    if not {"torque", "power"} & set(log.channels):
        remedy = 'log one of them, or say which column it is under [columns]: "..." = "torque [N*m]"'
        faults.append(Fault(problem="has neither torque nor power", remedy=remedy))
    if log.gauge and entry.weather is None:
        header = next(column.header for column in log.columns if column.unit.reference == "gauge")
        remedy = 'give this pull its barometer = "1006 hPa", air_temperature and relative_humidity'
        faults.append(Fault(column=header, problem="is gauge pressure, and there is no barometer", remedy=remedy))
    elif entry.weather is not None:
        faults += _emptiness(log, entry.weather.barometer)
    return faults


def _emptiness(log: Log, barometer: float) -> list[Fault]:
    """What reads as absolute manifold pressure but can only be boost above the surroundings."""
    pressure = log.channels.get("manifold_pressure")
    if pressure is None or pressure.max() >= _LEAST_FILLED * barometer:
        return []
    column = next(column for column in log.columns if column.quantity == "manifold_pressure")
    problem = (
        f"never rises above {pressure.max() / 1e3:.4g} kPa absolute with the barometer at {barometer / 1e3:.4g} kPa"
    )
    unit = column.unit.symbol.removesuffix(" abs")
    remedy = f'if it is boost, say so under [columns]: "{column.header}" = "manifold_pressure [{unit} gauge]"'
    return [Fault(column=column.header, problem=problem, remedy=remedy)]


def _first_starts(pulls: Sequence[PullEntry]) -> dict[str, datetime]:
    first: dict[str, datetime] = {}
    for pull in sorted(pulls, key=lambda pull: pull.started):
        first.setdefault(pull.session, pull.started)
    return first


def _raw_pull(entry: PullEntry, log: Log, first: datetime) -> RawPull:
    channels = log.channels if entry.weather is None else log.absolute_channels(entry.weather.barometer)
    return RawPull(
        file=entry.file,
        setup=entry.setup,
        session=entry.session,
        installation=entry.installation,
        started=entry.started,
        elapsed=(entry.started - first).total_seconds(),
        weather=entry.weather,
        soak_temperature=entry.soak_temperature,
        channels=_with_torque_and_power(channels),
    )


def _with_torque_and_power(channels: Mapping[str, NDArray[np.float64]]) -> dict[str, NDArray[np.float64]]:
    """Return the channels with the one of torque and power that the stand did not report."""
    turning = math.tau * channels["engine_speed"]
    if not {"torque", "power"} & set(channels):
        return dict(channels)
    if "power" not in channels:
        return {**channels, "power": channels["torque"] * turning}
    if "torque" not in channels:
        standing = np.zeros_like(turning)
        return {**channels, "torque": np.divide(channels["power"], turning, out=standing, where=turning > 0)}
    return dict(channels)

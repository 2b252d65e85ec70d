"""The full-throttle sweep in a log: where it runs, and which of its rows are a steady pull."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.records.pull import RawPull
from boostwright.reduction.smoothing import SmoothSignal, smooth_signal, without_wild_samples
from boostwright.reduction.stages import PullFault, Reason, Reasons, SteadyPull

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.int64]

_RPM = 1 / 60
_SPEED_HALF_WIDTH = 0.25  # s; 5 rpm of jitter at 100 Hz leave the sweep rate good to 5 rpm/s
_SLOWEST_SWEEP = 20 * _RPM  # 1/s2
_SHORTEST_SWEEP = 500 * _RPM
_RAMP_END = 100 * _RPM
_WIDE_OPEN = 0.95  # of the widest opening in the log
_CONNECTED = 0.1  # a throttle that never opens further is a sensor that is not connected
_HALF_OPEN = 0.8
_FULL_LOAD = 0.5  # of the torque that nearly all of the rise stays below, where no throttle was logged
_ASSUMED_SWEEP = 300 * _RPM  # 1/s2, for a log without a clock
_LIFT_FALL = 200 * _RPM  # a deeper fall of speed parts two sweeps
_BUILD_UP_HALF_WIDTH = 0.1  # s
_STEEP = 4.0  # d ln(torque) / d ln(speed); full-load curves stay below 2
_SLOWEST_RISE = 0.02  # 1/s, of ln(speed), so that a held speed does not look steep
_LATEST_BUILD_UP = 0.5  # s after the throttle is open
_LONGEST_BUILD_UP = 2.0  # s
_WHOLE_OVER_STEEP = 3.0  # what is left of an exponential build-up after three times its steep part is below 0.3 %


@dataclass(frozen=True, kw_only=True)
class _Log:
    """A log with its speed made smooth and its rows at full throttle known; no `throttle` where no sensor speaks."""

    raw: RawPull
    time: Floats
    speed: SmoothSignal
    throttle: Floats | None
    full: Flags

    @property
    def rising(self) -> Flags:
        return self.speed.rate > _SLOWEST_SWEEP


@dataclass(frozen=True, kw_only=True)
class _Runs:
    """Unbroken stretches of rows: the first row of each, and the row after its last."""

    first: Rows
    stop: Rows


def find_sweep(raw: RawPull) -> SteadyPull:
    """The longest rise of speed at full throttle, with every row that is not steady masked for its reason."""
    log = _read_log(raw)
    runs = _longest_sweep(log)
    reason = _reasons(log, runs)
    faults = (*_part_throttle(log, runs), *_lifts(log, runs))
    rate = log.speed.rate if "time" in raw.channels else np.full_like(log.time, np.nan)
    return SteadyPull(
        raw=raw, engine_speed=log.speed.value, sweep_rate=rate, reason=reason, channels=raw.channels, faults=faults
    )


def _read_log(raw: RawPull) -> _Log:
    if "engine_speed" not in raw.channels:
        raise _error(raw, "", "has no engine speed", 'name its column under [columns], as "..." = "engine_speed [rpm]"')
    speed = raw.channels["engine_speed"]
    if speed.size < 2 or np.isfinite(speed).sum() < 2:
        raise _error(raw, f"{speed.size} rows", "are no sweep", "log engine speed through the whole pull")
    time = _clock(raw)
    smooth = smooth_signal(time, without_wild_samples(speed), _SPEED_HALF_WIDTH)
    throttle = _throttle(raw)
    full = _loaded(raw, smooth) if throttle is None else throttle > _WIDE_OPEN * throttle.max()
    return _Log(raw=raw, time=time, speed=smooth, throttle=throttle, full=full)


def _clock(raw: RawPull) -> Floats:
    if "time" not in raw.channels:  # rows at even steps of a sweep of the usual rate; only the masks depend on it
        speed = raw.channels["engine_speed"]
        duration = max(float(np.nanmax(speed) - np.nanmin(speed)) / _ASSUMED_SWEEP, 1e-3)
        return np.linspace(0.0, duration, speed.size)
    time = raw.channels["time"]
    stands = np.flatnonzero(~(np.diff(time) > 0))
    if stands.size:
        at = f"{time[stands[0]]:.3f} s, then {time[stands[0] + 1]:.3f} s"
        raise _error(raw, f"time {at}", "does not run forward", "sort the log by time and drop repeated rows")
    return time


def _throttle(raw: RawPull) -> Floats | None:
    opening = _clean(raw, "throttle_position")
    return None if opening is None or opening.max() < _CONNECTED else opening


def _loaded(raw: RawPull, speed: SmoothSignal) -> Flags:
    torque, rises = _clean(raw, "torque"), speed.rate > _SLOWEST_SWEEP
    if torque is None or not rises.any():
        return np.ones(speed.value.size, dtype=np.bool_)
    return torque > _FULL_LOAD * float(np.percentile(torque[rises], 90))


def _clean(raw: RawPull, quantity: str) -> Floats | None:
    values = raw.channels.get(quantity)
    return without_wild_samples(values) if values is not None and np.isfinite(values).any() else None


def _longest_sweep(log: _Log) -> _Runs:
    """The runs that make up the longest sweep: more than one where the driver lifted."""
    N, runs = log.speed.value, _runs(log.full & log.rising)
    if not runs.first.size:
        raise _no_sweep(log)
    fallen = N[runs.stop[:-1] - 1] - N[runs.first[1:]]
    sweep = np.concatenate(([0], np.cumsum(fallen > _LIFT_FALL)))
    begin = np.flatnonzero(np.diff(sweep, prepend=-1))
    end = np.append(begin[1:], sweep.size) - 1
    rise = N[runs.stop[end] - 1] - N[runs.first[begin]]
    order = np.argsort(rise)[::-1]
    if rise[order[0]] < _SHORTEST_SWEEP:
        raise _no_sweep(log)
    if order.size > 1 and rise[order[1]] > 0.5 * rise[order[0]]:
        both = sorted(order[:2].tolist())
        raise _two_sweeps(log, [(int(runs.first[begin[k]]), int(runs.stop[end[k]] - 1)) for k in both])
    chosen = sweep == order[0]
    return _Runs(first=runs.first[chosen], stop=runs.stop[chosen])


def _reasons(log: _Log, runs: _Runs) -> Reasons:
    rows, speed = np.arange(log.time.size), log.speed.value
    first, stop = runs.first[0], runs.stop[-1]
    unread = ~np.isfinite(log.raw.channels["engine_speed"] + log.raw.channels.get("torque", 0.0))
    ramp = (speed < speed[first] + _RAMP_END) | (speed > speed[stop - 1] - _RAMP_END)
    reason = np.zeros(rows.size, dtype=np.uint8)
    for why, where in (
        (Reason.OUTSIDE_SWEEP, (rows < first) | (rows >= stop)),
        (Reason.NOT_A_NUMBER, unread),
        (Reason.PART_THROTTLE, ~log.full),
        (Reason.NOT_RISING, ~log.rising),
        (Reason.STARTING, _starting(log, runs)),
        (Reason.RAMP_END, ramp),
    ):
        reason[where & (reason == Reason.USED)] = why
    return reason


def _starting(log: _Log, runs: _Runs) -> Flags:
    """Rows where the throttle has just opened and torque or boost builds up: read as steady they look like leakage."""
    starting = np.zeros(log.time.size, dtype=np.bool_)
    for first, stop in zip(runs.first.tolist(), runs.stop.tolist(), strict=True):
        early = slice(first, min(stop, int(np.searchsorted(log.time, log.time[first] + _LONGEST_BUILD_UP))))
        starting[first : first + _built_up(log.time[early], _steep(log, early))] = True
    return starting


def _steep(log: _Log, early: slice) -> Flags:
    """Rows whose torque or boost grows faster than a full-load curve can."""
    limit = _STEEP * np.maximum(log.speed.rate[early] / log.speed.value[early], _SLOWEST_RISE)
    steep = np.zeros(limit.size, dtype=np.bool_)
    for quantity in ("torque", "manifold_pressure"):
        values = log.raw.channels.get(quantity)
        if values is not None and (good := values[early] > 0).any():
            level = np.interp(log.time[early], log.time[early][good], np.log(values[early][good]))
            steep |= smooth_signal(log.time[early], level, _BUILD_UP_HALF_WIDTH).rate > limit
    return steep


def _built_up(time: Floats, steep: Flags) -> int:
    """Rows that a run's build-up takes: its steep part, if it begins at once, and twice as long again."""
    begun = np.flatnonzero(steep & (time < time[0] + _LATEST_BUILD_UP))
    if not begun.size:
        return 0
    flat = np.flatnonzero(~steep[begun[0] :])
    end = begun[0] + flat[0] if flat.size else time.size - 1
    return int(np.searchsorted(time, time[0] + _WHOLE_OVER_STEEP * (time[end] - time[0])))


def _part_throttle(log: _Log, runs: _Runs) -> list[PullFault]:
    if log.throttle is None or log.throttle.max() >= _HALF_OPEN:
        return []
    widest = float(log.throttle.max())
    low, high = float(log.speed.value[runs.first[0]]), float(log.speed.value[runs.stop[-1] - 1])
    sentence = f"the throttle opened no wider than {widest:.0%}"
    return [PullFault(kind="part throttle", from_speed=low, to_speed=high, size=1 - widest, sentence=sentence)]


def _lifts(log: _Log, runs: _Runs) -> list[PullFault]:
    gaps = zip(runs.stop[:-1].tolist(), runs.first[1:].tolist(), strict=True)
    return [_lift(log, first, stop) for first, stop in gaps if not log.full[first:stop].all()]


def _lift(log: _Log, first: int, stop: int) -> PullFault:
    N, torque = log.speed.value, _clean(log.raw, "torque")
    load = log.throttle if torque is None else torque
    before, least = (0.0, 0.0) if load is None else (float(load[first - 1]), float(load[first:stop].min()))
    lost = min(max(1 - least / before, 0.0), 1.0) if before > 0 else 0.0
    low, high = sorted((float(N[first - 1]), float(N[stop])))
    sentence = f"throttle or torque lifted at {low * 60:.0f} rpm for {log.time[stop] - log.time[first - 1]:.1f} s"
    return PullFault(kind="lift", from_speed=low, to_speed=high, size=lost, sentence=sentence)


def _runs(flags: Flags) -> _Runs:
    change = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0))
    return _Runs(first=change[::2], stop=change[1::2])


def _no_sweep(log: _Log) -> DataError:
    N = log.speed.value[log.full] if log.full.any() else log.speed.value
    said = f"engine speed {N.min() * 60:.0f} to {N.max() * 60:.0f} rpm"
    if np.argmax(N) < np.argmin(N) and np.ptp(N) > _SHORTEST_SWEEP:
        said = f"engine speed {N.max() * 60:.0f} to {N.min() * 60:.0f} rpm"
        return _error(log.raw, said, "only falls", "log the pull on its way up")
    problem = f"holds no rise of {_SHORTEST_SWEEP * 60:.0f} rpm at full throttle"
    return _error(log.raw, said, problem, "log one whole sweep, throttle wide open, from below the declared range")


def _two_sweeps(log: _Log, sweeps: list[tuple[int, int]]) -> DataError:
    N, t = log.speed.value, log.time
    said = " and ".join(f"{N[i] * 60:.0f} to {N[j] * 60:.0f} rpm at {t[i]:.1f} to {t[j]:.1f} s" for i, j in sweeps)
    return _error(log.raw, said, "are two sweeps in one file", "give each its own file and its own [[pulls]] entry")


def _error(raw: RawPull, value: str, problem: str, remedy: str) -> DataError:
    return DataError(str(Fault(file=raw.file, value=value, problem=problem, remedy=remedy)))

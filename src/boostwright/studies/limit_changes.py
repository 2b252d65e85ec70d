"""What to change to gain margin: how far one thing has to move until a limit has room again, draw by draw.

One thing is moved at a time along a grid, everything else of the draw staying as it is, and the match is run again. So
a richer mixture is charged with its fuel, and a slower blower credited with its cooler charge.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.build import Build
from boostwright.machine.limits import LimitUse, limit_uses
from boostwright.machine.operating_point import OperatingPoints, Points, matched
from boostwright.studies.drawn_operation import DrawnOperation, moved
from boostwright.studies.limit_curves import CONFIDENCE, Estimate, LimitCurve, first_crossing
from boostwright.studies.rounding import json_number
from boostwright.units import display_unit

Floats: TypeAlias = NDArray[np.float64]

WANTED_MARGIN = 0.05
CHANGE_DRAWS = 200
_STEPS = 7


@dataclass(frozen=True, kw_only=True)
class LimitChange:
    """One way to give a limit its margin back: what has to become what, and what it costs in mean power.

    `share_reached` is the share of the draws in which this way alone is enough within its range. Those in which it is
    not count as beyond it: an end of the 95 % range that lies there is NaN, and so is the value if half of them do.
    `margin_at_end` says what margin the end of the range leaves.
    """

    limit: str
    name: str
    dimension: str
    present: float
    needed: Estimate
    share_reached: float
    margin_at_end: Estimate
    end: float
    power_change: Estimate

    @property
    def is_enough(self) -> bool:
        """Whether this way alone is likely to be enough."""
        return self.share_reached >= CONFIDENCE

    def as_json(self) -> dict[str, Any]:
        """Numbers in the trade's unit, which stands beside them; power in kW."""
        unit = display_unit(self.dimension, "metric")

        def shown(value: float) -> float | None:
            return json_number(float(unit.from_si(value)))

        return {
            "limit": self.limit,
            "change": self.name,
            "unit": unit.symbol,
            "present": shown(self.present),
            "needed": shown(self.needed.value),
            "needed_lower": shown(self.needed.lower),
            "needed_upper": shown(self.needed.upper),
            "wanted_margin_percent": 100.0 * WANTED_MARGIN,
            "enough_percent_of_draws": json_number(100.0 * self.share_reached),
            "end_of_range": shown(self.end),
            "margin_percent_at_end": json_number(100.0 * self.margin_at_end.value),
            "margin_percent_at_end_lower": json_number(100.0 * self.margin_at_end.lower),
            "margin_percent_at_end_upper": json_number(100.0 * self.margin_at_end.upper),
            **self.power_change.as_json("power_change", "kw", 1e3),
        }


@dataclass(frozen=True, kw_only=True)
class _Lever:
    """One thing that can be moved: its values from the present one outwards, and how a value acts on the points."""

    name: str
    dimension: str
    values: Floats
    act: Callable[[Points, float], None]


def limit_changes(build: Build, operation: DrawnOperation, curves: Sequence[LimitCurve]) -> tuple[LimitChange, ...]:
    """Ways to give these limits a margin of 5 % again, those that are enough first.

    Parameters
    ----------
    build : Build
        What is at work.
    operation : DrawnOperation
        How it works now, with its draws.
    curves : sequence of LimitCurve
        The limits that want more margin.
    """
    few = _first_draws(operation)
    found = [_part_change(build, curve) for curve in curves]
    changes = [change for change in found if change is not None]
    changes += [_speed_change(curve, few) for curve in curves if _is_worst_at_top(curve)]
    for lever in _levers(build, few):
        moves = [_operation_at(few, lever, value) for value in lever.values]
        uses = [_uses(build, move, few) for move in moves]
        for curve in curves:
            shares = np.stack([_worst(use[curve.name], few) for use in uses], axis=1)
            if _helps(shares):
                changes.append(_change(curve.name, lever, shares, moves))
    order = {curve.name: place for place, curve in enumerate(curves)}
    return tuple(sorted(changes, key=lambda change: (order[change.limit], -change.share_reached)))


def _first_draws(operation: DrawnOperation) -> DrawnOperation:
    rows = np.arange(min(CHANGE_DRAWS, len(operation.friction_coefficient)))
    return DrawnOperation(
        central=operation.central,
        closed=operation.closed,
        draws=OperatingPoints(points=operation.draws.points[rows], states=operation.draws.states[rows]),
        friction_coefficient=operation.friction_coefficient[rows],
        spread_factor=operation.spread_factor,
    )


def _operation_at(operation: DrawnOperation, lever: _Lever, value: float) -> OperatingPoints:
    """The draws with a lever at a value, moved by what lies between closed forms and finer models there.

    What a finer model corrected stays corrected as it was, in the coefficients of the closed forms.
    """
    closed, fine = (_with_lever(known, lever, value) for known in (operation.closed, operation.central))
    points = operation.draws.points.copy()
    lever.act(points, value)
    return moved(matched(points), closed, fine)


def _with_lever(known: OperatingPoints, lever: _Lever, value: float) -> OperatingPoints:
    points = known.points.copy()
    lever.act(points, value)
    return moved(matched(points), matched(known.points), known)


def _uses(build: Build, operating: OperatingPoints, operation: DrawnOperation) -> Mapping[str, LimitUse]:
    uses = limit_uses(build, operating, operation.friction_coefficient[:, None])
    return {use.name: use for use in uses}


def _worst(use: LimitUse, operation: DrawnOperation) -> Floats:
    """Greatest share over the speeds, draw by draw; infinite where nothing is matched."""
    shares = np.where(np.isnan(use.share), np.inf, use.share)
    return operation.spread(shares).max(axis=1)


def _helps(shares: Floats) -> bool:
    """Whether the lever moves the limit the right way by more than a tenth of what is wanted, for most draws."""
    gain = shares[:, 0] - shares.min(axis=1)
    return bool(np.median(gain) > 0.1 * WANTED_MARGIN)


def _change(limit: str, lever: _Lever, shares: Floats, moves: Sequence[OperatingPoints]) -> LimitChange:
    """Where each draw has its margin again, on straight lines between the values of the lever."""
    steps = np.arange(len(lever.values), dtype=np.float64)
    excess = np.minimum(shares / (1.0 - WANTED_MARGIN), 1e6)
    needed = first_crossing(2.0 - excess, steps)  # 2 - share goes above 1 where the share falls below it
    reached = np.isfinite(needed)
    place = np.where(reached, needed, steps[-1])
    power = np.stack([np.nanmean(move["brake_power"], axis=1) for move in moves], axis=1)
    change = _interpolated(power, place) - power[:, 0]
    return LimitChange(
        limit=limit,
        name=lever.name,
        dimension=lever.dimension,
        present=float(lever.values[0]),
        needed=_reached_estimate(np.where(reached, np.interp(place, steps, lever.values), np.nan), lever.values),
        share_reached=float(np.mean(reached)),
        margin_at_end=_estimate(1.0 - shares[:, -1]),
        end=float(lever.values[-1]),
        power_change=_estimate(change),
    )


def _interpolated(rows: Floats, place: Floats) -> Floats:
    """Each row at its own place between columns."""
    before = np.clip(np.floor(place).astype(np.intp), 0, rows.shape[1] - 2)
    each = np.arange(len(rows))
    way = place - before
    return (1.0 - way) * rows[each, before] + way * rows[each, before + 1]


def _estimate(draws: Floats) -> Estimate:
    """Median and 95 % range of those draws that are numbers."""
    known = draws[np.isfinite(draws)]
    if known.size == 0:
        return Estimate(value=math.nan, lower=math.nan, upper=math.nan)
    tail = (1.0 - CONFIDENCE) / 2.0
    lower, value, upper = (float(x) for x in np.quantile(known, [tail, 0.5, 1.0 - tail]))
    return Estimate(value=value, lower=lower, upper=upper)


def _reached_estimate(needed: Floats, values: Floats) -> Estimate:
    """Median and 95 % range of what is needed, along the values of a lever; NaN lies beyond its last value."""
    falls = values[-1] < values[0]
    beyond = np.where(np.isnan(needed), -np.inf if falls else np.inf, needed)
    tail = (1.0 - CONFIDENCE) / 2.0
    ordered = np.sort(beyond)
    last = len(ordered) - 1
    ends = [float(ordered[i]) for i in (int(tail * last), round(0.5 * last), math.ceil((1.0 - tail) * last))]
    lower, value, upper = (end if math.isfinite(end) else math.nan for end in ends)
    return Estimate(value=value, lower=lower, upper=upper)


def _levers(build: Build, operation: DrawnOperation) -> list[_Lever]:
    """What an engineer would turn first; the range of each is what can be had without another build.

    A leaner mixture is not among them: it spares injectors and burns pistons, and no limit here would say so.
    """
    levers = [_pulley_lever(build)]
    if build.cooler.cooler_transfer_units > 0.0:
        levers.append(_cooler_lever(build))
        coolant = float(np.median(operation.central["coolant_temperature"]))
        levers.append(_shift_lever("coolant temperature", "temperature", "coolant_temperature", coolant, -20.0))
    mixture = float(np.median(operation.central["excess_air_ratio"]))
    levers.append(_shift_lever("richer mixture, lambda", "fraction", "excess_air_ratio", mixture, -0.12))
    retard = float(np.median(operation.central.points["spark_retard"]))
    levers.append(_shift_lever("spark later than the best", "angle", "spark_retard", retard, math.radians(12.0)))
    for name, word, area in (
        ("effective area of the throttle", "throttle_area", build.inlet.throttle_area),
        ("loss area of the inlet", "inlet_area", build.inlet.inlet_area),
    ):
        levers.append(_factor_lever(name, "area", word, area, 2.0))
    return levers


def _pulley_lever(build: Build) -> _Lever:
    """A slower blower, down to seven tenths of the ratio: by the pulley on the blower if the pulleys are known."""
    drive = build.drive
    factors = np.linspace(1.0, 0.7, _STEPS)
    if drive.driving_pulley is None or drive.driven_pulley is None:
        values, name, dimension = drive.drive_ratio * factors, "drive ratio", "fraction"
        by_value = dict(zip(values.tolist(), factors.tolist(), strict=True))
    else:
        pitch = drive.driven_pulley + 2.0 * drive.line_differential
        values, name, dimension = pitch / factors - 2.0 * drive.line_differential, "blower pulley", "length"
        by_value = dict(zip(values.tolist(), factors.tolist(), strict=True))

    def act(points: Points, value: float) -> None:
        points["drive_ratio"] *= by_value[value]

    return _Lever(name=name, dimension=dimension, values=values, act=act)


def _cooler_lever(build: Build) -> _Lever:
    """A better cooler, up to three times the transfer units; its effectiveness is that at the reference flow."""
    units = build.cooler.cooler_transfer_units
    values = 1.0 - np.exp(-units * np.linspace(1.0, 3.0, _STEPS))

    def act(points: Points, value: float) -> None:
        points["cooler_transfer_units"] *= -math.log1p(-value) / units

    return _Lever(name="cooler effectiveness", dimension="fraction", values=values, act=act)


def _shift_lever(name: str, dimension: str, word: str, present: float, reach: float) -> _Lever:
    """A lever that adds to a column."""

    def act(points: Points, value: float) -> None:
        points[word] += value - present

    return _Lever(name=name, dimension=dimension, values=present + reach * np.linspace(0.0, 1.0, _STEPS), act=act)


def _factor_lever(name: str, dimension: str, word: str, present: float, most: float) -> _Lever:
    """A lever that multiplies a column."""

    def act(points: Points, value: float) -> None:
        points[word] *= value / present

    return _Lever(name=name, dimension=dimension, values=present * np.linspace(1.0, most, _STEPS), act=act)


def _is_worst_at_top(curve: LimitCurve) -> bool:
    return curve.place == curve.engine_speed.size - 1 and curve.engine_speed.size > 1


def _speed_change(curve: LimitCurve, operation: DrawnOperation) -> LimitChange:
    """Turning the engine less: the highest speed up to which the margin is kept, from the curve itself."""
    speeds = curve.engine_speed
    shares = np.where(np.isnan(curve.draws), np.inf, curve.draws)[: len(operation.friction_coefficient)]
    kept = first_crossing(shares / (1.0 - WANTED_MARGIN), speeds)
    needed = np.where(np.isfinite(kept), kept, speeds[-1])
    reached = shares[:, 0] <= 1.0 - WANTED_MARGIN
    power = operation.draws["brake_power"]
    at_top = np.array([np.interp(speed, speeds, row) for speed, row in zip(needed, power, strict=True)])
    return LimitChange(
        limit=curve.name,
        name="highest engine speed",
        dimension="speed",
        present=float(speeds[-1]),
        needed=_reached_estimate(np.where(reached, needed, np.nan), speeds[::-1]),
        share_reached=float(np.mean(reached)),
        margin_at_end=_estimate(1.0 - shares[:, 0]),
        end=float(speeds[0]),
        power_change=_estimate(at_top - power[:, -1]),
    )


def _part_change(build: Build, curve: LimitCurve) -> LimitChange | None:
    """A larger part, where the share of its limit falls as the part grows: injectors, pump, ribs of the belt."""
    injectors, system = build.fuel_system.injectors, build.fuel_system
    parts: dict[str, tuple[str, str, float | None]] = {
        "injector duty": ("flow of an injector", "volume_flow", None if injectors is None else injectors.rated_flow),
        "fuel flow": ("flow of the fuel pump", "volume_flow", system.pump_flow),
        "belt tension per rib": ("ribs of the belt", "fraction", build.drive.ribs),
        "belt power per rib": ("ribs of the belt", "fraction", build.drive.ribs),
    }
    name, dimension, present = parts.get(curve.name, ("", "", None))
    if present is None:
        return None
    needed = present * curve.worst / (1.0 - WANTED_MARGIN)
    nothing = np.zeros(curve.worst.shape)
    return LimitChange(
        limit=curve.name,
        name=name,
        dimension=dimension,
        present=float(present),
        needed=_estimate(np.maximum(needed, present)),
        share_reached=float(np.mean(np.isfinite(needed))),
        margin_at_end=_estimate(nothing + WANTED_MARGIN),
        end=math.nan,
        power_change=_estimate(nothing),
    )

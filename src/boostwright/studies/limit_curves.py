"""Limits with their chances: how much of each is used at every speed, how sure that is, and which one binds.

A limit that nobody has stated has no curve and no chance; it is "not known", and no sentence here calls it well.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.build import Build
from boostwright.machine.limits import NEAR, LimitStatus, LimitUse, limit_uses
from boostwright.studies.drawn_operation import DrawnOperation
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.words import count, number, plus_minus, speed_text
from boostwright.units import display_unit

Floats: TypeAlias = NDArray[np.float64]

CONFIDENCE = 0.95


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A number with the ends of its 95 % range."""

    value: float
    lower: float
    upper: float

    @property
    def half_width(self) -> float:
        """The wider side of the range, so that value and half-width never claim more than the range does."""
        return max(self.upper - self.value, self.value - self.lower)

    def as_json(self, name: str, unit: str, scale: float) -> dict[str, float | None]:
        """Three keys that carry the unit; `scale` is that of the unit in SI."""
        ends = (("", self.value), ("_lower", self.lower), ("_upper", self.upper))
        return {f"{name}_{unit}{end}": json_number(value / scale) for end, value in ends}


@dataclass(frozen=True, kw_only=True)
class LimitCurve:
    """One limit along engine speed: the value there and the share of the limit that it uses, with 95 % ranges.

    `draws` are the shares of all draws (draws, speeds), `worst` their greatest over the speeds (draws), and `reached`
    the lowest speed at which each is over, infinite if it never is. All of them are NaN where the limit is not known;
    `needs` says what would tell.
    """

    name: str
    dimension: str
    limit: float
    zero: float
    needs: tuple[str, ...]
    engine_speed: Floats
    values: Floats
    share: Floats
    lower: Floats
    upper: Floats
    chances: Floats
    draws: Floats
    worst: Floats
    reached: Floats
    reached_by_value: float

    @property
    def is_known(self) -> bool:
        """Whether there is a limit, and a value to hold against it."""
        return bool(np.isfinite(self.limit)) and not bool(np.isnan(self.share).all())

    @property
    def place(self) -> int:
        """Where along the speeds the value uses most of the limit."""
        return int(np.nanargmax(self.share))

    @property
    def greatest(self) -> Estimate:
        """Greatest share of the limit over the speeds."""
        lower, upper = _tails(self.worst)
        return Estimate(value=float(np.nanmax(self.share)), lower=float(lower), upper=float(upper))

    @property
    def chance(self) -> float:
        """Share of the draws that break the limit at any of the speeds."""
        return float(np.mean(self.worst > 1.0)) if self.is_known else math.nan

    @property
    def first_speed(self) -> Estimate:
        """Lowest engine speed at which the limit is broken; infinite where it is not."""
        lower, upper = _tails(self.reached)
        return Estimate(value=self.reached_by_value, lower=float(lower), upper=float(upper))

    @property
    def status(self) -> LimitStatus:
        """How the value stands to its limit, as a match says it; what may be over is near at least."""
        if not self.is_known:
            return LimitStatus.NOT_KNOWN
        greatest = self.greatest
        if greatest.value > 1.0:
            return LimitStatus.OVER
        return LimitStatus.NEAR if greatest.value > 1.0 - NEAR or greatest.upper > 1.0 else LimitStatus.OK

    def as_json(self) -> dict[str, Any]:
        """The limit with everything along speed; margins are in percent of the limit."""
        unit = display_unit(self.dimension, "metric")
        said: dict[str, Any] = {
            "name": self.name,
            "unit": unit.symbol,
            "limit": json_number(float(unit.from_si(self.limit))),
            "status": self.status.value,
            "chance_percent": json_number(100.0 * self.chance),
            "needs": list(self.needs),
            "value": None,
            "engine_speed_rpm": None,
            "margin_percent": None,
            "margin_percent_lower": None,
            "margin_percent_upper": None,
        }
        if self.is_known:
            greatest, at = self.greatest, self.place
            said |= {
                "value": json_number(float(unit.from_si(self.values[at]))),
                "engine_speed_rpm": json_number(60.0 * float(self.engine_speed[at])),
                "margin_percent": json_number(100.0 * (1.0 - greatest.value)),
                "margin_percent_lower": json_number(100.0 * (1.0 - greatest.upper)),
                "margin_percent_upper": json_number(100.0 * (1.0 - greatest.lower)),
            }
        return said

    def curve_json(self) -> dict[str, Any]:
        """Value, margin and chance at every speed."""
        unit = display_unit(self.dimension, "metric")
        return {
            "engine_speed_rpm": json_list(60.0 * self.engine_speed),
            "value": json_list(unit.from_si(self.values)),
            "margin_percent": json_list(100.0 * (1.0 - self.share)),
            "margin_percent_lower": json_list(100.0 * (1.0 - self.upper)),
            "margin_percent_upper": json_list(100.0 * (1.0 - self.lower)),
            "chance_percent": json_list(100.0 * self.chances),
        }


def limit_curves(build: Build, operation: DrawnOperation) -> tuple[LimitCurve, ...]:
    """Every limit of a build at work, those that bind first, and those that are not known last."""
    central = limit_uses(build, operation.central, build.drive.friction_coefficient)
    drawn = limit_uses(build, operation.draws, operation.friction_coefficient[:, None])
    curves = [_curve(value, draws, operation) for value, draws in zip(central, drawn, strict=True)]
    return tuple(sorted(curves, key=_urgency))


def _urgency(curve: LimitCurve) -> tuple[bool, float, float]:
    if not curve.is_known:
        return (True, 0.0, 0.0)
    return (False, -curve.chance, -curve.greatest.upper)


def binding(curves: Sequence[LimitCurve]) -> LimitCurve | None:
    """The known limit that is likeliest to be broken, or if none is, whose range comes nearest to it."""
    known = [curve for curve in curves if curve.is_known]
    return min(known, key=_urgency) if known else None


def not_known(curves: Sequence[LimitCurve]) -> tuple[LimitCurve, ...]:
    """The limits of which nothing can be said."""
    return tuple(curve for curve in curves if not curve.is_known)


def worst_of_all(curves: Sequence[LimitCurve], operation: DrawnOperation) -> Floats:
    """Greatest share of any known limit, draw by draw; a draw without an operating point somewhere is over all."""
    worst = np.where(operation.draws.is_matched.all(axis=1), 0.0, np.inf)
    for curve in curves:
        if curve.is_known:
            worst = np.fmax(worst, curve.worst)
    return worst


def limits_answer(curves: Sequence[LimitCurve]) -> str:
    """What gives first, or comes nearest, among the limits that are known; the number of those that are not."""
    first, unknown = binding(curves), len(not_known(curves))
    rest = f" {count(unknown, 'limit is', 'limits are')} not known." if unknown else ""
    if first is None:
        return f"No limit is known.{rest}"
    greatest, name = first.greatest, f"{first.name[0].upper()}{first.name[1:]}"
    at = f"at {speed_text(float(first.engine_speed[first.place]))} rev/min"
    if greatest.lower > 1.0:
        over = _percent(greatest.value - 1.0, greatest.half_width)
        return f"{name} gives first: over its limit by {over} {at}.{rest}"
    if greatest.upper > 1.0:
        return f"{name} may give {at}: {_percent(greatest.value, greatest.half_width)} of its limit.{rest}"
    left = _percent(1.0 - greatest.value, greatest.half_width)
    return f"No known limit gives. {name} comes nearest: {left} left {at}.{rest}"


def _percent(share: float, half_width: float) -> str:
    if not math.isfinite(half_width):
        return f"{number(100.0 * share)} %"
    if half_width < 5e-6:  # a limit on what is set, not measured: nothing is uncertain of it
        return f"{number(100.0 * share, 1)} %"
    return plus_minus(100.0 * share, 100.0 * half_width, "%")


def _curve(central: LimitUse, drawn: LimitUse, operation: DrawnOperation) -> LimitCurve:
    speeds = operation.central["engine_speed"]
    nothing = np.full(speeds.shape, np.nan)
    if not central.is_known or not drawn.is_known:
        return LimitCurve(
            name=central.name,
            dimension=central.dimension,
            limit=central.limit,
            zero=central.zero,
            needs=central.needs or drawn.needs,
            engine_speed=speeds,
            values=central.values,
            share=nothing,
            lower=nothing,
            upper=nothing,
            chances=nothing,
            draws=np.full(drawn.values.shape, np.nan),
            worst=np.full(len(operation.friction_coefficient), np.nan),
            reached=np.full(len(operation.friction_coefficient), np.nan),
            reached_by_value=math.nan,
        )
    shares = np.where(np.isnan(drawn.share), np.inf, operation.spread(drawn.share))
    lower, upper = _tails(shares)
    return LimitCurve(
        name=central.name,
        dimension=central.dimension,
        limit=central.limit,
        zero=central.zero,
        needs=(),
        engine_speed=speeds,
        values=central.values,
        share=central.share,
        lower=lower,
        upper=upper,
        chances=np.mean(shares > 1.0, axis=0),
        draws=shares,
        worst=shares.max(axis=1),
        reached=first_crossing(shares, speeds),
        reached_by_value=float(first_crossing(np.nan_to_num(central.share, nan=np.inf)[None], speeds)[0]),
    )


def first_crossing(shares: Floats, at: Floats) -> Floats:
    """Where along `at` each row of shares, (rows, places), first goes above 1; infinite for rows that never do."""
    over = shares > 1.0
    first = np.argmax(over, axis=1)
    before = np.maximum(first - 1, 0)
    rows = np.arange(len(shares))
    low, high = np.where(first == 0, 0.0, shares[rows, before]), shares[rows, first]
    rise = np.where(np.isfinite(high), high - low, np.inf)
    way = np.divide(1.0 - low, rise, out=np.zeros(len(shares)), where=rise > 0.0)
    crossing = at[before] + np.clip(way, 0.0, 1.0) * (at[first] - at[before])
    return np.where(over.any(axis=1), np.where(first == 0, at[0], crossing), np.inf)


def _tails(draws: Floats) -> tuple[Floats, Floats]:
    """Ends of the 95 % range along the first axis; of draws that may be infinite, so between none of them."""
    tail = (1.0 - CONFIDENCE) / 2.0
    lower = np.quantile(draws, tail, axis=0, method="lower")
    upper = np.quantile(draws, 1.0 - tail, axis=0, method="higher")
    return np.asarray(lower, float), np.asarray(upper, float)

"""Which order of pulls would show a gain, and what it costs in hours: before the first pull is made."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product
from typing import Protocol, TypeVar

import numpy as np
import polars as pl
from scipy.special import stdtrit

from boostwright.inference.disturbances import FITTED, DisturbancePriors, Disturbances, Floats, disturbances_from
from boostwright.inference.run_order import (
    EFFECTIVE_DEGREES_OF_FREEDOM,
    rest_of_average,
    standard_uncertainty,
    timed_order,
)
from boostwright.studies.rounding import json_number

BIN_WIDTH = 120 / 60  # [1/s], of the bins that a comparison uses
PRIOR_DRAWS = 48
MOST_PULLS = 8
_SEED = 20260101


@dataclass(frozen=True, kw_only=True)
class PlanQuestion:
    """What a session costs in time, over which speeds it asks, and how surely it should answer."""

    speed_range: tuple[float, float]
    pull_time: float
    change_time: float
    confidence: float = 0.95
    probability: float = 0.9
    priors: DisturbancePriors = field(default_factory=DisturbancePriors)

    def __post_init__(self) -> None:
        for name in ("pull_time", "change_time"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} is {getattr(self, name):g} s: a pull and a change of setup take time")


@dataclass(frozen=True, kw_only=True)
class PlannedOrder:
    """An order of pulls: what it takes, and what it would show of a gain averaged over the range."""

    order: str
    changes_of_setup: int
    duration: float
    half_width: float
    detectable_gain: float


@dataclass(frozen=True, kw_only=True)
class PlanResult:
    """The orders that no other order beats in both time and sharpness, quickest first."""

    orders: tuple[PlannedOrder, ...]
    question: PlanQuestion

    def as_json(self) -> dict[str, object]:
        """The orders as JSON."""
        return {
            "confidence": self.question.confidence,
            "probability": self.question.probability,
            "orders": self._rows(),
        }

    def as_frame(self) -> pl.DataFrame:
        """The orders as a table."""
        return pl.DataFrame(self._rows())

    def _rows(self) -> list[dict[str, str | float | None]]:
        return [
            {
                "order": planned.order,
                "pulls": len(planned.order),
                "changes_of_setup": planned.changes_of_setup,
                "duration_h": json_number(planned.duration / 3600),
                "half_width_percent": json_number(100 * planned.half_width),
                "detectable_gain_percent": json_number(100 * planned.detectable_gain),
            }
            for planned in self.orders
        ]


def plan_orders(question: PlanQuestion) -> PlanResult:
    """Rank every order of up to eight pulls, and keep those that no other order beats in both time and sharpness.

    Notes
    -----
    Closed form: generalised least squares on the levels of the pulls, averaged over what the priors say of the sizes of
    the disturbances. Of full fits of simulated campaigns in eight orders it gives half-widths from 1 %
    too small to 10 % too large (docs/planning.md).
    """
    likely = prior_disturbances(question.priors)
    rest = rest_of_average(speeds_of(question.speed_range), likely)
    every = [_planned(order, question, likely, rest) for order in _orders()]
    return PlanResult(orders=tuple(sharper_than_quicker(every)), question=question)


def speeds_of(speed_range: tuple[float, float]) -> Floats:
    """Engine speeds about as far apart as the bins of a comparison."""
    low, high = speed_range
    return np.linspace(low, high, max(2, round((high - low) / BIN_WIDTH)))


class Timed(Protocol):
    """Pulls that take a time and give an interval."""

    @property
    def duration(self) -> float:
        """What they take. [s]"""
        ...

    @property
    def half_width(self) -> float:
        """Half of the interval that they give."""
        ...


Row = TypeVar("Row", bound=Timed)


def sharper_than_quicker(rows: Iterable[Row]) -> Iterator[Row]:
    """The rows that no other beats in both time and sharpness, quickest first."""
    sharpest = float("inf")
    for row in sorted(rows, key=_cost):
        if row.half_width < sharpest:
            sharpest = row.half_width
            yield row


def _cost(row: Timed) -> tuple[float, float]:
    return row.duration, row.half_width


def _orders() -> Iterator[str]:
    """Every order of both setups that begins with the baseline; the mirrored ones show the same."""
    for pulls in range(2, MOST_PULLS + 1):
        for rest in product("AB", repeat=pulls - 1):
            if "B" in rest:
                yield "A" + "".join(rest)


def prior_disturbances(priors: DisturbancePriors) -> Disturbances:
    """Sizes of the disturbances drawn from what is known of them before any pull."""
    medians, spreads = np.array([(getattr(priors, n).median, getattr(priors, n).log_sd) for n in FITTED]).T
    draws = np.random.default_rng(_SEED).standard_normal((PRIOR_DRAWS, len(FITTED)))
    return disturbances_from(np.log(medians) + spreads * draws, priors)


def _planned(order: str, question: PlanQuestion, likely: Disturbances, rest: Floats) -> PlannedOrder:
    run = timed_order(order, question.pull_time, question.pull_time + question.change_time)
    uncertainty = standard_uncertainty(run, likely, rest)
    shown, found = stdtrit(EFFECTIVE_DEGREES_OF_FREEDOM, [0.5 * (1 + question.confidence), question.probability])
    return PlannedOrder(
        order=order,
        changes_of_setup=int(run.installation[-1]),
        duration=float(run.elapsed[-1]) + question.pull_time,
        half_width=uncertainty * float(shown),
        detectable_gain=uncertainty * float(shown + found),
    )

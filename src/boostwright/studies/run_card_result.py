"""What follows the pulls made so far: the nouns of a run card, and its JSON. Gains are fractions of the baseline."""

from dataclasses import dataclass
from enum import StrEnum

import polars as pl

from boostwright.studies.compare_result import Interval
from boostwright.studies.rounding import json_number


@dataclass(frozen=True, kw_only=True)
class FurtherPulls:
    """Pulls that would follow: what they take from now on, and what the average gain would then be known to.

    `half_width` and `detectable_gain` are infinite as long as one of the setups has no pull. `sharpening` is by how
    much the half-width falls in a unit of time [1/s].
    """

    order: str
    changes_of_setup: int
    duration: float
    half_width: float
    detectable_gain: float
    sharpening: float

    def as_json(self) -> dict[str, str | float | None]:
        """The row as JSON, with the keys of the orders of a plan."""
        return {
            "order": self.order,
            "pulls": len(self.order),
            "changes_of_setup": self.changes_of_setup,
            "duration_h": json_number(self.duration / 3600),
            "half_width_percent": json_number(100 * self.half_width),
            "detectable_gain_percent": json_number(100 * self.detectable_gain),
            "sharper_percent_per_h": json_number(100 * 3600 * self.sharpening),
        }


@dataclass(frozen=True, kw_only=True)
class Reach:
    """The sharpest order that fits the time left, and how probable each verdict on the average gain is at its end."""

    pulls: FurtherPulls
    gain_shown: float
    loss_shown: float
    excluded: float

    @property
    def neither(self) -> float:
        """Probability that neither a gain nor a loss is shown."""
        return 1.0 - self.gain_shown - self.loss_shown


class Outlook(StrEnum):
    """How a question stands: answered, the opposite answered, answerable today or on further days, or out of reach."""

    SETTLED = "settled"
    CONTRADICTED = "contradicted"
    TODAY = "today"
    FURTHER_DAYS = "further days"
    OUT_OF_REACH = "out of reach"


@dataclass(frozen=True, kw_only=True)
class Settlement:
    """The fewest further pulls that would answer one question; none if it is answered or out of reach."""

    outlook: Outlook
    order: str = ""
    days: int = 0
    duration: float = 0.0
    half_width: float = 0.0

    @property
    def pulls(self) -> int:
        """How many pulls that is."""
        return len(self.order) * max(1, self.days)

    def as_json(self) -> dict[str, str | float | None]:
        """The settlement as JSON; an order of several days is run anew on each of them."""
        return {
            "outlook": self.outlook.value,
            "order": self.order,
            "days": self.days,
            "pulls": self.pulls,
            "duration_h": json_number(self.duration / 3600),
            "half_width_percent": json_number(100 * self.half_width),
        }


@dataclass(frozen=True, kw_only=True)
class RunCard:
    """Where the question stands, the next pull, and what the rest of the session or further days would bring.

    `made` are the pulls so far, A for the baseline and B for the candidate, in brackets if left out; `steps` the two
    pulls that may come next, `advised` the one of them that helps most; `orders` those that no quicker one beats.
    """

    title: str
    quantity: str
    baseline: str
    candidate: str
    confidence: float
    probability: float
    worthwhile_gain: float
    made: str
    sentence: str | None
    grade: str | None
    average: Interval | None
    detectable_gain: float
    lacking: tuple[str, ...]
    steps: tuple[FurtherPulls, ...]
    advised: FurtherPulls | None
    orders: tuple[FurtherPulls, ...]
    time_left: float | None
    reach: Reach | None
    to_show: Settlement
    to_exclude: Settlement

    def setup_of(self, letter: str) -> str:
        """The name behind a letter of an order."""
        return self.candidate if letter == "B" else self.baseline

    def as_json(self) -> dict[str, object]:
        """The card as JSON; gains in percent of the baseline."""
        now, reach = self.average, self.reach
        return {
            "quantity": self.quantity,
            "baseline": self.baseline,
            "candidate": self.candidate,
            "confidence": self.confidence,
            "probability": self.probability,
            "worthwhile_gain_percent": json_number(100 * self.worthwhile_gain),
            "hours_left": None if self.time_left is None else json_number(self.time_left / 3600),
            "made": self.made,
            "now": None
            if now is None
            else {
                "gain_percent": json_number(100 * now.relative_value),
                "lower_percent": json_number(100 * now.relative_lower),
                "upper_percent": json_number(100 * now.relative_upper),
                "detectable_gain_percent": json_number(100 * self.detectable_gain),
                "grade": self.grade,
                "sentence": self.sentence,
            },
            "lacking": list(self.lacking),
            "next": None
            if self.advised is None
            else {"setup": self.setup_of(self.advised.order), **self.advised.as_json()},
            "steps": [{"setup": self.setup_of(step.order), **step.as_json()} for step in self.steps],
            "orders": [row.as_json() for row in self.orders],
            "reach": None
            if reach is None
            else {
                **reach.pulls.as_json(),
                "gain_shown": json_number(reach.gain_shown),
                "loss_shown": json_number(reach.loss_shown),
                "neither": json_number(reach.neither),
                "worthwhile_gain_excluded": json_number(reach.excluded),
            },
            "to_show": self.to_show.as_json(),
            "to_exclude": self.to_exclude.as_json(),
        }

    def as_frame(self) -> pl.DataFrame:
        """The orders that may follow as a table."""
        return pl.DataFrame([row.as_json() for row in self.orders])

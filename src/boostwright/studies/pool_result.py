"""What several campaigns say together: the nouns of a pool, and its JSON. Gains are fractions of the baseline."""

from dataclasses import dataclass

from boostwright.inference.disturbances import Floats
from boostwright.inference.gain_summary import Interval
from boostwright.inference.meta_analysis import Heterogeneity
from boostwright.studies.rounding import json_list, json_number
from boostwright.units import Unit


@dataclass(frozen=True, kw_only=True)
class PooledCampaign:
    """One campaign of a pool: its own gain, what it counts for, and the mean of the others without it.

    `others_mean` is missing if only one campaign is left. `moderator` is the level of the baseline that a trend is
    asked over [SI], if one is.
    """

    name: str
    title: str
    baseline: str
    candidate: str
    stand: str
    sessions: tuple[str, ...]
    pulls: int
    gain: Interval
    standard_error: float
    share: float
    grade: str
    grade_reason: str
    others_mean: Interval | None
    others_between_sd: float | None
    moderator: float | None


@dataclass(frozen=True, kw_only=True)
class Trend:
    """A straight line of the gain over a level of the baseline: its slope a unit [1/SI], and the line with its range.

    `next_lower` and `next_upper` bound the true gain of one further engine; empty if that cannot be known.
    """

    quantity: str
    unit: Unit
    slope: Interval
    between_sd: Interval
    moderator: Floats
    line: Floats
    line_lower: Floats
    line_upper: Floats
    next_lower: Floats
    next_upper: Floats

    @property
    def is_shown(self) -> bool:
        """Whether the interval of the slope leaves zero."""
        return self.slope.lower > 0 or self.slope.upper < 0


@dataclass(frozen=True, kw_only=True)
class PoolResult:
    """One answer from several campaigns: their mean gain, how far engines differ, and what a next one would gain."""

    quantity: str
    confidence: float
    correction: str
    range_from: float
    range_to: float
    campaigns: tuple[PooledCampaign, ...]
    mean: Interval
    degrees_of_freedom: int
    next_engine: Interval | None
    heterogeneity: Heterogeneity
    trend: Trend | None
    verdict: str
    headline: str
    sentence: str
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The pool as JSON; gains in percent of the baseline."""
        apart = self.heterogeneity
        return {
            "quantity": self.quantity,
            "unit": "%",
            "confidence": self.confidence,
            "correction": self.correction,
            "range": {"from_rpm": json_number(60 * self.range_from), "to_rpm": json_number(60 * self.range_to)},
            "mean": {**_gain_json(self.mean), "degrees_of_freedom": self.degrees_of_freedom},
            "next_engine": None if self.next_engine is None else _gain_json(self.next_engine),
            "heterogeneity": {
                "between_sd_percent": json_number(100 * apart.between_sd.estimate),
                "between_sd_lower_percent": json_number(100 * apart.between_sd.lower),
                "between_sd_upper_percent": json_number(100 * apart.between_sd.upper),
                "share": json_number(apart.share.estimate),
                "share_lower": json_number(apart.share.lower),
                "share_upper": json_number(apart.share.upper),
                "q": json_number(apart.q_statistic),
                "degrees_of_freedom": apart.degrees_of_freedom,
                "p_value": json_number(apart.p_value),
            },
            "trend": None if self.trend is None else _trend_json(self.trend),
            "campaigns": [_campaign_json(campaign) for campaign in self.campaigns],
            "verdict": self.verdict,
            "headline": self.headline,
            "sentence": self.sentence,
            "warnings": list(self.warnings),
        }


def _campaign_json(campaign: PooledCampaign) -> dict[str, object]:
    without, between = campaign.others_mean, campaign.others_between_sd
    return {
        "campaign": campaign.name,
        "title": campaign.title,
        "baseline": campaign.baseline,
        "candidate": campaign.candidate,
        "stand": campaign.stand,
        "sessions": list(campaign.sessions),
        "pulls": campaign.pulls,
        **_gain_json(campaign.gain),
        "standard_error_percent": json_number(100 * campaign.standard_error),
        "weight": json_number(campaign.share),
        "grade": campaign.grade,
        "grade_reason": campaign.grade_reason,
        "without": None
        if without is None or between is None
        else {**_gain_json(without), "between_sd_percent": json_number(100 * between)},
        "moderator": None if campaign.moderator is None else json_number(campaign.moderator),
    }


def _trend_json(trend: Trend) -> dict[str, object]:
    scale = trend.unit.scale
    return {
        "over": trend.quantity,
        "unit": trend.unit.symbol,
        "shown": trend.is_shown,
        "slope_percent_per_unit": json_number(100 * scale * trend.slope.estimate),
        "slope_lower_percent_per_unit": json_number(100 * scale * trend.slope.lower),
        "slope_upper_percent_per_unit": json_number(100 * scale * trend.slope.upper),
        "between_sd_percent": json_number(100 * trend.between_sd.estimate),
        "between_sd_lower_percent": json_number(100 * trend.between_sd.lower),
        "between_sd_upper_percent": json_number(100 * trend.between_sd.upper),
        "line": {
            "at": json_list(trend.moderator / scale),
            "gain_percent": json_list(100 * trend.line),
            "lower_percent": json_list(100 * trend.line_lower),
            "upper_percent": json_list(100 * trend.line_upper),
            "next_lower_percent": json_list(100 * trend.next_lower),
            "next_upper_percent": json_list(100 * trend.next_upper),
        },
    }


def _gain_json(interval: Interval) -> dict[str, float | None]:
    return {
        "gain_percent": json_number(100 * interval.estimate),
        "lower_percent": json_number(100 * interval.lower),
        "upper_percent": json_number(100 * interval.upper),
    }

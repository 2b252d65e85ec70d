"""A small pool, made by hand, whose numbers the tests of its figure and its words know."""

import numpy as np

from boostwright.inference.gain_summary import Interval
from boostwright.inference.meta_analysis import heterogeneity, mean_of, random_effects
from boostwright.studies import pool_words
from boostwright.studies.pool_result import PooledCampaign, PoolResult, Trend
from boostwright.units import parse_unit

GAINS, HALVES = (0.031, 0.018, 0.024), (0.012, 0.015, 0.02)


def interval(middle: float, half: float) -> Interval:
    return Interval(estimate=middle, lower=middle - half, upper=middle + half, confidence=0.95)


def campaign(name: str, gain: float, half: float, moderator: float | None = None) -> PooledCampaign:
    return PooledCampaign(
        name=name,
        title=f"elbow on the {name}",
        baseline="cast",
        candidate="machined",
        stand=f"bench {name}",
        sessions=("2026-03-14",),
        pulls=6,
        gain=interval(gain, half),
        standard_error=half / 1.96,
        share=1 / 3,
        grade="publishable",
        grade_reason="",
        others_mean=interval(0.02, 0.015),
        others_between_sd=0.004,
        moderator=moderator,
    )


def trend() -> Trend:
    x = np.linspace(0.15, 0.35, 5)
    line = 0.018 + 0.06 * (x - 0.15)
    return Trend(
        quantity="air_mass_flow",
        unit=parse_unit("kg/s"),
        slope=interval(0.06, 0.2),
        between_sd=interval(0.003, 0.003),
        moderator=x,
        line=line,
        line_lower=line - 0.01,
        line_upper=line + 0.01,
        next_lower=np.array([]),
        next_upper=np.array([]),
    )


def pooled(*, with_trend: bool = False, next_engine: Interval | None = None) -> PoolResult:
    names, flows = ("four", "five", "six"), (0.15, 0.2, 0.35)
    rows = tuple(campaign(*row) for row in zip(names, GAINS, HALVES, flows, strict=True))
    studies = mean_of(np.array(GAINS), np.array(HALVES) / 1.96)
    mean = interval(0.025, 0.012)
    apart = heterogeneity(studies, random_effects(studies), 0.95)
    return PoolResult(
        quantity="power",
        confidence=0.95,
        correction="none",
        range_from=50.0,
        range_to=90.0,
        campaigns=rows,
        mean=mean,
        degrees_of_freedom=2,
        next_engine=next_engine,
        heterogeneity=apart,
        trend=trend() if with_trend else None,
        verdict=pool_words.verdict(mean),
        headline=pool_words.headline(mean, 3),
        sentence=pool_words.sentence(rows, mean, next_engine, apart.between_sd, (50.0, 90.0), "power"),
        warnings=("two of them share a stand",),
    )

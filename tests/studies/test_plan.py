"""Plans: against full fits of simulated campaigns, and against what an engineer knows."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import t as student

from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    disturbances_from,
    level_covariance,
    pull_covariance,
)
from boostwright.inference.gain_curve import fit_gain_curve
from boostwright.inference.gain_model import GainData
from boostwright.inference.gain_summary import range_average
from boostwright.inference.run_order import EFFECTIVE_DEGREES_OF_FREEDOM, gain_variance, timed_order
from boostwright.studies.plan import MOST_PULLS, PlanQuestion, plan_orders

QUESTION = PlanQuestion(speed_range=(50.0, 96.0), pull_time=360.0, change_time=1740.0)


def half_widths(order: str, campaigns: int) -> tuple[float, float]:
    """Mean half-width of the average gain: of full fits of campaigns drawn from the priors, and of the closed form."""
    priors, generator = DisturbancePriors(), np.random.default_rng(11)
    speed = np.linspace(51.0, 95.0, 23)
    run = timed_order(order, QUESTION.pull_time, QUESTION.pull_time + QUESTION.change_time)
    medians, spreads = np.array([(getattr(priors, n).median, getattr(priors, n).log_sd) for n in FITTED]).T
    fitted, closed = [], []
    for _ in range(campaigns):
        sizes = disturbances_from(np.log(medians) + spreads * generator.standard_normal(len(FITTED)), priors)
        level = generator.multivariate_normal(np.zeros(len(order)), level_covariance(run, sizes))
        within = generator.multivariate_normal(np.zeros(speed.size), pull_covariance(speed, sizes), len(order))
        values = 6.2 - 0.1 * ((speed - 70.0) / 25.0) ** 2 + level[:, None] + within
        data = GainData(engine_speed=speed, values=values, counts=np.full(values.shape, 18), order=run)
        found = range_average(fit_gain_curve(data, priors, generator), np.ones(speed.size), 0.95)
        fitted.append((found.upper - found.lower) / 2)
        closed.append(student.ppf(0.975, EFFECTIVE_DEGREES_OF_FREEDOM) * np.sqrt(gain_variance(speed, run, sizes)))
    return float(np.mean(fitted)), float(np.mean(closed))


@pytest.mark.parametrize("order", ["ABBA", "ABBAAB"])
def test_the_closed_form_is_within_15_percent_of_simulated_fits(order):
    """Both are taken over the same drawn sizes, so that a few campaigns suffice."""
    fitted, closed = half_widths(order, 16)
    assert closed == pytest.approx(fitted, rel=0.15)


def test_no_listed_order_is_beaten_in_both_time_and_sharpness():
    rows = plan_orders(QUESTION).orders
    assert all(a.duration < b.duration and a.half_width > b.half_width for a, b in pairwise(rows))


def test_with_all_the_pulls_made_only_more_changes_of_setup_sharpen():
    full = [row for row in plan_orders(QUESTION).orders if len(row.order) == MOST_PULLS]
    assert len(full) > 3
    assert all(a.changes_of_setup < b.changes_of_setup for a, b in pairwise(full))


def test_cheap_changes_of_setup_are_used_early_and_dear_ones_late():
    cheap, dear = (
        plan_orders(PlanQuestion(speed_range=(50.0, 96.0), pull_time=360.0, change_time=hours * 3600.0))
        for hours in (0.02, 6.0)
    )
    first_return = [next(i for i, row in enumerate(plan.orders) if row.changes_of_setup > 1) for plan in (cheap, dear)]
    assert first_return[0] < first_return[1]
    assert [row.changes_of_setup for row in dear.orders[:7]] == [1] * 7


def test_json_and_frame_say_the_same():
    result = plan_orders(QUESTION)
    assert result.as_frame().to_dicts() == result.as_json()["orders"]
    assert result.as_json()["orders"][0]["order"] == "AB"


def test_a_pull_that_takes_no_time_is_refused():
    with pytest.raises(ValueError, match="pull_time is 0 s: a pull and a change of setup take time"):
        PlanQuestion(speed_range=(50.0, 96.0), pull_time=0.0, change_time=1.0)

"""Plans: against full fits of simulated campaigns, and against what an engineer knows."""

from itertools import pairwise

import pytest

from benchmarks.planning import continued, planned
from boostwright.studies.plan import MOST_PULLS, PlanQuestion, plan_orders

QUESTION = PlanQuestion(speed_range=(50.0, 96.0), pull_time=360.0, change_time=1740.0)


@pytest.mark.parametrize("order", ["AB", "ABBA", "ABBAAB", "AABBBBAA"])
def test_the_closed_form_is_within_15_percent_of_simulated_fits(order):
    """Both are taken over the same drawn sizes, so that a few campaigns suffice; docs/planning.md has eight orders."""
    found = planned(order, 12)
    assert found.promised == pytest.approx(found.fitted, rel=0.15)


def test_what_further_pulls_promise_is_within_15_percent_of_the_fit_of_all():
    found = continued("ABBA", "AB", 12)
    assert found.promised == pytest.approx(found.fitted, rel=0.15)


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

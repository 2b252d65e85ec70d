"""Run cards: what follows pulls that were made, on invented pulls."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.studies.compare import compare_setups
from boostwright.studies.plan import PlanQuestion
from boostwright.studies.run_card import RunCardQuestion, run_card
from boostwright.studies.run_card_result import Outlook, RunCard
from tests.studies.synthetic import QUESTION, SPEED_RANGE, campaign

PLAN = PlanQuestion(speed_range=SPEED_RANGE, pull_time=360.0, change_time=1800.0)


def card(order: str, gain: float = 0.0, hours: float | None = None, worth: float = 0.01, seed: int = 1) -> RunCard:
    time_left = None if hours is None else 3600.0 * hours
    return run_card(
        campaign(order, gain, seed), QUESTION, RunCardQuestion(plan=PLAN, worthwhile_gain=worth, time_left=time_left)
    )


@pytest.fixture(scope="module")
def halfway() -> RunCard:
    return card("ABBA", hours=1.3)


def test_the_card_starts_from_what_compare_prints(halfway):
    compared = compare_setups(campaign("ABBA"), QUESTION)
    assert halfway.average == compared.average
    assert halfway.sentence == compared.sentence
    assert halfway.made == "A B B A"
    assert halfway.lacking == ()


def test_a_pull_as_it_stands_is_quick_and_one_after_a_change_sharper(halfway):
    after_change, as_it_stands = halfway.steps[1], halfway.steps[0]
    assert (as_it_stands.order, as_it_stands.changes_of_setup, as_it_stands.duration) == ("A", 0, 360.0)
    assert (after_change.order, after_change.changes_of_setup, after_change.duration) == ("B", 1, 2160.0)
    now = halfway.average.relative_half_width
    assert after_change.half_width < as_it_stands.half_width < now
    assert as_it_stands.sharpening == pytest.approx((now - as_it_stands.half_width) / 360.0)


def test_with_hours_left_the_next_pull_begins_the_sharpest_order_that_fits(halfway):
    best = halfway.reach.pulls
    assert best.duration <= 1.3 * 3600
    assert all(best.half_width <= row.half_width for row in halfway.orders)
    assert halfway.advised.order == best.order[0]


def test_without_a_time_the_next_pull_is_the_one_that_sharpens_most_per_minute():
    cheap, dear = (
        run_card(campaign("ABB"), QUESTION, RunCardQuestion(plan=replace(PLAN, change_time=time), worthwhile_gain=0.01))
        for time in (1.0, 36_000.0)
    )
    assert cheap.advised.order == "A"
    assert dear.advised.order == "B"


def test_the_chances_of_the_verdicts_add_up_and_favour_what_is_seen():
    """A gain of 4 % in four pulls whose interval is about 1 %."""
    reach = card("ABBA", gain=0.04, hours=1.3).reach
    assert reach.gain_shown + reach.loss_shown + reach.neither == pytest.approx(1.0)
    assert reach.gain_shown > 0.99
    assert reach.excluded < 0.01


def test_a_loss_that_is_seen_will_be_shown():
    reach = card("ABBA", gain=-0.04, hours=1.3).reach
    assert reach.loss_shown > 0.99
    assert reach.gain_shown < 0.01


def test_what_the_pulls_lean_to_takes_fewer_further_pulls():
    """To show 1.4 %, where the pulls so far say about 0.7 or 0.1 % and leave it possible."""
    for_it, against_it = (card("ABBA", gain=gain, worth=0.014).to_show for gain in (0.008, 0.002))
    assert 0 < for_it.pulls < against_it.pulls


def test_a_quantity_compared_by_difference_is_told_as_a_share_of_the_baseline():
    asked = RunCardQuestion(plan=PLAN, worthwhile_gain=0.01)
    found = run_card(campaign("ABBA"), replace(QUESTION, quantity="charge_temperature"), asked)
    now = found.average.relative_half_width
    assert all(0.4 * now < step.half_width < now for step in found.steps)


def test_questions_that_the_pulls_have_answered_say_so():
    shown = card("ABBA", gain=0.04)
    assert shown.to_show.outlook is Outlook.SETTLED
    assert shown.to_exclude.outlook is Outlook.CONTRADICTED
    excluded = card("ABBA", worth=0.06)
    assert excluded.to_exclude.outlook is Outlook.SETTLED
    assert excluded.to_show.outlook is Outlook.CONTRADICTED


def test_what_settles_the_question_in_the_time_left_is_said_before_further_days():
    with_time, without = (card("ABBA", hours=hours, worth=0.0133) for hours in (4.0, None))
    assert with_time.to_exclude.outlook is Outlook.TODAY
    assert with_time.to_exclude.duration <= 4 * 3600
    assert without.to_exclude.outlook is Outlook.FURTHER_DAYS
    assert without.to_exclude.order[0] == "A"
    assert "B" in without.to_exclude.order


def test_a_smaller_gain_takes_more_days_and_in_the_end_is_out_of_reach():
    larger, smaller, smallest = (card("ABBA", worth=worth).to_exclude for worth in (0.0133, 0.011, 0.001))
    assert 0 < larger.pulls < smaller.pulls
    assert smaller.half_width < larger.half_width
    assert smallest.outlook is Outlook.OUT_OF_REACH
    assert smallest.pulls == 0


def test_before_the_other_setup_was_pulled_only_it_tells_anything():
    found = card("A", worth=0.02)
    assert found.average is None
    assert found.reach is None
    assert found.advised.order == "B"
    assert found.to_show.outlook is Outlook.FURTHER_DAYS
    assert [np.isfinite(step.half_width) for step in found.steps] == [False, True]
    assert found.as_json()["steps"][0]["half_width_percent"] is None
    assert found.lacking == ("1\u00a0pull of cast", "2\u00a0pulls of machined", "2\u00a0installations")


def test_no_time_for_a_pull_gives_no_advice():
    found = card("AB", hours=0.05)
    assert found.advised is None
    assert found.orders == ()


def test_a_pull_that_was_left_out_still_took_its_time(halfway):
    """After the last pull of a third setup both of the two need a change."""
    pulls = campaign("ABBAC")
    found = run_card(pulls, QUESTION, RunCardQuestion(plan=PLAN, worthwhile_gain=0.01))
    assert [step.changes_of_setup for step in found.steps] == [1, 1]
    assert found.average == halfway.average


def test_json_has_the_orders_of_a_plan_and_the_chances(halfway):
    json = halfway.as_json()
    assert json["next"]["setup"] in ("cast", "machined")
    assert set(json["orders"][0]) >= {"order", "pulls", "changes_of_setup", "duration_h", "half_width_percent"}
    assert json["hours_left"] == 1.3
    assert json["reach"]["gain_shown"] == pytest.approx(halfway.reach.gain_shown, rel=1e-5)
    assert halfway.as_frame().to_dicts() == json["orders"]


def test_no_pull_of_the_two_setups_is_refused():
    with pytest.raises(DataError, match="key pulls: hold none of the two setups that are compared"):
        card("CC")
    asked = RunCardQuestion(plan=PLAN, worthwhile_gain=0.01)
    with pytest.raises(DataError, match="charge temperature cannot be planned before both setups were pulled"):
        run_card(campaign("A"), replace(QUESTION, quantity="charge_temperature"), asked)


def test_a_gain_or_a_time_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"worthwhile_gain is 0: it is above zero, such as 0\.01 for 1 %"):
        RunCardQuestion(plan=PLAN, worthwhile_gain=0.0)
    with pytest.raises(ValueError, match="time_left is 0 s: it is above zero; leave it out after the session"):
        RunCardQuestion(plan=PLAN, worthwhile_gain=0.01, time_left=0.0)

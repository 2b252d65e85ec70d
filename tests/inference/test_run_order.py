"""Orders of pulls: their weights and variances against hand calculation and against the full model."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.inference.disturbances import (
    DisturbancePriors,
    level_covariance,
    median_disturbances,
    only,
)
from boostwright.inference.gain_model import GainData, gain_estimate, gain_model
from boostwright.inference.run_order import (
    StandNow,
    continued_order,
    order_with_days,
    repeated_order,
    rest_of_average,
    timed_order,
)
from tests.inference.orders import gain_variance, gain_weights

MEDIAN = median_disturbances(DisturbancePriors())
SPEED = np.arange(2460.0, 6000.0, 120.0) / 60
ORDERS = st.text("AB", min_size=2, max_size=9).filter(lambda letters: len(set(letters)) == 2)


def variance(letters: str) -> float:
    return gain_variance(SPEED, timed_order(letters, 360.0, 2100.0), MEDIAN)


def test_an_order_is_laid_out_in_time_and_installations():
    order = timed_order("ABBA", 360.0, 2100.0)
    np.testing.assert_array_equal(order.is_candidate, [False, True, True, False])
    np.testing.assert_array_equal(order.installation, [0, 1, 1, 2])
    np.testing.assert_array_equal(order.elapsed, [0.0, 2100.0, 2460.0, 4560.0])


def test_a_repeated_order_installs_anew_each_day():
    order = repeated_order(timed_order("ABA", 360.0, 2100.0), 2)
    np.testing.assert_array_equal(order.session, [0, 0, 0, 1, 1, 1])
    np.testing.assert_array_equal(order.installation, [0, 1, 2, 3, 4, 5])
    np.testing.assert_array_equal(order.elapsed, [0.0, 2100.0, 4200.0] * 2)


@given(ORDERS)
def test_weights_of_each_setup_add_to_one_and_ignore_the_level(letters):
    order = timed_order(letters, 360.0, 2100.0)
    weights = gain_weights(level_covariance(order, MEDIAN), order.is_candidate)
    assert weights[order.is_candidate].sum() == pytest.approx(1.0)
    assert weights[~order.is_candidate].sum() == pytest.approx(-1.0)


@given(ORDERS, st.sampled_from("AB"))
def test_a_further_pull_never_hurts(letters, further):
    assert variance(letters + further) <= variance(letters) * (1 + 1e-9)


def test_one_block_of_each_is_worse_than_going_back_and_forth():
    """Third pulls in a block buy little: the floor is the re-installation, sqrt(2) times its standard deviation."""
    one_block_each = variance("AAAABBBB")
    assert variance("ABBA") < variance("AABB")
    assert variance("ABBA") == pytest.approx(variance("ABAB"), rel=0.02)  # with one change of setup fewer
    assert one_block_each > 2 * float(MEDIAN.installation_sd) ** 2


def test_the_closed_form_is_the_average_gain_of_the_full_model_to_a_few_percent():
    """The full model lets the curve have a shape; for its average that matters little."""
    order = timed_order("ABBA", 360.0, 2100.0)
    data = GainData(engine_speed=SPEED, values=np.zeros((4, 30)), counts=np.full((4, 30), 9), order=order)
    model = gain_model(data, 0.0)
    d = replace(MEDIAN, speed_axis_sd=0.0)
    p = model.common_basis.shape[1]
    average = model.gain_basis.mean(0)

    full = average @ np.linalg.inv(gain_estimate(model, d).information)[p:, p:] @ average

    assert gain_variance(SPEED, order, d) == pytest.approx(full, rel=0.03)


def test_independent_pulls_only_have_the_textbook_variance():
    alone = only(MEDIAN, "pull_level_sd")
    assert gain_variance(SPEED, timed_order("AAABB", 360.0, 2100.0), alone) == pytest.approx(0.006**2 * (1 / 3 + 1 / 2))


def test_further_pulls_go_on_from_what_is_installed():
    order = timed_order("ABB", 360.0, 2100.0)
    now = StandNow(installed="B", session=0, installation=1, elapsed=2460.0)
    longer = continued_order(order, now, "BAA", 360.0, 2100.0)
    np.testing.assert_array_equal(longer.is_candidate, [False, True, True, True, False, False])
    np.testing.assert_array_equal(longer.installation, [0, 1, 1, 1, 2, 2])
    np.testing.assert_array_equal(longer.elapsed, [0.0, 2100.0, 2460.0, 2820.0, 4920.0, 5280.0])


def test_after_a_pull_of_neither_setup_the_next_one_is_a_change():
    order = timed_order("AB", 360.0, 2100.0)
    longer = continued_order(
        order, StandNow(installed="", session=0, installation=7, elapsed=4200.0), "B", 360.0, 2100.0
    )
    assert longer.elapsed[-1] == 6300.0
    assert longer.installation[-1] == 8


def test_an_order_made_in_one_go_is_the_order_made_and_continued():
    whole, order = timed_order("ABBAAB", 360.0, 2100.0), timed_order("ABBA", 360.0, 2100.0)
    now = StandNow(installed="A", session=0, installation=2, elapsed=4560.0)
    assert gain_variance(SPEED, continued_order(order, now, "AB", 360.0, 2100.0), MEDIAN) == pytest.approx(
        gain_variance(SPEED, whole, MEDIAN)
    )


def test_a_further_day_is_the_same_order_on_two_days():
    order = replace(timed_order("ABBA", 360.0, 2100.0), soak=np.array([0.0, 4.0, 8.0, 4.0]))
    longer = order_with_days(order, timed_order("ABBA", 360.0, 2100.0))
    twice = repeated_order(timed_order("ABBA", 360.0, 2100.0), 2)
    np.testing.assert_array_equal(longer.session, twice.session)
    np.testing.assert_array_equal(longer.installation, twice.installation)
    np.testing.assert_array_equal(longer.elapsed, twice.elapsed)
    np.testing.assert_array_equal(longer.soak, [0.0, 4.0, 8.0, 4.0, 4.0, 4.0, 4.0, 4.0])


@given(ORDERS, st.text("AB", min_size=1, max_size=4))
def test_a_later_estimate_varies_with_the_present_one_by_its_own_variance(letters, further):
    """On it rests what is said of verdicts that can still be reached."""
    order = timed_order(letters + further, 360.0, 2100.0)
    covariance = level_covariance(order, MEDIAN) + rest_of_average(SPEED, MEDIAN) * np.eye(len(letters + further))
    n = len(letters)
    now = np.r_[gain_weights(covariance[:n, :n], order.is_candidate[:n]), np.zeros(len(further))]
    later = gain_weights(covariance, order.is_candidate)
    assert now @ covariance @ later == pytest.approx(later @ covariance @ later)


@pytest.mark.parametrize("letters", ["", "ABC", "ab"])
def test_an_order_in_other_letters_is_refused(letters):
    with pytest.raises(ValueError, match=f'order "{letters}": write A for a pull of the baseline and B for'):
        timed_order(letters, 360.0, 2100.0)

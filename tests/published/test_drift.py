"""Drift-eliminating sequences of mass metrology (J. Res. NIST 92(3), 1987, doi 10.6028/jres.092.020).

The scheme is theirs, the figures follow from it by hand. Runs A = 400 and B = 408 under a drift of -0.7 a run: A B B A
reads 400, 407.3, 406.6, 397.9 and gives 8.0 again, A B A gives 8.0, A B A B gives 7.3. A quadratic drift q k^2 leaves
-2 q in A B B A, -q in A B A, nothing in A B B A B A A B. With the standard deviation s of a run the variance of the
difference is s^2, 1.5 s^2 and 2 s^2 for A B B A, A B A and A B.
"""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.inference.disturbances import (
    DisturbancePriors,
    Disturbances,
    RunOrder,
    level_covariance,
    median_disturbances,
    only,
)
from boostwright.inference.run_order import timed_order
from tests.inference.orders import gain_variance, gain_weights

S = 0.6
STEADY = replace(only(median_disturbances(DisturbancePriors()), "pull_level_sd"), pull_level_sd=S)
DRIFTING = replace(STEADY, linear_drift_sd=100.0)  # a drift of which nothing is known
SPEED = np.array([60.0, 80.0])


def order(letters: str) -> RunOrder:
    return timed_order(letters, 1.0, 1.0)


def weights(letters: str, disturbances: Disturbances) -> np.ndarray:
    return gain_weights(level_covariance(order(letters), disturbances), order(letters).is_candidate)


def readings(letters: str) -> np.ndarray:
    return np.where(order(letters).is_candidate, 408.0, 400.0) - 0.7 * np.arange(len(letters))


def test_the_readings_of_abba_under_drift():
    np.testing.assert_allclose(readings("ABBA"), [400.0, 407.3, 406.6, 397.9])


@pytest.mark.parametrize(
    ("letters", "expected"),
    [("ABBA", [-0.5, 0.5, 0.5, -0.5]), ("ABA", [-0.5, 1.0, -0.5]), ("ABAB", [-0.5, 0.5, -0.5, 0.5])],
)
def test_equal_weights_are_best_where_nothing_drifts(letters, expected):
    np.testing.assert_allclose(weights(letters, STEADY), expected, atol=1e-12)


@pytest.mark.parametrize(("letters", "difference"), [("ABBA", 8.0), ("ABA", 8.0), ("ABAB", 7.3)])
def test_equal_weights_remove_the_drift_from_symmetric_orders_only(letters, difference):
    assert weights(letters, STEADY) @ readings(letters) == pytest.approx(difference, abs=1e-9)


@pytest.mark.parametrize("letters", ["ABBA", "ABA", "ABAB", "ABBABAAB"])
def test_a_drift_of_which_nothing_is_known_is_eliminated_from_any_order(letters):
    assert weights(letters, DRIFTING) @ readings(letters) == pytest.approx(8.0, abs=1e-3)


def test_eliminating_drift_costs_nothing_in_the_symmetric_orders_and_much_in_others():
    np.testing.assert_allclose(weights("ABBA", DRIFTING), weights("ABBA", STEADY), atol=1e-4)
    np.testing.assert_allclose(weights("ABA", DRIFTING), weights("ABA", STEADY), atol=1e-4)
    assert gain_variance(SPEED, order("ABAB"), DRIFTING) > 1.2 * gain_variance(SPEED, order("ABAB"), STEADY)


@pytest.mark.parametrize(("letters", "bias"), [("ABBA", -2.0), ("ABA", -1.0), ("ABBABAAB", 0.0)])
def test_a_quadratic_drift_leaves_a_bias_unless_the_order_repeats_itself_mirrored(letters, bias):
    drift = np.arange(len(letters)) ** 2
    assert weights(letters, DRIFTING) @ drift == pytest.approx(bias, abs=1e-3)


@pytest.mark.parametrize(("letters", "variance"), [("ABBA", 1.0), ("ABA", 1.5), ("AB", 2.0)])
def test_symmetric_orders_have_the_variance_of_their_means(letters, variance):
    assert gain_variance(SPEED, order(letters), STEADY) == pytest.approx(variance * S**2)

"""Student's sleep data: extra hours of sleep of ten people after each of two drugs (Student, Biometrika 6, 1908).

Ten studies without errors of their own: their pooled mean is the mean of the differences, with its interval.
"""

import numpy as np
import pytest
from scipy import stats

from boostwright.inference.gain_summary import Interval
from boostwright.inference.meta_analysis import fitted_interval, mean_of, random_effects

FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def pooled_difference(confidence: float) -> Interval:
    return fitted_interval(random_effects(mean_of(SECOND - FIRST, np.full(10, 1e-5))), np.ones(1), confidence)


def test_mean_difference_is_as_student_printed_it():
    """He prints a mean difference of 1.58 and, with divisor n, a standard deviation of 1.17."""
    result = pooled_difference(0.95)
    assert result.estimate == pytest.approx(1.58, abs=1e-12)
    assert np.std(SECOND - FIRST) == pytest.approx(1.17, abs=0.005)
    assert (result.lower, result.upper) == pytest.approx((0.700114, 2.459886), abs=1e-6)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.99])
def test_agrees_with_an_independent_library(confidence):
    expected = stats.ttest_rel(SECOND, FIRST).confidence_interval(confidence)
    result = pooled_difference(confidence)
    assert (result.lower, result.upper) == pytest.approx((expected.low, expected.high), rel=1e-9)

"""Student's sleep data: extra hours of sleep of ten people after each of two drugs (Student, Biometrika 6, 1908)."""

import numpy as np
import pytest
from scipy import stats

from boostwright.inference.uncertainty import paired_difference

FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def test_mean_difference_is_as_student_printed_it():
    """He prints a mean difference of 1.58 and, with divisor n, a standard deviation of 1.17 (here divisor n - 1)."""
    result = paired_difference(FIRST, SECOND, 0.95)
    assert result.estimate == pytest.approx(1.58, abs=1e-12)
    assert np.std(SECOND - FIRST) == pytest.approx(1.17, abs=0.005)
    assert (result.lower, result.upper) == pytest.approx((0.700114, 2.459886), abs=1e-6)
    assert (result.t_statistic, result.p_value) == pytest.approx((4.062128, 0.00283289), rel=1e-6)


def test_agrees_with_an_independent_library():
    expected = stats.ttest_rel(SECOND, FIRST)
    interval = expected.confidence_interval(0.9)
    result = paired_difference(FIRST, SECOND, 0.9)
    assert result.t_statistic == pytest.approx(expected.statistic, rel=1e-12)
    assert result.p_value == pytest.approx(expected.pvalue, rel=1e-12)
    assert (result.lower, result.upper) == pytest.approx((interval.low, interval.high), rel=1e-12)


def test_unpaired_the_same_data_show_much_less():
    """The pairs share the sleeper; two separate groups would have given p = 0.079."""
    assert stats.ttest_ind(FIRST, SECOND, equal_var=False).pvalue == pytest.approx(0.079394, abs=1e-6)
    assert paired_difference(FIRST, SECOND, 0.95).p_value < 0.01


def test_one_pair_is_refused():
    with pytest.raises(ValueError, match="one pair shows no scatter"):
        paired_difference([1.0], [2.0], 0.95)

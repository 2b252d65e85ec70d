"""A worked example of JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM)."""

import numpy as np
import pytest

from boostwright.inference.meta_analysis import fitted_interval, random_effects, trend_of


def test_h3_calibration_of_a_thermometer():
    """Table H.6 and the text after it, y1 and y2 of b = y1 + y2 (t - 20 degC), by the line that `pool` draws.

    Studies whose own errors vanish leave all scatter to the variance between them: an ordinary straight line.
    """
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -1e-3 * np.array([171, 169, 166, 159, 164, 165, 156, 157, 159, 161, 160])
    fit = random_effects(trend_of(b, np.full(11, 1e-6), t - 20))
    errors = np.sqrt(np.diag(fit.covariance))
    np.testing.assert_allclose(fit.coefficients, [-0.1712, 0.00218], atol=6e-5)
    np.testing.assert_allclose(errors, [0.0029, 0.00067], atol=6e-5)
    assert np.sqrt(fit.between_variance) == pytest.approx(0.0035, abs=6e-5)
    assert fit.covariance[0, 1] / errors.prod() == pytest.approx(-0.930, abs=6e-4)
    at_30 = fitted_interval(fit, np.array([1.0, 10.0]), 0.95)
    assert at_30.estimate == pytest.approx(-0.1494, abs=6e-5)
    t_of_9 = 2.2622  # Student, 95 %, from memory of the printed table
    assert (at_30.upper - at_30.estimate) / t_of_9 == pytest.approx(0.0041, abs=6e-5)

"""Worked examples of JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM)."""

import numpy as np
import pytest

from boostwright.inference.least_squares import linear_fit
from boostwright.inference.uncertainty import (
    CorrelatedEstimates,
    effective_degrees_of_freedom,
    mean_of_simultaneous_readings,
    propagated,
)

# Example H.2: simultaneous readings of voltage [V], current [A] and phase angle [rad]
READINGS = np.array(
    [
        [5.007, 19.663e-3, 1.0456],
        [4.994, 19.639e-3, 1.0438],
        [5.005, 19.640e-3, 1.0468],
        [4.990, 19.685e-3, 1.0428],
        [4.999, 19.678e-3, 1.0433],
    ]
)


def impedance(lanes):
    V, current, phi = lanes.T
    return np.stack([V / current * np.cos(phi), V / current * np.sin(phi), V / current], axis=1)


def test_h2_resistance_reactance_and_impedance():
    """Table H.4 prints R 127.732 u 0.071, X 219.847 u 0.295, Z 254.260 u 0.236 and the correlations below."""
    inputs = mean_of_simultaneous_readings(READINGS)
    result = propagated(impedance, inputs)
    np.testing.assert_allclose(inputs.standard_uncertainties, [0.0032, 0.0095e-3, 0.00075], rtol=0.02)
    np.testing.assert_allclose(inputs.correlation[np.triu_indices(3, 1)], [-0.36, 0.86, -0.65], atol=0.006)
    np.testing.assert_allclose(result.estimates, [127.732, 219.847, 254.260], atol=6e-4)
    np.testing.assert_allclose(result.standard_uncertainties, [0.071, 0.295, 0.236], atol=6e-4)
    np.testing.assert_allclose(result.correlation[np.triu_indices(3, 1)], [-0.588, -0.485, 0.993], atol=6e-4)


def test_h2_without_its_correlations_overstates_the_uncertainty_of_resistance():
    """Computed with the example's data and the correlations set to zero: 0.19454 ohm, 2.7 times too much."""
    inputs = mean_of_simultaneous_readings(READINGS)
    apart = CorrelatedEstimates(estimates=inputs.estimates, covariance=np.diag(np.diag(inputs.covariance)))
    assert propagated(impedance, apart).standard_uncertainties[0] == pytest.approx(0.19454, rel=1e-4)


def test_h3_calibration_of_a_thermometer():
    """Table H.6 and the text after it, y1 and y2 of b = y1 + y2 (t - 20 degC)."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -1e-3 * np.array([171, 169, 166, 159, 164, 165, 156, 157, 159, 161, 160])
    fit = linear_fit(np.column_stack([np.ones_like(t), t - 20]), b)
    np.testing.assert_allclose(fit.estimates, [-0.1712, 0.00218], atol=6e-5)
    np.testing.assert_allclose(fit.standard_errors, [0.0029, 0.00067], atol=6e-5)
    assert fit.residual_standard_deviation == pytest.approx(0.0035, abs=6e-5)
    assert fit.correlation[0, 1] == pytest.approx(-0.930, abs=6e-4)
    at_30 = propagated(
        lambda lanes: lanes @ np.array([[1.0], [10.0]]),
        CorrelatedEstimates(estimates=fit.estimates, covariance=fit.covariance),
    )
    assert at_30.estimates[0] == pytest.approx(-0.1494, abs=6e-5)
    assert at_30.standard_uncertainties[0] == pytest.approx(0.0041, abs=6e-5)


def test_h1_end_gauge_combined_uncertainty_and_degrees_of_freedom():
    """Contributions in nm and degrees of freedom as in H.1.3 (from memory): 25, 18; 9.7, 25.6; 2.9, 50; 16.6, 2."""
    contributions = [25.0, 9.7, 2.9, 16.6]
    combined = np.linalg.norm(contributions)
    assert combined == pytest.approx(32, abs=0.5)
    assert int(effective_degrees_of_freedom(contributions, [18, 25.6, 50, 2])) == 16


def test_welch_satterthwaite_with_an_exact_contribution():
    """(0.57^2 + 0.25^2)^2 / (0.57^4 / 9) by hand."""
    assert effective_degrees_of_freedom([0.57, 0.25], [9, np.inf]) == pytest.approx(12.80, abs=0.005)
    assert effective_degrees_of_freedom([0.25], [np.inf]) == np.inf

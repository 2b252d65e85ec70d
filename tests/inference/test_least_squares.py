"""Linear least squares: limits and equivalences; certified values are checked in tests/published."""

import numpy as np
import pytest

from boostwright.inference.least_squares import generalised_linear_fit, linear_fit

T = np.linspace(0.0, 3.0, 12)


def test_equal_variances_give_ordinary_least_squares():
    generator = np.random.default_rng(1)
    X, y = generator.normal(size=(20, 3)), generator.normal(size=20)
    ordinary = linear_fit(X, y)
    general = generalised_linear_fit(X, y, 0.3**2 * np.eye(20))
    np.testing.assert_allclose(general.estimates, ordinary.estimates, rtol=1e-12)
    scale = (0.3 / ordinary.residual_standard_deviation) ** 2
    np.testing.assert_allclose(general.covariance, ordinary.covariance * scale, rtol=1e-12)


def test_a_shared_error_is_not_averaged_away():
    """Forty readings of one level, 0.5 % shared by all and 0.2 % each: the shared part stays whole."""
    n = 40
    fit = generalised_linear_fit(np.ones((n, 1)), np.ones(n), 0.005**2 * np.ones((n, n)) + 0.002**2 * np.eye(n))
    assert fit.standard_errors[0] == pytest.approx(np.hypot(0.005, 0.002 / np.sqrt(n)), rel=1e-9)


def test_correlated_fit_covers_the_truth_as_often_as_it_says():
    """Mahalanobis distance of 400 fits to the truth has the mean of chi-squared with two degrees of freedom."""
    generator = np.random.default_rng(2)
    X = np.column_stack([np.ones_like(T), T])
    C = 0.1**2 * np.exp(-np.abs(T[:, None] - T)) + 0.05**2
    distance = []
    for noise in generator.multivariate_normal(np.zeros(len(T)), C, size=400):
        fit = generalised_linear_fit(X, X @ [1.0, 2.0] + noise, C)
        off = fit.estimates - [1.0, 2.0]
        distance.append(off @ np.linalg.solve(fit.covariance, off))
    assert np.mean(distance) == pytest.approx(2.0, abs=3 * 2 / np.sqrt(400))  # its sd is 2


def test_dependent_columns_and_too_few_observations_are_refused():
    with pytest.raises(ValueError, match="linearly dependent"):
        linear_fit(np.column_stack([T, 2 * T]), T)
    with pytest.raises(ValueError, match="2 observations cannot give 2 parameters"):
        linear_fit(np.ones((2, 2)), np.ones(2))

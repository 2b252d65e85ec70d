"""Random effects against published examples and against statsmodels where the methods coincide."""

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.meta_analysis import combine_effects

from boostwright.inference.meta_analysis import (
    between_variance_at,
    fitted_interval,
    heterogeneity,
    mean_of,
    random_effects,
    random_effects_at,
    scatter,
    trend_of,
)

MEAN = np.ones(1)

# Trials of BCG vaccine against tuberculosis: cases and others, vaccinated and control, and degrees from the equator.
# G. A. Colditz et al., J. Am. Med. Assoc. 271, 1994, 698-702 (from memory).
BCG = np.array([
    [4, 119, 11, 128, 44], [6, 300, 29, 274, 55], [3, 228, 11, 209, 42], [62, 13536, 248, 12619, 52],
    [33, 5036, 47, 5761, 13], [180, 1361, 372, 1079, 44], [8, 2537, 10, 619, 19], [505, 87886, 499, 87892, 13],
    [29, 7470, 45, 7232, 27], [17, 1699, 65, 1600, 42], [186, 50448, 141, 27197, 18], [5, 2493, 3, 2338, 33],
    [27, 16886, 29, 17825, 33],
], dtype=float)  # fmt: skip
A, B, C, D, LATITUDE = BCG.T
RISK = np.log(A / (A + B)) - np.log(C / (C + D))
RISK_SD = np.sqrt(1 / A - 1 / (A + B) + 1 / C - 1 / (C + D))

# R. N. Kacker, Metrologia 41, 2004, 132-136: nine results of an interlaboratory comparison, as the tests of statsmodels
# hold them, with the value of its table 1 for the estimator of Mandel and Paule.
LABORATORIES = np.array([61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90])
LABORATORY_SD = np.sqrt([0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])


def test_vaccine_trials_by_restricted_likelihood():
    """W. Viechtbauer, Conducting meta-analyses in R, J. Stat. Softw. 36(3), 2010, as printed there (from memory)."""
    studies = mean_of(RISK, RISK_SD)
    fit = random_effects(studies)
    apart = heterogeneity(studies, fit, 0.95)
    plain_error = np.sqrt(fit.covariance[0, 0] / fit.spread_ratio)
    assert round(fit.between_variance, 4) == 0.3132
    assert round(fit.coefficients[0], 4) == -0.7145
    assert round(plain_error, 4) == 0.1798
    assert round(apart.q_statistic, 3) == 152.233
    assert round(apart.between_sd.lower, 4) == 0.3460
    assert round(apart.between_sd.upper, 4) == 1.0543
    assert round(100 * apart.share.estimate, 2) == 92.22
    prediction = fit.coefficients[0] + norm.ppf([0.025, 0.975]) * np.hypot(plain_error, apart.between_sd.estimate)
    assert np.round(prediction, 4) == pytest.approx([-1.8667, 0.4376])


def test_vaccine_trials_over_latitude():
    """The same paper: the effect falls by 0.0291 a degree, standard errors without Knapp-Hartung (from memory)."""
    studies = trend_of(RISK, RISK_SD, LATITUDE)
    fit = random_effects(studies)
    apart = heterogeneity(studies, fit, 0.95)
    assert np.round(fit.coefficients, 4) == pytest.approx([0.2515, -0.0291])
    assert np.round(np.sqrt(np.diag(fit.covariance) / fit.spread_ratio), 4) == pytest.approx([0.2491, 0.0072])
    assert round(apart.q_statistic, 4) == 30.7331
    assert fit.between_variance == pytest.approx(0.0764, abs=1.01e-4)  # the search there stops in the fifth digit
    assert round(100 * apart.share.estimate, 1) == 68.4


def test_laboratories_by_the_scatter_that_is_expected():
    """Paule and Mandel: the variance at which the scatter is its own expectation, k - 1."""
    variance = between_variance_at(mean_of(LABORATORIES, LABORATORY_SD), 8.0)
    assert round(np.sqrt(variance), 4) == 0.8399


@pytest.mark.parametrize("method", ["dl", "pm"])
def test_mean_scatter_and_knapp_hartung_interval_are_those_of_statsmodels(method):
    """For a variance between that it gives; its own estimators of that variance are others."""
    theirs = combine_effects(LABORATORIES, LABORATORY_SD**2, method_re=method, use_t=True, atol=1e-12)
    studies = mean_of(LABORATORIES, LABORATORY_SD)
    fit = random_effects_at(studies, float(theirs.tau2))
    assert fit.spread_ratio > 1 - 1e-9  # below one ours is wider on purpose
    interval = fitted_interval(fit, MEAN, 0.95)
    assert fit.coefficients[0] == pytest.approx(theirs.mean_effect_re, rel=1e-12)
    assert (interval.lower, interval.upper) == pytest.approx(tuple(theirs.conf_int(use_t=True)[3]), rel=1e-9)
    assert scatter(studies, 0.0) == pytest.approx(theirs.q, rel=1e-10)
    assert fit.weights == pytest.approx(theirs.weights_rel_re, rel=1e-9)


def test_with_equal_errors_the_whole_answer_is_that_of_statsmodels():
    """Restricted likelihood and the method of moments coincide there."""
    effects, errors = np.array([0.012, 0.034, 0.021, 0.055, 0.008]), np.full(5, 0.006)
    theirs = combine_effects(effects, errors**2, method_re="dl", use_t=True)
    studies = mean_of(effects, errors)
    fit = random_effects(studies)
    interval = fitted_interval(fit, MEAN, 0.95)
    apart = heterogeneity(studies, fit, 0.95)
    assert fit.between_variance == pytest.approx(theirs.tau2, rel=1e-9)
    assert (interval.lower, interval.upper) == pytest.approx(tuple(theirs.conf_int(use_t=True)[3]), rel=1e-9)
    assert apart.share.estimate == pytest.approx(theirs.i2, rel=1e-9)
    assert apart.p_value == pytest.approx(theirs.test_homogeneity().pvalue, rel=1e-9)

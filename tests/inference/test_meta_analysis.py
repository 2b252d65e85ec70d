"""Random effects: against hand calculation, limits and counted coverage; see tests/published as well."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from benchmarks.pooling import Pooling, coverage
from boostwright.inference.meta_analysis import (
    Studies,
    between_variance_at,
    fitted_interval,
    heterogeneity,
    mean_of,
    next_study_interval,
    random_effects,
    restricted_between_variance,
    scatter,
    trend_of,
    without_one,
)

MEAN = np.ones(1)
EFFECTS = st.lists(st.floats(-0.05, 0.05), min_size=3, max_size=8).map(np.array)


def test_equal_errors_give_the_textbook_mean_and_variance_between():
    """With equal errors s the variance between is the sample variance less s^2, and the interval Student's own."""
    effects = np.array([0.01, 0.03, 0.02, 0.06])
    fit = random_effects(mean_of(effects, np.full(4, 0.005)))
    assert fit.between_variance == pytest.approx(np.var(effects, ddof=1) - 0.005**2)
    interval = fitted_interval(fit, MEAN, 0.95)
    reach = student.ppf(0.975, 3) * np.std(effects, ddof=1) / 2
    assert (interval.lower, interval.upper) == pytest.approx((0.03 - reach, 0.03 + reach))


def test_without_errors_of_their_own_the_next_is_the_textbook_interval_of_one_further_value():
    effects = np.array([0.01, 0.03, 0.02, 0.06])
    studies = mean_of(effects, np.full(4, 1e-7))
    found = next_study_interval(studies, random_effects(studies), MEAN, 0.9)
    reach = student.ppf(0.95, 3) * np.std(effects, ddof=1) * np.sqrt(1 + 1 / 4)
    assert (found.lower, found.upper) == pytest.approx((0.03 - reach, 0.03 + reach), rel=2e-3)  # 400 steps


def test_the_next_engine_is_never_surer_than_the_mean():
    """The scatter is far below what the errors allow, so hardly any spread is left possible."""
    studies = mean_of(np.full(30, 0.02), np.full(30, 0.006))
    fit = random_effects(studies)
    found, mean = next_study_interval(studies, fit, MEAN, 0.95), fitted_interval(fit, MEAN, 0.95)
    assert found.estimate == pytest.approx(0.02)
    assert mean.upper - 0.02 == pytest.approx(student.ppf(0.975, 29) * 0.006 / np.sqrt(30))
    assert (found.lower, found.upper) == (mean.lower, mean.upper)


def test_studies_that_happen_to_agree_do_not_make_an_interval_of_nothing():
    fit = random_effects(mean_of(np.array([0.02, 0.0200001, 0.02]), np.array([0.006, 0.007, 0.005])))
    assert fit.between_variance == 0.0
    assert fit.spread_ratio < 1e-6
    variance = 1 / np.sum(np.array([0.006, 0.007, 0.005]) ** -2.0)
    assert fit.covariance[0, 0] == pytest.approx(variance)


@given(EFFECTS, st.floats(-1.0, 1.0), st.floats(0.1, 10.0))
def test_the_fit_moves_and_stretches_with_the_effects(effects, shift, factor):
    errors = 0.004 + 0.002 * np.arange(effects.size)
    fit = random_effects(mean_of(effects, errors))
    moved = random_effects(mean_of(factor * effects + shift, factor * errors))
    assert moved.coefficients[0] == pytest.approx(factor * fit.coefficients[0] + shift, abs=1e-7)
    assert np.sqrt(moved.between_variance) == pytest.approx(factor * np.sqrt(fit.between_variance), abs=1e-6)


@given(EFFECTS)
def test_no_other_variance_between_is_likelier(effects):
    errors = 0.004 + 0.002 * np.arange(effects.size)
    studies = mean_of(effects, errors)

    def likelihood(variance: float) -> float:
        w = 1 / (errors**2 + variance)
        rest = effects - w @ effects / w.sum()
        return 0.5 * (np.log(w).sum() - np.log(w.sum()) - w @ rest**2)

    best = likelihood(restricted_between_variance(studies))
    assert all(best >= likelihood(variance) - 1e-9 for variance in np.geomspace(1e-9, 0.1, 60))


def test_the_scatter_at_the_found_variance_is_the_one_asked_for():
    studies = mean_of(np.array([0.01, 0.03, 0.02, 0.06]), np.array([0.004, 0.006, 0.008, 0.003]))
    variance = between_variance_at(studies, 3.0)
    assert scatter(studies, variance) == pytest.approx(3.0)
    assert between_variance_at(studies, scatter(studies, 0.0) + 1.0) == 0.0


def test_a_line_without_scatter_is_found_exactly():
    flow = np.array([0.2, 0.3, 0.45, 0.6])
    fit = random_effects(trend_of(0.01 + 0.05 * flow, np.array([0.004, 0.006, 0.008, 0.003]), flow))
    assert fit.coefficients == pytest.approx([0.01, 0.05])


def test_leaving_out_the_odd_one_lowers_the_spread():
    studies = mean_of(np.array([0.02, 0.022, 0.019, 0.07]), np.full(4, 0.004))
    spreads = [fit.between_variance for fit in without_one(studies)]
    assert int(np.argmin(spreads)) == 3
    assert spreads[3] == 0.0
    assert heterogeneity(studies, random_effects(studies), 0.95).p_value < 1e-6


@pytest.mark.parametrize(
    ("effects", "errors", "words"),
    [
        ([0.01], [0.004], "1 studies for 1 coefficients: one study more is the least"),
        ([0.01, 0.02], [0.004, 0.0], "a standard error is not above zero"),
        ([0.01, np.nan], [0.004, 0.004], "is not a number: leave that study out"),
        ([0.01, 0.02], [0.004], "2 effects, 1 standard errors and 2 rows of the design"),
    ],
)
def test_studies_that_cannot_be_weighed_are_refused(effects, errors, words):
    with pytest.raises(ValueError, match=words):
        Studies(effects=np.array(effects), standard_errors=np.array(errors), design=np.ones((len(effects), 1)))


def test_two_studies_predict_no_third():
    studies = mean_of(np.array([0.01, 0.02]), np.full(2, 0.004))
    with pytest.raises(ValueError, match="too few studies to say anything of a next one"):
        next_study_interval(studies, random_effects(studies), MEAN, 0.95)


def test_the_intervals_hold_the_truth_as_often_as_they_say():
    """Eight engines of uneven precision; 500 draws have a standard error of 1.0 %, three of which are allowed."""
    found = coverage(Pooling(campaigns=8, between_sd=0.01), 500)
    assert found.mean_holds == pytest.approx(0.95, abs=0.03)
    assert found.next_holds == pytest.approx(0.95, abs=0.03)  # the usual formula holds 89 %

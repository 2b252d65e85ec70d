"""Nonlinear fits: priors, bounds, named outcomes; certified values are checked in tests/published."""

import numpy as np
import pytest

from boostwright.inference.nonlinear_fit import (
    QUICK,
    NormalPrior,
    Outcome,
    Parameter,
    forward_differences,
    no_prior,
    nonlinear_fit,
    standard_normal_prior,
)

T = np.linspace(0.0, 3.0, 12)


def decay(lanes):
    return lanes[:, :1] * np.exp(-lanes[:, 1:2] * T) - 2.0 * np.exp(-0.7 * T)


def decay_parameters(**limits):
    return [Parameter(name="amplitude", start=1.0), Parameter(name="rate", start=0.2, **limits)]


def test_a_linear_problem_is_solved_with_its_prior_exactly():
    """One observation y = b + e, e ~ N(0, 1), prior N(3, 1/4): the mean is weighted by the precisions 1 and 4."""
    prior = NormalPrior(mean=np.array([3.0]), precision_root=np.array([[2.0]]))
    fit = nonlinear_fit(lambda lanes: lanes - 1.0, [Parameter(name="b", start=0.0)], prior)
    assert fit.estimates[0] == pytest.approx((1 * 1.0 + 4 * 3.0) / 5, rel=1e-9)
    assert fit.standard_errors[0] == pytest.approx(np.sqrt(1 / 5), rel=1e-9)
    assert len(fit.residuals) == 1


def test_quick_and_precise_settings_agree():
    precise = nonlinear_fit(decay, decay_parameters(), standard_normal_prior(2))
    quick = nonlinear_fit(decay, decay_parameters(), standard_normal_prior(2), QUICK)
    np.testing.assert_allclose(quick.estimates, precise.estimates, atol=1e-3 * precise.standard_errors.min())


def test_a_fit_without_noise_finds_the_truth_and_says_converged():
    fit = nonlinear_fit(decay, decay_parameters(), no_prior(2))
    assert fit.outcome is Outcome.CONVERGED
    np.testing.assert_allclose(fit.estimates, [2.0, 0.7], rtol=1e-9)


def test_a_bound_in_the_way_is_named_and_held():
    fit = nonlinear_fit(decay, decay_parameters(upper=0.5), no_prior(2))
    assert fit.outcome is Outcome.AT_A_BOUND
    assert fit.doubtful == ("rate",)
    assert fit.estimates[1] == 0.5
    assert fit.standard_errors[1] == 0.0
    best = np.linalg.lstsq(np.exp(-0.5 * T)[:, None], 2 * np.exp(-0.7 * T), rcond=None)[0][0]
    assert fit.estimates[0] == pytest.approx(best, rel=1e-8)
    assert "rate stopped at a bound" in fit.advice


def test_parameters_that_only_act_as_a_product_are_named():
    def residuals(lanes):
        return lanes[:, :1] * lanes[:, 1:2] * np.exp(-T) + lanes[:, 2:] - np.exp(-T)

    parameters = [Parameter(name=name, start=0.5) for name in ("level", "gain", "offset")]
    fit = nonlinear_fit(residuals, parameters, no_prior(3))
    assert fit.outcome is Outcome.NOT_IDENTIFIABLE
    assert fit.doubtful == ("level", "gain")
    assert np.isinf(fit.standard_errors[:2]).all()
    assert np.isfinite(fit.standard_errors[2])
    assert "do not separate level, gain" in fit.advice


def test_a_prior_makes_the_same_product_identifiable():
    def residuals(lanes):
        return lanes[:, :1] * lanes[:, 1:2] * np.exp(-T) + lanes[:, 2:] - np.exp(-T)

    parameters = [Parameter(name=name, start=0.5) for name in ("level", "gain", "offset")]
    assert nonlinear_fit(residuals, parameters, standard_normal_prior(3)).outcome is Outcome.CONVERGED


def test_too_few_steps_are_said():
    parameters = [Parameter(name="amplitude", start=1.0), Parameter(name="rate", start=0.2, largest_step=1e-3)]
    fit = nonlinear_fit(decay, parameters, no_prior(2), QUICK)
    assert fit.outcome is Outcome.RAN_OUT_OF_STEPS
    assert fit.steps == QUICK.most_steps
    assert fit.estimates[1] <= 0.2 + QUICK.most_steps * 1e-3 + 1e-12


def test_forward_differences_use_one_lane_for_each_parameter():
    seen = []

    def residuals(lanes):
        seen.append(len(lanes))
        return decay(lanes)

    forward_differences(residuals, np.array([2.0, 0.7]), np.ones(2))
    assert seen == [3]


def test_a_start_outside_its_bounds_is_refused():
    with pytest.raises(ValueError, match=r"rate: start 0\.2 is outside its bounds 0\.5 to 1"):
        Parameter(name="rate", start=0.2, lower=0.5, upper=1.0)


def test_a_start_where_the_model_has_no_value_is_refused():
    with pytest.raises(ValueError, match="not finite at the start"):
        nonlinear_fit(lambda lanes: np.log(lanes), [Parameter(name="b", start=-1.0)], no_prior(1))

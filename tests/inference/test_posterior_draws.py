"""Draws: exact where the chain is linear, and the same as those of a Markov chain where it is not."""

from types import SimpleNamespace

import numpy as np
import pytest

from boostwright.inference.calibrate import calibrate
from boostwright.inference.posterior_draws import (
    SPREAD_FACTOR,
    central_interval,
    chain_draws,
    preconditioned_chain,
    randomised_maximum_likelihood,
    spread_interval,
)
from tests.inference.setups import baseline_points, curves_of, data_of


class LinearPredictor:
    """Observations that are linear in the unknowns, with unit errors."""

    def __init__(self, matrix, observations):
        self.matrix = matrix
        self.data = SimpleNamespace(covariance=np.eye(len(observations)), observations=observations)

    def predictions(self, vectors):
        return vectors @ self.matrix.T

    def residuals(self, observations):
        return lambda vectors: vectors @ self.matrix.T - observations


def linear_calibration():
    generator = np.random.default_rng(1)
    J, y = generator.normal(size=(6, 3)), generator.normal(size=6)
    covariance = np.linalg.inv(J.T @ J + np.eye(3))
    fit = SimpleNamespace(jacobian=J, estimates=covariance @ J.T @ y)
    return SimpleNamespace(predictor=LinearPredictor(J, y), fit=fit), covariance


def test_draws_of_a_linear_model_have_the_mean_and_covariance_of_its_posterior():
    """4000 draws: a variance is off by 2.2 % (one sd), a mean by 1.6 % of a standard deviation."""
    calibration, covariance = linear_calibration()
    draws = randomised_maximum_likelihood(calibration, 4000, np.random.default_rng(2)).vectors
    sd = np.sqrt(np.diag(covariance))
    assert np.abs((draws.mean(axis=0) - calibration.fit.estimates) / sd).max() < 0.06
    np.testing.assert_allclose(np.cov(draws.T), covariance, atol=0.1 * sd.max() ** 2)


def test_a_markov_chain_of_a_linear_model_has_its_posterior_too():
    calibration, covariance = linear_calibration()
    start = randomised_maximum_likelihood(calibration, 60, np.random.default_rng(2))
    chain = preconditioned_chain(calibration, start, 600, np.random.default_rng(3))
    draws = chain.vectors.reshape(-1, 3)
    assert chain.acceptance == pytest.approx(1.0)  # its reference is the posterior itself
    np.testing.assert_allclose(np.cov(draws.T), covariance, atol=0.15 * np.diag(covariance).max())


@pytest.mark.parametrize("sampler", [randomised_maximum_likelihood, chain_draws])
def test_what_a_draw_leaves_of_its_observations_is_the_noise_that_no_fit_follows(sampler):
    """Covariance (I + JJ')^-1 for unit noise and a unit prior, about the residual of the fit; 1500 draws."""
    calibration, _ = linear_calibration()
    J, predictor = calibration.predictor.matrix, calibration.predictor
    draws = sampler(calibration, 1500, np.random.default_rng(11))
    left = draws.observations - draws.vectors @ J.T
    np.testing.assert_allclose(np.cov(left.T), np.linalg.inv(np.eye(6) + J @ J.T), atol=0.1)
    fit_left = predictor.data.observations - J @ calibration.fit.estimates
    np.testing.assert_allclose(left.mean(axis=0), fit_left, atol=0.1)


@pytest.fixture(scope="module")
def explained_by_both():
    """Gain in air and absolute air flow, by draws and by a chain, for a campaign with torque and boost alone."""
    baseline = baseline_points()
    candidate = baseline.copy()
    candidate["inlet_area"] *= 1.5
    curves = curves_of(baseline, candidate, np.random.default_rng(5))
    calibration = calibrate(data_of(baseline, baseline, curves, ("torque", "manifold_pressure")))
    draws = randomised_maximum_likelihood(calibration, 160, np.random.default_rng(6))
    chain = preconditioned_chain(calibration, draws, 300, np.random.default_rng(7))
    late = chain.vectors[:, 10:].reshape(-1, chain.vectors.shape[2])
    return air_gain(calibration, draws.vectors), air_gain(calibration, late), chain.acceptance


def air_gain(calibration, vectors):
    air = calibration.predictor.states(vectors)["air_mass_flow"].reshape(len(vectors), 2, -1)
    return 100 * np.log(air[:, 1] / air[:, 0]).mean(axis=1)


def test_draws_agree_with_the_chain_on_the_gain_in_air(explained_by_both):
    """Widths within 25 %, medians within 0.3 standard deviations: what 160 draws and 60 short chains can tell."""
    draws, chain, _ = explained_by_both
    assert 0.75 < np.std(draws) / np.std(chain) < 1.25
    assert abs(np.median(draws) - np.median(chain)) < 0.3 * np.std(chain)


def test_the_chain_accepts_as_often_as_a_good_chain_does(explained_by_both):
    assert 0.15 < explained_by_both[2] < 0.75


def test_each_draw_keeps_the_observations_it_was_fitted_to():
    calibration, _ = linear_calibration()
    draws = randomised_maximum_likelihood(calibration, 500, np.random.default_rng(4))
    off = draws.observations - calibration.predictor.data.observations
    assert np.std(off) == pytest.approx(1.0, abs=0.05)
    fitted = draws.vectors @ calibration.predictor.matrix.T
    assert np.corrcoef((fitted - fitted.mean(axis=0)).ravel(), off.ravel())[0, 1] > 0.3


def test_the_same_generator_gives_the_same_draws():
    calibration, _ = linear_calibration()
    first, second = (randomised_maximum_likelihood(calibration, 5, np.random.default_rng(8)).vectors for _ in range(2))
    assert np.array_equal(first, second)


def test_a_spread_interval_is_wider_by_the_factor_on_either_side_of_the_median():
    draws = np.random.default_rng(9).gamma(2.0, size=(1001, 2))
    lower, upper = central_interval(draws, 0.9)
    wider_lower, wider_upper = spread_interval(draws, 0.9)
    middle = np.median(draws, axis=0)
    np.testing.assert_allclose(middle - wider_lower, SPREAD_FACTOR * (middle - lower), rtol=1e-12)
    np.testing.assert_allclose(wider_upper - middle, SPREAD_FACTOR * (upper - middle), rtol=1e-12)

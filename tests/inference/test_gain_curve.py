"""The gain curve: what must change nothing, what must flip it, and its integration against a Markov chain."""

from dataclasses import replace

import emcee
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.synthetic_pulls import no_gain
from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    Repeatability,
    RunOrder,
    disturbances_from,
    priors_on_linear_scale,
)
from boostwright.inference.gain_curve import (
    GainPosterior,
    _coordinates,  # pyright: ignore[reportPrivateUsage]
    _log_parameters,  # pyright: ignore[reportPrivateUsage]
    fit_gain_curve,
)
from boostwright.inference.gain_model import GainData, gain_estimate, gain_model
from boostwright.inference.importance import effective_draws
from boostwright.inference.prior_density import log_prior_density
from tests.inference.campaigns import first_bins, made_campaign, masked

PRIORS = DisturbancePriors()


def fitted(data: GainData, priors: DisturbancePriors = PRIORS, seed: int = 1) -> GainPosterior:
    return fit_gain_curve(data, priors, np.random.default_rng(seed))


def reordered(order: RunOrder, places: np.ndarray) -> RunOrder:
    return RunOrder(
        is_candidate=order.is_candidate[places],
        session=order.session[places],
        installation=order.installation[places],
        elapsed=order.elapsed[places],
        soak=order.soak[places],
    )


@pytest.fixture(scope="module")
def data() -> GainData:
    return masked(first_bins(made_campaign("ABBA", seed=2), 16), 2, slice(4, 6))


@pytest.fixture(scope="module")
def posterior(data) -> GainPosterior:
    return fitted(data)


def same(ours: GainPosterior, reference: GainPosterior, scale: float = 1.0) -> None:
    np.testing.assert_allclose(ours.gain, scale * reference.gain, rtol=1e-4, atol=abs(scale) * 1e-6)
    np.testing.assert_allclose(
        ours.gain_covariance, scale**2 * reference.gain_covariance, rtol=1e-3, atol=scale**2 * 1e-8
    )


def test_the_same_seed_gives_the_same_digits(data, posterior):
    again, other = fitted(data), fitted(data, seed=2)
    np.testing.assert_array_equal(again.gain_draws, posterior.gain_draws)
    assert not np.array_equal(other.gain_draws, posterior.gain_draws)


@settings(max_examples=3, deadline=None)
@given(constant=st.floats(-9.0, 9.0))
def test_a_constant_factor_on_all_pulls_changes_nothing(constant, data, posterior):
    """Another unit of torque adds a constant to its logarithm."""
    shifted = fitted(replace(data, values=data.values + constant))
    same(shifted, posterior)
    np.testing.assert_allclose(shifted.baseline, posterior.baseline + constant, atol=1e-5)


@settings(max_examples=3, deadline=None)
@given(places=st.permutations(range(4)).map(np.array))
def test_the_order_of_the_rows_changes_nothing(places, data, posterior):
    shuffled = replace(
        data, values=data.values[places], counts=data.counts[places], order=reordered(data.order, places)
    )
    same(fitted(shuffled), posterior)


def test_swapping_the_setups_flips_the_sign(data, posterior):
    swapped = fitted(replace(data, order=replace(data.order, is_candidate=~data.order.is_candidate)))
    same(swapped, posterior, scale=-1.0)
    np.testing.assert_allclose(swapped.baseline, posterior.baseline + posterior.gain, atol=1e-5)


def test_another_start_of_the_clock_or_of_soak_changes_nothing(data, posterior):
    order = replace(data.order, elapsed=data.order.elapsed + 5000.0, soak=data.order.soak - 3.0)
    moved = fitted(replace(data, order=order))
    same(moved, posterior)
    np.testing.assert_allclose(moved.baseline, posterior.baseline, atol=1e-5)


@settings(max_examples=3, deadline=None)
@given(factor=st.floats(1e-2, 1e5))
def test_on_a_linear_scale_another_unit_multiplies_the_gain(factor, data):
    bar = replace(data, values=0.8 * (data.values - 6.0))
    reference = fitted(bar, priors_on_linear_scale(PRIORS, 0.8))
    other_unit = fitted(replace(bar, values=factor * bar.values), priors_on_linear_scale(PRIORS, factor * 0.8))
    same(other_unit, reference, scale=factor)


def test_mean_and_covariance_are_those_of_the_mixture_over_sizes(posterior):
    """The law of total variance, from the weighted draws of the sizes."""
    estimate = gain_estimate(posterior.model, disturbances_from(posterior.log_parameters, PRIORS))
    p = posterior.model.common_basis.shape[1]
    gains = estimate.coefficients[:, p:] @ posterior.model.gain_basis.T
    within = np.linalg.inv(estimate.information)[:, p:, p:]
    mean_within = np.average(within, axis=0, weights=posterior.weights)
    between = np.cov(gains.T, aweights=posterior.weights, ddof=0)
    covariance = posterior.model.gain_basis @ mean_within @ posterior.model.gain_basis.T + between
    np.testing.assert_allclose(posterior.gain, posterior.weights @ gains, atol=1e-12)
    np.testing.assert_allclose(posterior.gain_covariance, covariance, rtol=1e-6, atol=1e-14)


def test_the_coordinates_of_the_search_keep_volumes_and_come_back():
    logs = np.random.default_rng(0).normal(-5.0, 1.0, (6, 9))
    at, step = _coordinates(logs[0]), 1e-5

    jacobian = (_log_parameters(at + step * np.eye(9)) - _log_parameters(at - step * np.eye(9))) / (2 * step)

    np.testing.assert_allclose(_log_parameters(_coordinates(logs)), logs, atol=1e-12)
    assert abs(np.linalg.det(jacobian)) == pytest.approx(1.0, abs=1e-8)


def test_moments_of_the_draws_are_those_reported(posterior):
    sd = np.sqrt(np.diag(posterior.gain_covariance))
    standard_error = sd / np.sqrt(len(posterior.gain_draws))
    assert np.all(np.abs(posterior.gain_draws.mean(0) - posterior.gain) < 5 * standard_error)
    np.testing.assert_allclose(posterior.gain_draws.std(0), sd, rtol=0.12)  # heavy tails: twice the normal's error
    error = posterior.baseline_draws.mean(0) - posterior.baseline
    assert np.all(np.abs(error) < 5 * posterior.baseline_draws.std(0) / np.sqrt(len(posterior.gain_draws)))


def test_importance_sampling_agrees_with_a_markov_chain():
    """emcee walks the same posterior of the sizes; mixing over its steps gives the same curve and the same width."""
    data = first_bins(made_campaign("ABBA", seed=11), 14)
    model = gain_model(data, PRIORS.soak_sensitivity)

    def log_posterior(logs):
        return gain_estimate(model, disturbances_from(logs, PRIORS)).log_likelihood + log_prior_density(logs, PRIORS)

    generator = np.random.default_rng(7)
    centre = np.log([getattr(PRIORS, name).median for name in FITTED])
    walk = emcee.EnsembleSampler(40, 9, log_posterior, vectorize=True)
    walk.random_state = np.random.RandomState(7).get_state()  # emcee takes no generator
    walk.run_mcmc(centre + 0.3 * generator.standard_normal((40, 9)), 900)
    steps = walk.get_chain(discard=200, thin=10, flat=True)
    estimate = gain_estimate(model, disturbances_from(steps, PRIORS))
    p = model.common_basis.shape[1]
    gains = estimate.coefficients[:, p:] @ model.gain_basis.T
    within = np.linalg.inv(estimate.information)[:, p:, p:].mean(0)
    covariance = model.gain_basis @ within @ model.gain_basis.T + np.cov(gains.T)

    posterior = fitted(data)

    sd = np.sqrt(np.diag(covariance))
    assert np.max(np.abs(posterior.gain - gains.mean(0)) / sd) < 0.15
    np.testing.assert_allclose(np.sqrt(np.diag(posterior.gain_covariance)), sd, rtol=0.08)
    means = posterior.weights @ posterior.log_parameters
    spreads = np.sqrt(posterior.weights @ (posterior.log_parameters - means) ** 2)
    assert np.max(np.abs(means - steps.mean(0)) / steps.std(0)) < 0.3  # 150 effective draws: 0.08, and as much of emcee
    assert np.mean(spreads / steps.std(0)) == pytest.approx(1.0, abs=0.12)


@pytest.mark.parametrize(("low", "bins"), [(4000.0, 2), (4000.0, 5), (1500.0, 54)])
def test_any_declared_range_can_be_fitted(low, bins):
    speed = (low + 120.0 * np.arange(bins)) / 60
    order = made_campaign("ABBA", seed=1).order
    noise = 0.004 * np.random.default_rng(bins).standard_normal((4, bins))
    values = np.log(speed / 60) + noise + 0.05 * order.is_candidate[:, None]
    data = GainData(engine_speed=speed, values=values, counts=np.full(values.shape, 9), order=order)

    posterior = fitted(data)

    assert posterior.gain.mean() == pytest.approx(0.05, abs=0.012)  # noise, and the soak effect that is expected
    assert posterior.gain_draws.shape == (1600, bins)


@pytest.mark.parametrize("noise", [0.0, 1e-9, 0.3])
def test_pulls_far_from_anything_expected_are_still_fitted(noise):
    """Copied pulls without any noise, and pulls that scatter by a third, which no prior expects."""
    data = made_campaign("ABBA", seed=1)
    scatter = noise * np.random.default_rng(1).standard_normal(data.values.shape)
    gain = 0.02 * data.order.is_candidate[:, None]
    posterior = fitted(replace(data, values=data.values[0] + gain + scatter, order=replace(data.order, soak=None)))
    error = np.abs(posterior.gain - 0.02) / np.sqrt(np.diag(posterior.gain_covariance))
    assert np.all(np.isfinite(posterior.gain_draws))
    assert np.max(error) < 4


def test_an_offset_between_days_drops_out_when_each_day_holds_both_setups():
    data = made_campaign("ABBA", seed=4, sessions=2)
    second = data.order.session[:, None] == 1
    moved = fitted(replace(data, values=data.values + 0.02 * second))
    assert np.max(np.abs(moved.gain - fitted(data).gain)) < 0.0015  # a fourteenth of the offset of 2 %


def test_pulls_that_contradict_the_archive_are_said_to():
    data = made_campaign("ABBAAB", seed=6, gain=no_gain)
    scattered = replace(data, values=data.values + np.array([0.02, -0.03, 0.03, -0.02, 0.02, -0.01])[:, None])
    archive = replace(PRIORS, repeatability=Repeatability(pull_level_sd=0.003, degrees_of_freedom=30))

    contradicted, agreeing = fitted(scattered, archive), fitted(data, archive)

    assert contradicted.archive_probability < 0.05
    assert any("these pulls scatter unlike the stand's archive, which holds today with probability 0.0" in said
               for said in contradicted.warnings)  # fmt: skip
    assert agreeing.warnings == ()


def test_a_healthy_fit_has_effective_draws_and_no_warning(posterior):
    assert effective_draws(posterior.weights) > 60
    assert posterior.warnings == ()
    assert posterior.archive_probability == 1.0

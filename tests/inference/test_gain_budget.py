"""The uncertainty budget and what is told of each disturbance, against the full posterior and against dense algebra."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.inference.disturbances import FITTED, DisturbancePriors
from boostwright.inference.gain_budget import (
    UNKNOWN_SIZES,
    drift_interval,
    gain_draws_without_drift,
    soak_sensitivity_interval,
    uncertainty_budget,
)
from boostwright.inference.gain_curve import GainPosterior, fit_gain_curve
from boostwright.inference.gain_model import GainData
from tests.inference.campaigns import made_campaign, masked

PRIORS = DisturbancePriors()
EVEN = np.ones(30)


def fitted(data: GainData, priors: DisturbancePriors = PRIORS) -> GainPosterior:
    return fit_gain_curve(data, priors, np.random.default_rng(1))


def shares(posterior: GainPosterior, weights: np.ndarray = EVEN) -> dict[str, float]:
    return {part.name: part.share for part in uncertainty_budget(posterior, weights).contributions}


@pytest.fixture(scope="module")
def abba() -> GainPosterior:
    return fitted(masked(made_campaign("ABBA", seed=2), 1, slice(0, 4)))


def test_the_budget_adds_up_to_the_uncertainty_of_the_average(abba):
    budget = uncertainty_budget(abba, EVEN)
    parts = [part.share for part in budget.contributions]
    assert sum(parts) == pytest.approx(1.0)
    assert parts == sorted(parts, reverse=True)
    assert budget.standard_uncertainty == pytest.approx(abba.gain_draws.mean(1).std(), rel=0.1)


def test_with_sizes_that_are_known_the_parts_are_the_variance_of_the_estimate():
    """Priors of almost no spread: the parts must make up the posterior's variance, to the spread that is left."""
    priors = DisturbancePriors()
    for name in FITTED:
        priors = replace(priors, **{name: replace(getattr(priors, name), log_sd=1e-3)})
    posterior = fitted(made_campaign("ABBA", seed=2), priors)
    w = EVEN / 30
    parts = shares(posterior)
    assert parts[UNKNOWN_SIZES] < 1e-4
    # pulls: s^2; installations of one, two and one pull: (1/4 + 1 + 1/4) b^2
    variance = w @ posterior.gain_covariance @ w
    assert parts["pull_level_sd"] * variance == pytest.approx(0.006**2, rel=0.02)
    assert parts["installation_sd"] * variance == pytest.approx(1.5 * 0.0025**2, rel=0.06)


def test_one_narrow_bin_is_uncertain_by_ripple_and_noise_more_than_the_average_is(abba):
    one_bin = np.where(np.arange(30) == 15, 1.0, 0.0)
    narrow, wide = shares(abba, one_bin), shares(abba)
    for name in ("ripple_sd", "noise_sd", "shape_sd"):
        assert narrow[name] > wide[name]


def test_a_second_session_adds_its_offset_only_when_the_setups_are_not_in_both():
    both_days = made_campaign("AB", seed=3, sessions=2)
    order = both_days.order
    apart = replace(both_days, order=replace(order, is_candidate=order.session == 1, installation=order.session))
    assert shares(fitted(both_days))["session_sd"] < 1e-3
    assert shares(fitted(apart))["session_sd"] > 0.5


def test_without_drift_terms_a_steady_drift_goes_into_the_gain():
    """A B with a drift of 2 % an hour over 35 minutes: with one pull of each nothing but the prior tells it apart."""
    data = made_campaign("AB", seed=2)
    data = replace(data, order=replace(data.order, soak=None))
    drifting = replace(data, values=data.values + 0.02 / 3600 * data.order.elapsed[:, None])
    plain, moved = (gain_draws_without_drift(fitted(one), np.random.default_rng(2)).mean() for one in (data, drifting))
    apart = 0.02 / 3600 * (data.order.elapsed[1] - data.order.elapsed[0])
    assert moved - plain == pytest.approx(apart, rel=0.05)


def test_without_drift_terms_the_expected_soak_stays_in_the_gain():
    """The expected 0.09 % a kelvin is taken off by the model; without it the candidate is 20 K times that worse."""
    data = made_campaign("AB", seed=2)
    cool, warm = (fitted(replace(data, order=replace(data.order, soak=np.array([8.0, soak])))) for soak in (8.0, 28.0))
    difference = warm.gain.mean() - gain_draws_without_drift(warm, np.random.default_rng(2)).mean()
    nothing = cool.gain.mean() - gain_draws_without_drift(cool, np.random.default_rng(2)).mean()
    assert difference - nothing == pytest.approx(20 * 0.0009, rel=0.1)


def test_without_drift_terms_the_average_of_a_long_day_looks_surer():
    """Four hours between the setups: the drift allowed for, 0.4 % an hour, is most of what is uncertain."""
    data = made_campaign("AB", seed=2)
    posterior = fitted(replace(data, order=replace(data.order, elapsed=np.array([0.0, 4 * 3600.0]), soak=None)))
    without = gain_draws_without_drift(posterior, np.random.default_rng(2)).mean(1)
    assert without.size == 1600
    assert without.std() < 0.7 * posterior.gain_draws.mean(1).std()


def test_soak_is_told_from_pulls_that_differ_in_it_only():
    """A loss of 0.2 % a kelvin is put in over soaks from 0 to 30 K; the prior expects 0.09 % with an sd of 0.04 %."""
    data = made_campaign("ABBAABBA", seed=4)
    soak = np.array([0.0, 30.0, 5.0, 25.0, 28.0, 3.0, 20.0, 10.0])
    quiet = 0.05 * (data.values - data.values.mean(0)) + data.values.mean(0)
    heated = replace(data, values=quiet - 0.002 * (soak - soak.mean())[:, None], order=replace(data.order, soak=soak))

    told = soak_sensitivity_interval(fitted(heated), 0.95)

    assert told.lower < -0.0018
    assert told.upper < -0.0010
    assert told.estimate == pytest.approx((told.lower + told.upper) / 2)
    assert told.upper - told.lower < 4 * 0.0004  # the prior's own 95 % interval is 0.0016 wide
    without = fitted(replace(data, order=replace(data.order, soak=None)))
    with pytest.raises(ValueError, match="no soak temperature was given: its effect cannot be told apart"):
        soak_sensitivity_interval(without, 0.95)


def test_a_steady_drift_is_told_of_its_own_session():
    """1 % an hour more on the second day; the scatter of the pulls and the prior of 0.4 % let a part of it be seen."""
    data = made_campaign("ABBA", seed=5, sessions=2)
    drift = np.where(data.order.session == 1, 0.01 / 3600 * data.order.elapsed, 0.0)
    before, after = fitted(data), fitted(replace(data, values=data.values + drift[:, None]))

    first, second = (
        drift_interval(after, day, 0.95).estimate - drift_interval(before, day, 0.95).estimate for day in (0, 1)
    )

    assert 0.1 * 0.01 / 3600 < second < 0.01 / 3600
    assert abs(first) < 0.4 * second
    with pytest.raises(ValueError, match=r"session 5 holds no pull: the sessions are \[0, 1\]"):
        drift_interval(after, 5, 0.95)

"""What is said of a gain curve, on posteriors made up so that the answer is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.inference.disturbances import DisturbancePriors
from boostwright.inference.gain_curve import GainPosterior, fit_gain_curve
from boostwright.inference.gain_summary import (
    crossovers,
    pairwise_confidence,
    range_average,
    shape_band,
    shown_ranges,
    simultaneous_band,
)
from tests.inference.campaigns import first_bins, made_campaign

BINS = 12
EVEN = np.ones(BINS)


@pytest.fixture(scope="module")
def fitted() -> GainPosterior:
    data = first_bins(made_campaign("ABBA", seed=8), BINS)
    return fit_gain_curve(data, DisturbancePriors(), np.random.default_rng(1))


@pytest.fixture(scope="module")
def known(fitted):
    """A posterior of any mean, with independent bins of one standard deviation and a level that all bins share."""

    def made(gain: np.ndarray, sd: float = 0.001, level_sd: float = 0.0) -> GainPosterior:
        generator = np.random.default_rng(5)
        noise = sd * generator.standard_normal((20_000, BINS)) + level_sd * generator.standard_normal((20_000, 1))
        return replace(
            fitted,
            baseline=np.linspace(5.0, 6.0, BINS),
            baseline_draws=np.tile(np.linspace(5.0, 6.0, BINS), (20_000, 1)),
            gain=gain,
            gain_covariance=sd**2 * np.eye(BINS) + level_sd**2,
            gain_draws=gain + noise,
        )

    return made


def test_the_band_holds_the_stated_share_of_whole_curves(known):
    posterior = known(np.linspace(0.0, 0.02, BINS), level_sd=0.002)
    band = simultaneous_band(posterior, 0.9)
    inside = np.all((posterior.gain_draws >= band.lower) & (posterior.gain_draws <= band.upper), axis=1)
    assert inside.mean() == pytest.approx(0.9, abs=1e-3)
    np.testing.assert_allclose(band.upper - band.estimate, band.critical_value * band.sd)


def test_the_average_is_the_normal_one_by_hand(known):
    """Twelve independent bins of 0.1 %: the average has a standard deviation of 0.1 % / sqrt(12)."""
    posterior = known(np.linspace(0.0, 0.022, BINS))
    interval = range_average(posterior.gain, posterior.gain_draws, 0.95)
    assert interval.estimate == pytest.approx(0.011)
    # 20 000 draws tell a 2.5 % quantile to about 2 %
    assert (interval.lower, interval.upper) == pytest.approx(
        (0.011 - 1.96 * 0.001 / 12**0.5, 0.011 + 1.96 * 0.001 / 12**0.5), abs=2e-5
    )


def test_ranges_are_shown_where_the_whole_band_leaves_zero(known):
    posterior = known(np.array([-9, -9, -9, 0, 0, 9, 9, 0, 9, 9, 9, 9]) * 1e-3)
    speed = posterior.engine_speed
    shown = shown_ranges(simultaneous_band(posterior, 0.95))
    assert [(r.from_speed, r.to_speed, r.sign) for r in shown] == [
        (speed[0], speed[2], -1),
        (speed[5], speed[6], 1),
        (speed[8], speed[11], 1),
    ]
    assert shown_ranges(simultaneous_band(known(np.zeros(BINS)), 0.95)) == ()


def test_a_crossover_is_found_where_it_was_put(known):
    posterior = known((np.arange(BINS) - 5.3) * 0.002)
    band = simultaneous_band(posterior, 0.95)
    speed = posterior.engine_speed
    width = speed[1] - speed[0]

    (crossing,) = crossovers(posterior, band)

    root = speed[0] + 5.3 * width
    assert crossing.engine_speed.estimate == pytest.approx(root, abs=0.1 * width)
    assert crossing.engine_speed.lower < root < crossing.engine_speed.upper
    assert (crossing.last_before, crossing.first_after) == (speed[3], speed[7])  # 2.86 sd of 0.001 is 1.43 bins
    assert crossing.sign_after == 1


def test_a_gain_that_rises_and_falls_again_has_two_crossovers(known):
    posterior = known(np.where((np.arange(BINS) > 3) & (np.arange(BINS) < 8), 0.02, -0.02))
    found = crossovers(posterior, simultaneous_band(posterior, 0.95))
    assert [crossing.sign_after for crossing in found] == [1, -1]


@pytest.mark.parametrize("gain", [np.zeros(BINS), np.full(BINS, 0.02), np.linspace(-0.001, 0.02, BINS)])
def test_a_crossover_that_the_band_does_not_show_is_not_reported(gain, known):
    posterior = known(gain)
    assert crossovers(posterior, simultaneous_band(posterior, 0.95)) == ()


def test_the_shape_is_free_of_the_level(known):
    gain = np.linspace(0.0, 0.022, BINS)
    lower_half = np.where(np.arange(BINS) < 6, 1.0, 0.0)
    shape = shape_band(known(gain, level_sd=0.02), lower_half, 0.95)
    np.testing.assert_allclose(shape.estimate, gain - 0.005)
    variances = np.where(
        lower_half > 0, 1 - 1 / 6, 1 + 1 / 6
    )  # of a bin minus the mean of six, itself among them or not
    np.testing.assert_allclose(shape.sd, 0.001 * np.sqrt(variances))


def test_with_one_pull_each_the_shape_is_known_better_than_the_gain():
    data = made_campaign("AB", seed=9)
    posterior = fit_gain_curve(data, DisturbancePriors(), np.random.default_rng(1))
    even = np.ones(data.engine_speed.size)
    gain, shape = simultaneous_band(posterior, 0.95), shape_band(posterior, even, 0.95)
    assert (shape.upper - shape.lower).mean() < 0.8 * (gain.upper - gain.lower).mean()


@given(st.integers(2, 7), st.floats(0.8, 0.99))
def test_pairs_share_what_may_fail(setups, confidence):
    pairs = setups * (setups - 1) // 2
    assert pairs * (1 - pairwise_confidence(confidence, setups)) == pytest.approx(1 - confidence)


def test_one_setup_makes_no_pair():
    with pytest.raises(ValueError, match="setup_count is 1: a pair needs two setups"):
        pairwise_confidence(0.95, 1)


@pytest.mark.parametrize("weights", [np.ones(3), -EVEN, 0 * EVEN])
def test_weights_that_weigh_nothing_are_refused(weights, known):
    with pytest.raises(ValueError, match="must be 12 numbers, one a bin, none negative and not all zero"):
        shape_band(known(EVEN), weights, 0.95)

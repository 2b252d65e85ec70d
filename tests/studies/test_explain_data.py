"""From the example campaign's pulls and builds to the data of an explanation."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS
from boostwright.machine.build import build_of
from boostwright.records.build_file import build_from_document, read_build_file
from boostwright.records.campaign import read_campaign
from boostwright.studies.compare import gain_posterior, question_of, reduced_pulls
from boostwright.studies.explain_data import campaign_data, curves_data, screened_data

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"
MINIMAL = {
    "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
    "blower": {"displacement": "1.6 L"},
    "drive": {"ratio": 2.0},
}


@pytest.fixture(scope="module")
def campaign():
    return read_campaign(EXAMPLE)


@pytest.fixture(scope="module")
def pulls(campaign):
    return reduced_pulls(campaign)


@pytest.fixture(scope="module")
def builds(campaign):
    return [build_of(read_build_file(EXAMPLE / campaign.setups[name].build)) for name in ("cast", "machined")]


@pytest.fixture(scope="module")
def data(campaign, pulls, builds):
    return curves_data(campaign, pulls, builds)


def test_difference_of_the_curves_is_the_gain_of_the_comparison(campaign, pulls, data):
    posterior = gain_posterior(pulls, question_of(campaign, "torque"))
    torque = data.observations[data.channels.index("torque")]
    at = np.searchsorted(posterior.engine_speed, data.engine_speed)
    np.testing.assert_allclose(torque[1] - torque[0], posterior.gain[at], atol=1e-12)


def test_a_pressure_that_is_compared_by_ratio_is_fitted_in_pascals(pulls, data):
    """Plain means of the setups' pulls: the machined elbow leaves some 0.3 kPa more ahead of the rotors."""
    inlet, of_channel = data.observations[data.channels.index("blower_inlet_pressure")], "blower_inlet_pressure"
    at = np.searchsorted(pulls[0].engine_speed, data.engine_speed)
    means = [np.mean([p.values[of_channel][at] for p in pulls if p.setup == s], axis=0) for s in ("cast", "machined")]
    assert np.mean(means[1] - means[0]) > 250.0
    np.testing.assert_allclose(inlet[1] - inlet[0], means[1] - means[0], atol=150.0)  # drift is allowed for
    i, n = data.channels.index(of_channel), data.engine_speed.size
    block = data.covariance[2 * n * i : 2 * n * (i + 1), 2 * n * i : 2 * n * (i + 1)]
    difference = np.hstack([-np.eye(n), np.eye(n)]) / n
    sd_of_mean = float(np.sqrt(np.sum(difference @ block @ difference.T)))
    assert 100.0 < sd_of_mean < 1000.0  # half of one per cent of an atmosphere


def test_uncertainty_of_the_difference_is_not_less_than_that_of_the_comparison(campaign, pulls, data):
    posterior = gain_posterior(pulls, question_of(campaign, "torque"))
    at = np.searchsorted(posterior.engine_speed, data.engine_speed)
    expected = np.asarray(posterior.gain_covariance)[np.ix_(at, at)]
    i, n = data.channels.index("torque"), data.engine_speed.size
    block = data.covariance[2 * n * i : 2 * n * (i + 1), 2 * n * i : 2 * n * (i + 1)]
    difference = np.hstack([-np.eye(n), np.eye(n)])
    of_mean = np.mean(difference @ block @ difference.T)
    assert np.mean(expected) <= of_mean <= 1.1 * np.mean(expected)


def test_the_error_of_the_stand_stays_whole_in_the_level_of_both(data):
    n = data.engine_speed.size
    assert data.covariance[0, n] == pytest.approx(TYPICAL_SENSOR_ERRORS["torque"].common_sd ** 2)


def test_what_the_builds_state_and_the_pulls_log_is_known(data):
    assert {"throttle_area", "coolant_temperature", "cooler_transfer_units"} <= data.known.stated
    assert "leakage_area" not in data.known.stated
    assert data.known.logged == {"excess_air_ratio"}


def test_logged_mixture_replaces_that_of_the_build(data, builds):
    assert not np.allclose(data.baseline["excess_air_ratio"], builds[0].fuel_system.excess_air_ratio, atol=1e-4)


def test_weather_is_the_mean_of_the_setups_own_pulls(pulls, data):
    own = np.mean([pull.weather.barometer for pull in pulls if pull.setup == "cast"])
    np.testing.assert_allclose(data.baseline["ambient_pressure"], own)
    assert data.candidate["ambient_pressure"][0] < data.baseline["ambient_pressure"][0]  # the barometer fell that day


def test_a_correction_for_weather_is_taken_back(campaign, pulls, builds, data):
    corrected = [
        replace(pull, correction_factor=1.04, values={**pull.values, "torque": 1.04 * pull.values["torque"]})
        for pull in pulls
    ]
    again = curves_data(campaign, corrected, builds)
    np.testing.assert_allclose(again.observations[0], data.observations[0], atol=1e-9)


def test_a_faulty_pull_is_left_out(campaign):
    """Pull 06 of the example slips its belt; with it, torque of the cast setup would be lower."""
    with_screen = campaign_data(campaign)
    everything = curves_data(
        campaign,
        reduced_pulls(campaign),
        [build_of(build_from_document(MINIMAL, "minimal")) for _ in range(2)],
    )
    i = with_screen.channels.index("torque")
    assert np.mean(with_screen.observations[i, 0] - everything.observations[i, 0]) > 1e-3


def test_a_setup_without_a_build_is_refused_with_the_line_to_write(campaign):
    setups = {**campaign.setups, "machined": replace(campaign.setups["machined"], build=None)}
    with pytest.raises(DataError, match=r'setups\.machined: names no build.*write build = "builds/machined\.toml"'):
        campaign_data(replace(campaign, setups=setups))


def test_pulls_without_weather_are_refused(campaign, pulls, builds):
    bare = [replace(pull, weather=None) for pull in pulls]
    with pytest.raises(DataError, match=r"has no weather; give it barometer"):
        curves_data(campaign, bare, builds)


def test_pulls_without_boost_are_refused(campaign, pulls, builds):
    without = [
        replace(pull, values={k: v for k, v in pull.values.items() if k != "manifold_pressure"}) for pull in pulls
    ]
    with pytest.raises(DataError, match="manifold pressure is not logged in every pull"):
        curves_data(campaign, without, builds)


def test_setups_that_share_hardly_any_speed_are_refused(campaign, pulls, builds):
    def empty(pull, where):
        torque = np.where(where, np.nan, pull.values["torque"])
        return replace(pull, values={**pull.values, "torque": torque})

    middle = np.median(pulls[0].engine_speed)
    apart = [empty(p, (p.engine_speed > middle) == (p.setup == "cast")) for p in pulls]
    with pytest.raises(DataError, match="cast and machined have all their channels in fewer than five speed bins"):
        curves_data(campaign, apart, builds)


def test_a_setup_without_pulls_is_named_with_the_remedy(campaign, pulls):
    with pytest.raises(DataError, match=r'setup "machined" has no pull.*; add its pulls to campaign\.toml'):
        screened_data(campaign, [pull for pull in pulls if pull.setup == "cast"])

from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.reduction.atmosphere import CORRECTION_RULES
from boostwright.reduction.bins import speed_bins
from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReductionSettings
from tests.reduction.logs import RPM, WEATHER, raw_pull, sweep_channels, true_torque, with_noise

SETTINGS = ReductionSettings(speed_range=(3000 * RPM, 5800 * RPM))
J1349 = replace(SETTINGS, rule=CORRECTION_RULES["sae-j1349"])


def with_inertia(channels, rotating_inertia):
    """The same pull as a brake sees it: what speeds up the shaft never reaches it."""
    acceleration = 2 * np.pi * np.gradient(channels["engine_speed"], channels["time"])
    torque = channels["torque"] - rotating_inertia * acceleration
    return channels | {"torque": torque, "power": 2 * np.pi * channels["engine_speed"] * torque}


def test_a_clean_pull_gives_its_torque_curve_back():
    pull = reduce_pull(raw_pull(sweep_channels()), SETTINGS)
    np.testing.assert_allclose(pull.values["torque"], true_torque(pull.engine_speed), rtol=2e-4)  # curvature in 120 rpm
    np.testing.assert_allclose(pull.values["power"], 2 * np.pi * pull.engine_speed * pull.values["torque"], rtol=2e-4)
    assert (pull.file, pull.setup, pull.session, pull.installation) == ("pulls/03.csv", "cast", "2026-03-14", 1)
    assert pull.elapsed == 420.0
    assert pull.sweep_rate * 60 == pytest.approx(300, abs=0.01)
    assert pull.faults == ()


def test_noise_averages_out_in_the_bins():
    """Torque noise of 1 % a sample and about 40 samples a bin leave 0.16 % a bin."""
    pulls = [reduce_pull(raw_pull(with_noise(sweep_channels(), np.random.default_rng(k))), SETTINGS) for k in range(40)]
    error = np.array([pull.values["torque"] / true_torque(pull.engine_speed) - 1 for pull in pulls])
    assert error.std() == pytest.approx(0.01 / np.sqrt(40.5), rel=0.1)
    assert abs(error.mean()) < 3 * 0.0016 / np.sqrt(error.size)
    assert not any(pull.faults for pull in pulls)


@pytest.mark.parametrize("seed", range(5))
def test_every_row_of_the_log_is_used_or_masked_for_one_reason(seed):
    channels = with_noise(sweep_channels(), np.random.default_rng(seed))
    channels["torque"][300 + 100 * seed : 303 + 100 * seed] = np.nan
    pull = reduce_pull(raw_pull(channels), SETTINGS)
    assert pull.counts.sum() + sum(pull.masked.values()) == channels["time"].size
    assert pull.masked["torque or speed is not a number"] == 3
    assert set(pull.masked) >= {"outside the sweep", "first or last 100 rpm of the ramp"}
    assert all(rows > 0 for rows in pull.masked.values())


@pytest.mark.parametrize("rate", [200.0, 450.0])
def test_two_sweep_rates_give_one_engine_when_each_has_its_own_inertia_term(rate):
    brake = with_inertia(sweep_channels(rate=rate), 0.45)
    settings = replace(SETTINGS, rotating_inertia=0.45)
    whole, bare = reduce_pull(raw_pull(brake), settings), reduce_pull(raw_pull(brake), SETTINGS)
    np.testing.assert_allclose(whole.values["torque"], true_torque(whole.engine_speed), rtol=2e-4)
    np.testing.assert_allclose(
        whole.values["power"], 2 * np.pi * whole.engine_speed * whole.values["torque"], rtol=2e-4
    )
    missing = true_torque(bare.engine_speed) - bare.values["torque"]
    np.testing.assert_allclose(missing, 2 * np.pi * 0.45 * rate * RPM, rtol=0.01)


def test_inertia_follows_a_sweep_rate_that_changes_in_the_pull():
    t = np.arange(0.0, 9.0, 0.01)
    speed = (2500 + 600 * t - 20 * t**2) * RPM
    clean = {"time": t, "engine_speed": speed, "torque": true_torque(speed)}
    pull = reduce_pull(raw_pull(with_inertia(clean, 0.6)), replace(SETTINGS, rotating_inertia=0.6))
    np.testing.assert_allclose(pull.values["torque"], true_torque(pull.engine_speed), rtol=3e-4)


def test_the_correction_multiplies_power_and_torque_once_and_nothing_else():
    raw = raw_pull(sweep_channels(), soak=WEATHER.air_temperature + 25.0)
    bare, corrected = reduce_pull(raw, SETTINGS), reduce_pull(raw, J1349)
    assert bare.correction_factor == 1.0
    assert corrected.correction_factor == pytest.approx(1.0518, abs=5e-4)  # 95.3 kPa dry, 28 degC
    for name in bare.values:
        factor = corrected.correction_factor if name in ("torque", "power") else 1.0
        np.testing.assert_allclose(corrected.values[name], factor * bare.values[name], rtol=1e-12, err_msg=name)


def test_a_soaked_inlet_is_reported_and_never_corrected_for():
    cool, hot = (
        reduce_pull(raw_pull(sweep_channels(), soak=WEATHER.air_temperature + dT), J1349) for dT in (2.0, 30.0)
    )
    assert (cool.soak, hot.soak) == pytest.approx((2.0, 30.0))
    assert cool.correction_factor == hot.correction_factor
    np.testing.assert_array_equal(cool.values["power"], hot.values["power"])


def test_weather_outside_the_rule_is_said():
    cold = replace(WEATHER, air_temperature=278.15)
    (said,) = reduce_pull(raw_pull(sweep_channels(), weather=cold), J1349).outside_range
    assert said == "air temperature 5.0 degC is outside the 15.0 degC to 35.0 degC that sae-j1349 permits"


def test_a_rule_without_weather_is_refused_and_none_needs_none():
    raw = raw_pull(sweep_channels(), weather=None)
    assert reduce_pull(raw, SETTINGS).soak is None
    words = (
        r"pulls/03\.csv: has no barometer, air_temperature and relative_humidity, which sae-j1349 needs; "
        r'give its entry in \[\[pulls\]\] all three, or set correction = "none"'
    )
    with pytest.raises(DataError, match=words):
        reduce_pull(raw, J1349)


def test_inertia_without_a_clock_is_refused():
    channels = sweep_channels()
    del channels["time"]
    with pytest.raises(
        DataError, match="has no time, so that its sweep rate is not known; log time, or leave rotating"
    ):
        reduce_pull(raw_pull(channels), replace(SETTINGS, rotating_inertia=0.45))


def test_a_range_that_the_sweep_does_not_quite_reach_is_named():
    pull = reduce_pull(raw_pull(sweep_channels(low=3300)), SETTINGS)
    (fault,) = pull.faults
    assert fault.kind == "range not covered"
    assert fault.from_speed * 60 == pytest.approx(3000)
    assert fault.sentence == (
        "3 of 23 speed bins of 3000 to 5800 rpm hold fewer than three steady rows, between 3000 and 3365 rpm"
    )
    assert np.isnan(pull.values["torque"][:3]).all()
    assert np.isfinite(pull.values["torque"][3:]).all()


def test_a_range_mostly_missed_is_refused():
    words = (
        r"is steady over 4605 to 5853 rpm and leaves 13 of 23 speed bins of 3000 to 5800 rpm with fewer than three "
        r"rows; sweep the whole declared range, log faster, or declare a smaller speed_range_rpm"
    )
    with pytest.raises(DataError, match=words):
        reduce_pull(raw_pull(sweep_channels(low=4500)), SETTINGS)


def test_a_log_too_slow_for_its_sweep_is_refused():
    with pytest.raises(DataError, match="with fewer than three rows; sweep the whole declared range, log faster"):
        reduce_pull(raw_pull(sweep_channels(sampling=5)), SETTINGS)


def test_sparse_bins_are_masked_and_their_rows_counted():
    channels = sweep_channels()
    speed = channels["engine_speed"] * 60
    hole = (speed > 4090) & (speed < 4225) & (channels["torque"] > 0)
    channels["torque"] = np.where(hole & (np.arange(speed.size) % 20 > 0), np.nan, channels["torque"])
    pull = reduce_pull(raw_pull(channels), SETTINGS)
    empty = np.flatnonzero(pull.counts == 0)
    assert empty.tolist() == [9]
    assert pull.masked["bin with fewer than three samples"] in (1, 2)
    assert np.isnan(pull.values["torque"][9])


def test_a_log_of_speed_alone_is_refused():
    channels = {name: values for name, values in sweep_channels().items() if name in ("time", "engine_speed")}
    channels = {name: values[:1200] for name, values in channels.items()}
    with pytest.raises(DataError, match="holds nothing but time and engine speed; log torque, power, boost"):
        reduce_pull(raw_pull(channels), SETTINGS)


def test_all_quantities_stand_at_the_bins_of_the_settings():
    pull = reduce_pull(raw_pull(sweep_channels()), SETTINGS)
    assert pull.engine_speed.size == speed_bins(SETTINGS.speed_range).size - 1
    assert set(pull.values) == set(sweep_channels()) - {"time", "engine_speed"}
    assert all(values.shape == pull.engine_speed.shape for values in pull.values.values())


def spoilt(generator):
    channels = with_noise(sweep_channels(rate=generator.uniform(150, 600)), generator)
    for name in generator.choice([name for name in channels if name != "time"], size=2, replace=False):
        first, last = np.sort(generator.integers(0, channels["time"].size, size=2))
        channels[name][first:last] = generator.choice([np.nan, 0.0, -1.0, 1e6])
    if generator.random() < 0.3:
        del channels[generator.choice(["time", "torque", "throttle_position", "manifold_pressure"])]
    return raw_pull(channels)


def reduced_or_refused(raw):
    try:
        return reduce_pull(raw, replace(J1349, drive_ratio=2.794))
    except DataError as refusal:
        return str(refusal)


def test_a_spoilt_log_is_reduced_with_every_row_accounted_for_or_refused_with_a_remedy():
    generator = np.random.default_rng(4)
    logs = [spoilt(generator) for _ in range(150)]
    outcomes = [(raw, reduced_or_refused(raw)) for raw in logs]
    refusals = [outcome for _, outcome in outcomes if isinstance(outcome, str)]
    pulls = [(raw, outcome) for raw, outcome in outcomes if not isinstance(outcome, str)]
    assert min(len(refusals), len(pulls)) > 20
    assert all(words.startswith("pulls/03.csv: ") and "; " in words for words in refusals)
    for raw, pull in pulls:
        assert pull.counts.sum() + sum(pull.masked.values()) == raw.channels["engine_speed"].size


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"speed_range": (96.0, 50.0)}, "speed_range runs from 5760 to 3000 rpm: give the lower speed first"),
        ({"rotating_inertia": -0.1}, r"rotating_inertia is -0\.1 kg\*m2: it cannot be negative"),
        ({"drive_ratio": 0.0}, r"drive_ratio is 0\.0: it is above zero"),
    ],
)
def test_settings_that_cannot_be_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        replace(SETTINGS, **change)

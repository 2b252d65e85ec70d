import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.reduction.stages import Reason
from boostwright.reduction.sweep import find_sweep
from tests.reduction.logs import RPM, raw_pull, sweep_channels, true_torque, with_noise


def found(channels):
    return find_sweep(raw_pull(channels))


def used_speeds_rpm(steady):
    used = steady.engine_speed[steady.reason == Reason.USED] * 60
    return used.min(), used.max()


def joined(first, second, pause):
    """Two logs one after the other in one file."""
    shift = first["time"][-1] + pause
    later = second | {"time": second["time"] + shift}
    return {name: np.concatenate((first[name], later[name])) for name in first}


def part_throttle_rise():
    rise = sweep_channels(low=1500, high=5500, rate=800)
    return rise | {"torque": 0.3 * rise["torque"], "throttle_position": 0.35 * rise["throttle_position"]}


def without(channels, *names):
    return {name: values for name, values in channels.items() if name not in names}


def test_the_sweep_is_found_without_the_ends_of_its_ramp():
    steady = found(sweep_channels(low=2500, high=6000))
    low, high = used_speeds_rpm(steady)
    assert 2600 <= low <= 2606  # a row is 3 rpm
    assert 5850 <= high <= 5900  # the smooth speed does not reach the tip of the ramp
    assert np.sum(steady.reason == Reason.USED) == pytest.approx((high - low) / 3, abs=2)
    assert steady.faults == ()


def test_the_sweep_rate_is_the_rows_own():
    """A chassis roller: the rate falls as speed rises, here from 500 to 200 rpm a second."""
    channels = sweep_channels(low=2500, high=6000, rate=350)
    t = channels["time"]
    speed = 2500 + 500 * t - 15 * t**2
    t, speed = t[: np.argmax(speed > 6000)], speed[: np.argmax(speed > 6000)]
    steady = found({"time": t, "engine_speed": speed * RPM, "torque": true_torque(speed * RPM)})
    used = steady.reason == Reason.USED
    # exact within, half a rpm/s off where the stretch is one-sided at the start of the log
    np.testing.assert_allclose(steady.sweep_rate[used] * 60, 500 - 30 * t[used], atol=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_jitter_of_the_toothed_wheel_breaks_neither_the_sweep_nor_its_rate(seed):
    generator = np.random.default_rng(seed)
    channels = with_noise(sweep_channels(), generator)
    channels["engine_speed"] = channels["engine_speed"] + 10 * RPM * generator.standard_normal(channels["time"].size)
    steady = found(channels)
    used = steady.reason == Reason.USED
    assert np.sum(used) > 0.97 * 3300 / 3
    assert np.std(steady.sweep_rate[used] * 60 - 300) < 15  # of 300 rpm/s: 0.2 % of the power of a 0.5 kg*m2 stand
    assert steady.faults == ()


def test_dropouts_and_doubled_teeth_are_set_aside():
    channels = with_noise(sweep_channels(), np.random.default_rng(5))
    clean = found(channels)
    broken = channels["engine_speed"].copy()
    broken[400:405] = 0.0
    broken[700] *= 2
    broken[900:902] = np.nan
    steady = found(channels | {"engine_speed": broken})
    np.testing.assert_allclose(steady.engine_speed[clean.reason == 0], clean.engine_speed[clean.reason == 0], rtol=2e-3)
    assert set(np.flatnonzero(steady.reason != clean.reason)) <= {900, 901}  # nothing was read there
    assert np.all(steady.reason[900:902] == Reason.NOT_A_NUMBER)


@pytest.mark.parametrize("left_out", [(), ("throttle_position",)])
def test_a_part_throttle_rise_before_the_pull_is_not_the_sweep(left_out):
    warm_up = part_throttle_rise()
    channels = without(joined(warm_up, sweep_channels(), pause=0.5), *left_out)
    steady = found(channels)
    begin = warm_up["time"].size
    assert np.all(steady.reason[:begin] == Reason.OUTSIDE_SWEEP)
    assert used_speeds_rpm(steady)[0] == pytest.approx(2603, abs=4)


@pytest.mark.parametrize("left_out", [(), ("throttle_position",), ("throttle_position", "manifold_pressure")])
@pytest.mark.parametrize("lag", [0.1, 0.25])
def test_rows_in_which_torque_still_builds_up_are_left_out(left_out, lag):
    channels = sweep_channels(held=0.0)
    missing = 0.6 * np.exp(-channels["time"] / lag)
    channels["torque"] = channels["torque"] * (1 - missing)
    channels["manifold_pressure"] = channels["manifold_pressure"] * (1 - 0.4 * np.exp(-channels["time"] / lag))
    steady = found(
        with_noise(without(channels), np.random.default_rng(1)) if not left_out else without(channels, *left_out)
    )
    kept = missing[steady.reason == Reason.USED]
    assert kept.max() < 0.004
    assert np.sum(steady.reason == Reason.USED) > 0.8 * 3300 / 3  # and no more than that


def test_rows_in_which_only_boost_still_builds_up_are_left_out():
    channels = sweep_channels(held=0.0)
    missing = 0.4 * np.exp(-channels["time"] / 0.2)
    channels["manifold_pressure"] = channels["manifold_pressure"] * (1 - missing)
    assert missing[found(channels).reason == Reason.USED].max() < 0.004


def test_a_steep_but_true_torque_curve_is_not_taken_for_a_build_up():
    channels = sweep_channels(held=0.0)
    rising = channels["torque"] > 0
    channels["torque"] = np.where(rising, 300.0 * (channels["engine_speed"] * 60 / 2500) ** 1.6, -40.0)
    steady = found(without(channels, "manifold_pressure"))
    assert not np.any(steady.reason == Reason.STARTING)


@pytest.mark.parametrize("left_out", [(), ("throttle_position",)])
def test_a_lift_in_the_sweep_is_masked_and_named(left_out):
    channels = sweep_channels()
    lifted = (channels["time"] > 6.0) & (channels["time"] < 6.4)
    channels["torque"] = np.where(lifted, 60.0, channels["torque"])
    channels["throttle_position"] = np.where(lifted, 0.2, channels["throttle_position"])
    channels["torque"][np.flatnonzero(lifted)[5]] = np.nan
    steady = found(without(channels, "manifold_pressure", *left_out))
    assert np.sum(steady.reason[lifted] == Reason.PART_THROTTLE) == lifted.sum() - 1
    (fault,) = steady.faults
    assert fault.kind == "lift"
    assert fault.from_speed * 60 == pytest.approx(4000, abs=10)
    assert fault.to_speed * 60 == pytest.approx(4120, abs=10)
    assert fault.size == pytest.approx(0.9, abs=0.01)
    assert fault.sentence == "throttle or torque lifted at 4000 rpm for 0.4 s"


def test_a_speed_that_stands_still_within_the_sweep_is_masked():
    """A wheel that slips, a brake that hunts: at full throttle, but no sweep."""
    lower, upper = sweep_channels(high=4200), sweep_channels(low=4200)
    begin, end = lower["time"] <= 1.0 + 1700 / 300, upper["time"] > 0.3  # 0.7 s at 4200 rpm
    halves = {name: values[begin] for name, values in lower.items()}, {name: v[end] for name, v in upper.items()}
    steady = found(joined(*halves, pause=-0.29))
    speed = steady.engine_speed * 60
    standing = (np.abs(speed - 4200) < 1) & (steady.sweep_rate * 60 < 1)
    assert standing.sum() > 15
    assert np.all(steady.reason[standing] == Reason.NOT_RISING)
    assert used_speeds_rpm(steady) == pytest.approx(used_speeds_rpm(found(sweep_channels())), abs=3)


def test_a_throttle_that_never_opens_is_named():
    channels = sweep_channels()
    channels["throttle_position"] = 0.62 * channels["throttle_position"]
    (fault,) = found(channels).faults
    assert (fault.kind, fault.sentence) == ("part throttle", "the throttle opened no wider than 61%")


def test_a_throttle_sensor_that_is_not_connected_is_not_believed():
    channels = joined(part_throttle_rise(), sweep_channels(), pause=0.5)
    channels["throttle_position"] = np.full_like(channels["time"], 0.01)
    assert used_speeds_rpm(found(channels)) == pytest.approx(used_speeds_rpm(found(sweep_channels())))


def test_a_slow_logger_is_good_enough():
    """Ten rows a second and 6 rpm of jitter: a line through nine rows leaves 8 rpm/s, through five it would be 19."""
    steady = found(with_noise(sweep_channels(sampling=10), np.random.default_rng(2)))
    used = steady.reason == Reason.USED
    assert np.sum(used) > 100
    assert np.std(steady.sweep_rate[used]) * 60 < 9.5


def test_a_log_without_a_clock_has_its_sweep_but_no_rate():
    steady = found(without(sweep_channels(), "time"))
    assert used_speeds_rpm(steady) == pytest.approx((2603, 5850), abs=8)
    assert np.all(np.isnan(steady.sweep_rate))


def test_a_speed_that_only_falls_is_refused():
    channels = sweep_channels(low=3000, high=6000, held=0.0)
    rising = slice(0, 1000)
    down = {name: values[rising][::-1] for name, values in channels.items()} | {"time": channels["time"][rising]}
    with pytest.raises(
        DataError, match=r"pulls/03\.csv: engine speed 5997 to 3000 rpm only falls; log the pull on its"
    ):
        found(down)


def test_two_sweeps_in_one_file_are_refused_with_their_places():
    two = joined(sweep_channels(), sweep_channels(), pause=2.0)
    words = (
        r"pulls/03\.csv: 2502 to 5956 rpm at 0\.8 to 12\.6 s and 2502 to 5956 rpm at 17\.0 to 28\.8 s are two sweeps "
        r"in one file; give each its own file and its own \[\[pulls\]\] entry"
    )
    with pytest.raises(DataError, match=words):
        found(two)


def test_two_sweeps_that_follow_at_once_are_refused_too():
    quick = {name: values[:1300] for name, values in sweep_channels().items()}
    with pytest.raises(DataError, match="are two sweeps in one file"):
        found(joined(quick, quick, pause=0.01) | {"throttle_position": np.ones(2600)})


def test_a_torque_meter_that_reads_nothing_is_no_pull():
    dead = without(sweep_channels(), "throttle_position") | {"torque": np.zeros(sweep_channels()["time"].size)}
    with pytest.raises(
        DataError, match="holds no rise of 500 rpm at full throttle; log one whole sweep, throttle wide"
    ):
        found(dead)


def test_too_short_a_sweep_is_refused():
    with pytest.raises(DataError, match=r"engine speed 3000 to 3357 rpm holds no rise of 500 rpm at full throttle"):
        found(sweep_channels(low=3000, high=3400))


def test_a_clock_that_stands_still_is_refused_with_its_place():
    channels = sweep_channels()
    channels["time"][301] = channels["time"][300]
    with pytest.raises(DataError, match=r"time 3\.000 s, then 3\.000 s does not run forward; sort the log by time"):
        found(channels)


def test_a_log_without_speed_is_refused():
    with pytest.raises(DataError, match=r"has no engine speed; name its column under \[columns\]"):
        found(without(sweep_channels(), "engine_speed"))


def test_a_log_of_one_row_is_refused():
    with pytest.raises(DataError, match="1 rows are no sweep"):
        found({name: values[:1] for name, values in sweep_channels().items()})

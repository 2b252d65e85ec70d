import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from boostwright.reduction.bins import bin_centres, binned_values, speed_bins
from tests.reduction.logs import RPM, true_torque

EDGES = speed_bins((3000 * RPM, 5800 * RPM))
CENTRES = bin_centres(EDGES)
uneven = hnp.arrays(np.float64, 400, elements=st.floats(2800 * RPM, 6000 * RPM))


@given(st.floats(1500, 4000), st.floats(60, 5000))
def test_bins_are_about_120_rpm_and_fill_the_declared_range(low, span):
    edges = speed_bins((low * RPM, (low + span) * RPM))
    assert edges[0] == pytest.approx(low * RPM)
    assert edges[-1] == pytest.approx((low + span) * RPM)
    width = np.diff(edges) * 60
    assert np.ptp(width) < 1e-9
    assert width[0] <= 180  # 60 to 179 rpm are one bin, longer ranges come within a few rpm of 120
    assert width[0] >= min(span, 80) - 1e-9


def test_a_range_of_2800_rpm_has_23_bins():
    assert EDGES.size == 24


@given(uneven, st.floats(-50, 50), st.floats(-2, 2))
def test_a_straight_line_comes_out_exactly_however_the_samples_lie(speed, level, slope):
    values = binned_values(speed, {"charge_temperature": level + slope * speed}, EDGES)["charge_temperature"]
    filled = np.isfinite(values)
    neighboured = filled & (np.append(filled[1:], values[-1:] * 0 == 1) | np.insert(filled[:-1], 0, values[0] * 0 == 1))
    np.testing.assert_allclose(values[neighboured], (level + slope * CENTRES)[neighboured], atol=1e-6)


def test_samples_crowded_to_one_side_of_their_bins_do_not_bias():
    """A falling sweep rate within each bin: twelve samples in its first quarter, three in the rest."""
    width = EDGES[1] - EDGES[0]
    inside = np.concatenate((np.linspace(0.02, 0.24, 12), [0.4, 0.6, 0.8]))
    speed = (EDGES[:-1, None] + inside * width).ravel()
    torque = true_torque(speed)
    binned = binned_values(speed, {"torque": torque}, EDGES)["torque"]
    plain = torque.reshape(-1, inside.size).mean(axis=1)
    error, plain_error = (np.abs(values / true_torque(CENTRES) - 1) for values in (binned, plain))
    assert error[1:-1].max() < 0.0001  # what is left is the curvature within 120 rpm
    assert error.max() < 0.0004  # one neighbour only, at the ends of the log
    assert plain_error.max() > 0.002


def test_pressures_are_averaged_by_their_logarithm_and_temperatures_as_they_are():
    speed = np.full(3, CENTRES[5])
    reading = np.array([100e3, 120e3, 150e3])
    binned = binned_values(speed, {"manifold_pressure": reading, "charge_temperature": reading}, EDGES)
    assert binned["manifold_pressure"][5] == pytest.approx(np.cbrt(100e3 * 120e3 * 150e3))
    assert binned["charge_temperature"][5] == pytest.approx(reading.mean())


def test_a_bin_of_two_samples_is_masked_and_one_of_three_is_not():
    speed = np.array([CENTRES[2]] * 2 + [CENTRES[7]] * 3)
    values = binned_values(speed, {"torque": np.full(5, 500.0)}, EDGES)["torque"]
    assert np.flatnonzero(np.isfinite(values)).tolist() == [7]


def test_a_dead_sensor_masks_its_own_quantity_only():
    speed = np.repeat(CENTRES, 5)
    dead = np.where(speed > CENTRES[10], np.nan, 1.0)
    binned = binned_values(speed, {"excess_air_ratio": dead, "torque": true_torque(speed)}, EDGES)
    assert np.isfinite(binned["excess_air_ratio"]).sum() == 11
    assert np.isfinite(binned["torque"]).all()


def test_a_torque_of_zero_is_masked_not_averaged():
    speed = np.repeat(CENTRES, 4)
    torque = np.where(np.arange(speed.size) % 4 == 0, 0.0, 500.0)
    np.testing.assert_allclose(binned_values(speed, {"torque": torque}, EDGES)["torque"], 500.0)


def test_rows_beyond_the_range_do_not_count():
    speed = np.linspace(2700 * RPM, 6100 * RPM, 4000)
    inside = (speed >= EDGES[0]) & (speed < EDGES[-1])
    torque = np.where(inside, true_torque(speed), 0.0)
    np.testing.assert_allclose(
        binned_values(speed, {"torque": torque}, EDGES)["torque"], true_torque(CENTRES), rtol=2e-4
    )

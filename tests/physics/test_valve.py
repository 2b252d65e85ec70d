"""Valves: lift, area and Mach index."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.valve import mach_index, port_area, valve_effective_area, valve_lift


def test_a_valve_is_on_its_seat_at_both_ends_and_fully_open_in_the_middle():
    lift = valve_lift([5.9, 6.0, 8.0, 10.0, 10.1], 6.0, 10.0, 0.01)

    np.testing.assert_allclose(lift, [0.0, 0.0, 0.01, 0.0, 0.0], atol=1e-15)


def test_mean_lift_is_eight_fifteenths_of_the_peak():
    angle = 6.0 + 4.0 * (np.arange(4000) + 0.5) / 4000

    assert np.mean(valve_lift(angle, 6.0, 10.0, 0.01)) == pytest.approx(0.01 * 8 / 15, rel=1e-6)


@given(st.floats(1e-5, 0.02), st.floats(0.02, 0.05), st.floats(0.5, 0.9))
def test_area_stays_below_curtain_and_port_and_grows_with_lift(lift, diameter, coefficient):
    port = 0.7 * np.pi / 4 * diameter**2

    area = valve_effective_area(lift, diameter, port, 2, coefficient)

    assert area < 2 * coefficient * min(np.pi * diameter * lift, port)
    assert area < valve_effective_area(1.1 * lift, diameter, port, 2, coefficient)


def test_a_small_lift_is_all_curtain_and_a_large_one_all_port():
    port = port_area(0.030, 0.006)

    small, large = valve_effective_area([1e-6, 10.0], 0.034, port, 1, 0.7)

    assert small == pytest.approx(0.7 * np.pi * 0.034 * 1e-6, rel=1e-6)
    assert large == pytest.approx(0.7 * np.pi / 4 * (0.030**2 - 0.006**2), rel=1e-6)


def test_mach_index_is_piston_area_times_speed_over_valve_area_times_sound():
    """At 15 m/s a piston of 57 cm2 draws 86 L/s; through 9.5 cm2 that is 90 m/s, a quarter of the speed of sound."""
    index = mach_index(0.0852, 15.0, 9.5e-4, 360.0)

    assert index == pytest.approx(0.25, rel=2e-3)

"""Ignition delay and the integral over it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.knock import autoignition_delay, knock_integral


@given(st.floats(5e5, 1.2e7), st.floats(600.0, 1100.0), st.floats(80.0, 115.0))
def test_heat_and_pressure_shorten_the_delay_and_octane_lengthens_it(pressure, temperature, octane):
    delay = autoignition_delay(pressure, temperature, octane)

    assert autoignition_delay(1.01 * pressure, temperature, octane) < delay
    assert autoignition_delay(pressure, temperature + 1, octane) < delay
    assert autoignition_delay(pressure, temperature, octane + 1) > delay


def test_a_state_held_for_its_delay_uses_it_up():
    delay = autoignition_delay(np.full(11, 4e6), 850.0, 95.0)

    used = knock_integral(np.linspace(0.0, delay[0], 11), delay)

    assert used == pytest.approx(1.0, rel=1e-12)


def test_the_integral_adds_up_along_the_last_axis():
    time = np.linspace(0, 1e-3, 5)

    used = knock_integral(time, np.array([[1e-3] * 5, [2e-3] * 5]))

    np.testing.assert_allclose(used, [1.0, 0.5])

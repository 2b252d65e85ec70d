"""Slider-crank: what must hold for any engine."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.crank import cylinder_volume, cylinder_volume_slope, piston_speed, piston_travel

stroke = st.floats(0.02, 0.2)
ratio = st.floats(0.6, 4.0)
angle = st.floats(-10.0, 10.0)


@given(stroke, ratio)
def test_piston_travels_one_stroke_between_its_dead_centres(stroke, ratio):
    travel = piston_travel([0.0, np.pi], stroke, ratio * stroke)

    np.testing.assert_allclose(travel, [0.0, stroke], atol=1e-12)


@given(angle, stroke, ratio)
def test_slope_is_the_derivative_of_the_volume(angle, stroke, ratio):
    step = 1e-5
    rod = ratio * stroke

    rise = np.diff(cylinder_volume([angle - step, angle + step], 0.09, stroke, rod, 10.0)).item()

    slope = cylinder_volume_slope(angle, 0.09, stroke, rod)
    assert rise / (2 * step) == pytest.approx(float(slope), abs=1e-9 * stroke)  # rounding of a difference of 1e-4 m3


def test_a_long_rod_moves_the_piston_as_a_sine():
    angle = np.linspace(0, 2 * np.pi, 37)

    travel = piston_travel(angle, 0.1, 1e4)

    np.testing.assert_allclose(travel, 0.05 * (1 - np.cos(angle)), atol=2e-7)


def test_mean_magnitude_of_the_piston_speed_is_two_strokes_a_turn():
    angle = (np.arange(20000) + 0.5) / 20000 * 2 * np.pi

    speed = piston_speed(angle, 0.09, 0.15, 50.0)

    assert np.mean(np.abs(speed)) == pytest.approx(2 * 0.09 * 50.0, rel=1e-6)


def test_a_rod_shorter_than_half_the_stroke_is_refused():
    with pytest.raises(ValueError, match=r"rod length 0\.04 m is not above half the stroke"):
        piston_travel(0.0, 0.09, 0.04)


def test_a_pressure_ratio_in_place_of_a_compression_ratio_is_refused():
    with pytest.raises(ValueError, match=r"compression ratio 0\.9 must be above 1"):
        cylinder_volume(0.0, 0.09, 0.09, 0.15, 0.9)

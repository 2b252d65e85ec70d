import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.belt import (
    belt_slip,
    belt_speed_of_greatest_power,
    centrifugal_tension,
    effective_tension,
    large_pulley_wrap,
    least_tight_tension,
    open_belt_length,
    pitch_line_ratio,
    small_pulley_wrap,
    tension_ratio,
    transmitted_power,
    wedged_friction,
)

diameters = st.floats(0.05, 0.3)
tensions = st.floats(100.0, 5000.0)


@given(diameters, diameters, st.floats(0.0, 0.004))
@settings(deadline=None)
def test_the_pitch_line_draws_the_ratio_towards_one(D, d, differential):
    nominal, pitch = float(pitch_line_ratio(D, d, 0.0)), float(pitch_line_ratio(D, d, differential))
    assert abs(pitch - 1) <= abs(nominal - 1) + 1e-12
    assert float(pitch_line_ratio(d, D, differential)) == pytest.approx(1 / pitch, rel=1e-12)


@given(diameters, diameters, st.floats(0.31, 1.0))
@settings(deadline=None)
def test_belt_is_as_long_as_its_arcs_and_spans(a, b, C):
    d, D = sorted((a, b))
    span = np.sqrt(C**2 - ((D - d) / 2) ** 2)
    small, large = small_pulley_wrap(D, d, C), large_pulley_wrap(D, d, C)
    assert float(small + large) == pytest.approx(2 * np.pi, rel=1e-12)
    assert float(open_belt_length(D, d, C)) == pytest.approx(float(2 * span + small * d / 2 + large * D / 2), rel=1e-12)


@given(st.floats(0.1, 0.6), st.floats(1.0, 5.0), st.floats(0.05, 1.0))
@settings(deadline=None)
def test_wrap_adds_up_in_the_logarithm_of_the_tension_ratio(mu, wrap, more):
    assert float(tension_ratio(mu, wrap + more)) == pytest.approx(
        float(tension_ratio(mu, wrap) * tension_ratio(mu, more)), rel=1e-12
    )
    assert float(wedged_friction(mu, np.pi)) == pytest.approx(mu, rel=1e-12)


@given(tensions, st.floats(1.5, 30.0), st.floats(10.0, 60.0))
@settings(deadline=None)
def test_the_least_tension_carries_the_power_that_asked_for_it(Te, ratio, v):
    Tc = float(centrifugal_tension(0.1, v))
    tight = least_tight_tension(Te, ratio, Tc)
    power = float(transmitted_power(tight, Tc, ratio, v))
    assert power == pytest.approx(Te * v, rel=1e-9)
    assert float(effective_tension(power, v)) == pytest.approx(Te, rel=1e-9)


@given(tensions, st.floats(0.05, 0.5), st.floats(1.5, 30.0))
@settings(deadline=None)
def test_no_speed_carries_more_than_that_of_greatest_power(tight, mass, ratio):
    best = float(belt_speed_of_greatest_power(tight, mass))
    speeds = best * np.linspace(0.01, 2.0, 400)
    power = transmitted_power(tight, centrifugal_tension(mass, speeds), ratio, speeds)
    greatest = float(transmitted_power(tight, centrifugal_tension(mass, best), ratio, best))
    assert power.max() <= greatest * (1 + 1e-12)
    assert power[-1] == 0.0  # beyond sqrt(3) of it the belt leaves the pulley


@given(st.floats(0.0, 0.2), st.floats(10.0, 120.0), st.floats(0.8, 4.0))
@settings(deadline=None)
def test_slip_comes_back_from_its_rotor_speed(slip, N, ratio):
    assert float(belt_slip(ratio * N * (1 - slip), N, ratio)) == pytest.approx(slip, abs=1e-12)


def test_a_drive_that_cannot_be_built_is_refused_in_words():
    with pytest.raises(ValueError, match=r"centre distance 0\.1 m is too short for these pulleys: they overlap"):
        small_pulley_wrap(0.19, 0.068, 0.1)
    with pytest.raises(ValueError, match="pulley diameter 0 m is not positive: give both pulleys"):
        pitch_line_ratio(0.19, 0.0, 0.002)

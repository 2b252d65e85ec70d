"""Belt drives against the examples of Shigley and Khurmi, the pitch-line rule of ISO 9981, and facts of the trade."""

import numpy as np
import pytest

from boostwright.physics.belt import (
    belt_slip,
    belt_speed,
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

INCH, POUND_FORCE = 0.0254, 4.4482216152605


def test_shigley_example_17_2_tensions_of_a_flat_belt():
    """Shigley, 10th ed., 17-2: wrap 3.037, f 0.8, Fc 73.4, F1 - F2 664 lbf: 11.354; 801.5, 137.5, 396.1 lbf."""
    ratio = tension_ratio(0.8, 3.037)
    assert float(ratio) == pytest.approx(11.354, abs=6e-4)
    tight = float(least_tight_tension(664 * POUND_FORCE, ratio, 73.4 * POUND_FORCE)) / POUND_FORCE
    slack = tight - 664.0
    initial = (tight + slack) / 2 - 73.4
    assert [tight, slack, initial] == pytest.approx([801.5, 137.5, 396.1], abs=0.1)  # the book rounds on the way


def test_shigley_problem_17_1_geometry_of_an_open_belt():
    """Shigley, 10th ed., P17-1: d 6, D 18, C 96 in: wraps 3.016511 and 3.266674, length 230.074 in."""
    pulleys = (18 * INCH, 6 * INCH, 96 * INCH)
    assert float(small_pulley_wrap(*pulleys)) == pytest.approx(3.016511, abs=6e-7)
    assert float(large_pulley_wrap(*pulleys)) == pytest.approx(3.266674, abs=6e-7)
    assert float(open_belt_length(*pulleys)) / INCH == pytest.approx(230.074, abs=6e-4)


def test_khurmi_11_17_power_of_a_v_belt():
    """Khurmi and Gupta, 11.17: half angle 15 deg, mu 0.12, wrap pi, 7 MPa on 750 mm2, 1200 kg/m3, 0.3 m, 1500 1/min."""
    v = float(belt_speed(0.3, 25.0))
    mass = 1200 * 750e-6
    tight = 7e6 * 750e-6
    Tc = float(centrifugal_tension(mass, v))
    ratio = float(tension_ratio(wedged_friction(0.12, np.radians(30)), np.pi))
    power = float(transmitted_power(tight, Tc, ratio, v))
    assert v == pytest.approx(23.562, abs=6e-4)
    assert Tc == pytest.approx(499.65, abs=6e-3)
    assert tight - Tc == pytest.approx(4750.35, abs=6e-3)
    assert (tight - Tc) / ratio == pytest.approx(1106.98, abs=6e-3)
    assert power == pytest.approx(85.845e3, abs=0.6)
    best = float(belt_speed_of_greatest_power(tight, mass))
    assert best / (np.pi * 0.3) * 60 == pytest.approx(2807, abs=0.6)


@pytest.mark.parametrize(
    ("mu", "wedged", "full", "short"),
    [(0.30, 0.87714, 15.731, 8.5272), (0.35, 1.02333, 24.901, 12.188), (0.40, 1.16952, 39.416, 17.421)],
)
def test_multi_rib_belt_in_its_40_degree_groove(mu, wedged, full, short):
    """Worked: mu/sin 20 deg, and the tension ratio at wraps of 180 and 140 deg."""
    friction = wedged_friction(mu, np.radians(40))
    assert float(friction) == pytest.approx(wedged, abs=6e-6)
    assert float(tension_ratio(friction, np.pi)) == pytest.approx(full, rel=3e-5)
    assert float(tension_ratio(friction, np.radians(140))) == pytest.approx(short, rel=4e-5)


def test_ratio_on_the_pitch_line():
    """190 on 68 mm: 2.794118 nominal, 2.694444 with ISO 9981's 2 mm on each radius; 16 764.7 or 16 166.7 1/min."""
    nominal, pitch = float(pitch_line_ratio(0.190, 0.068, 0.0)), float(pitch_line_ratio(0.190, 0.068, 0.002))
    assert nominal == pytest.approx(2.794118, abs=6e-7)
    assert pitch == pytest.approx(2.694444, abs=6e-7)
    assert nominal * 6000 == pytest.approx(16764.7, abs=0.06)
    assert pitch * 6000 == pytest.approx(16166.7, abs=0.06)


def test_the_nominal_ratio_shows_a_slip_that_is_not_there():
    assert float(belt_slip(16166.7 / 60, 100.0, pitch_line_ratio(0.190, 0.068, 0.002))) == pytest.approx(0, abs=1e-5)
    assert float(belt_slip(16166.7 / 60, 100.0, 2.794118)) == pytest.approx(0.036, abs=5e-4)


def test_forces_on_a_190_mm_pulley_at_6000():
    """Worked: 59.690 m/s; 45 kW asks for 753.89 N; 0.148 kg/m takes 527.3 N for itself."""
    v = float(belt_speed(0.190, 100.0))
    assert v == pytest.approx(59.690, abs=6e-4)
    assert float(effective_tension(45e3, v)) == pytest.approx(753.89, abs=6e-3)
    assert float(centrifugal_tension(0.148, v)) == pytest.approx(527.3, abs=0.051)


def test_open_belt_at_300_mm_centres():
    """Worked: radii 95 and 34 mm, 300 mm apart: wraps 156.536 and 203.464 deg, length 1017.712 mm."""
    pulleys = (0.190, 0.068, 0.300)
    assert np.degrees(small_pulley_wrap(*pulleys)) == pytest.approx(156.536, abs=6e-4)
    assert np.degrees(large_pulley_wrap(*pulleys)) == pytest.approx(203.464, abs=6e-4)
    assert float(open_belt_length(*pulleys)) * 1e3 == pytest.approx(1017.712, abs=6e-4)


def test_a_254_on_75_mm_drive_is_spoken_of_as_3_38():
    """Common practice, no source: the ratio of the nominal diameters, cut off after two decimals."""
    assert int(100 * float(pitch_line_ratio(0.254, 0.075, 0.0))) / 100 == 3.38


def test_such_a_drive_turns_the_rotors_close_to_24_000():
    """Common practice, no source: at 7 000 engine rpm, close to 24 000; the nominal ratio gives 1.2 % less."""
    rotor_speed = float(pitch_line_ratio(0.254, 0.075, 0.0)) * 7000
    assert rotor_speed == pytest.approx(24000, rel=0.02)

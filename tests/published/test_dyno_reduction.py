"""Identities of dynamometer data reduction, each beside where its number comes from."""

import pytest

from boostwright.physics.rotation import inertia_power, shaft_power

FOOT_POUND = 0.3048 * 4.4482216152605  # N*m, international foot and pound-force, exact
HORSEPOWER = 745.69987158227  # W, 550 ft*lbf/s, exact


def test_kilowatt_newton_metre_and_rpm_meet_at_9549():
    """P [kW] = T [N*m] n [1/min] / 9549.296586 (60 000 / 2 pi)."""
    assert float(shaft_power(9549.296586, 1 / 60)) == pytest.approx(1000.0, rel=1e-9)


def test_horsepower_and_pound_feet_meet_at_5252():
    """P [hp] = T [lbf*ft] n [1/min] / 5252.113122 (33 000 / 2 pi)."""
    assert float(shaft_power(5252.113122 * FOOT_POUND, 1 / 60)) / HORSEPOWER == pytest.approx(1.0, rel=1e-9)


def test_inertia_takes_11_8435_kw():
    """0.6 kg*m2 swept at 300 (1/min)/s takes 11.8435 kW at 6000 1/min (worked from P = I alpha omega)."""
    assert float(inertia_power(0.6, 6000 / 60, 300 / 60)) == pytest.approx(11843.5, abs=0.06)

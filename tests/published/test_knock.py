"""Ignition delay of Douaud and Eyzat and the integral of Livengood and Wu against independent arithmetic.

The constants are from memory of SAE 780080; the arithmetic confirms the formula as coded.
"""

import numpy as np
import pytest

from boostwright.physics.crank import cylinder_volume
from boostwright.physics.knock import STANDARD_ATMOSPHERE, autoignition_delay, knock_integral


@pytest.mark.parametrize(
    ("atmospheres", "temperature", "octane", "milliseconds"),
    [(20, 750, 95, 14.4668), (40, 800, 95, 3.24410), (40, 850, 100, 2.92100), (60, 900, 95, 0.960569)],
)
def test_ignition_delay(atmospheres, temperature, octane, milliseconds):
    delay = autoignition_delay(atmospheres * STANDARD_ATMOSPHERE, temperature, octane)

    assert delay * 1e3 == pytest.approx(milliseconds, rel=2e-6)


def test_sensitivities_of_the_delay():
    """ON 100 against 95: 1.19065; 1 K at 850 K: 0.524 %; 1 % of pressure: 1.7 %."""
    base = autoignition_delay(4e6, 850.0, 95.0)

    assert autoignition_delay(4e6, 850.0, 100.0) / base == pytest.approx(1.19065, abs=5e-6)
    assert 1 - autoignition_delay(4e6, 851.0, 95.0) / base == pytest.approx(0.00524, abs=1e-5)
    assert 1 - autoignition_delay(4.04e6, 850.0, 95.0) / base == pytest.approx(0.017, abs=3e-4)


@pytest.mark.parametrize(
    ("pressure", "temperature", "expected"), [(1.8, 340.0, 0.27792), (2.4, 340.0, 0.45322), (2.4, 360.0, 0.61902)]
)
def test_integral_over_a_polytropic_compression(pressure, temperature, expected):
    """B = S 86.5, l 150 mm, CR 10, n 1.32 from bottom centre, -180 to 40 degrees, 3000 1/min, ON 95."""
    angle = np.radians(np.linspace(-180, 40, 22001))
    ratio = cylinder_volume(-np.pi, 0.0865, 0.0865, 0.150, 10.0) / cylinder_volume(angle, 0.0865, 0.0865, 0.150, 10.0)
    p, T = pressure * STANDARD_ATMOSPHERE * ratio**1.32, temperature * ratio**0.32

    used = knock_integral(angle / (2 * np.pi * 50.0), autoignition_delay(p, T, 95.0))

    assert p.max() / STANDARD_ATMOSPHERE == pytest.approx(pressure * 10**1.32, rel=1e-4)
    assert used == pytest.approx(expected, abs=1.5e-5)

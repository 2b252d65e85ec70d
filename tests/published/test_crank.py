"""Slider-crank against a textbook example and independent arithmetic."""

import numpy as np
import pytest

from boostwright.physics.crank import cylinder_volume, mean_piston_speed, piston_speed, piston_travel

DEGREE = np.pi / 180


def test_gupta_example_16_1():
    """3.0 L V6, bore = stroke = 8.6025 cm, rod 17.2 cm: at 20 degrees x 0.32243 cm, V 81.240 cm3, piston 5.712 m/s.

    H. N. Gupta, Fundamentals of Internal Combustion Engines, example 16.1; clearance volume 62.5 cm3, 3000 1/min.
    """
    bore = stroke = 0.086025
    compression_ratio = 1 + np.pi / 4 * bore**2 * stroke / 62.5e-6

    assert piston_travel(20 * DEGREE, stroke, 0.172) == pytest.approx(0.32243e-2, abs=1e-7)
    assert cylinder_volume(20 * DEGREE, bore, stroke, 0.172, compression_ratio) == pytest.approx(81.240e-6, abs=1e-9)
    assert piston_speed(20 * DEGREE, stroke, 0.172, 3000 / 60) == pytest.approx(5.712, abs=1e-3)


def test_volumes_of_a_five_litre_engine():
    """Bore 94, stroke 90, rod 150 mm, compression ratio 10: independent arithmetic, to all six digits."""
    angles = np.array([0, 20, 45, 90, 135, 180]) * DEGREE
    expected = [69.3978, 93.7253, 184.557, 429.636, 626.202, 693.978]  # cm3

    volumes = cylinder_volume(angles, 0.094, 0.090, 0.150, 10.0) * 1e6

    np.testing.assert_allclose(volumes, expected, rtol=1e-5)


def test_mean_piston_speed_of_the_same_engine():
    assert mean_piston_speed(0.090, 6000 / 60) == pytest.approx(18.0)

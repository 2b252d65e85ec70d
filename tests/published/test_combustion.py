"""Wiebe's burn curve, Woschni's coefficient and friction against independent arithmetic of the cited formulas.

The arithmetic confirms the formulas as coded; their constants are from memory of the sources named in the functions.
"""

import numpy as np
import pytest

from boostwright.physics.combustion import burn_progress, burned_fraction
from boostwright.physics.friction import friction_mep, total_friction_mep
from boostwright.physics.wall_heat import wall_heat_transfer_coefficient


def test_wiebe_burned_fractions():
    """Form of Ghojel 2010 with a 5, m 2."""
    burned = burned_fraction([0.25, 0.5, 0.75, 1.0], 5.0, 2.0)

    np.testing.assert_allclose(burned, [0.075151, 0.464739, 0.878686, 0.993262], atol=5e-7)


@pytest.mark.parametrize(
    ("completeness", "expected"),
    [(5.0, [0.276208, 0.517549, 0.772233]), (6.908, [0.247994, 0.464684, 0.693353])],
)
def test_wiebe_angles_of_10_50_and_90_percent(completeness, expected):
    np.testing.assert_allclose(burn_progress([0.1, 0.5, 0.9], completeness, 2.0), expected, atol=5e-7)


@pytest.mark.parametrize(
    ("pressure", "temperature", "velocity", "expected"),
    [(6000e3, 2400.0, 77.1218, 2464.56), (2500e3, 900.0, 41.04, 1266.71)],
)
def test_woschni_coefficient(pressure, temperature, velocity, expected):
    coefficient = wall_heat_transfer_coefficient(pressure, temperature, velocity, 0.094)

    assert coefficient == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(
    ("constants", "expected"), [((0.137e5, 0.005, 0.162e5, 0.0), 2.917e5), ((0.4e5, 0.005, 0.09e5, 0.0009e5), 2.3025e5)]
)
def test_chen_flynn_friction(constants, expected):
    assert friction_mep(70e5, 15.0, *constants) == pytest.approx(expected, abs=1.0)


def test_heywood_total_friction():
    np.testing.assert_allclose(
        total_friction_mep(np.array([1000, 3000, 6000]) / 60), [1.17e5, 1.87e5, 3.67e5], rtol=1e-9
    )

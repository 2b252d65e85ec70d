"""Heat transfer correlation: its exponents, and the velocity that combustion adds."""

import numpy as np
import pytest

from boostwright.physics.wall_heat import gas_velocity, wall_heat_transfer_coefficient


@pytest.mark.parametrize(
    ("factors", "exponent"), [((2, 1, 1, 1), 0.8), ((1, 2, 1, 1), -0.55), ((1, 1, 2, 1), 0.8), ((1, 1, 1, 2), -0.2)]
)
def test_coefficient_follows_the_printed_exponents(factors, exponent):
    state = np.array([3e6, 1500.0, 30.0, 0.09])

    ratio = wall_heat_transfer_coefficient(*(state * factors)) / wall_heat_transfer_coefficient(*state)

    assert ratio == pytest.approx(2.0**exponent, rel=1e-12)


def test_gas_velocity_without_combustion_is_that_of_the_piston():
    assert gas_velocity(18.0, 2.28, 6e-4, 0.3, 0.0) == pytest.approx(41.04)


def test_any_reference_state_of_the_shut_cylinder_gives_the_same_velocity():
    """p V/T of a shut cylinder is its mass times gas constant wherever it is taken."""
    mass, R = 1.1e-3, 287.0
    states = [(1.6e5, 6.2e-4), (2.3e6, 8.0e-5)]

    velocities = [
        gas_velocity(18.0, 2.28, 6e-4, p * V / (p * V / (mass * R)), 4e6) for p, V in states
    ]  # fmt: skip

    assert velocities[0] == pytest.approx(velocities[1], rel=1e-12)
    assert velocities[0] == pytest.approx(2.28 * 18.0 + 3.24e-3 * 6e-4 * 4e6 / (mass * R), rel=1e-12)

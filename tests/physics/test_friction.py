"""Friction: which way it goes."""

import numpy as np

from boostwright.physics.friction import friction_mep, total_friction_mep


def test_friction_grows_with_pressure_and_with_speed():
    grown = friction_mep([7e6, 8e6, 7e6], [15.0, 15.0, 16.0], 0.4e5, 0.005, 0.09e5, 0.0009e5)

    np.testing.assert_allclose(grown - grown[0], [0.0, 5e3, 0.09e5 + 0.0009e5 * 31], rtol=1e-12)


def test_the_two_correlations_agree_on_the_size_of_friction():
    """Two independent fits to engines of the same kind and time, within the 50 % by which such fits differ."""
    speed = np.array([2000.0, 4000.0, 6000.0]) / 60

    by_piston = friction_mep(6e6, 2 * 0.085 * speed, 0.4e5, 0.005, 0.09e5, 0.0009e5)

    assert np.all(np.abs(by_piston / total_friction_mep(speed) - 1) < 0.5)

"""Generalised least squares of a gain, written out: what an order of pulls makes of the readings."""

import numpy as np

from boostwright.inference.disturbances import Disturbances, RunOrder
from boostwright.inference.run_order import rest_of_average, standard_uncertainty


def gain_weights(covariance: np.ndarray, is_candidate: np.ndarray) -> np.ndarray:
    """Weight of each pull in the best linear unbiased estimate of a gain, y = level + gain x (Aitken 1936)."""
    Z = np.column_stack([np.ones(is_candidate.size), is_candidate])
    VZ = np.linalg.solve(covariance, Z)
    return np.linalg.solve(Z.T @ VZ, VZ.T)[1]


def gain_variance(engine_speed: np.ndarray, order: RunOrder, disturbances: Disturbances) -> float:
    """Squared standard uncertainty of the average gain for disturbances of known size."""
    return standard_uncertainty(order, disturbances, rest_of_average(engine_speed, disturbances)) ** 2

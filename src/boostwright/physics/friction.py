"""Friction mean effective pressure of a whole engine."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def friction_mep(
    peak_cylinder_pressure: ArrayLike,
    mean_piston_speed: ArrayLike,
    friction_constant: ArrayLike,
    friction_pressure_factor: ArrayLike,
    friction_speed_factor: ArrayLike,
    friction_speed_squared_factor: ArrayLike,
) -> Floats:
    """Friction mean effective pressure from peak pressure and piston speed, after Chen and Flynn.

    Parameters
    ----------
    peak_cylinder_pressure : array_like, shape (...)
        Highest cylinder pressure, pmax in [1]_. [Pa]
    mean_piston_speed : array_like, shape (...)
        Sp in [1]_. [m/s]
    friction_constant : array_like, shape (...)
        A in [1]_. [Pa]
    friction_pressure_factor : array_like, shape (...)
        B in [1]_. [-]
    friction_speed_factor : array_like, shape (...)
        C in [1]_. [Pa*s/m]
    friction_speed_squared_factor : array_like, shape (...)
        D, a later addition. [Pa*s2/m2]

    Returns
    -------
    ndarray, shape (...)
        A + B pmax + C Sp + D Sp^2. [Pa]

    Notes
    -----
    Form and coefficients in use are from memory of [1]_; published sets disagree by 25 % or more, so fit A and C to the
    engine and keep B near 0.005.

    References
    ----------
    .. [1] S. K. Chen and P. F. Flynn, Development of a single cylinder compression ignition research engine,
       SAE 650733, 1965.
    """
    Sp = np.asarray(mean_piston_speed, dtype=float)
    A, B = np.asarray(friction_constant, dtype=float), np.asarray(friction_pressure_factor, dtype=float)
    C, D = np.asarray(friction_speed_factor, dtype=float), np.asarray(friction_speed_squared_factor, dtype=float)
    return A + B * np.asarray(peak_cylinder_pressure, dtype=float) + C * Sp + D * Sp**2


def total_friction_mep(engine_speed: ArrayLike) -> Floats:
    """Friction of a spark-ignition engine of passenger-car size with its pumping at full throttle, by speed alone.

    Parameters
    ----------
    engine_speed : array_like, shape (...)
        N in [1]_. [1/s]

    Returns
    -------
    ndarray, shape (...)
        tfmep = 0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2 bar with N per minute. [Pa]

    Notes
    -----
    From memory of [1]_: a fit to several four-cylinder engines, without boost. A check of size, not a model.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, equation (13.6).
    """
    thousands = np.asarray(engine_speed, dtype=float) * 60 / 1000
    return np.asarray(1e5 * (0.97 + 0.15 * thousands + 0.05 * thousands**2))

"""Slider-crank: cylinder volume, its slope and the speed of the piston. Angles count from the firing dead centre."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def piston_travel(crank_angle: ArrayLike, stroke: ArrayLike, rod_length: ArrayLike) -> Floats:
    """Distance of the piston below its top dead centre.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        After top dead centre, theta in [1]_. [rad]
    stroke : array_like, shape (...)
        Twice the crank radius, 2 a in [1]_. [m]
    rod_length : array_like, shape (...)
        Connecting rod between its centres, l in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        l + a - s. [m]

    Raises
    ------
    ValueError
        If a rod is not longer than half the stroke.

    Notes
    -----
    No piston-pin offset. Agrees with Gupta, example 16.1.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    if np.any(np.asarray(rod_length) <= np.asarray(stroke) / 2):
        raise ValueError(f"rod length {np.min(rod_length):g} m is not above half the stroke: the crank cannot turn")
    theta, a, rod = np.asarray(crank_angle), np.asarray(stroke) / 2, np.asarray(rod_length)
    s = a * np.cos(theta) + np.sqrt(rod**2 - (a * np.sin(theta)) ** 2)
    return np.asarray(rod + a - s)


def piston_travel_slope(crank_angle: ArrayLike, stroke: ArrayLike, rod_length: ArrayLike) -> Floats:
    """Piston travel per crank angle.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        After top dead centre, theta in [1]_. [rad]
    stroke : array_like, shape (...)
        Twice the crank radius, 2 a in [1]_. [m]
    rod_length : array_like, shape (...)
        Connecting rod between its centres, l in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        -ds/dtheta; negative while the piston rises. [m/rad]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    theta, a, rod = np.asarray(crank_angle), np.asarray(stroke) / 2, np.asarray(rod_length)
    reach = np.sqrt(rod**2 - (a * np.sin(theta)) ** 2)
    return np.asarray(a * np.sin(theta) * (1 + a * np.cos(theta) / reach))


def cylinder_volume(
    crank_angle: ArrayLike, bore: ArrayLike, stroke: ArrayLike, rod_length: ArrayLike, compression_ratio: ArrayLike
) -> Floats:
    """Volume of one cylinder.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        After top dead centre, theta in [1]_. [rad]
    bore : array_like, shape (...)
        B in [1]_. [m]
    stroke : array_like, shape (...)
        Twice the crank radius, 2 a in [1]_. [m]
    rod_length : array_like, shape (...)
        Connecting rod between its centres, l in [1]_. [m]
    compression_ratio : array_like, shape (...)
        Greatest over smallest volume, rc in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        Vc + pi B^2/4 (l + a - s). [m3]

    Raises
    ------
    ValueError
        If a rod is not longer than half the stroke, or a compression ratio is not above 1.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    rc = np.asarray(compression_ratio, dtype=float)
    if np.any(rc <= 1):
        raise ValueError(f"compression ratio {rc.min():g} must be above 1; is it a pressure ratio?")
    area = np.pi / 4 * np.square(bore)
    return area * (np.asarray(stroke) / (rc - 1) + piston_travel(crank_angle, stroke, rod_length))


def cylinder_volume_slope(crank_angle: ArrayLike, bore: ArrayLike, stroke: ArrayLike, rod_length: ArrayLike) -> Floats:
    """Change of the volume of one cylinder per crank angle.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        After top dead centre, theta in [1]_. [rad]
    bore : array_like, shape (...)
        B in [1]_. [m]
    stroke : array_like, shape (...)
        Twice the crank radius, 2 a in [1]_. [m]
    rod_length : array_like, shape (...)
        Connecting rod between its centres, l in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        dV/dtheta. [m3/rad]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    return np.asarray(np.pi / 4 * np.square(bore) * piston_travel_slope(crank_angle, stroke, rod_length))


def piston_speed(crank_angle: ArrayLike, stroke: ArrayLike, rod_length: ArrayLike, engine_speed: ArrayLike) -> Floats:
    """Speed of the piston at one crank angle, positive on its way down.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        After top dead centre, theta in [1]_. [rad]
    stroke : array_like, shape (...)
        Twice the crank radius, 2 a in [1]_. [m]
    rod_length : array_like, shape (...)
        Connecting rod between its centres, l in [1]_. [m]
    engine_speed : array_like, shape (...)
        N in [1]_. [1/s]

    Returns
    -------
    ndarray, shape (...)
        Sp. [m/s]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    return 2 * np.pi * np.asarray(engine_speed) * piston_travel_slope(crank_angle, stroke, rod_length)


def mean_piston_speed(stroke: ArrayLike, engine_speed: ArrayLike) -> Floats:
    """Mean of the magnitude of the piston speed over a turn.

    Parameters
    ----------
    stroke : array_like, shape (...)
        L in [1]_. [m]
    engine_speed : array_like, shape (...)
        N in [1]_. [1/s]

    Returns
    -------
    ndarray, shape (...)
        2 L N. [m/s]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 2.2.
    """
    return 2 * np.asarray(stroke, dtype=float) * np.asarray(engine_speed, dtype=float)

"""Torque, power and inertia of a turning shaft."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def shaft_power(torque: ArrayLike, shaft_speed: ArrayLike) -> Floats:
    """Power that a torque carries through a turning shaft.

    Parameters
    ----------
    torque : array_like, shape (...)
        Torque in the shaft. [N*m]
    shaft_speed : array_like, shape (...)
        Turns of the shaft per second. [1/s]

    Returns
    -------
    ndarray, shape (...)
        Power. [W]

    Notes
    -----
    Exact. In kW and 1/min the constant is 9549.2966, in hp (550 ft lbf/s), lbf ft and 1/min 5252.1131.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.13), from memory.
    """
    return np.asarray(2 * np.pi * np.asarray(shaft_speed) * np.asarray(torque))


def shaft_torque(power: ArrayLike, shaft_speed: ArrayLike) -> Floats:
    """Torque in a turning shaft that carries a power.

    Parameters
    ----------
    power : array_like, shape (...)
        Power carried by the shaft. [W]
    shaft_speed : array_like, shape (...)
        Turns of the shaft per second, not zero. [1/s]

    Returns
    -------
    ndarray, shape (...)
        Torque. [N*m]

    Raises
    ------
    ValueError
        If a shaft stands still: it carries no power, whatever its torque.

    Notes
    -----
    Exact.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.13), from memory.
    """
    N = np.asarray(shaft_speed, dtype=np.float64)
    if np.any(N == 0):
        raise ValueError(
            "shaft speed is 0 1/s somewhere: the torque of a standing shaft does not follow from its power"
        )
    return np.asarray(np.asarray(power) / (2 * np.pi * N))


def inertia_torque(rotating_inertia: ArrayLike, shaft_acceleration: ArrayLike) -> Floats:
    """Torque that goes into speeding up what turns, and that a brake behind it therefore does not see.

    Parameters
    ----------
    rotating_inertia : array_like, shape (...)
        Moment of inertia of all that turns, referred to this shaft. [kg*m2]
    shaft_acceleration : array_like, shape (...)
        Change of the shaft speed per second. [1/s2]

    Returns
    -------
    ndarray, shape (...)
        Torque, positive while the speed rises. [N*m]

    Notes
    -----
    Exact for a stiff shaft; a part geared at ratio i counts i**2 times its own inertia.

    References
    ----------
    .. [1] Euler's second law of motion for a fixed axis; any textbook of mechanics.
    """
    return np.asarray(2 * np.pi * np.asarray(rotating_inertia) * np.asarray(shaft_acceleration))


def inertia_power(rotating_inertia: ArrayLike, shaft_speed: ArrayLike, shaft_acceleration: ArrayLike) -> Floats:
    """Power that goes into speeding up what turns.

    Parameters
    ----------
    rotating_inertia : array_like, shape (...)
        Moment of inertia of all that turns, referred to this shaft. [kg*m2]
    shaft_speed : array_like, shape (...)
        Turns of the shaft per second. [1/s]
    shaft_acceleration : array_like, shape (...)
        Change of the shaft speed per second. [1/s2]

    Returns
    -------
    ndarray, shape (...)
        Power, positive while a forward speed rises. [W]

    Notes
    -----
    Exact for a stiff shaft.

    References
    ----------
    .. [1] Euler's second law of motion for a fixed axis; any textbook of mechanics.
    """
    return shaft_power(inertia_torque(rotating_inertia, shaft_acceleration), shaft_speed)

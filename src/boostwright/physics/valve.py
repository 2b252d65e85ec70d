"""Poppet valves: lift over crank angle, the area they open, and how close the intake runs to the speed of sound."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def valve_lift(
    crank_angle: ArrayLike, opening_angle: ArrayLike, closing_angle: ArrayLike, peak_lift: ArrayLike
) -> Floats:
    """Lift of a valve on a symmetrical cam.

    Parameters
    ----------
    crank_angle : array_like, shape (...)
        theta. [rad]
    opening_angle : array_like, shape (...)
        Where the valve leaves its seat, theta_o. [rad]
    closing_angle : array_like, shape (...)
        Where it comes back, theta_c. [rad]
    peak_lift : array_like, shape (...)
        Half way between, Lmax. [m]

    Returns
    -------
    ndarray, shape (...)
        Lmax (1 - z^2)^2, with z from -1 at opening to 1 at closing; 0 outside. [m]

    Notes
    -----
    The shape has no step in speed at the seat and a mean of 8/15 of the peak; opening and closing are at the seat, so
    ramps of a real cam lie outside. A measured lift curve is better than any formula.

    References
    ----------
    .. [1] Own form, fitted to nothing; no source.
    """
    theta, begin, end = np.asarray(crank_angle), np.asarray(opening_angle), np.asarray(closing_angle)
    z = (2 * theta - begin - end) / (end - begin)
    return np.asarray(peak_lift * np.maximum(1 - z**2, 0.0) ** 2)


def valve_effective_area(
    lift: ArrayLike,
    valve_diameter: ArrayLike,
    port_area: ArrayLike,
    valve_count: ArrayLike,
    discharge_coefficient: ArrayLike,
) -> Floats:
    """Flow area of the valves of one kind in one cylinder: curtain and port as two restrictions in line.

    Parameters
    ----------
    lift : array_like, shape (...)
        L. [m]
    valve_diameter : array_like, shape (...)
        Of the head, Dv in [1]_. [m]
    port_area : array_like, shape (...)
        Area of the port of one valve less its stem, pi/4 (Dp^2 - Ds^2) in [1]_. [m2]
    valve_count : array_like, shape (...)
        Intake or exhaust valves of one cylinder. [-]
    discharge_coefficient : array_like, shape (...)
        CD of curtain and port. [-]

    Returns
    -------
    ndarray, shape (...)
        n CD (curtain^-2 + port^-2)^(-1/2), curtain = pi Dv L. [m2]

    Notes
    -----
    The sum of inverse squares is the law of two small losses in line (dp1 + dp2 with the same flow). It passes smoothly
    from the curtain to the port and is 29 % below the lesser of them where they are equal, which a coefficient
    referred to the curtain alone shows as its well-known fall with lift.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.3 (areas from memory).
    """
    L, D, port, n, CD = np.broadcast_arrays(lift, valve_diameter, port_area, valve_count, discharge_coefficient)
    curtain = np.pi * D * L
    return np.asarray(n * CD * curtain * port / np.hypot(curtain, port))


def port_area(port_diameter: ArrayLike, stem_diameter: ArrayLike) -> Floats:
    """Free area of a valve port.

    Parameters
    ----------
    port_diameter : array_like, shape (...)
        Dp in [1]_. [m]
    stem_diameter : array_like, shape (...)
        Ds in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        pi/4 (Dp^2 - Ds^2). [m2]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.3 (from memory).
    """
    return np.pi / 4 * (np.square(port_diameter) - np.square(stem_diameter))


def mach_index(
    bore: ArrayLike, mean_piston_speed: ArrayLike, mean_effective_area: ArrayLike, speed_of_sound: ArrayLike
) -> Floats:
    """Mean velocity in the intake valves over the speed of sound; filling falls above about 0.5.

    Parameters
    ----------
    bore : array_like, shape (...)
        b in [1]_. [m]
    mean_piston_speed : array_like, shape (...)
        s in [1]_. [m/s]
    mean_effective_area : array_like, shape (...)
        Mean over the open time of the effective area of all intake valves of one cylinder. [m2]
    speed_of_sound : array_like, shape (...)
        In the gas ahead of the valve, a in [1]_. [m/s]

    Returns
    -------
    ndarray, shape (...)
        Z = pi/4 b^2 s/(CdA a). [-]

    Notes
    -----
    Form and the figure of 0.5 from memory of [1]_.

    References
    ----------
    .. [1] C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, vol. 1, 1966, chapter 6.
    """
    b, s, area, a = np.broadcast_arrays(bore, mean_piston_speed, mean_effective_area, speed_of_sound)
    return np.asarray(np.pi / 4 * b**2 * s / (area * a))

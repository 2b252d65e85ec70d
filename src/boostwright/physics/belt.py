"""Belt drive of a blower: ratio on the pitch line, wrap, tensions and slip of flat, V and multi-rib belts.

Equations are cited from memory of the books, and checked by examples of both that were read; ISO 9981 was read in part.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def pitch_line_ratio(
    driving_diameter: ArrayLike, driven_diameter: ArrayLike, line_differential: ArrayLike
) -> NDArray[np.float64]:
    """Turns of the driven pulley per turn of the driving one, on the line where the belt does not stretch.

    Parameters
    ----------
    driving_diameter : array_like, shape (...)
        Effective diameter of the crank pulley, de in [1]_. [m]
    driven_diameter : array_like, shape (...)
        Effective diameter of the blower pulley. [m]
    line_differential : array_like, shape (...)
        Distance from the effective diameter out to the pitch line; 2 mm for a PK belt in [1]_, 0 gives the nominal
        ratio. [m]

    Returns
    -------
    ndarray, shape (...)
        Drive ratio without belt slip. [-]

    Notes
    -----
    The differential counts on each radius, so twice on a diameter (this reading of [1]_ is from memory). On small
    pulleys it matters: 190 on 68 mm is 2.794 nominal and 2.694 on the pitch line.

    References
    ----------
    .. [1] ISO 9981:2020, Belt drives: pulleys and V-ribbed belts for the automotive industry, PK profile.
    """
    D, d, b = np.broadcast_arrays(driving_diameter, driven_diameter, line_differential)
    if np.any(D <= 0) or np.any(d <= 0):
        raise ValueError(f"pulley diameter {min(D.min(), d.min()):g} m is not positive: give both pulleys")
    return np.asarray((D + 2 * b) / (d + 2 * b))


def small_pulley_wrap(
    large_diameter: ArrayLike, small_diameter: ArrayLike, centre_distance: ArrayLike
) -> NDArray[np.float64]:
    """Angle over which an open belt touches the smaller pulley.

    Parameters
    ----------
    large_diameter : array_like, shape (...)
        D in [1]_. [m]
    small_diameter : array_like, shape (...)
        d in [1]_. [m]
    centre_distance : array_like, shape (...)
        C in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        theta_d in [1]_; the larger pulley has the rest of a full turn. [rad]

    Raises
    ------
    ValueError
        If the pulleys overlap.

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-1).
    """
    return np.asarray(np.pi - 2 * _belt_inclination(large_diameter, small_diameter, centre_distance))


def large_pulley_wrap(
    large_diameter: ArrayLike, small_diameter: ArrayLike, centre_distance: ArrayLike
) -> NDArray[np.float64]:
    """Angle over which an open belt touches the larger pulley.

    Parameters
    ----------
    large_diameter : array_like, shape (...)
        D in [1]_. [m]
    small_diameter : array_like, shape (...)
        d in [1]_. [m]
    centre_distance : array_like, shape (...)
        C in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        theta_D in [1]_. [rad]

    Raises
    ------
    ValueError
        If the pulleys overlap.

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-1).
    """
    return np.asarray(np.pi + 2 * _belt_inclination(large_diameter, small_diameter, centre_distance))


def open_belt_length(
    large_diameter: ArrayLike, small_diameter: ArrayLike, centre_distance: ArrayLike
) -> NDArray[np.float64]:
    """Length of an open belt around two pulleys.

    Parameters
    ----------
    large_diameter : array_like, shape (...)
        D in [1]_. [m]
    small_diameter : array_like, shape (...)
        d in [1]_. [m]
    centre_distance : array_like, shape (...)
        C in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        L in [1]_, on the line that the diameters are given on. [m]

    Raises
    ------
    ValueError
        If the pulleys overlap.

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-2).
    """
    D, d, C = np.broadcast_arrays(large_diameter, small_diameter, centre_distance)
    alpha = _belt_inclination(D, d, C)
    return np.asarray(2 * C * np.cos(alpha) + np.pi * (D + d) / 2 + alpha * (D - d))


def belt_speed(pitch_diameter: ArrayLike, shaft_speed: ArrayLike) -> NDArray[np.float64]:
    """Speed of the belt.

    Parameters
    ----------
    pitch_diameter : array_like, shape (...)
        Of a pulley. [m]
    shaft_speed : array_like, shape (...)
        Of that pulley. [1/s]

    Returns
    -------
    ndarray, shape (...)
        pi d N. [m/s]

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., section 17-2.
    """
    d, N = np.broadcast_arrays(pitch_diameter, shaft_speed)
    return np.asarray(np.pi * d * N)


def wedged_friction(friction_coefficient: ArrayLike, groove_angle: ArrayLike) -> NDArray[np.float64]:
    """Friction coefficient that a belt has in its groove, where it is wedged.

    Parameters
    ----------
    friction_coefficient : array_like, shape (...)
        Of belt on pulley, mu in [1]_. [-]
    groove_angle : array_like, shape (...)
        Whole angle of the groove, 2 beta in [1]_; 40 degrees for PK (from memory), pi for a flat belt. [rad]

    Returns
    -------
    ndarray, shape (...)
        mu/sin(beta). [-]

    References
    ----------
    .. [1] R. S. Khurmi and J. K. Gupta, Theory of Machines, chapter 11, V-belt drive.
    """
    mu, angle = np.broadcast_arrays(friction_coefficient, groove_angle)
    return np.asarray(mu / np.sin(angle / 2))


def tension_ratio(friction_coefficient: ArrayLike, wrap_angle: ArrayLike) -> NDArray[np.float64]:
    """Tight over slack tension at which a belt begins to slip, both less the centrifugal tension.

    Parameters
    ----------
    friction_coefficient : array_like, shape (...)
        Wedged, if the belt runs in grooves. [-]
    wrap_angle : array_like, shape (...)
        Of the pulley that would slip first: the smaller one at equal friction. [rad]

    Returns
    -------
    ndarray, shape (...)
        (T1 - Tc)/(T2 - Tc) = exp(mu theta). [-]

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-7).
    """
    mu, theta = np.broadcast_arrays(friction_coefficient, wrap_angle)
    return np.asarray(np.exp(mu * theta))


def centrifugal_tension(belt_mass_per_length: ArrayLike, belt_speed: ArrayLike) -> NDArray[np.float64]:
    """Tension that the belt's own mass asks for in going around; it presses on no pulley.

    Parameters
    ----------
    belt_mass_per_length : array_like, shape (...)
        Of the whole belt: its maker's figure per rib times ribs. [kg/m]
    belt_speed : array_like, shape (...)
        Along the pitch line. [m/s]

    Returns
    -------
    ndarray, shape (...)
        Tc. [N]

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., section 17-2.
    """
    m, v = np.broadcast_arrays(belt_mass_per_length, belt_speed)
    return np.asarray(m * v**2)


def effective_tension(power: ArrayLike, belt_speed: ArrayLike) -> NDArray[np.float64]:
    """Tight less slack tension that a power asks for.

    Parameters
    ----------
    power : array_like, shape (...)
        Carried by the belt. [W]
    belt_speed : array_like, shape (...)
        Along the pitch line. [m/s]

    Returns
    -------
    ndarray, shape (...)
        T1 - T2. [N]

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., section 17-2.
    """
    P, v = np.broadcast_arrays(power, belt_speed)
    return np.asarray(P / v)


def least_tight_tension(
    effective_tension: ArrayLike, tension_ratio: ArrayLike, centrifugal_tension: ArrayLike
) -> NDArray[np.float64]:
    """Tension of the tight side of a belt that is just about to slip.

    Parameters
    ----------
    effective_tension : array_like, shape (...)
        T1 - T2. [N]
    tension_ratio : array_like, shape (...)
        (T1 - Tc)/(T2 - Tc). [-]
    centrifugal_tension : array_like, shape (...)
        Tc. [N]

    Returns
    -------
    ndarray, shape (...)
        T1. [N]

    References
    ----------
    .. [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eqs. (17-7) to (17-9).
    """
    Te, r, Tc = np.broadcast_arrays(effective_tension, tension_ratio, centrifugal_tension)
    return np.asarray(Tc + Te * r / (r - 1))


def transmitted_power(
    tight_tension: ArrayLike, centrifugal_tension: ArrayLike, tension_ratio: ArrayLike, belt_speed: ArrayLike
) -> NDArray[np.float64]:
    """Greatest power that a belt carries with a given tension of its tight side.

    Parameters
    ----------
    tight_tension : array_like, shape (...)
        T1, centrifugal part included. [N]
    centrifugal_tension : array_like, shape (...)
        Tc. [N]
    tension_ratio : array_like, shape (...)
        (T1 - Tc)/(T2 - Tc) at which it begins to slip. [-]
    belt_speed : array_like, shape (...)
        Along the pitch line. [m/s]

    Returns
    -------
    ndarray, shape (...)
        (T1 - Tc)(1 - 1/ratio) v; zero where the belt flies off by its own mass. [W]

    References
    ----------
    .. [1] R. S. Khurmi and J. K. Gupta, Theory of Machines, chapter 11, power transmitted by a belt.
    """
    T1, Tc, r, v = np.broadcast_arrays(tight_tension, centrifugal_tension, tension_ratio, belt_speed)
    return np.asarray(np.maximum(T1 - Tc, 0.0) * (1 - 1 / r) * v)


def belt_speed_of_greatest_power(tight_tension: ArrayLike, belt_mass_per_length: ArrayLike) -> NDArray[np.float64]:
    """Belt speed at which a belt of a given highest tension carries most: where a third of it is centrifugal.

    Parameters
    ----------
    tight_tension : array_like, shape (...)
        Highest tension allowed, centrifugal part included. [N]
    belt_mass_per_length : array_like, shape (...)
        Of the whole belt. [kg/m]

    Returns
    -------
    ndarray, shape (...)
        sqrt(T/(3 m)). [m/s]

    References
    ----------
    .. [1] R. S. Khurmi and J. K. Gupta, Theory of Machines, chapter 11, maximum power transmitted by a belt.
    """
    T, m = np.broadcast_arrays(tight_tension, belt_mass_per_length)
    return np.asarray(np.sqrt(T / (3 * m)))


def belt_slip(rotor_speed: ArrayLike, engine_speed: ArrayLike, drive_ratio: ArrayLike) -> NDArray[np.float64]:
    """Share by which the rotors fall behind the drive ratio.

    Parameters
    ----------
    rotor_speed : array_like, shape (...)
        Measured, of the driving rotor. [1/s]
    engine_speed : array_like, shape (...)
        Of the crank. [1/s]
    drive_ratio : array_like, shape (...)
        Rotor turns per crank turn without slip, internal step included, on the pitch line. [-]

    Returns
    -------
    ndarray, shape (...)
        1 - N_rotor/(ratio N_crank). [-]

    Notes
    -----
    Taking the nominal ratio for that on the pitch line shows a slip of several per cent that is not there.

    References
    ----------
    .. [1] Definition; ISO 9981:2020 on the pitch line.
    """
    Nr, N, ratio = np.broadcast_arrays(rotor_speed, engine_speed, drive_ratio)
    return np.asarray(1 - Nr / (ratio * N))


def _belt_inclination(large: ArrayLike, small: ArrayLike, centre_distance: ArrayLike) -> NDArray[np.float64]:
    """Angle of the free spans to the line of centres."""
    D, d, C = np.broadcast_arrays(large, small, centre_distance)
    overlap = (D + d) / 2 >= C
    if np.any(overlap):
        raise ValueError(f"centre distance {C[overlap][0]:g} m is too short for these pulleys: they overlap")
    return np.asarray(np.arcsin((D - d) / (2 * C)))

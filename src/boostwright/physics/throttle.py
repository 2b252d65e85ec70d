"""Open area of a butterfly throttle."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def throttle_open_area(
    throttle_bore: ArrayLike, throttle_shaft_diameter: ArrayLike, plate_angle: ArrayLike, closed_plate_angle: ArrayLike
) -> NDArray[np.float64]:
    """Area that a throttle plate and its shaft leave open, projected along the bore.

    Parameters
    ----------
    throttle_bore : array_like, shape (...)
        Inner diameter, D in [1]_. [m]
    throttle_shaft_diameter : array_like, shape (...)
        d in [1]_; it hides a strip of the bore even when the plate is wide open. [m]
    plate_angle : array_like, shape (...)
        psi in [1]_, of the plate to the plane across the bore, up to pi/2. [rad]
    closed_plate_angle : array_like, shape (...)
        psi0 in [1]_, at which the elliptical plate touches the bore all around. [rad]

    Returns
    -------
    ndarray, shape (...)
        Open area; zero at the closed angle. [m2]

    Raises
    ------
    ValueError
        If an angle lies below the closed angle or above a quarter turn, or the shaft is as wide as the bore.

    Notes
    -----
    The form of [1]_ is from memory; the signs of its arcs were settled here by geometry: bore less the plate's ellipse,
    of half axes D/2 and D/2 cos(psi)/cos(psi0), less the part of the shaft's strip that the ellipse does not cover.
    The discharge coefficient is another matter: it falls as the plate opens (0.6 to 0.9, from memory).

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (7.18).
    """
    D, d, psi, psi0 = np.broadcast_arrays(throttle_bore, throttle_shaft_diameter, plate_angle, closed_plate_angle)
    _refuse_plate(D, d, psi, psi0)
    a = d / D
    c = np.maximum(np.cos(psi) / np.cos(psi0), a)  # beyond, the plate stands in the shadow of its shaft
    under_plate = a * np.sqrt(1 - (a / c) ** 2) + c * np.arcsin(a / c)
    under_bore = a * np.sqrt(1 - a**2) + np.arcsin(a)
    return np.asarray(np.pi * D**2 / 4 * (1 - c + 2 / np.pi * (under_plate - under_bore)))


def _refuse_plate(
    D: NDArray[np.float64], d: NDArray[np.float64], psi: NDArray[np.float64], psi0: NDArray[np.float64]
) -> None:
    outside = (psi < psi0) | (psi > np.pi / 2) | (psi0 < 0)
    if np.any(outside):
        raise ValueError(
            f"plate angle {psi[outside][0]:g} rad is not between closed, {psi0[outside][0]:g} rad, and a quarter turn: "
            "was it given in degrees?"
        )
    if np.any(d >= D):
        raise ValueError(f"throttle shaft {d[d >= D][0]:g} m is as wide as its bore: exchange the two?")

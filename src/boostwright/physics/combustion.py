"""Burn curve of a spark-ignition engine: share burned over crank angle, and its inverse."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def burned_fraction(burn_progress: ArrayLike, completeness: ArrayLike, form_factor: ArrayLike) -> Floats:
    """Share of the charge that has burned, after Wiebe.

    Parameters
    ----------
    burn_progress : array_like, shape (...)
        Angle since the start of burning over the burn duration, (theta - theta0)/dtheta in [1]_; nothing has burned
        below 0. [-]
    completeness : array_like, shape (...)
        a in [1]_: 5 leaves 0.7 % unburned at the end, 6.908 leaves 0.1 %. [-]
    form_factor : array_like, shape (...)
        m in [1]_; 2 is usual for spark ignition. [-]

    Returns
    -------
    ndarray, shape (...)
        x = 1 - exp(-a z^(m + 1)). [-]

    References
    ----------
    .. [1] J. I. Ghojel, Review of the development and applications of the Wiebe function: a tribute to Ivan Wiebe's
       contribution to engine research, Int. J. Engine Research 11, 2010, doi 10.1243/14680874JER06510.
    """
    z = np.maximum(burn_progress, 0.0)
    return np.asarray(-np.expm1(-np.asarray(completeness) * z ** (np.asarray(form_factor) + 1)))


def burn_progress(burned_fraction: ArrayLike, completeness: ArrayLike, form_factor: ArrayLike) -> Floats:
    """Share of the burn duration after which a given share has burned: the inverse of the burn curve.

    Parameters
    ----------
    burned_fraction : array_like, shape (...)
        x in [1]_. [-]
    completeness : array_like, shape (...)
        a in [1]_. [-]
    form_factor : array_like, shape (...)
        m in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        (theta - theta0)/dtheta. [-]

    Raises
    ------
    ValueError
        If a burned fraction is outside 0 to 1; 1 itself is never reached.

    References
    ----------
    .. [1] J. I. Ghojel, Review of the development and applications of the Wiebe function, 2010.
    """
    x = np.asarray(burned_fraction, dtype=float)
    if np.any((x < 0) | (x >= 1)):
        raise ValueError(f"burned fraction {x.max():g} must lie from 0 up to, not including, 1: the curve never ends")
    return (-np.log1p(-x) / np.asarray(completeness)) ** (1 / (np.asarray(form_factor) + 1))

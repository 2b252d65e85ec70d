"""Cooling of the charge by the fuel that evaporates in it, and the room that the vapour takes.

Heywood is cited from memory; both functions follow from an energy and a mole balance, which the tests close.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def evaporative_cooling(
    evaporated_share: ArrayLike, latent_heat: ArrayLike, air_fuel_ratio: ArrayLike, heat_capacity: ArrayLike
) -> NDArray[np.float64]:
    """Fall of the charge temperature when fuel evaporates at constant pressure and takes its heat from the air alone.

    Parameters
    ----------
    evaporated_share : array_like, shape (...)
        Share of the fuel that evaporates so, 0 to 1; 1 gives the upper bound. [-]
    latent_heat : array_like, shape (...)
        Heat that evaporates the fuel. [J/kg]
    air_fuel_ratio : array_like, shape (...)
        Mass of air per mass of fuel as used, excess air included. [-]
    heat_capacity : array_like, shape (...)
        At constant pressure, of what is cooled, per kilogram of air. [J/kg/K]

    Returns
    -------
    ndarray, shape (...)
        Fall of temperature. [K]

    Raises
    ------
    ValueError
        If a share is outside 0 to 1.

    Notes
    -----
    In an engine 0.3 to 0.8 of the fuel acts on the charge, from memory: fuel that wets a wall takes its heat from the
    wall, and cold or rich charge saturates.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.2.1.
    """
    share, h, ratio, cp = np.broadcast_arrays(evaporated_share, latent_heat, air_fuel_ratio, heat_capacity)
    outside = share[(share < 0) | (share > 1)]
    if outside.size:
        raise ValueError(f"evaporated share {outside[0]:g} is outside 0 to 1: is it in percent?")
    return np.asarray(share * h / (ratio * cp))


def vapour_displacement(
    evaporated_share: ArrayLike, air_fuel_ratio: ArrayLike, fuel_molar_mass: ArrayLike, air_molar_mass: ArrayLike
) -> NDArray[np.float64]:
    """Volume of charge over volume of its air alone, at the same pressure and temperature.

    Parameters
    ----------
    evaporated_share : array_like, shape (...)
        Share of the fuel that is vapour, 0 to 1. [-]
    air_fuel_ratio : array_like, shape (...)
        Mass of air per mass of fuel as used. [-]
    fuel_molar_mass : array_like, shape (...)
        Of the vapour. [kg/mol]
    air_molar_mass : array_like, shape (...)
        Of the air. [kg/mol]

    Returns
    -------
    ndarray, shape (...)
        By this much less air goes into the same room. [-]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.2.1.
    """
    share, ratio, Mf, Ma = np.broadcast_arrays(evaporated_share, air_fuel_ratio, fuel_molar_mass, air_molar_mass)
    return np.asarray(1 + share * Ma / (ratio * Mf))

"""Fuel injectors: what they pass at their real pressure difference, and how long they stay open."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def injector_flow(
    rated_flow: ArrayLike, rated_pressure_difference: ArrayLike, pressure_difference: ArrayLike
) -> NDArray[np.float64]:
    """Flow of an open injector at a pressure difference other than that of its rating.

    Parameters
    ----------
    rated_flow : array_like, shape (...)
        Volume flow of one injector held open. [m3/s]
    rated_pressure_difference : array_like, shape (...)
        Difference across the injector at which it was rated. [Pa]
    pressure_difference : array_like, shape (...)
        Difference across the injector in the engine. [Pa]

    Returns
    -------
    ndarray, shape (...)
        Volume flow, by the square root of the difference. [m3/s]

    Raises
    ------
    ValueError
        If the difference is negative: gas would blow into the rail.

    References
    ----------
    .. [1] Bernoulli's equation for an incompressible jet, as in J. B. Heywood, 1988, section 7.3.
    """
    q, rated, dp = np.broadcast_arrays(rated_flow, rated_pressure_difference, pressure_difference)
    if np.any(dp < 0):
        raise ValueError(
            f"pressure difference {dp.min():g} Pa across the injector is negative: raise the rail pressure, "
            "or refer it to the manifold"
        )
    return np.asarray(q * np.sqrt(dp / rated))


def unreferenced_pressure_difference(
    rail_gauge_pressure: ArrayLike, ambient_pressure: ArrayLike, manifold_pressure: ArrayLike
) -> NDArray[np.float64]:
    """Difference across an injector whose rail is held against the surroundings: boost takes away from it.

    Parameters
    ----------
    rail_gauge_pressure : array_like, shape (...)
        Rail pressure above the surroundings; a rail referred to the manifold has this difference at any boost. [Pa]
    ambient_pressure : array_like, shape (...)
        Absolute pressure of the surroundings. [Pa]
    manifold_pressure : array_like, shape (...)
        Absolute pressure where the injector sprays. [Pa]

    Returns
    -------
    ndarray, shape (...)
        Pressure difference. [Pa]

    References
    ----------
    .. [1] Definition of gauge pressure.
    """
    rail, p0, p = np.broadcast_arrays(rail_gauge_pressure, ambient_pressure, manifold_pressure)
    return np.asarray(rail + p0 - p)


def injector_duty(
    fuel_mass_flow: ArrayLike, injector_count: ArrayLike, injector_flow: ArrayLike, fuel_density: ArrayLike
) -> NDArray[np.float64]:
    """Share of the time that the injectors are open.

    Parameters
    ----------
    fuel_mass_flow : array_like, shape (...)
        Of the whole engine. [kg/s]
    injector_count : array_like, shape (...)
        Number of equal injectors. [-]
    injector_flow : array_like, shape (...)
        Volume flow of one injector held open. [m3/s]
    fuel_density : array_like, shape (...)
        Of the liquid fuel. [kg/m3]

    Returns
    -------
    ndarray, shape (...)
        Above 1 the injectors cannot pass the fuel. [-]

    Notes
    -----
    The time that an injector takes to open is left out; common practice, no source: plan for 0.85 at most.

    References
    ----------
    .. [1] Conservation of mass.
    """
    m, n, q, rho = np.broadcast_arrays(fuel_mass_flow, injector_count, injector_flow, fuel_density)
    return np.asarray(m / (n * q * rho))


def required_injector_flow(
    fuel_mass_flow: ArrayLike, injector_count: ArrayLike, injector_duty: ArrayLike, fuel_density: ArrayLike
) -> NDArray[np.float64]:
    """Volume flow that each injector must have when held open, to stay within a duty.

    Parameters
    ----------
    fuel_mass_flow : array_like, shape (...)
        Of the whole engine. [kg/s]
    injector_count : array_like, shape (...)
        Number of equal injectors. [-]
    injector_duty : array_like, shape (...)
        Largest share of the time that they may be open. [-]
    fuel_density : array_like, shape (...)
        Of the liquid fuel. [kg/m3]

    Returns
    -------
    ndarray, shape (...)
        Volume flow of one injector at the engine's pressure difference. [m3/s]

    References
    ----------
    .. [1] Conservation of mass.
    """
    m, n, duty, rho = np.broadcast_arrays(fuel_mass_flow, injector_count, injector_duty, fuel_density)
    return np.asarray(m / (n * duty * rho))

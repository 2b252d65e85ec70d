"""Figures by which four-stroke engines are compared: mean effective pressure, fuel consumption, efficiency, filling.

Equation numbers are from memory; the figures are checked by Eastop and McConkey's example 13.1.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

_TURNS_PER_CYCLE = 2  # four strokes


def mean_effective_pressure(
    power: ArrayLike, engine_displacement: ArrayLike, engine_speed: ArrayLike
) -> NDArray[np.float64]:
    """Pressure that, acting on the pistons through one stroke a cycle, would give a power.

    Parameters
    ----------
    power : array_like, shape (...)
        Brake, indicated, friction or blower drive power, whose mean effective pressure is wanted. [W]
    engine_displacement : array_like, shape (...)
        Of all cylinders. [m3]
    engine_speed : array_like, shape (...)
        Of the crank. [1/s]

    Returns
    -------
    ndarray, shape (...)
        2 P/(Vd N) of a four-stroke engine. [Pa]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.19).
    """
    P, V, N = np.broadcast_arrays(power, engine_displacement, engine_speed)
    return np.asarray(_TURNS_PER_CYCLE * P / (V * N))


def brake_specific_fuel_consumption(fuel_mass_flow: ArrayLike, brake_power: ArrayLike) -> NDArray[np.float64]:
    """Fuel burned per brake work.

    Parameters
    ----------
    fuel_mass_flow : array_like, shape (...)
        Of the whole engine. [kg/s]
    brake_power : array_like, shape (...)
        At the crank. [W]

    Returns
    -------
    ndarray, shape (...)
        1 kg/J is 3.6e6 kg/kWh. [kg/J]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.22).
    """
    m, P = np.broadcast_arrays(fuel_mass_flow, brake_power)
    return np.asarray(m / P)


def brake_thermal_efficiency(
    brake_power: ArrayLike, fuel_mass_flow: ArrayLike, lower_heating_value: ArrayLike
) -> NDArray[np.float64]:
    """Brake power over the heat of the fuel.

    Parameters
    ----------
    brake_power : array_like, shape (...)
        At the crank. [W]
    fuel_mass_flow : array_like, shape (...)
        Of the whole engine. [kg/s]
    lower_heating_value : array_like, shape (...)
        Of the fuel. [J/kg]

    Returns
    -------
    ndarray, shape (...)
        Efficiency. [-]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.24).
    """
    P, m, q = np.broadcast_arrays(brake_power, fuel_mass_flow, lower_heating_value)
    return np.asarray(P / (m * q))


def engine_air_mass_flow(
    engine_volumetric_efficiency: ArrayLike,
    engine_displacement: ArrayLike,
    engine_speed: ArrayLike,
    density: ArrayLike,
) -> NDArray[np.float64]:
    """Air that a four-stroke engine takes, by speed and density.

    Parameters
    ----------
    engine_volumetric_efficiency : array_like, shape (...)
        Referred to the density given. [-]
    engine_displacement : array_like, shape (...)
        Of all cylinders. [m3]
    engine_speed : array_like, shape (...)
        Of the crank. [1/s]
    density : array_like, shape (...)
        Of the air in the manifold, or of free air if the efficiency is referred to that. [kg/m3]

    Returns
    -------
    ndarray, shape (...)
        VE rho Vd N/2. [kg/s]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.27).
    """
    VE, V, N, rho = np.broadcast_arrays(engine_volumetric_efficiency, engine_displacement, engine_speed, density)
    return np.asarray(VE * rho * V * N / _TURNS_PER_CYCLE)


def engine_volumetric_efficiency(
    air_mass_flow: ArrayLike, engine_displacement: ArrayLike, engine_speed: ArrayLike, density: ArrayLike
) -> NDArray[np.float64]:
    """Air that a four-stroke engine takes over what its displacement would hold.

    Parameters
    ----------
    air_mass_flow : array_like, shape (...)
        Measured. [kg/s]
    engine_displacement : array_like, shape (...)
        Of all cylinders. [m3]
    engine_speed : array_like, shape (...)
        Of the crank. [1/s]
    density : array_like, shape (...)
        That the efficiency shall refer to. [kg/m3]

    Returns
    -------
    ndarray, shape (...)
        Volumetric efficiency. [-]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. (2.27).
    """
    return np.asarray(np.asarray(air_mass_flow) / engine_air_mass_flow(1.0, engine_displacement, engine_speed, density))

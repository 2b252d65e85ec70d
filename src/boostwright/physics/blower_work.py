"""Work, delivery and temperature of positive-displacement blowers: roots type, and with internal compression.

Work is per turn of the drive shaft where a displacement per turn is given. The kernels are for the match loop.
Nag's examples were read in a companion to the book; Heywood is cited from memory.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compiled import compiled


@compiled
def internal_compression_work_kernel(
    inlet_pressure: float,
    outlet_pressure: float,
    blower_displacement: float,
    internal_volume_ratio: float,
    heat_capacity_ratio: float,
) -> float:
    """Scalar form of :func:`internal_compression_work`; total for positive arguments, smooth in all of them.

    Parameters
    ----------
    inlet_pressure : float
        p1. [Pa]
    outlet_pressure : float
        p2. [Pa]
    blower_displacement : float
        Volume trapped at inlet pressure. [m3]
    internal_volume_ratio : float
        Vi. [-]
    heat_capacity_ratio : float
        gamma. [-]

    Returns
    -------
    float
        Work. [J]

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, vane compressor, example 19.14.
    """
    p1, p2, V, Vi, k = inlet_pressure, outlet_pressure, blower_displacement, internal_volume_ratio, heat_capacity_ratio
    return V * (p1 * k / (k - 1) * math.expm1((k - 1) * math.log(Vi)) + (p2 - p1 * Vi**k) / Vi)


@compiled
def isentropic_work_kernel(
    inlet_pressure: float, outlet_pressure: float, blower_displacement: float, heat_capacity_ratio: float
) -> float:
    """Scalar form of :func:`isentropic_work`; total for positive arguments.

    Parameters
    ----------
    inlet_pressure : float
        p1. [Pa]
    outlet_pressure : float
        p2. [Pa]
    blower_displacement : float
        Volume taken in at inlet pressure. [m3]
    heat_capacity_ratio : float
        gamma. [-]

    Returns
    -------
    float
        Work. [J]

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, example 19.14.
    """
    p1, p2, V, k = inlet_pressure, outlet_pressure, blower_displacement, heat_capacity_ratio
    return p1 * V * k / (k - 1) * math.expm1((k - 1) / k * math.log(p2 / p1))


_internal_compression_work = np.vectorize(internal_compression_work_kernel, otypes=[float])
_isentropic_work = np.vectorize(isentropic_work_kernel, otypes=[float])


def roots_work(
    inlet_pressure: ArrayLike, outlet_pressure: ArrayLike, blower_displacement: ArrayLike
) -> NDArray[np.float64]:
    """Work of a roots-type blower, where gas from the outlet compresses the charge at constant volume.

    Parameters
    ----------
    inlet_pressure : array_like, shape (...)
        p1. [Pa]
    outlet_pressure : array_like, shape (...)
        p2. [Pa]
    blower_displacement : array_like, shape (...)
        Per turn; or the volume swept in a second for the power. [m3]

    Returns
    -------
    ndarray, shape (...)
        V (p2 - p1). [J]

    Notes
    -----
    Leakage changes what is delivered, not this work: the rotors push their displacement against the pressure rise.

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, example 19.14.
    """
    p1, p2, V = np.broadcast_arrays(inlet_pressure, outlet_pressure, blower_displacement)
    return np.asarray(V * (p2 - p1))


def internal_compression_work(
    inlet_pressure: ArrayLike,
    outlet_pressure: ArrayLike,
    blower_displacement: ArrayLike,
    internal_volume_ratio: ArrayLike,
    heat_capacity_ratio: ArrayLike,
) -> NDArray[np.float64]:
    """Work of a screw or vane blower: isentropic inside by a built-in volume ratio, then at constant volume.

    Parameters
    ----------
    inlet_pressure : array_like, shape (...)
        p1 in [1]_. [Pa]
    outlet_pressure : array_like, shape (...)
        p2 in [1]_. [Pa]
    blower_displacement : array_like, shape (...)
        Volume trapped at inlet pressure, per turn; or in a second for the power. [m3]
    internal_volume_ratio : array_like, shape (...)
        Trapped volume over volume at which the outlet opens, Vi; 1 is the roots case. [-]
    heat_capacity_ratio : array_like, shape (...)
        gamma. [-]

    Returns
    -------
    ndarray, shape (...)
        p1 V1 [gamma/(gamma - 1) (Vi^(gamma - 1) - 1) + (p2/p1 - Vi^gamma)/Vi]. [J]

    Raises
    ------
    ValueError
        If the volume ratio is below 1.

    Notes
    -----
    Least where Vi^gamma is the pressure ratio. Below that pressure ratio the gas is compressed too far and falls back:
    part load costs work.

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, vane compressor, example 19.14.
    """
    Vi = np.asarray(internal_volume_ratio, dtype=float)
    if np.any(Vi < 1):
        raise ValueError(f"internal volume ratio {Vi.min():g} is below 1: a roots type has 1, a screw more")
    return _internal_compression_work(inlet_pressure, outlet_pressure, blower_displacement, Vi, heat_capacity_ratio)


def isentropic_work(
    inlet_pressure: ArrayLike,
    outlet_pressure: ArrayLike,
    blower_displacement: ArrayLike,
    heat_capacity_ratio: ArrayLike,
) -> NDArray[np.float64]:
    """Least work to take in a volume, compress it without heat or loss, and deliver it.

    Parameters
    ----------
    inlet_pressure : array_like, shape (...)
        p1. [Pa]
    outlet_pressure : array_like, shape (...)
        p2. [Pa]
    blower_displacement : array_like, shape (...)
        Volume taken in at inlet pressure, per turn; or in a second for the power. [m3]
    heat_capacity_ratio : array_like, shape (...)
        gamma. [-]

    Returns
    -------
    ndarray, shape (...)
        gamma/(gamma - 1) p1 V1 ((p2/p1)^((gamma - 1)/gamma) - 1). [J]

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, example 19.14.
    """
    return _isentropic_work(inlet_pressure, outlet_pressure, blower_displacement, heat_capacity_ratio)


def ideal_efficiency(
    pressure_ratio: ArrayLike, internal_volume_ratio: ArrayLike, heat_capacity_ratio: ArrayLike
) -> NDArray[np.float64]:
    """Isentropic work over the work of an ideal blower: no leakage, no friction, only the way it compresses.

    Parameters
    ----------
    pressure_ratio : array_like, shape (...)
        p2/p1, above 1. [-]
    internal_volume_ratio : array_like, shape (...)
        Vi; 1 is the roots case. [-]
    heat_capacity_ratio : array_like, shape (...)
        gamma. [-]

    Returns
    -------
    ndarray, shape (...)
        eta0. [-]

    Raises
    ------
    ValueError
        If the pressure ratio is not above 1, or the volume ratio below 1.

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, example 19.14.
    """
    pr = np.asarray(pressure_ratio, dtype=float)
    if np.any(pr <= 1):
        raise ValueError(f"pressure ratio {pr.min():g} is not above 1: no blower, or a gauge pressure in the ratio")
    spent = internal_compression_work(1.0, pr, 1.0, internal_volume_ratio, heat_capacity_ratio)
    return np.asarray(isentropic_work(1.0, pr, 1.0, heat_capacity_ratio) / spent)


def isentropic_efficiency(
    inlet_temperature: ArrayLike,
    outlet_temperature: ArrayLike,
    pressure_ratio: ArrayLike,
    heat_capacity_ratio: ArrayLike,
) -> NDArray[np.float64]:
    """Isentropic over actual temperature rise, which the shop calls adiabatic efficiency.

    Parameters
    ----------
    inlet_temperature : array_like, shape (...)
        T1. [K]
    outlet_temperature : array_like, shape (...)
        T2. [K]
    pressure_ratio : array_like, shape (...)
        p2/p1. [-]
    heat_capacity_ratio : array_like, shape (...)
        gamma. [-]

    Returns
    -------
    ndarray, shape (...)
        T1 (PR^((gamma - 1)/gamma) - 1)/(T2 - T1). [-]

    Notes
    -----
    True where no heat leaves through the casing and no fuel evaporates on the way; else compare with the torque.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.8.
    """
    T1, T2, pr, k = np.broadcast_arrays(inlet_temperature, outlet_temperature, pressure_ratio, heat_capacity_ratio)
    return np.asarray(T1 * (pr ** ((k - 1) / k) - 1) / (T2 - T1))


def compressed_temperature(
    inlet_temperature: ArrayLike,
    pressure_ratio: ArrayLike,
    isentropic_efficiency: ArrayLike,
    heat_capacity_ratio: ArrayLike,
) -> NDArray[np.float64]:
    """Outlet temperature of a blower of known isentropic efficiency.

    Parameters
    ----------
    inlet_temperature : array_like, shape (...)
        T1. [K]
    pressure_ratio : array_like, shape (...)
        p2/p1. [-]
    isentropic_efficiency : array_like, shape (...)
        Isentropic over actual temperature rise; 1 gives the isentropic outlet temperature. [-]
    heat_capacity_ratio : array_like, shape (...)
        gamma. [-]

    Returns
    -------
    ndarray, shape (...)
        T2. [K]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.8.
    """
    T1, pr, eta, k = np.broadcast_arrays(inlet_temperature, pressure_ratio, isentropic_efficiency, heat_capacity_ratio)
    return np.asarray(T1 + T1 * (pr ** ((k - 1) / k) - 1) / eta)


def compression_power(
    mass_flow: ArrayLike, heat_capacity: ArrayLike, inlet_temperature: ArrayLike, outlet_temperature: ArrayLike
) -> NDArray[np.float64]:
    """Power that the gas has taken up, by its temperature rise.

    Parameters
    ----------
    mass_flow : array_like, shape (...)
        Delivered. [kg/s]
    heat_capacity : array_like, shape (...)
        At constant pressure. [J/kg/K]
    inlet_temperature : array_like, shape (...)
        T1. [K]
    outlet_temperature : array_like, shape (...)
        T2. [K]

    Returns
    -------
    ndarray, shape (...)
        m cp (T2 - T1); the gas power less the heat that left through the casing. [W]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 6.8.
    """
    m, cp, T1, T2 = np.broadcast_arrays(mass_flow, heat_capacity, inlet_temperature, outlet_temperature)
    return np.asarray(m * cp * (T2 - T1))


def blower_outlet_temperature(
    inlet_temperature: ArrayLike, gas_power: ArrayLike, mass_flow: ArrayLike, heat_capacity: ArrayLike
) -> NDArray[np.float64]:
    """Outlet temperature of a blower by the energy that went into the gas it delivers.

    Parameters
    ----------
    inlet_temperature : array_like, shape (...)
        T1. [K]
    gas_power : array_like, shape (...)
        Power given to the gas, less heat lost through the casing. [W]
    mass_flow : array_like, shape (...)
        Delivered: what leaks back is heated again, so leakage makes the outlet hotter. [kg/s]
    heat_capacity : array_like, shape (...)
        At constant pressure. [J/kg/K]

    Returns
    -------
    ndarray, shape (...)
        T1 + P/(m cp). [K]

    References
    ----------
    .. [1] First law of thermodynamics for steady flow.
    """
    T1, P, m, cp = np.broadcast_arrays(inlet_temperature, gas_power, mass_flow, heat_capacity)
    return np.asarray(T1 + P / (m * cp))


def blower_mass_flow(
    blower_volumetric_efficiency: ArrayLike,
    blower_displacement: ArrayLike,
    rotor_speed: ArrayLike,
    inlet_pressure: ArrayLike,
    inlet_temperature: ArrayLike,
    specific_gas_constant: ArrayLike,
) -> NDArray[np.float64]:
    """Mass flow that a blower delivers.

    Parameters
    ----------
    blower_volumetric_efficiency : array_like, shape (...)
        VE. [-]
    blower_displacement : array_like, shape (...)
        Per turn of the shaft whose speed is given. [m3]
    rotor_speed : array_like, shape (...)
        Of that shaft. [1/s]
    inlet_pressure : array_like, shape (...)
        p1. [Pa]
    inlet_temperature : array_like, shape (...)
        T1. [K]
    specific_gas_constant : array_like, shape (...)
        R. [J/kg/K]

    Returns
    -------
    ndarray, shape (...)
        VE V N p1/(R T1). [kg/s]

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, chapter 19.
    """
    VE, V, N, p1, T1, R = np.broadcast_arrays(
        blower_volumetric_efficiency,
        blower_displacement,
        rotor_speed,
        inlet_pressure,
        inlet_temperature,
        specific_gas_constant,
    )
    return np.asarray(VE * V * N * p1 / (R * T1))


def drive_power(
    work_per_turn: ArrayLike, rotor_speed: ArrayLike, mechanical_power: ArrayLike, belt_efficiency: ArrayLike
) -> NDArray[np.float64]:
    """Power that a blower takes from the crank.

    Parameters
    ----------
    work_per_turn : array_like, shape (...)
        On the gas, per turn of the shaft whose speed is given. [J]
    rotor_speed : array_like, shape (...)
        Of that shaft. [1/s]
    mechanical_power : array_like, shape (...)
        Lost in gears, bearings and seals; measured by spinning the blower at pressure ratio 1. [W]
    belt_efficiency : array_like, shape (...)
        Power at the blower pulley over power at the crank; 0.97 to 0.98 is claimed for multi-rib belts. [-]

    Returns
    -------
    ndarray, shape (...)
        (w N + P_mech)/eta. [W]

    References
    ----------
    .. [1] P. K. Nag, Basic and Applied Thermodynamics, chapter 19, for the work.
    """
    w, N, P, eta = np.broadcast_arrays(work_per_turn, rotor_speed, mechanical_power, belt_efficiency)
    return np.asarray((w * N + P) / eta)

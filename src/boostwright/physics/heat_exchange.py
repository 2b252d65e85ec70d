"""Charge coolers by effectiveness and transfer units, the water loop with its front cooler, and heat soak.

eps = q/(Cmin (Thi - Tci)), NTU = U A/Cmin, Cr = Cmin/Cmax, with C = m cp of either side. Numbers of equations, tables
and sections are from memory; the forms are checked against an independent library and Incropera's examples.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ive

_SERIES_ORDERS = np.arange(2, 121)
_MOST_TRANSFER_UNITS = 50.0  # up to here the series has converged to rounding with these orders


def counterflow_effectiveness(transfer_units: ArrayLike, heat_capacity_rate_ratio: ArrayLike) -> NDArray[np.float64]:
    """Effectiveness of a counterflow cooler.

    Parameters
    ----------
    transfer_units : array_like, shape (...)
        NTU in [1]_. [-]
    heat_capacity_rate_ratio : array_like, shape (...)
        Cr in [1]_, 0 to 1. [-]

    Returns
    -------
    ndarray, shape (...)
        eps in [1]_. [-]

    Raises
    ------
    ValueError
        If the ratio is outside 0 to 1 or the transfer units are negative.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, table 11.3.
    """
    NTU, Cr = _checked(transfer_units, heat_capacity_rate_ratio)
    balanced = Cr > 1 - 1e-9
    C = np.where(balanced, 0.0, Cr)
    left = np.exp(-NTU * (1 - C))
    return np.where(balanced, NTU / (1 + NTU), (1 - left) / (1 - C * left))


def counterflow_transfer_units(effectiveness: ArrayLike, heat_capacity_rate_ratio: ArrayLike) -> NDArray[np.float64]:
    """Transfer units that give a counterflow cooler its effectiveness.

    Parameters
    ----------
    effectiveness : array_like, shape (...)
        eps in [1]_, 0 to below 1. [-]
    heat_capacity_rate_ratio : array_like, shape (...)
        Cr in [1]_, 0 to 1. [-]

    Returns
    -------
    ndarray, shape (...)
        NTU in [1]_. [-]

    Raises
    ------
    ValueError
        If the effectiveness is not from 0 to below 1, or the ratio outside 0 to 1.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, table 11.4.
    """
    eps, Cr = _checked(effectiveness, heat_capacity_rate_ratio)
    if np.any(eps >= 1):
        raise ValueError(f"effectiveness {eps.max():g} needs an endless cooler: is it in percent?")
    balanced = Cr > 1 - 1e-9
    C = np.where(balanced, 0.0, Cr)
    return np.where(balanced, eps / (1 - eps), np.log((1 - eps * C) / (1 - eps)) / (1 - C))


def crossflow_effectiveness(transfer_units: ArrayLike, heat_capacity_rate_ratio: ArrayLike) -> NDArray[np.float64]:
    """Effectiveness of a single-pass crossflow cooler with both sides unmixed, exact.

    Parameters
    ----------
    transfer_units : array_like, shape (...)
        NTU, 0 to 50. [-]
    heat_capacity_rate_ratio : array_like, shape (...)
        Cr, 0 to 1. [-]

    Returns
    -------
    ndarray, shape (...)
        eps. [-]

    Raises
    ------
    ValueError
        If the ratio is outside 0 to 1 or the transfer units outside 0 to 50.

    Notes
    -----
    1 - e^(-(1 + Cr) NTU) [I0(z) + sqrt(Cr) I1(z) - (1 - Cr)/Cr sum over n >= 2 of Cr^(n/2) In(z)], z = 2 NTU sqrt(Cr).
    The series is from memory of [1]_; it was checked against a numerical solution of the field.

    References
    ----------
    .. [1] W. M. Kays and A. L. London, Compact Heat Exchangers, chapter 2; J. Mason, Heat transfer in crossflow, 1954.
    """
    NTU, Cr = _checked(transfer_units, heat_capacity_rate_ratio)
    if np.any(NTU > _MOST_TRANSFER_UNITS):
        raise ValueError(f"{NTU.max():g} transfer units are above the {_MOST_TRANSFER_UNITS:g} that the series reaches")
    root = np.sqrt(Cr)
    z = 2 * NTU * root
    n = _SERIES_ORDERS.reshape(-1, *([1] * z.ndim))
    tail = np.sum(root ** (n - 2) * ive(n, z), axis=0)
    series = ive(0, z) + root * ive(1, z) - (1 - Cr) * tail
    return np.asarray(1 - np.exp(-NTU * (1 - root) ** 2) * series)  # ive carries e^-z, which the exponent gives back


def crossflow_effectiveness_approximation(
    transfer_units: ArrayLike, heat_capacity_rate_ratio: ArrayLike
) -> NDArray[np.float64]:
    """Effectiveness of a crossflow cooler with both sides unmixed, by the approximation of the textbooks.

    Parameters
    ----------
    transfer_units : array_like, shape (...)
        NTU in [1]_. [-]
    heat_capacity_rate_ratio : array_like, shape (...)
        Cr in [1]_, above 0 to 1. [-]

    Returns
    -------
    ndarray, shape (...)
        eps in [1]_. [-]

    Raises
    ------
    ValueError
        If the ratio is not above 0 and up to 1, or the transfer units are negative.

    Notes
    -----
    Off from the exact series by up to 3.8 %, and by up to 1.7 % from one transfer unit up: name the form used.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, eq. (11.33).
    """
    NTU, Cr = _checked(transfer_units, heat_capacity_rate_ratio)
    if np.any(Cr == 0):
        raise ValueError("heat capacity rate ratio 0 is outside this approximation: use crossflow_effectiveness")
    return np.asarray(-np.expm1(NTU**0.22 / Cr * np.expm1(-Cr * NTU**0.78)))


def cooled_temperature(
    hot_inlet_temperature: ArrayLike,
    cold_inlet_temperature: ArrayLike,
    effectiveness: ArrayLike,
) -> NDArray[np.float64]:
    """Outlet temperature of the charge where the charge has the smaller heat capacity rate.

    Parameters
    ----------
    hot_inlet_temperature : array_like, shape (...)
        Charge into the cooler. [K]
    cold_inlet_temperature : array_like, shape (...)
        Coolant into the cooler. [K]
    effectiveness : array_like, shape (...)
        eps in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        Charge out of the cooler. [K]

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, section 11.4.
    """
    T2, Tc, eps = np.broadcast_arrays(hot_inlet_temperature, cold_inlet_temperature, effectiveness)
    return np.asarray(T2 - eps * (T2 - Tc))


def water_loop_conductance(
    charge_heat_capacity_rate: ArrayLike,
    charge_effectiveness: ArrayLike,
    front_heat_capacity_rate: ArrayLike,
    front_effectiveness: ArrayLike,
    loop_heat_capacity_rate: ArrayLike,
) -> NDArray[np.float64]:
    """Heat moved from charge to outside air by a pumped water loop, per kelvin between the two inlets.

    Parameters
    ----------
    charge_heat_capacity_rate : array_like, shape (...)
        m cp of the charge. [W/K]
    charge_effectiveness : array_like, shape (...)
        Of the charge cooler, on the smaller of charge and water. [-]
    front_heat_capacity_rate : array_like, shape (...)
        m cp of the outside air through the front cooler. [W/K]
    front_effectiveness : array_like, shape (...)
        Of the front cooler, on the smaller of outside air and water. [-]
    loop_heat_capacity_rate : array_like, shape (...)
        m cp of the pumped water. [W/K]

    Returns
    -------
    ndarray, shape (...)
        q/(Thi - Tci). [W/K]

    Notes
    -----
    Steady, both coolers on the same loop: the water enters the charge cooler as it leaves the front cooler. Derived
    here from the two definitions of effectiveness; the principle is that of liquid-coupled exchangers in [1]_ (from
    memory). At fixed effectivenesses more water is not always better, and real effectiveness changes with the flow.

    References
    ----------
    .. [1] W. M. Kays and A. L. London, Compact Heat Exchangers, chapter 2.
    """
    Ch, eh, Cc, ec, CL = np.broadcast_arrays(
        charge_heat_capacity_rate,
        charge_effectiveness,
        front_heat_capacity_rate,
        front_effectiveness,
        loop_heat_capacity_rate,
    )
    return np.asarray(1 / (1 / (eh * np.minimum(Ch, CL)) + 1 / (ec * np.minimum(Cc, CL)) - 1 / CL))


def density_gain(
    outlet_pressure: ArrayLike,
    pressure_drop: ArrayLike,
    hot_inlet_temperature: ArrayLike,
    charge_temperature: ArrayLike,
) -> NDArray[np.float64]:
    """Density of the charge behind a cooler over that ahead of it.

    Parameters
    ----------
    outlet_pressure : array_like, shape (...)
        At the blower outlet, ahead of the cooler. [Pa]
    pressure_drop : array_like, shape (...)
        Across the cooler. [Pa]
    hot_inlet_temperature : array_like, shape (...)
        Charge into the cooler. [K]
    charge_temperature : array_like, shape (...)
        Charge out of the cooler. [K]

    Returns
    -------
    ndarray, shape (...)
        (p2 - dp)/p2 T2/T3. [-]

    References
    ----------
    .. [1] Equation of state of an ideal gas.
    """
    p2, dp, T2, T3 = np.broadcast_arrays(outlet_pressure, pressure_drop, hot_inlet_temperature, charge_temperature)
    return np.asarray((p2 - dp) / p2 * T2 / T3)


def soak_time_constant(
    soaked_mass: ArrayLike, heat_capacity: ArrayLike, thermal_conductance: ArrayLike
) -> NDArray[np.float64]:
    """Time in which a soaked casting goes 63 % of the way to its steady temperature.

    Parameters
    ----------
    soaked_mass : array_like, shape (...)
        m in [1]_. [kg]
    heat_capacity : array_like, shape (...)
        c in [1]_; 896 for aluminium. [J/kg/K]
    thermal_conductance : array_like, shape (...)
        Heat transfer coefficient times surface, h A in [1]_. [W/K]

    Returns
    -------
    ndarray, shape (...)
        tau = m c/(h A). [s]

    Notes
    -----
    Lumped: holds for a Biot number below 0.1.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, section 5.1.
    """
    m, c, hA = np.broadcast_arrays(soaked_mass, heat_capacity, thermal_conductance)
    return np.asarray(m * c / hA)


def steady_soak_temperature(
    air_temperature: ArrayLike, heat_flow: ArrayLike, thermal_conductance: ArrayLike
) -> NDArray[np.float64]:
    """Temperature that a heated casting ends at.

    Parameters
    ----------
    air_temperature : array_like, shape (...)
        Of what cools it. [K]
    heat_flow : array_like, shape (...)
        Into the casting. [W]
    thermal_conductance : array_like, shape (...)
        Heat transfer coefficient times surface, h A in [1]_. [W/K]

    Returns
    -------
    ndarray, shape (...)
        Steady temperature. [K]

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, section 5.3.
    """
    T, Q, hA = np.broadcast_arrays(air_temperature, heat_flow, thermal_conductance)
    return np.asarray(T + Q / hA)


def soaked_temperature(
    time: ArrayLike, start_temperature: ArrayLike, steady_temperature: ArrayLike, time_constant: ArrayLike
) -> NDArray[np.float64]:
    """Temperature of a casting on its way to the steady one.

    Parameters
    ----------
    time : array_like, shape (...)
        Since the start. [s]
    start_temperature : array_like, shape (...)
        At time 0. [K]
    steady_temperature : array_like, shape (...)
        In the end. [K]
    time_constant : array_like, shape (...)
        tau in [1]_. [s]

    Returns
    -------
    ndarray, shape (...)
        Temperature at that time. [K]

    Notes
    -----
    Lumped: holds for a Biot number below 0.1.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, section 5.3.
    """
    t, T0, T, tau = np.broadcast_arrays(time, start_temperature, steady_temperature, time_constant)
    return np.asarray(T + (T0 - T) * np.exp(-t / tau))


def _checked(units: ArrayLike, ratio: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x, Cr = np.broadcast_arrays(np.asarray(units, dtype=float), np.asarray(ratio, dtype=float))
    if np.any((Cr < 0) | (Cr > 1)):
        raise ValueError(
            f"heat capacity rate ratio {Cr[(Cr < 0) | (Cr > 1)][0]:g} is outside 0 to 1: the smaller rate goes on top"
        )
    if np.any(x < 0):
        raise ValueError(f"{x.min():g} is negative; transfer units and effectiveness start at 0")
    return x, Cr

"""Compressible flow through a restriction: throttle, port, valve, elbow or leak, in either direction.

The kernels are scalar and compiled, for the crank-angle, chamber and match loops; the array forms come from them.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compiled import compiled
from boostwright.physics.gases import IdealGas

_LINEAR_RANGE = 1e-5
"""Relative pressure difference below which the flow goes over into a straight line through zero."""


@compiled
def critical_pressure_ratio_kernel(heat_capacity_ratio: float) -> float:
    """Scalar form of :func:`critical_pressure_ratio`.

    Parameters
    ----------
    heat_capacity_ratio : float
        gamma in [1]_. [-]

    Returns
    -------
    float
        Throat pressure over stagnation pressure at which the throat is sonic. [-]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    k = heat_capacity_ratio
    return (2 / (k + 1)) ** (k / (k - 1))


@compiled
def flow_function_kernel(pressure_ratio: float, heat_capacity_ratio: float) -> float:
    """Scalar form of :func:`flow_function`; total for every pressure ratio of zero or more.

    Parameters
    ----------
    pressure_ratio : float
        Downstream static over upstream stagnation pressure, pT/p0 in [1]_; above 1 the flow is reversed. [-]
    heat_capacity_ratio : float
        gamma in [1]_. [-]

    Returns
    -------
    float
        m sqrt(R T0)/(CD A p0), called Psi. [-]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    k = heat_capacity_ratio
    pr = pressure_ratio if pressure_ratio > 1e-9 else 1e-9  # a vacuum is choked as well, without its logarithm
    cooling = math.expm1((k - 1) / k * math.log(pr))  # T/T0 - 1 of the isentropic expansion
    if cooling <= 2 / (k + 1) - 1:  # the throat is sonic
        return math.sqrt(k) * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1)))
    density_ratio = pr / (1 + cooling)
    y = 1 - pr
    psi_squared = -2 * k / (k - 1) * cooling * density_ratio * density_ratio
    psi = math.sqrt(psi_squared * y / math.sqrt(y * y + _LINEAR_RANGE * _LINEAR_RANGE))
    return psi if y > 0 else -psi


@compiled
def restriction_flow_kernel(
    upstream_pressure: float,
    upstream_temperature: float,
    downstream_pressure: float,
    downstream_temperature: float,
    effective_area: float,
    heat_capacity_ratio: float,
    specific_gas_constant: float,
) -> float:
    """Scalar form of :func:`restriction_mass_flow`; total for positive pressures and temperatures.

    Parameters
    ----------
    upstream_pressure : float
        Stagnation pressure on the side the flow is counted from. [Pa]
    upstream_temperature : float
        Stagnation temperature on that side; it counts when the flow is positive. [K]
    downstream_pressure : float
        Pressure on the other side. [Pa]
    downstream_temperature : float
        Temperature on the other side; it counts when the flow is reversed. [K]
    effective_area : float
        Discharge coefficient times throat area. [m2]
    heat_capacity_ratio : float
        Of the gas, taken alike on both sides. [-]
    specific_gas_constant : float
        Of the gas. [J/kg/K]

    Returns
    -------
    float
        Mass flow, positive downstream. [kg/s]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    forward = upstream_pressure >= downstream_pressure
    p0 = upstream_pressure if forward else downstream_pressure
    p = downstream_pressure if forward else upstream_pressure
    T0 = upstream_temperature if forward else downstream_temperature
    psi = flow_function_kernel(p / p0, heat_capacity_ratio)
    flow = effective_area * p0 / math.sqrt(specific_gas_constant * T0) * psi
    return flow if forward else -flow


_critical_pressure_ratio = np.vectorize(critical_pressure_ratio_kernel, otypes=[float])
_flow_function = np.vectorize(flow_function_kernel, otypes=[float])
_restriction_flow = np.vectorize(restriction_flow_kernel, otypes=[float])


def critical_pressure_ratio(heat_capacity_ratio: ArrayLike) -> NDArray[np.float64]:
    """Pressure ratio at and below which a restriction is choked.

    Parameters
    ----------
    heat_capacity_ratio : array_like, shape (...)
        gamma in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        Throat pressure over upstream stagnation pressure. [-]

    Notes
    -----
    From memory of the source; the values agree with a textbook nozzle example (Eastop and McConkey 10.1).

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    return _critical_pressure_ratio(heat_capacity_ratio)


def flow_function(pressure_ratio: ArrayLike, heat_capacity_ratio: ArrayLike) -> NDArray[np.float64]:
    """Dimensionless flow Psi of a restriction: of St Venant and Wantzel, held when choked, straight through zero.

    Parameters
    ----------
    pressure_ratio : array_like, shape (...)
        Downstream static over upstream stagnation pressure, pT/p0 in [1]_; above 1 the flow is reversed. [-]
    heat_capacity_ratio : array_like, shape (...)
        gamma in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        m sqrt(R T0)/(CD A p0). [-]

    Raises
    ------
    ValueError
        If a pressure ratio is negative.

    Notes
    -----
    The slope of the exact law is infinite where the pressures are equal. The law is therefore multiplied by
    (1 + (1e-5/(1 - pr))^2)^(-1/4), which is smooth, makes the flow straight for differences far below 1e-5 of the
    pressure, and changes it by less than 3e-7 of its value from a difference of 1 % on. For a ratio above 1 this
    function only carries the curve on; the flow of a reversed restriction is that of :func:`restriction_mass_flow`,
    which measures it from the side with the higher pressure. The law is from memory of [1]_.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    pr = np.asarray(pressure_ratio, dtype=float)
    if np.any(pr < 0):
        raise ValueError(f"pressure ratio {pr.min():g} is negative: give absolute pressures, not gauge")
    return _flow_function(pr, heat_capacity_ratio)


def restriction_mass_flow(
    upstream_pressure: ArrayLike,
    upstream_temperature: ArrayLike,
    downstream_pressure: ArrayLike,
    downstream_temperature: ArrayLike,
    effective_area: ArrayLike,
    gas: IdealGas,
) -> NDArray[np.float64]:
    """Mass flow of a gas through a restriction, choked or not, in either direction.

    Parameters
    ----------
    upstream_pressure : array_like, shape (...)
        Stagnation pressure on the side the flow is counted from, p0 in [1]_. [Pa]
    upstream_temperature : array_like, shape (...)
        Stagnation temperature on that side, T0 in [1]_. [K]
    downstream_pressure : array_like, shape (...)
        Pressure on the other side: in the throat, or in the room behind it when no pressure is recovered. [Pa]
    downstream_temperature : array_like, shape (...)
        Temperature on the other side; it counts where the flow is reversed. [K]
    effective_area : array_like, shape (...)
        Discharge coefficient times throat area, CD AT in [1]_. [m2]
    gas : IdealGas
        Gas on both sides; its heat capacity ratio is taken at the temperature of the side that feeds the flow.

    Returns
    -------
    ndarray, shape (...)
        Mass flow, positive downstream. [kg/s]

    Raises
    ------
    ValueError
        If a pressure is negative, or the temperature of the feeding side outside the range of the gas.

    Notes
    -----
    Steady and adiabatic. Exchanging the two sides changes the sign and nothing else.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    p1, p2 = np.asarray(upstream_pressure, dtype=float), np.asarray(downstream_pressure, dtype=float)
    T1, T2 = np.asarray(upstream_temperature, dtype=float), np.asarray(downstream_temperature, dtype=float)
    if min(p1.min(), p2.min()) < 0:
        raise ValueError(f"pressure {min(p1.min(), p2.min()):g} Pa is negative: give absolute pressures, not gauge")
    k = gas.heat_capacity_ratio(np.where(p1 >= p2, T1, T2))
    return _restriction_flow(p1, T1, p2, T2, effective_area, k, gas.specific_gas_constant)

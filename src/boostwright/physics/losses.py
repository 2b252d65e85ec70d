"""Pressure losses of duct, elbow and casting, and restrictions one behind the other.

The books are cited from memory; the loss is checked against the library fluids.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compiled import compiled
from boostwright.physics.gases import IdealGas
from boostwright.physics.restriction import restriction_flow_kernel, restriction_mass_flow

_HALVINGS = 60  # of a pressure bracket: down to rounding


def pressure_loss(
    loss_coefficient: ArrayLike, density: ArrayLike, mass_flow: ArrayLike, flow_area: ArrayLike
) -> NDArray[np.float64]:
    """Loss of stagnation pressure in a part of an inlet.

    Parameters
    ----------
    loss_coefficient : array_like, shape (...)
        K in [1]_, on the velocity in `flow_area`. [-]
    density : array_like, shape (...)
        Of the gas in the part. [kg/m3]
    mass_flow : array_like, shape (...)
        Through the part, positive downstream. [kg/s]
    flow_area : array_like, shape (...)
        Area that the coefficient refers to. [m2]

    Returns
    -------
    ndarray, shape (...)
        K rho v^2/2, with the sign of the flow. [Pa]

    Notes
    -----
    Incompressible: good while the loss is a few per cent of the pressure. It grows with the square of the flow.

    References
    ----------
    .. [1] I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, chapter 1.
    """
    K, rho, m, A = np.broadcast_arrays(loss_coefficient, density, mass_flow, flow_area)
    return np.asarray(K * m * np.abs(m) / (2 * rho * A**2))


def loss_effective_area(loss_coefficient: ArrayLike, flow_area: ArrayLike) -> NDArray[np.float64]:
    """Effective area of a part whose loss coefficient is known: one dynamic head lost in it is the loss of the part.

    Parameters
    ----------
    loss_coefficient : array_like, shape (...)
        K in [1]_, on the velocity in `flow_area`. [-]
    flow_area : array_like, shape (...)
        Area that the coefficient refers to. [m2]

    Returns
    -------
    ndarray, shape (...)
        A/sqrt(K). [m2]

    References
    ----------
    .. [1] I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, chapter 1.
    """
    K, A = np.broadcast_arrays(loss_coefficient, flow_area)
    return np.asarray(A / np.sqrt(K))


def loss_coefficient(effective_area: ArrayLike, flow_area: ArrayLike) -> NDArray[np.float64]:
    """Loss coefficient of a part whose effective area is known, from a flow bench for instance.

    Parameters
    ----------
    effective_area : array_like, shape (...)
        Area in which one dynamic head is the loss of the part. [m2]
    flow_area : array_like, shape (...)
        Area that the coefficient shall refer to. [m2]

    Returns
    -------
    ndarray, shape (...)
        K = (A/CdA)^2. [-]

    References
    ----------
    .. [1] I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, chapter 1.
    """
    CdA, A = np.broadcast_arrays(effective_area, flow_area)
    return np.asarray((A / CdA) ** 2)


def series_effective_area(effective_areas: ArrayLike) -> NDArray[np.float64]:
    """Effective area of parts that the same flow passes one after the other, while their losses are small.

    Parameters
    ----------
    effective_areas : array_like, shape (..., n)
        Of the n parts. [m2]

    Returns
    -------
    ndarray, shape (...)
        1/sqrt(sum of 1/A^2). [m2]

    Notes
    -----
    Losses add up, so their squares of inverse areas do. With a pressure ratio of 0.8 over both, two parts of areas 2 to
    1 pass 2 % more than this area says, because the second sees thinner gas: use `series_mass_flow` there.

    References
    ----------
    .. [1] I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, chapter 1.
    """
    A = np.asarray(effective_areas, dtype=float)
    return np.asarray(1 / np.sqrt(np.sum(1 / A**2, axis=-1)))


@compiled
def pressure_between_kernel(
    upstream_pressure: float,
    upstream_temperature: float,
    downstream_pressure: float,
    first_area: float,
    second_area: float,
    heat_capacity_ratio: float,
    specific_gas_constant: float,
) -> float:
    """Pressure between two restrictions that the same flow passes; total for positive pressures and areas.

    Parameters
    ----------
    upstream_pressure : float
        Stagnation pressure ahead of the first. [Pa]
    upstream_temperature : float
        Stagnation temperature, the same all the way. [K]
    downstream_pressure : float
        Pressure behind the second; above the upstream pressure the flow is reversed. [Pa]
    first_area : float
        Effective area of the upstream one. [m2]
    second_area : float
        Effective area of the downstream one. [m2]
    heat_capacity_ratio : float
        Of the gas. [-]
    specific_gas_constant : float
        Of the gas. [J/kg/K]

    Returns
    -------
    float
        At which both pass the same. [Pa]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    p0, T, p, k, R = (
        upstream_pressure,
        upstream_temperature,
        downstream_pressure,
        heat_capacity_ratio,
        specific_gas_constant,
    )
    low = p if p < p0 else p0
    high = p0 if p < p0 else p
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        first = restriction_flow_kernel(p0, T, middle, T, first_area, k, R)
        second = restriction_flow_kernel(middle, T, p, T, second_area, k, R)
        if first > second:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


_pressure_between = np.vectorize(pressure_between_kernel, otypes=[float])


def pressure_between(
    upstream_pressure: ArrayLike,
    upstream_temperature: ArrayLike,
    downstream_pressure: ArrayLike,
    first_area: ArrayLike,
    second_area: ArrayLike,
    gas: IdealGas,
) -> NDArray[np.float64]:
    """Pressure between two restrictions that the same compressible flow passes.

    Parameters
    ----------
    upstream_pressure : array_like, shape (...)
        Stagnation pressure ahead of the first. [Pa]
    upstream_temperature : array_like, shape (...)
        Stagnation temperature, the same all the way: nothing is heated. [K]
    downstream_pressure : array_like, shape (...)
        Pressure behind the second. [Pa]
    first_area : array_like, shape (...)
        Effective area of the upstream one. [m2]
    second_area : array_like, shape (...)
        Effective area of the downstream one. [m2]
    gas : IdealGas
        Its heat capacity ratio is taken at the upstream temperature.

    Returns
    -------
    ndarray, shape (...)
        Absolute pressure in between. [Pa]

    Notes
    -----
    The speed out of the first restriction is taken as lost ahead of the second.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    k = gas.heat_capacity_ratio(upstream_temperature)
    return _pressure_between(
        upstream_pressure,
        upstream_temperature,
        downstream_pressure,
        first_area,
        second_area,
        k,
        gas.specific_gas_constant,
    )


def series_mass_flow(
    upstream_pressure: ArrayLike,
    upstream_temperature: ArrayLike,
    downstream_pressure: ArrayLike,
    first_area: ArrayLike,
    second_area: ArrayLike,
    gas: IdealGas,
) -> NDArray[np.float64]:
    """Compressible flow through two restrictions, one behind the other.

    Parameters
    ----------
    upstream_pressure : array_like, shape (...)
        Stagnation pressure ahead of the first. [Pa]
    upstream_temperature : array_like, shape (...)
        Stagnation temperature, the same all the way. [K]
    downstream_pressure : array_like, shape (...)
        Pressure behind the second. [Pa]
    first_area : array_like, shape (...)
        Effective area of the upstream one. [m2]
    second_area : array_like, shape (...)
        Effective area of the downstream one. [m2]
    gas : IdealGas
        Its heat capacity ratio is taken at the upstream temperature.

    Returns
    -------
    ndarray, shape (...)
        Mass flow, positive downstream. [kg/s]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix C.
    """
    p = pressure_between(upstream_pressure, upstream_temperature, downstream_pressure, first_area, second_area, gas)
    return restriction_mass_flow(upstream_pressure, upstream_temperature, p, upstream_temperature, first_area, gas)

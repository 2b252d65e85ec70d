"""Leakage of a blower through its rotor clearances, by the square-root law of the handbooks.

The law takes the gas at inlet density. What really leaks is hot gas from the outlet: `restriction_mass_flow` from the
outlet state through the same area gives about 10 % less at pressure ratio 1.5.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def leakage_speed(
    leakage_area: ArrayLike, pressure_rise: ArrayLike, inlet_density: ArrayLike, blower_displacement: ArrayLike
) -> NDArray[np.float64]:
    """Shaft speed that only makes up for leakage; handbooks call it the slip speed.

    Parameters
    ----------
    leakage_area : array_like, shape (...)
        Discharge coefficient times clearance area. [m2]
    pressure_rise : array_like, shape (...)
        p2 - p1, not negative. [Pa]
    inlet_density : array_like, shape (...)
        rho1. [kg/m3]
    blower_displacement : array_like, shape (...)
        Per turn. [m3]

    Returns
    -------
    ndarray, shape (...)
        A sqrt(2 dp/rho1)/V; volumetric efficiency is 1 less this over the speed. [1/s]

    Notes
    -----
    Handbook practice, from memory; [1]_ splits the loss of flow into leakage and pulsation.

    References
    ----------
    .. [1] M. Ware, Description and laboratory tests of a Roots type aircraft engine supercharger, NACA Report 230,
       1926; opening and abstract read.
    """
    A, dp, rho, V = np.broadcast_arrays(leakage_area, pressure_rise, inlet_density, blower_displacement)
    return np.asarray(A * np.sqrt(2 * dp / rho) / V)


def leakage_area(
    leakage_speed: ArrayLike, pressure_rise: ArrayLike, inlet_density: ArrayLike, blower_displacement: ArrayLike
) -> NDArray[np.float64]:
    """Leakage area from a slip test: the speed that just holds a pressure rise with nothing delivered.

    Parameters
    ----------
    leakage_speed : array_like, shape (...)
        Measured. [1/s]
    pressure_rise : array_like, shape (...)
        Held in the test, usually 1 psi. [Pa]
    inlet_density : array_like, shape (...)
        Of the test. [kg/m3]
    blower_displacement : array_like, shape (...)
        Per turn. [m3]

    Returns
    -------
    ndarray, shape (...)
        Discharge coefficient times clearance area. [m2]

    Notes
    -----
    Handbook practice, from memory; compare [1]_. Keep the test short: without through flow the gas inside heats up
    without bound.

    References
    ----------
    .. [1] M. Ware, Description and laboratory tests of a Roots type aircraft engine supercharger, NACA Report 230,
       1926; opening and abstract read.
    """
    N, dp, rho, V = np.broadcast_arrays(leakage_speed, pressure_rise, inlet_density, blower_displacement)
    return np.asarray(N * V / np.sqrt(2 * dp / rho))


def scaled_leakage_speed(
    test_leakage_speed: ArrayLike, pressure_rise_ratio: ArrayLike, inlet_density_ratio: ArrayLike
) -> NDArray[np.float64]:
    """Leakage speed carried from a slip test to another pressure rise and other weather.

    Parameters
    ----------
    test_leakage_speed : array_like, shape (...)
        Measured. [1/s]
    pressure_rise_ratio : array_like, shape (...)
        Pressure rise over that of the test. [-]
    inlet_density_ratio : array_like, shape (...)
        Inlet density over that of the test; it goes by p1/T1. [-]

    Returns
    -------
    ndarray, shape (...)
        N_test sqrt(dp/dp_test rho_test/rho). [1/s]

    Notes
    -----
    Handbook practice, from memory; compare [1]_. Altitude raises leakage speed, since thin gas leaks faster.

    References
    ----------
    .. [1] M. Ware, Description and laboratory tests of a Roots type aircraft engine supercharger, NACA Report 230,
       1926; opening and abstract read.
    """
    N, dp, rho = np.broadcast_arrays(test_leakage_speed, pressure_rise_ratio, inlet_density_ratio)
    return np.asarray(N * np.sqrt(dp / rho))

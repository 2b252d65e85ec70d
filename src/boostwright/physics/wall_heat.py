"""Heat from the gas to the walls of the cylinder."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

GAS_EXCHANGE_VELOCITY_FACTOR = 6.18
"""C1 of the gas velocity while a valve is open. From memory of Woschni 1967."""
CLOSED_VELOCITY_FACTOR = 2.28
"""C1 of the gas velocity while the valves are shut. From memory of Woschni 1967."""
COMBUSTION_VELOCITY_FACTOR = 3.24e-3
"""C2 of the gas velocity that combustion adds, m/s/K. From memory of Woschni 1967."""


def wall_heat_transfer_coefficient(
    pressure: ArrayLike, temperature: ArrayLike, gas_velocity: ArrayLike, bore: ArrayLike
) -> Floats:
    """Heat transfer coefficient between gas and cylinder wall, after Woschni.

    Parameters
    ----------
    pressure : array_like, shape (...)
        Of the gas, p in [1]_. [Pa]
    temperature : array_like, shape (...)
        Mean of the gas, T in [1]_. [K]
    gas_velocity : array_like, shape (...)
        Characteristic velocity, w in [1]_; see :func:`gas_velocity`. [m/s]
    bore : array_like, shape (...)
        B in [1]_. [m]

    Returns
    -------
    ndarray, shape (...)
        h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa. [W/m2/K]

    Notes
    -----
    Formula and constant from memory of [1]_. Engines scatter about it by some 30 %: fit a factor to data.

    References
    ----------
    .. [1] G. Woschni, A universally applicable equation for the instantaneous heat transfer coefficient in the internal
       combustion engine, SAE 670931, 1967.
    """
    p, T, w, B = np.broadcast_arrays(pressure, temperature, gas_velocity, bore)
    return np.asarray(3.26 * B**-0.2 * (p / 1000) ** 0.8 * T**-0.55 * w**0.8)


def gas_velocity(
    mean_piston_speed: ArrayLike,
    velocity_factor: ArrayLike,
    swept_volume: ArrayLike,
    gas_heat_capacity: ArrayLike,
    combustion_pressure_rise: ArrayLike,
) -> Floats:
    """Characteristic gas velocity of the wall heat correlation, after Woschni.

    Parameters
    ----------
    mean_piston_speed : array_like, shape (...)
        Sp in [1]_. [m/s]
    velocity_factor : array_like, shape (...)
        C1 in [1]_: 6.18 while a valve is open, 2.28 while both are shut. [-]
    swept_volume : array_like, shape (...)
        Of one cylinder, Vd in [1]_. [m3]
    gas_heat_capacity : array_like, shape (...)
        pr Vr/Tr in [1]_ at any reference state of the shut cylinder, which is its mass times gas constant. [J/K]
    combustion_pressure_rise : array_like, shape (...)
        Pressure above that of the motored engine at the same angle, p - pm in [1]_. [Pa]

    Returns
    -------
    ndarray, shape (...)
        w = C1 Sp + C2 Vd Tr/(pr Vr) (p - pm), with C2 = 3.24e-3. [m/s]

    Notes
    -----
    Constants from memory of [1]_.

    References
    ----------
    .. [1] G. Woschni, SAE 670931, 1967.
    """
    Sp, C1, Vd, mR, rise = np.broadcast_arrays(
        mean_piston_speed, velocity_factor, swept_volume, gas_heat_capacity, combustion_pressure_rise
    )
    return np.asarray(C1 * Sp + COMBUSTION_VELOCITY_FACTOR * Vd * rise / mR)

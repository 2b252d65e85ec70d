"""Spontaneous ignition of the end gas: its delay, and how much of the delay a pressure history has used up."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compiled import compiled

Floats = NDArray[np.float64]

STANDARD_ATMOSPHERE = 101325.0
"""The delay law counts pressure in these. [Pa]"""


@compiled
def autoignition_delay_kernel(pressure: float, end_gas_temperature: float, octane_number: float) -> float:
    """Scalar form of :func:`autoignition_delay`.

    Parameters
    ----------
    pressure : float
        p in [1]_. [Pa]
    end_gas_temperature : float
        T in [1]_. [K]
    octane_number : float
        ON in [1]_. [-]

    Returns
    -------
    float
        tau. [s]

    References
    ----------
    .. [1] A. M. Douaud and P. Eyzat, SAE 780080, 1978.
    """
    octane = (octane_number / 100) ** 3.402
    return 17.68e-3 * octane * (pressure / STANDARD_ATMOSPHERE) ** -1.7 * math.exp(3800 / end_gas_temperature)


_delay = np.vectorize(autoignition_delay_kernel, otypes=[float])


def autoignition_delay(pressure: ArrayLike, end_gas_temperature: ArrayLike, octane_number: ArrayLike) -> Floats:
    """Time in which unburned mixture held at one pressure and temperature ignites by itself.

    Parameters
    ----------
    pressure : array_like, shape (...)
        p in [1]_. [Pa]
    end_gas_temperature : array_like, shape (...)
        Of the unburned gas, T in [1]_. [K]
    octane_number : array_like, shape (...)
        ON in [1]_; for alcohols an effective one, fitted to data. [-]

    Returns
    -------
    ndarray, shape (...)
        tau = 17.68 ms (ON/100)^3.402 p^-1.7 exp(3800/T) with p in standard atmospheres. [s]

    Notes
    -----
    Constants from memory of [1]_. Fitted to reference-type fuels of octane number 80 to 100 near the stoichiometric
    mixture; it knows no mixture strength, residual gas or two-stage ignition. Compare cases with it; believe no level.

    References
    ----------
    .. [1] A. M. Douaud and P. Eyzat, Four-octane-number method for predicting the anti-knock behavior of fuels and
       engines, SAE 780080, 1978.
    """
    return _delay(pressure, end_gas_temperature, octane_number)


def knock_integral(time: ArrayLike, delay: ArrayLike) -> Floats:
    """Share of the ignition delay used up along a history, after Livengood and Wu; at 1 the end gas ignites.

    Parameters
    ----------
    time : array_like, shape (..., n)
        Of the history, rising, t in [1]_. [s]
    delay : array_like, shape (..., n)
        Ignition delay of the state at each time, tau in [1]_. [s]

    Returns
    -------
    ndarray, shape (...)
        Integral of dt/tau, by the trapezoidal rule. [-]

    Notes
    -----
    From memory of [1]_.

    References
    ----------
    .. [1] J. C. Livengood and P. C. Wu, Correlation of autoignition phenomena in internal combustion engines and rapid
       compression machines, 5th Symp. (Int.) on Combustion, 1955, pp. 347-356, doi 10.1016/S0082-0784(55)80047-1.
    """
    return np.asarray(np.trapezoid(1 / np.asarray(delay, dtype=float), np.asarray(time, dtype=float), axis=-1))

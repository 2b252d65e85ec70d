"""Moist air as an ideal mixture of dry air and water vapour: what the weather station's three readings stand for."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

DRY_AIR_GAS_CONSTANT = 287.042  # J/(kg K), ASHRAE 2017 ch. 1 eq. (1)
VAPOUR_TO_AIR_MOLAR_MASS = 0.621945  # 18.015268 / 28.966, ASHRAE 2017 ch. 1 eq. (20)
WATER_VAPOUR_GAS_CONSTANT = DRY_AIR_GAS_CONSTANT / VAPOUR_TO_AIR_MOLAR_MASS  # J/(kg K)
ICE_POINT = 273.15  # K
TRIPLE_POINT = 273.16  # K

Floats = NDArray[np.float64]


def saturation_pressure(temperature: ArrayLike) -> Floats:
    """Pressure of water vapour in equilibrium with water, or below its triple point with ice.

    Parameters
    ----------
    temperature : array_like, shape (...)
        Temperature of vapour and water, T in [1]_. [K]

    Returns
    -------
    ndarray, shape (...)
        Saturation pressure. [Pa]

    Raises
    ------
    ValueError
        If a temperature is outside 173.15 to 473.15 K.

    Notes
    -----
    Valid from -100 to 200 degC; 0.01 to 0.02 % below IAPWS-IF97 between 10 and 40 degC. Real moist air holds about
    0.45 % more vapour than this pressure says (enhancement factor). Coefficients as read in an open library that
    follows [1]_; the handbook itself was not opened.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, eqs. (5) and (6), after Hyland and Wexler, 1983.
    """
    T = np.asarray(temperature, dtype=np.float64)
    if not np.all((T >= 173.15) & (T <= 473.15)):
        raise ValueError(f"temperature {_worst(T, 173.15, 473.15):.6g} K is outside 173.15 to 473.15 K: is it in degC?")
    return np.exp(np.where(T <= TRIPLE_POINT, _ln_pressure_over_ice(T), _ln_pressure_over_water(T)))


def vapour_pressure(temperature: ArrayLike, relative_humidity: ArrayLike) -> Floats:
    """Partial pressure of the water vapour in moist air.

    Parameters
    ----------
    temperature : array_like, shape (...)
        Temperature of the air, read beside the humidity. [K]
    relative_humidity : array_like, shape (...)
        Relative humidity as a fraction, phi in [1]_. [-]

    Returns
    -------
    ndarray, shape (...)
        Vapour pressure, pw in [1]_. [Pa]

    Raises
    ------
    ValueError
        If a humidity is outside 0 to 1, or a temperature outside the range of `saturation_pressure`.

    Notes
    -----
    Ideal mixing. The two readings must belong together: the humidity of the room with the temperature of a warm
    intake would put water into the air that is not there.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, eq. (22).
    """
    phi = np.asarray(relative_humidity, dtype=np.float64)
    if not np.all((phi >= 0) & (phi <= 1)):
        raise ValueError(f"relative humidity {_worst(phi, 0, 1):.6g} is outside 0 to 1: is it in percent?")
    return np.asarray(phi * saturation_pressure(temperature))


def dry_pressure(pressure: ArrayLike, vapour_pressure: ArrayLike) -> Floats:
    """Partial pressure of the dry air, which is what most power corrections count.

    Parameters
    ----------
    pressure : array_like, shape (...)
        Total pressure of the moist air, p in [1]_. [Pa]
    vapour_pressure : array_like, shape (...)
        Partial pressure of its water vapour, pw in [1]_. [Pa]

    Returns
    -------
    ndarray, shape (...)
        Partial pressure of the dry air, pda in [1]_. [Pa]

    Raises
    ------
    ValueError
        If the vapour pressure is negative or not below the total pressure.

    Notes
    -----
    Dalton's law.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, section on perfect gas relations.
    """
    p, pw = np.broadcast_arrays(np.asarray(pressure, dtype=np.float64), np.asarray(vapour_pressure, dtype=np.float64))
    if not np.all((pw >= 0) & (pw < p)):
        i = tuple(np.argwhere(~((pw >= 0) & (pw < p)))[0].tolist())
        raise ValueError(f"vapour pressure {pw[i]:.0f} Pa does not fit into {p[i]:.0f} Pa of air: is a unit mistaken?")
    return np.asarray(p - pw)


def humidity_ratio(pressure: ArrayLike, vapour_pressure: ArrayLike) -> Floats:
    """Mass of water vapour that goes with one kilogram of dry air.

    Parameters
    ----------
    pressure : array_like, shape (...)
        Total pressure of the moist air, p in [1]_. [Pa]
    vapour_pressure : array_like, shape (...)
        Partial pressure of its water vapour, pw in [1]_. [Pa]

    Returns
    -------
    ndarray, shape (...)
        Humidity ratio, W in [1]_. [kg/kg]

    Notes
    -----
    Ideal mixing; real moist air at the same relative humidity holds about 0.45 % more.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, eq. (20).
    """
    return np.asarray(VAPOUR_TO_AIR_MOLAR_MASS * np.asarray(vapour_pressure) / dry_pressure(pressure, vapour_pressure))


def moist_air_density(pressure: ArrayLike, temperature: ArrayLike, vapour_pressure: ArrayLike) -> Floats:
    """Density of moist air, vapour included.

    Parameters
    ----------
    pressure : array_like, shape (...)
        Total pressure of the moist air, p in [1]_. [Pa]
    temperature : array_like, shape (...)
        Temperature of the moist air, T in [1]_. [K]
    vapour_pressure : array_like, shape (...)
        Partial pressure of its water vapour, pw in [1]_. [Pa]

    Returns
    -------
    ndarray, shape (...)
        Mass of air and vapour in a volume. [kg/m3]

    Notes
    -----
    Two ideal gases in one volume; 0.03 to 0.05 % below real moist air near one atmosphere.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, perfect gas relations for dry air and for vapour.
    """
    T, pw = np.asarray(temperature, dtype=np.float64), np.asarray(vapour_pressure, dtype=np.float64)
    dry = dry_pressure(pressure, pw) / (DRY_AIR_GAS_CONSTANT * T)
    return np.asarray(dry + pw / (WATER_VAPOUR_GAS_CONSTANT * T))


def moist_air_enthalpy(temperature: ArrayLike, humidity_ratio: ArrayLike) -> Floats:
    """Enthalpy of moist air per kilogram of its dry air, above dry air and liquid water at 0 degC.

    Parameters
    ----------
    temperature : array_like, shape (...)
        Temperature of the moist air. [K]
    humidity_ratio : array_like, shape (...)
        Vapour that goes with one kilogram of dry air, W in [1]_. [kg/kg]

    Returns
    -------
    ndarray, shape (...)
        Enthalpy, h in [1]_. [J/kg]

    Notes
    -----
    Constant heat capacities: for weather, not for charge air. Within 0.4 % of real moist air from 10 to 40 degC.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, eq. (30).
    """
    t, W = np.asarray(temperature, dtype=np.float64) - ICE_POINT, np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray(1006.0 * t + W * (2501e3 + 1860.0 * t))


def moist_air_gas_constant(humidity_ratio: ArrayLike) -> Floats:
    """Specific gas constant of moist air, per kilogram of air and vapour together.

    Parameters
    ----------
    humidity_ratio : array_like, shape (...)
        Vapour that goes with one kilogram of dry air, W in [1]_. [kg/kg]

    Returns
    -------
    ndarray, shape (...)
        Specific gas constant, Ra of dry air and Rw of vapour in [1]_ by mass. [J/(kg K)]

    Notes
    -----
    Saturated air at 30 degC and one atmosphere has 1.6 % more than dry air: humid air is light.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2017, ch. 1, perfect gas relations for dry air and for vapour.
    """
    W = np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray((DRY_AIR_GAS_CONSTANT + W * WATER_VAPOUR_GAS_CONSTANT) / (1 + W))


def _ln_pressure_over_ice(T: Floats) -> Floats:
    powers = 6.3925247 + T * (-9.677843e-3 + T * (6.2215701e-7 + T * (2.0747825e-9 - 9.484024e-13 * T)))
    return np.asarray(-5.6745359e3 / T + powers + 4.1635019 * np.log(T))


def _ln_pressure_over_water(T: Floats) -> Floats:
    powers = 1.3914993 + T * (-4.8640239e-2 + T * (4.1764768e-5 - 1.4452093e-8 * T))
    return np.asarray(-5.8002206e3 / T + powers + 6.5459673 * np.log(T))


def _worst(values: Floats, low: float, high: float) -> float:
    return float(values[~((values >= low) & (values <= high))].flat[0])

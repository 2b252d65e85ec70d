"""Ideal gases whose heat capacity varies with temperature: the noun, its kernels and its mixtures.

A kernel takes the gas as `polynomial`, an array of shape (2, 7): NASA coefficients times the specific gas constant, the
first row below 1000 K and the second above. Such rows mix by mass fraction, so a cycle may blend them as it burns.
Forms from memory of the sources, checked against Cantera.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compiled import compiled
from boostwright.physics.species import ARGON, CARBON_DIOXIDE, MOLAR_GAS_CONSTANT, NITROGEN, OXYGEN, Row, Species

_BREAK = 1000.0  # K, where the two rows meet in every species of the table
_COLDEST, _HOTTEST = 200.0, 6000.0  # K, range of the source


@compiled
def heat_capacity_kernel(temperature: float, polynomial: NDArray[np.float64]) -> float:
    """Specific heat capacity at constant pressure.

    Parameters
    ----------
    temperature : float
        T in [1]_. [K]
    polynomial : ndarray, shape (2, 7)
        Coefficients a1 to a7 of [1]_ times the specific gas constant. [J/kg/K]

    Returns
    -------
    float
        cp. [J/kg/K]

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993, heat capacity equation.
    """
    T, a = temperature, polynomial[0 if temperature < _BREAK else 1]
    return a[0] + T * (a[1] + T * (a[2] + T * (a[3] + T * a[4])))


@compiled
def enthalpy_kernel(temperature: float, polynomial: NDArray[np.float64]) -> float:
    """Specific enthalpy on the scale where the elements are zero at 298.15 K; it holds the heat of formation.

    Parameters
    ----------
    temperature : float
        T in [1]_. [K]
    polynomial : ndarray, shape (2, 7)
        Coefficients a1 to a7 of [1]_ times the specific gas constant. [J/kg/K]

    Returns
    -------
    float
        h. [J/kg]

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993, enthalpy equation.
    """
    T, a = temperature, polynomial[0 if temperature < _BREAK else 1]
    return a[5] + T * (a[0] + T * (a[1] / 2 + T * (a[2] / 3 + T * (a[3] / 4 + T * a[4] / 5))))


@compiled
def entropy_kernel(temperature: float, polynomial: NDArray[np.float64]) -> float:
    """Specific entropy at the standard pressure, without the entropy of mixing.

    Parameters
    ----------
    temperature : float
        T in [1]_. [K]
    polynomial : ndarray, shape (2, 7)
        Coefficients a1 to a7 of [1]_ times the specific gas constant. [J/kg/K]

    Returns
    -------
    float
        s. Use differences at fixed composition. [J/kg/K]

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993, entropy equation.
    """
    T, a = temperature, polynomial[0 if temperature < _BREAK else 1]
    return a[6] + a[0] * math.log(T) + T * (a[1] + T * (a[2] / 2 + T * (a[3] / 3 + T * a[4] / 4)))


@compiled
def heat_capacity_ratio_kernel(
    temperature: float, polynomial: NDArray[np.float64], specific_gas_constant: float
) -> float:
    """Ratio of the heat capacities at constant pressure and volume.

    Parameters
    ----------
    temperature : float
        T in [1]_. [K]
    polynomial : ndarray, shape (2, 7)
        Coefficients a1 to a7 of [1]_ times the specific gas constant. [J/kg/K]
    specific_gas_constant : float
        R. [J/kg/K]

    Returns
    -------
    float
        cp/(cp - R). [-]

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993.
    """
    cp = heat_capacity_kernel(temperature, polynomial)
    return cp / (cp - specific_gas_constant)


@compiled
def isentropic_temperature_kernel(
    temperature: float, pressure_ratio: float, polynomial: NDArray[np.float64], specific_gas_constant: float
) -> float:
    """Temperature after an isentropic change of pressure.

    Parameters
    ----------
    temperature : float
        Before the change. [K]
    pressure_ratio : float
        Pressure after over pressure before; below 1 the gas expands. [-]
    polynomial : ndarray, shape (2, 7)
        Coefficients a1 to a7 of [1]_ times the specific gas constant. [J/kg/K]
    specific_gas_constant : float
        R. [J/kg/K]

    Returns
    -------
    float
        T2 of s(T2) - s(T1) = R ln(p2/p1). [K]

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993, entropy equation.
    """
    target = entropy_kernel(temperature, polynomial) + specific_gas_constant * math.log(pressure_ratio)
    result = temperature * pressure_ratio ** (specific_gas_constant / heat_capacity_kernel(temperature, polynomial))
    for _ in range(6):  # Newton in ln T; four steps reach rounding over the range of the table
        result *= math.exp((target - entropy_kernel(result, polynomial)) / heat_capacity_kernel(result, polynomial))
    return result


_heat_capacity = np.vectorize(heat_capacity_kernel, otypes=[float], excluded={1})
_enthalpy = np.vectorize(enthalpy_kernel, otypes=[float], excluded={1})
_isentropic_temperature = np.vectorize(isentropic_temperature_kernel, otypes=[float], excluded={2, 3})


@dataclass(frozen=True, kw_only=True)
class IdealGas:
    """A gas of fixed composition: its gas constant and the polynomials of its heat capacity, both per kilogram."""

    specific_gas_constant: float
    cold_polynomial: Row
    hot_polynomial: Row

    def __post_init__(self) -> None:
        if not self.specific_gas_constant > 0:
            raise ValueError(f"specific gas constant {self.specific_gas_constant:g} J/kg/K is not positive")

    @property
    def molar_mass(self) -> float:
        """Mean molar mass. [kg/mol]"""
        return MOLAR_GAS_CONSTANT / self.specific_gas_constant

    @property
    def polynomial(self) -> NDArray[np.float64]:
        """The two rows as the kernels take them, shape (2, 7)."""
        return np.array([self.cold_polynomial, self.hot_polynomial])

    def heat_capacity(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Specific heat capacity at constant pressure. [J/kg/K]"""
        return _heat_capacity(_in_range(temperature), self.polynomial)

    def heat_capacity_ratio(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Ratio of the heat capacities at constant pressure and volume. [-]"""
        cp = self.heat_capacity(temperature)
        return np.asarray(cp / (cp - self.specific_gas_constant))

    def enthalpy(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Specific enthalpy, heat of formation included; use differences. [J/kg]"""
        return _enthalpy(_in_range(temperature), self.polynomial)

    def isentropic_temperature(self, temperature: ArrayLike, pressure_ratio: ArrayLike) -> NDArray[np.float64]:
        """Temperature after an isentropic change of pressure, with the heat capacity varying on the way. [K]"""
        pr = np.asarray(pressure_ratio, dtype=float)
        if np.any(pr <= 0):
            raise ValueError(f"pressure ratio {pr.min():g} is not positive: give absolute pressures, not gauge")
        return _isentropic_temperature(_in_range(temperature), pr, self.polynomial, self.specific_gas_constant)


def _in_range(temperature: ArrayLike) -> NDArray[np.float64]:
    T = np.asarray(temperature, dtype=float)
    outside = T[(T < _COLDEST) | (T > _HOTTEST)]
    if outside.size:
        raise ValueError(f"temperature {outside[0]:g} K is outside 200 to 6000 K: was it given in degC?")
    return T


def species_gas(species: Species) -> IdealGas:
    """One species as an ideal gas.

    Parameters
    ----------
    species : Species
        With its molar polynomials.

    Returns
    -------
    IdealGas
        The same, per kilogram.

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993.
    """
    return _scaled(MOLAR_GAS_CONSTANT / species.molar_mass, species.cold_polynomial, species.hot_polynomial)


def constant_property_gas(heat_capacity_ratio: float, specific_gas_constant: float) -> IdealGas:
    """A gas whose heat capacity does not vary, as handbooks and air-standard cycles take it.

    Parameters
    ----------
    heat_capacity_ratio : float
        gamma. [-]
    specific_gas_constant : float
        R. [J/kg/K]

    Returns
    -------
    IdealGas
        With cp = R gamma/(gamma - 1) and h = cp T at every temperature.

    Raises
    ------
    ValueError
        If the ratio is not above 1.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix B.
    """
    if not heat_capacity_ratio > 1:
        raise ValueError(f"heat capacity ratio {heat_capacity_ratio:g} must be above 1; air has 1.4")
    row: Row = (heat_capacity_ratio / (heat_capacity_ratio - 1), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return _scaled(specific_gas_constant, row, row)


def mixed_by_mass(gases: Sequence[IdealGas], mass_fractions: Sequence[float]) -> IdealGas:
    """Mixture of gases given by mass.

    Parameters
    ----------
    gases : sequence of IdealGas
        The parts.
    mass_fractions : sequence of float
        Share of each, adding up to 1. [-]

    Returns
    -------
    IdealGas
        The mixture; its entropy leaves out the constant entropy of mixing.

    Raises
    ------
    ValueError
        If the fractions do not add up to 1.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix B.
    """
    share = np.asarray(mass_fractions, dtype=float)
    if abs(share.sum() - 1) > 1e-9:
        raise ValueError(f"mass fractions add up to {share.sum():.9g}, not to 1")
    R = share @ np.array([gas.specific_gas_constant for gas in gases])
    cold = share @ np.array([gas.cold_polynomial for gas in gases])
    hot = share @ np.array([gas.hot_polynomial for gas in gases])
    return IdealGas(specific_gas_constant=float(R), cold_polynomial=_row(cold), hot_polynomial=_row(hot))


def mixed_by_mole(species: Sequence[Species], amounts: Sequence[float]) -> IdealGas:
    """Mixture of species given by amount of substance.

    Parameters
    ----------
    species : sequence of Species
        The parts.
    amounts : sequence of float
        Moles of each, in any common measure; they need not add up to 1. [mol]

    Returns
    -------
    IdealGas
        The mixture.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, appendix B.
    """
    mass = np.asarray(amounts, dtype=float) * np.array([part.molar_mass for part in species])
    return mixed_by_mass([species_gas(part) for part in species], (mass / mass.sum()).tolist())


def _scaled(specific_gas_constant: float, cold: Row, hot: Row) -> IdealGas:
    R = specific_gas_constant
    return IdealGas(
        specific_gas_constant=R, cold_polynomial=_row(R * np.array(cold)), hot_polynomial=_row(R * np.array(hot))
    )


def _row(values: NDArray[np.float64]) -> Row:
    a1, a2, a3, a4, a5, a6, a7 = values.tolist()
    return (a1, a2, a3, a4, a5, a6, a7)


OXYGEN_SHARE, NITROGEN_SHARE, ARGON_SHARE, CARBON_DIOXIDE_SHARE = 0.2095, 0.7808, 0.0093, 0.0004
"""Mole fractions of dry air."""

DRY_AIR = mixed_by_mole(
    (OXYGEN, NITROGEN, ARGON, CARBON_DIOXIDE), (OXYGEN_SHARE, NITROGEN_SHARE, ARGON_SHARE, CARBON_DIOXIDE_SHARE)
)
"""Dry air; the composition gives R = 287.04 J/kg/K."""

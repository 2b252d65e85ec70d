"""Fuels of supercharged engines: gasoline-ethanol blends by volume, methanol, propane and methane.

Heywood is cited from memory; ratios and heating values are checked against Cantera and the US DOE table (read).
"""

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.gases import DRY_AIR, OXYGEN_SHARE, IdealGas, mixed_by_mass, species_gas
from boostwright.physics.species import (
    CARBON_DIOXIDE,
    ETHANOL,
    ISOOCTANE,
    METHANE,
    METHANOL,
    MOLAR_GAS_CONSTANT,
    OXYGEN,
    PROPANE,
    WATER,
    Species,
)

_REFERENCE_TEMPERATURE = 298.15  # K, of heats of combustion


@dataclass(frozen=True, kw_only=True)
class Fuel:
    """A fuel as an engine burns it; atoms are those of its mean molecule, and a gaseous fuel has no latent heat.

    The heating value is that of the fuel as supplied, liquid or gaseous, with the water of the exhaust as vapour.
    """

    name: str
    carbon_atoms: float
    hydrogen_atoms: float
    oxygen_atoms: float
    vapour: IdealGas
    stoichiometric_air_fuel_ratio: float
    lower_heating_value: float
    latent_heat: float
    fuel_density: float
    octane_number: float
    octane_number_spread: float

    def __post_init__(self) -> None:
        for word, value in (
            ("stoichiometric air-fuel ratio", self.stoichiometric_air_fuel_ratio),
            ("lower heating value", self.lower_heating_value),
            ("density", self.fuel_density),
            ("octane number", self.octane_number),
        ):
            if not value > 0:
                raise ValueError(f"{self.name}: {word} {value:g} must be positive")
        if not self.latent_heat >= 0:
            raise ValueError(f"{self.name}: latent heat {self.latent_heat:g} J/kg is negative; a gaseous fuel has 0")

    @property
    def molar_mass(self) -> float:
        """Mean molar mass. [kg/mol]"""
        return self.vapour.molar_mass

    @property
    def is_gaseous(self) -> bool:
        """Whether the fuel reaches the engine as a gas, so that nothing evaporates in the charge."""
        return self.latent_heat == 0


def stoichiometric_air_fuel_ratio(
    carbon_atoms: ArrayLike, hydrogen_atoms: ArrayLike, oxygen_atoms: ArrayLike, molar_mass: ArrayLike
) -> NDArray[np.float64]:
    """Mass of dry air that burns one mass of fuel completely, from the fuel's formula.

    Parameters
    ----------
    carbon_atoms : array_like, shape (...)
        Carbon atoms in a molecule of fuel. [-]
    hydrogen_atoms : array_like, shape (...)
        Hydrogen atoms in a molecule of fuel. [-]
    oxygen_atoms : array_like, shape (...)
        Oxygen atoms in a molecule of fuel. [-]
    molar_mass : array_like, shape (...)
        Of the fuel. [kg/mol]

    Returns
    -------
    ndarray, shape (...)
        Air-fuel ratio by mass. [-]

    Notes
    -----
    Real dry air has 20.95 % of oxygen by volume; with the handbook's O2 + 3.76 N2 the ratio comes out 0.3 % lower.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 3.4.
    """
    nC, nH, nO, M = np.broadcast_arrays(carbon_atoms, hydrogen_atoms, oxygen_atoms, molar_mass)
    oxygen = nC + nH / 4 - nO / 2
    return np.asarray(oxygen / OXYGEN_SHARE * DRY_AIR.molar_mass / M)


def gas_heating_value(species: Species) -> float:
    """Lower heating value of a gas, from its heat of formation.

    Parameters
    ----------
    species : Species
        Of carbon, hydrogen and oxygen.

    Returns
    -------
    float
        Heat of combustion at 298.15 K, water as vapour; a liquid fuel has its latent heat less. [J/kg]

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 3.5.
    .. [2] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993: heats of formation.
    """
    burned = species.carbon_atoms * _molar_enthalpy(CARBON_DIOXIDE) + species.hydrogen_atoms / 2 * _molar_enthalpy(
        WATER
    )
    oxygen = species.carbon_atoms + species.hydrogen_atoms / 4 - species.oxygen_atoms / 2
    return (_molar_enthalpy(species) + oxygen * _molar_enthalpy(OXYGEN) - burned) / species.molar_mass


def blended_by_volume(base_fuel: Fuel, added_fuel: Fuel, volume_fraction: float) -> Fuel:
    """Blend of two liquid fuels.

    Parameters
    ----------
    base_fuel : Fuel
        For instance gasoline.
    added_fuel : Fuel
        For instance ethanol.
    volume_fraction : float
        Share of the added fuel by volume before mixing, 0 to 1. [-]

    Returns
    -------
    Fuel
        Ratio, heating value and latent heat weighted by mass, density by volume, octane number by amount of substance.

    Raises
    ------
    ValueError
        If the share is outside 0 to 1, or one of the two is gaseous.

    Notes
    -----
    Volumes are taken to add up; ethanol in gasoline swells by a few tenths of a per cent. The octane number of a blend
    runs nearly straight in the mole fraction of the alcohol [1]_ (from memory); its spread is taken alike.

    References
    ----------
    .. [1] J. E. Anderson et al., Octane numbers of ethanol-gasoline and methanol-gasoline blends estimated from molar
       concentrations, Energy and Fuels 24, 2010.
    """
    if not 0 <= volume_fraction <= 1:
        raise ValueError(
            f"volume fraction {volume_fraction:g} of {added_fuel.name} is outside 0 to 1: is it in percent?"
        )
    if base_fuel.is_gaseous or added_fuel.is_gaseous:
        raise ValueError(f"{base_fuel.name} with {added_fuel.name}: only liquid fuels are blended by volume here")
    rho = _mean(base_fuel.fuel_density, added_fuel.fuel_density, volume_fraction)
    w = volume_fraction * added_fuel.fuel_density / rho  # by mass
    vapour = mixed_by_mass((base_fuel.vapour, added_fuel.vapour), (1 - w, w))
    x = w * vapour.molar_mass / added_fuel.molar_mass  # by amount of substance
    return Fuel(
        name=f"{100 * volume_fraction:g} % {added_fuel.name} in {base_fuel.name} by volume",
        carbon_atoms=_mean(base_fuel.carbon_atoms, added_fuel.carbon_atoms, x),
        hydrogen_atoms=_mean(base_fuel.hydrogen_atoms, added_fuel.hydrogen_atoms, x),
        oxygen_atoms=_mean(base_fuel.oxygen_atoms, added_fuel.oxygen_atoms, x),
        vapour=vapour,
        stoichiometric_air_fuel_ratio=_mean(
            base_fuel.stoichiometric_air_fuel_ratio, added_fuel.stoichiometric_air_fuel_ratio, w
        ),
        lower_heating_value=_mean(base_fuel.lower_heating_value, added_fuel.lower_heating_value, w),
        latent_heat=_mean(base_fuel.latent_heat, added_fuel.latent_heat, w),
        fuel_density=rho,
        octane_number=_mean(base_fuel.octane_number, added_fuel.octane_number, x),
        octane_number_spread=_mean(base_fuel.octane_number_spread, added_fuel.octane_number_spread, x),
    )


def fuel_named(name: str) -> Fuel:
    """Fuel by the name it goes by at the pump.

    Parameters
    ----------
    name : str
        E0 to E100 (ethanol in gasoline by volume), methanol, propane or methane.

    Returns
    -------
    Fuel
        With the default values of this file; change any of them with ``dataclasses.replace``.

    Raises
    ------
    ValueError
        If there is no such fuel.

    References
    ----------
    .. [1] US Department of Energy, Alternative Fuels Data Center, fuel properties comparison.
    """
    if name in _PURE:
        return _PURE[name]
    blend = re.fullmatch(r"E(0|[1-9][0-9]?|100)", name)
    if blend is None:
        raise ValueError(
            f'fuel "{name}" is not known; an ethanol blend goes from E0 to E100 by volume, '
            f"and the other fuels are {', '.join(_PURE)}"
        )
    return replace(blended_by_volume(GASOLINE, PURE_ETHANOL, int(blend[1]) / 100), name=name)


def _mean(first: float, second: float, share: float) -> float:
    return (1 - share) * first + share * second


def _molar_enthalpy(species: Species) -> float:
    return float(species_gas(species).enthalpy(_REFERENCE_TEMPERATURE)) * species.molar_mass


def _of_species(
    species: Species,
    lower_heating_value: float,
    latent_heat: float,
    fuel_density: float,
    octane_number: float,
    octane_number_spread: float,
) -> Fuel:
    """A fuel of one species, whose air-fuel ratio is that of its formula."""
    nC, nH, nO = species.carbon_atoms, species.hydrogen_atoms, species.oxygen_atoms
    return Fuel(
        name=species.name.removesuffix(" vapour"),
        carbon_atoms=nC,
        hydrogen_atoms=nH,
        oxygen_atoms=nO,
        vapour=species_gas(species),
        stoichiometric_air_fuel_ratio=float(stoichiometric_air_fuel_ratio(nC, nH, nO, species.molar_mass)),
        lower_heating_value=lower_heating_value,
        latent_heat=latent_heat,
        fuel_density=fuel_density,
        octane_number=octane_number,
        octane_number_spread=octane_number_spread,
    )


def _gas_density(species: Species) -> float:
    return 101325.0 * species.molar_mass / (MOLAR_GAS_CONSTANT * 288.15)


GASOLINE = Fuel(
    name="gasoline",
    carbon_atoms=7.52,  # H/C 1.94, so that the formula gives the air-fuel ratio below
    hydrogen_atoms=14.58,
    oxygen_atoms=0.0,
    vapour=replace(species_gas(ISOOCTANE), specific_gas_constant=MOLAR_GAS_CONSTANT / 0.105),  # 100 to 105 g/mol
    stoichiometric_air_fuel_ratio=14.7,  # US DOE table
    lower_heating_value=43.4e6,  # US DOE table: 41.9 to 44.2
    latent_heat=350e3,  # US DOE table: 349; NREL: 325 to 375
    fuel_density=745.0,  # US DOE table: specific gravity 0.72 to 0.78
    octane_number=95.0,  # US DOE table: 88 to 100, of which the spread is a quarter
    octane_number_spread=3.0,
)
"""Heat capacity per kilogram of isooctane, molar mass from memory, the rest as marked."""

# Heating values are those of `gas_heating_value` less the latent heat, written out because a kernel called here would
# slow every import. Latent heats and densities from memory, within 0.8 % of the US DOE table; octane numbers of the
# alcohols from that table, spread since another page gives 115.9 for ethanol; octane numbers of the gases from memory.
PURE_ETHANOL = _of_species(ETHANOL, 26.813e6, 918e3, 789.0, 108.0, 4.0)
_PURE = {
    "methanol": _of_species(METHANOL, 19.936e6, 1168e3, 792.0, 107.0, 4.0),
    "propane": _of_species(PROPANE, 46.333e6, 0.0, _gas_density(PROPANE), 110.0, 3.0),
    "methane": _of_species(METHANE, 50.025e6, 0.0, _gas_density(METHANE), 125.0, 5.0),
}

"""The gas in an engine: moist air, unburned charge and burned gas, lean or rich.

Heywood is cited from memory; compositions are checked against Cantera's equilibrium.
"""

import math
from typing import NamedTuple

from boostwright.physics.fuels import Fuel, gas_heating_value
from boostwright.physics.gases import (
    ARGON_SHARE,
    CARBON_DIOXIDE_SHARE,
    DRY_AIR,
    NITROGEN_SHARE,
    OXYGEN_SHARE,
    IdealGas,
    mixed_by_mass,
    mixed_by_mole,
    species_gas,
)
from boostwright.physics.species import (
    ARGON,
    CARBON_DIOXIDE,
    CARBON_MONOXIDE,
    HYDROGEN,
    NITROGEN,
    OXYGEN,
    WATER,
    Species,
)

WATER_GAS_CONSTANT = 3.5  # Heywood, 1988, section 4.9, from memory: equilibrium near 1740 K, where burned gas freezes
RICHEST = 0.5  # excess air ratio; richer, the oxygen comes near to the carbon and soot forms


class BurnedAmounts(NamedTuple):
    """Moles of every species of the burned gas, per mole of fuel."""

    carbon_dioxide: float
    water: float
    carbon_monoxide: float
    hydrogen: float
    oxygen: float
    nitrogen: float
    argon: float


_BURNED_SPECIES = (CARBON_DIOXIDE, WATER, CARBON_MONOXIDE, HYDROGEN, OXYGEN, NITROGEN, ARGON)


def moist_air_gas(humidity_ratio: float) -> IdealGas:
    """Air with its water vapour.

    Parameters
    ----------
    humidity_ratio : float
        Mass of vapour that goes with one mass of dry air. [kg/kg]

    Returns
    -------
    IdealGas
        Per kilogram of air and vapour together.

    References
    ----------
    .. [1] B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513, 1993.
    """
    W = humidity_ratio
    return mixed_by_mass((DRY_AIR, species_gas(WATER)), (1 / (1 + W), W / (1 + W)))


def unburned_charge(fuel: Fuel, excess_air_ratio: float, humidity_ratio: float) -> IdealGas:
    """Moist air and fuel vapour before combustion, all fuel evaporated and no residual gas.

    Parameters
    ----------
    fuel : Fuel
        Its vapour.
    excess_air_ratio : float
        Air-fuel ratio over the stoichiometric one. [-]
    humidity_ratio : float
        Mass of water vapour that goes with one mass of dry air. [kg/kg]

    Returns
    -------
    IdealGas
        Per kilogram of charge.

    Raises
    ------
    ValueError
        If the excess air ratio is below 0.5.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 4.7.
    """
    _refuse_soot(excess_air_ratio)
    dry_air = excess_air_ratio * fuel.stoichiometric_air_fuel_ratio
    mass = 1 + dry_air * (1 + humidity_ratio)
    return mixed_by_mass((fuel.vapour, moist_air_gas(humidity_ratio)), (1 / mass, 1 - 1 / mass))


def burned_amounts(fuel: Fuel, excess_air_ratio: float, humidity_ratio: float) -> BurnedAmounts:
    """Composition of the burned gas: complete when lean, water-gas balance at a fixed constant when rich.

    Parameters
    ----------
    fuel : Fuel
        Its atoms.
    excess_air_ratio : float
        Air-fuel ratio over the stoichiometric one. [-]
    humidity_ratio : float
        Mass of water vapour that goes with one mass of dry air. [kg/kg]

    Returns
    -------
    BurnedAmounts
        Per mole of fuel. [mol/mol]

    Raises
    ------
    ValueError
        If the excess air ratio is below 0.5.

    Notes
    -----
    No dissociation. Rich gas: [H2O][CO]/([CO2][H2]) = 3.5.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 4.9.
    """
    _refuse_soot(excess_air_ratio)
    needed = fuel.carbon_atoms + fuel.hydrogen_atoms / 4 - fuel.oxygen_atoms / 2
    air = excess_air_ratio * needed / OXYGEN_SHARE
    carbon = fuel.carbon_atoms + CARBON_DIOXIDE_SHARE * air
    water = fuel.hydrogen_atoms / 2 + humidity_ratio * air * DRY_AIR.molar_mass / WATER.molar_mass
    missing = 2 * needed * max(1 - excess_air_ratio, 0.0)  # oxygen atoms, one to each CO and each H2
    monoxide = _carbon_monoxide(carbon, water, missing)
    return BurnedAmounts(
        carbon_dioxide=carbon - monoxide,
        water=water - (missing - monoxide),
        carbon_monoxide=monoxide,
        hydrogen=missing - monoxide,
        oxygen=needed * max(excess_air_ratio - 1, 0.0),
        nitrogen=NITROGEN_SHARE * air,
        argon=ARGON_SHARE * air,
    )


def burned_gas(fuel: Fuel, excess_air_ratio: float, humidity_ratio: float) -> IdealGas:
    """Burned gas of a fuel, of fixed composition.

    Parameters
    ----------
    fuel : Fuel
        Its atoms.
    excess_air_ratio : float
        Air-fuel ratio over the stoichiometric one. [-]
    humidity_ratio : float
        Mass of water vapour that goes with one mass of dry air. [kg/kg]

    Returns
    -------
    IdealGas
        Per kilogram of burned gas.

    Raises
    ------
    ValueError
        If the excess air ratio is below 0.5.

    Notes
    -----
    No dissociation: see `burned_amounts`.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 4.9.
    """
    return mixed_by_mole(_BURNED_SPECIES, burned_amounts(fuel, excess_air_ratio, humidity_ratio))


def released_heat_share(fuel: Fuel, excess_air_ratio: float) -> float:
    """Share of the fuel's heat that its combustion sets free; rich gas keeps the rest as carbon monoxide and hydrogen.

    Parameters
    ----------
    fuel : Fuel
        Its atoms and its lower heating value.
    excess_air_ratio : float
        Air-fuel ratio over the stoichiometric one. [-]

    Returns
    -------
    float
        1 when lean. [-]

    Raises
    ------
    ValueError
        If the excess air ratio is below 0.5.

    References
    ----------
    .. [1] J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, section 4.9.4.
    """
    burned = burned_amounts(fuel, excess_air_ratio, 0.0)
    kept = burned.carbon_monoxide * _molar_heat(CARBON_MONOXIDE) + burned.hydrogen * _molar_heat(HYDROGEN)
    return 1 - kept / (fuel.lower_heating_value * fuel.molar_mass)


def _carbon_monoxide(carbon: float, water: float, missing: float) -> float:
    """Root of x (water - missing + x) = K (carbon - x)(missing - x), written so that it is exact at `missing` = 0."""
    K = WATER_GAS_CONSTANT
    b = water - missing + K * (carbon + missing)
    return 2 * K * carbon * missing / (b + math.sqrt(b * b + 4 * (1 - K) * K * carbon * missing))


def _molar_heat(species: Species) -> float:
    return gas_heating_value(species) * species.molar_mass


def _refuse_soot(excess_air_ratio: float) -> None:
    if not excess_air_ratio >= RICHEST:
        raise ValueError(
            f"excess air ratio {excess_air_ratio:g} is below {RICHEST:g}, where soot forms: "
            "is it the fuel-air equivalence ratio, or an air-fuel ratio?"
        )

"""From an engine and its conditions to the blocks that the cycle kernels work on."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.engine import CycleConditions, Engine, Values
from boostwright.physics.charge_cooling import evaporative_cooling
from boostwright.physics.combustion import burn_progress, burned_fraction
from boostwright.physics.crank import cylinder_volume, mean_piston_speed
from boostwright.physics.fuels import gas_heating_value
from boostwright.physics.gases import DRY_AIR, IdealGas, species_gas
from boostwright.physics.knock import autoignition_delay
from boostwright.physics.species import (
    ARGON,
    CARBON_DIOXIDE,
    CARBON_MONOXIDE,
    HYDROGEN,
    NITROGEN,
    OXYGEN,
    WATER,
)
from boostwright.physics.wall_heat import (
    CLOSED_VELOCITY_FACTOR,
    COMBUSTION_VELOCITY_FACTOR,
    GAS_EXCHANGE_VELOCITY_FACTOR,
    wall_heat_transfer_coefficient,
)
from boostwright.physics.working_gas import burned_amounts

Floats = NDArray[np.float64]

REFERENCE_TEMPERATURE = 298.15  # K, where sensible enthalpies are zero
START_EXHAUST_TEMPERATURE = 1150.0  # K
START_HEATING = 30.0  # K, of the charge between port and intake closing

_BURNED = (CARBON_DIOXIDE, WATER, CARBON_MONOXIDE, HYDROGEN, OXYGEN, NITROGEN, ARGON)  # as in `BurnedAmounts`
_BURNABLE = (CARBON_MONOXIDE, HYDROGEN)


@dataclass(frozen=True, kw_only=True)
class GasColumn:
    """One gas a case: gas constant, and internal energy as polynomials below and above 1000 K, shape (2, 6, cases)."""

    gas_constant: Floats
    terms: Floats

    def enthalpy(self, temperature: Floats) -> Floats:
        """Sensible enthalpy below 1000 K. [J/kg]"""
        T, c = temperature, self.terms[0]
        energy = c[0] + T * (c[1] + T * (c[2] + T * (c[3] + T * (c[4] + T * c[5]))))
        return energy + self.gas_constant * T

    def heat_capacity(self, temperature: Floats) -> Floats:
        """Heat capacity at constant pressure below 1000 K. [J/kg/K]"""
        T, c = temperature, self.terms[0]
        slope = c[1] + T * (2 * c[2] + T * (3 * c[3] + T * (4 * c[4] + T * 5 * c[5])))
        return slope + self.gas_constant


@dataclass(frozen=True, kw_only=True)
class Charges:
    """The charge of every case: its gases, its fuel, and the heat that burning sets free per mass of it."""

    air: GasColumn
    fresh: GasColumn  # all fuel evaporated
    burned: GasColumn
    fuel_share: Floats
    heat_of_burning: Floats


def charges_of(conditions: CycleConditions) -> Charges:
    """Charges of conditions whose fields are arrays, mixed as `boostwright.physics.working_gas` mixes single ones.

    What the oxygen cannot burn stays bound in the burned gas.
    """
    fuel, humidity = conditions.fuel, np.asarray(conditions.humidity_ratio)
    excess = np.asarray(conditions.excess_air_ratio)
    share = 1 / (1 + excess * fuel.stoichiometric_air_fuel_ratio * (1 + humidity))
    vapour, dry_air, steam = _rows([fuel.vapour]), _rows([DRY_AIR]), _rows([species_gas(WATER)])
    air = (dry_air + humidity * steam) / (1 + humidity)
    pairs, pair = np.unique(np.stack([excess, humidity]), axis=1, return_inverse=True)
    burned = np.array([burned_amounts(fuel, ratio, moisture) for ratio, moisture in pairs.T.tolist()])
    amounts = burned[pair.ravel()].T
    masses = amounts * _molar_masses()[:, None]
    unburned_heat = _molar_heats() @ amounts / (fuel.lower_heating_value * fuel.molar_mass)
    return Charges(
        air=_column(air),
        fresh=_column(share * vapour + (1 - share) * air),
        burned=_column(_burned_rows() @ (masses / masses.sum(axis=0))),
        fuel_share=share,
        heat_of_burning=share * (1 - unburned_heat) * (fuel.lower_heating_value + fuel.latent_heat),
    )


def _rows(gases: Sequence[IdealGas]) -> Floats:
    """Polynomials and gas constants of gases, which mix by mass: shape (15, gases)."""
    return np.array([[*gas.cold_polynomial, *gas.hot_polynomial, gas.specific_gas_constant] for gas in gases]).T


@cache
def _burned_rows() -> Floats:
    return _rows([species_gas(species) for species in _BURNED])


@cache
def _molar_masses() -> Floats:
    return np.array([species.molar_mass for species in _BURNED])


@cache
def _molar_heats() -> Floats:
    """Heats of combustion of the species of burned gas, zero but for carbon monoxide and hydrogen. [J/mol]"""
    return np.array([gas_heating_value(s) * s.molar_mass if s in _BURNABLE else 0.0 for s in _BURNED])


def _column(rows: Floats) -> GasColumn:
    """Polynomials of the internal energy from those of the enthalpy, counted from 298.15 K."""
    polynomials, R, T = rows[:14].reshape(2, 7, -1), rows[14], REFERENCE_TEMPERATURE
    terms = np.empty((2, at.TERMS, R.size))
    for power in range(1, at.TERMS):
        terms[:, power] = polynomials[:, power - 1] / power
    zero = sum(terms[0, power] * T**power for power in range(1, at.TERMS))
    terms[:, 0] = polynomials[:, 5] - polynomials[0, 5] - zero
    terms[:, 1] -= R
    return GasColumn(gas_constant=R, terms=terms)


def _fill(blocks: Floats, row: int, values: Values) -> None:
    """Write one row of every block; the lanes left over repeat the last cycle."""
    column = np.asarray(values, dtype=float)
    case = np.minimum(np.arange(blocks.shape[0] * at.LANES), column.size - 1)
    blocks[:, row : row + at.LANES] = column[case].reshape(-1, at.LANES)


def cycle_blocks(engine: Engine, conditions: CycleConditions, charges: Charges) -> Floats:
    """Blocks with every input of cycles whose fields are all arrays of one length."""
    cases = np.asarray(engine.compression_ratio).size
    blocks = np.zeros((-(-cases // at.LANES), at.BLOCK_SIZE))
    _fill_cylinder(blocks, engine)
    _fill_events(blocks, engine, conditions)
    _fill_walls(blocks, engine, conditions)
    _fill_valves(blocks, engine, conditions)
    _fill_gases(blocks, engine, charges)
    _fill_supply(blocks, engine, conditions, charges)
    _fill_start(blocks, engine, conditions, charges)
    return blocks


def _fill_cylinder(blocks: Floats, engine: Engine) -> None:
    area = math.pi / 4 * engine.bore**2
    clearance = engine.swept_volume / (np.asarray(engine.compression_ratio) - 1)
    _fill(blocks, at.PISTON_AREA, area)
    _fill(blocks, at.CRANK_RADIUS, engine.stroke / 2)
    _fill(blocks, at.ROD_LENGTH, engine.rod_ratio * engine.stroke)
    _fill(blocks, at.CLEARANCE_VOLUME, clearance)


def _fill_events(blocks: Floats, engine: Engine, conditions: CycleConditions) -> None:
    """Angles of the events, in order, and the burn curve between two of them."""
    a, m = np.asarray(engine.burn_completeness), np.asarray(engine.burn_form_factor)
    whole = burned_fraction(1.0, a, m)
    z10, z50, z90 = (burn_progress(share * whole, a, m) for share in (0.1, 0.5, 0.9))
    duration = engine.burn_duration / (z90 - z10)
    start = engine.burn_centre + np.asarray(conditions.spark_retard) - z50 * duration
    shut = np.asarray(engine.intake_closing) - 4 * math.pi
    opening, first = np.asarray(engine.exhaust_opening), np.minimum(engine.intake_opening, engine.exhaust_closing)
    _refuse_burn(start, shut, opening)
    bottom = np.full_like(start, math.pi)
    events = (
        shut,
        start,
        np.minimum(start + duration, opening),
        opening,
        bottom,
        first,
        np.maximum(engine.intake_opening, engine.exhaust_closing),
        3 * bottom,
        np.asarray(engine.intake_closing),
    )
    for number, angle in enumerate(events):
        _fill(blocks, at.EVENTS + number * at.LANES, angle)
    _fill(blocks, at.PER_BURN_DURATION, 1 / duration)
    _fill(blocks, at.BURN_COMPLETENESS, a)
    _fill(blocks, at.BURN_EXPONENT, m + 1)
    _fill(blocks, at.BURN_SCALE, 1 / whole)


def _refuse_burn(start: Floats, shut: Floats, opening: Floats) -> None:
    for wrong, what in (
        (start <= shut, "before the intake valve has shut"),
        (start >= opening, "after exhaust opening"),
    ):
        if np.any(wrong):
            angle = math.degrees(start[np.argmax(wrong)])
            raise ValueError(
                f"the burn begins {angle:.0f} degrees after top dead centre, {what}: "
                "check burn_centre, burn_duration and spark_retard, which are in radians"
            )


def _fill_walls(blocks: Floats, engine: Engine, conditions: CycleConditions) -> None:
    speed, bore = np.asarray(conditions.engine_speed), engine.bore
    area, Sp = math.pi / 4 * bore**2, mean_piston_speed(engine.stroke, speed)
    coefficient = engine.wall_heat_factor * wall_heat_transfer_coefficient(1.0, 1.0, 1.0, bore)
    _fill(blocks, at.HEAT_FACTOR, coefficient / (2 * math.pi * speed))
    _fill(blocks, at.FIXED_WALL_AREA, 2 * area)
    _fill(blocks, at.FIXED_WALL_HEAT, area * np.add(engine.piston_temperature, engine.head_temperature))
    _fill(blocks, at.LINER_AREA_PER_VOLUME, 4 / bore)
    _fill(blocks, at.LINER_TEMPERATURE, np.asarray(engine.liner_temperature))
    _fill(blocks, at.EXCHANGE_VELOCITY, GAS_EXCHANGE_VELOCITY_FACTOR * Sp)
    _fill(blocks, at.CLOSED_VELOCITY, CLOSED_VELOCITY_FACTOR * Sp)
    _fill(blocks, at.COMBUSTION_VELOCITY_VOLUME, COMBUSTION_VELOCITY_FACTOR * engine.swept_volume)
    unit_delay = autoignition_delay(1.0, math.inf, conditions.octane_number)  # s, at 1 Pa
    _fill(blocks, at.KNOCK_RATE_FACTOR, 1 / (unit_delay * 2 * math.pi * speed))


def _fill_valves(blocks: Floats, engine: Engine, conditions: CycleConditions) -> None:
    turn = 2 * math.pi * np.asarray(conditions.engine_speed)
    for port, kind, pressure in (
        (at.INTAKE, "intake", conditions.manifold_pressure),
        (at.EXHAUST, "exhaust", conditions.exhaust_pressure),
    ):
        diameter, lift = getattr(engine, f"{kind}_valve_diameter"), getattr(engine, f"{kind}_valve_lift")
        flow = getattr(engine, f"{kind}_valve_count") * getattr(engine, f"{kind}_discharge_coefficient")
        _fill(blocks, port + at.PRESSURE, np.asarray(pressure))
        opening, closing = getattr(engine, f"{kind}_opening"), getattr(engine, f"{kind}_closing")
        _fill(blocks, port + at.LIFT_CENTRE, (opening + closing) / 2)
        _fill(blocks, port + at.LIFT_SHARPNESS, 2 / (closing - opening))
        _fill(blocks, port + at.CURTAIN_PEAK, math.pi * diameter * lift)
        _fill(blocks, port + at.THROAT, math.pi / 4 * diameter**2 * engine.valve_throat_ratio)
        _fill(blocks, port + at.DISCHARGE, flow / turn)


def _fill_gases(blocks: Floats, engine: Engine, charges: Charges) -> None:
    fresh, burned = charges.fresh, charges.burned
    _fill(blocks, at.FRESH_GAS_CONSTANT, fresh.gas_constant)
    _fill(blocks, at.BURNED_GAS_CONSTANT, burned.gas_constant)
    _fill(blocks, at.HEAT_OF_BURNING, charges.heat_of_burning * engine.combustion_efficiency)
    for term in range(at.TERMS):
        _fill(blocks, at.FRESH_COLD + term * at.LANES, fresh.terms[0, term])
        _fill(blocks, at.FRESH_STEP + term * at.LANES, fresh.terms[1, term] - fresh.terms[0, term])
        _fill(blocks, at.BURNED_COLD + term * at.LANES, burned.terms[0, term])
        _fill(blocks, at.BURNED_STEP + term * at.LANES, burned.terms[1, term] - burned.terms[0, term])


def _fill_supply(blocks: Floats, engine: Engine, conditions: CycleConditions, charges: Charges) -> None:
    """The gas ahead of the intake valve: charge cooled by what has evaporated in it.

    Fuel still liquid takes no room but passes with the gas. The supply's gas constant counts that in: the mass flow of
    gas and liquid together is that of a gas with this constant.
    """
    fuel, ratio = conditions.fuel, charges.fuel_share / (1 - charges.fuel_share)  # per mass of moist air
    vapour = np.asarray(conditions.evaporated_share) * ratio
    T3 = np.asarray(conditions.charge_temperature)
    cp = charges.air.heat_capacity(T3) + vapour * fuel.vapour.heat_capacity(T3)
    T = T3 - evaporative_cooling(conditions.evaporated_share, fuel.latent_heat, 1 / ratio, cp)
    R = charges.air.gas_constant + vapour * fuel.vapour.specific_gas_constant  # per mass of moist air
    supplied = R * (1 + vapour) / (1 + ratio) ** 2
    fresh, burned = charges.fresh.enthalpy(T), charges.burned.enthalpy(T)
    density = np.asarray(conditions.manifold_pressure) / (charges.fresh.gas_constant * T)
    for row, values in (
        (at.SUPPLY_TEMPERATURE, T),
        (at.SUPPLY_ENTHALPY, fresh),
        (at.BURNED_ENTHALPY_STEP, burned - fresh),
        (at.PER_HEAT_CAPACITY, (1 + vapour) / cp),
        (at.SUPPLY_HEAT_CAPACITY_RATIO, cp / (cp - R)),
        (at.SUPPLY_GAS_CONSTANT, supplied),
        (at.GAS_CONSTANT_STEP, charges.burned.gas_constant - supplied),
        (at.INVERSE_PORT_MASS, 1 / (density * engine.intake_port_volume)),
    ):
        _fill(blocks, at.INTAKE + row, values)


def _fill_start(blocks: Floats, engine: Engine, conditions: CycleConditions, charges: Charges) -> None:
    """A first guess of the state at intake closing and of the exhaust gas."""
    T = np.asarray(conditions.charge_temperature) + START_HEATING
    V = cylinder_volume(
        engine.intake_closing, engine.bore, engine.stroke, engine.rod_ratio * engine.stroke, engine.compression_ratio
    )
    mass = conditions.manifold_pressure * V / (charges.fresh.gas_constant * T)
    left = conditions.exhaust_pressure * engine.swept_volume / (np.asarray(engine.compression_ratio) - 1)
    residual = left / (charges.burned.gas_constant * START_EXHAUST_TEMPERATURE) / mass
    for row, values in (
        (at.MASS, mass),
        (at.REFERENCE_MASS, mass),
        (at.BURNED, np.minimum(residual, 0.5) * mass),
        (at.TEMPERATURE, T),
        (at.EXHAUST + at.SUPPLY_TEMPERATURE, np.full_like(T, START_EXHAUST_TEMPERATURE)),
    ):
        _fill(blocks, row, values)

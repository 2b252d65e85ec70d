"""The two tables of the match: what a point needs, and what a matched point is. One row a point, one column a number.

All columns are float64 and have names: `points["leakage_area"]`. Any of them may differ from row to row, so that a
gradient, a set of draws or a slider is just more rows; `points.view(np.float64).reshape(points.size, -1)` is the same
table without its names. The words and units are those of the nomenclature.
"""

from enum import IntEnum
from typing import Protocol

import numpy as np


class MatchOutcome(IntEnum):
    """How the search for an operating point ended: up to `LAST_MATCHED` with one, and what is special about it."""

    MATCHED = 0
    THROTTLE_CHOKED = 1  # the throttle is sonic: more blower speed brings no more air
    INLET_CHOKED = 2  # the inlet casting carries more than its area passes: its law no longer holds
    ABOVE_CAP = 3  # above the cap of the manifold pressure with the bypass wide open, or without one
    REVERSE_FLOW = 4  # the engine draws past the blower: the bypass flows forward
    BYPASS_NEEDED = 5  # none: the blower delivers more than the engine swallows, however high the pressure
    NO_BALANCE = 6  # none: out of steps, or a finer model and its closed form did not settle


LAST_MATCHED = MatchOutcome.REVERSE_FLOW


class MatchPoint(Protocol):
    """One point to be matched: everything that the chain needs, in SI units (see the nomenclature for each word)."""

    engine_speed: float
    ambient_pressure: float
    air_temperature: float
    humidity_ratio: float

    drive_ratio: float
    belt_slip: float
    belt_efficiency: float

    throttle_area: float
    inlet_area: float
    inlet_heating: float
    upstream_evaporation: float

    blower_displacement: float
    internal_step: float
    internal_volume_ratio: float
    speed_limit: float
    filling_loss: float
    leakage_area: float
    gas_work_factor: float
    mechanical_power_at_limit: float
    heat_loss_share: float
    mechanical_heat_share: float
    delivery_factor: float
    added_outlet_temperature: float
    added_shaft_power: float

    bypass_area: float
    bypass_opening: float
    manifold_pressure_cap: float

    cooler_transfer_units: float
    cooler_reference_flow: float
    cooler_transfer_exponent: float
    cooler_area: float
    coolant_temperature: float

    excess_air_ratio: float
    stoichiometric_air_fuel_ratio: float
    lower_heating_value: float
    latent_heat: float
    fuel_molar_mass: float
    octane_number: float
    evaporated_share: float

    engine_displacement: float
    compression_ratio: float
    stroke: float
    engine_volumetric_efficiency: float
    intake_temperature_exponent: float
    exhaust_area: float
    exhaust_temperature: float
    indicated_efficiency_factor: float
    efficiency_temperature_slope: float
    friction_factor: float
    peak_pressure_factor: float
    knock_factor: float
    knock_index_limit: float
    spark_retard: float


class MatchState(Protocol):
    """What a matched point is: the state at every station, the flows, the powers, and how the search ended."""

    specific_gas_constant: float
    filled_volume_flow: float
    throttle_coordinate: float
    throttle_outlet_pressure: float
    blower_inlet_pressure: float
    blower_inlet_temperature: float
    blower_outlet_pressure: float
    blower_outlet_temperature: float
    manifold_pressure: float
    charge_temperature: float
    port_temperature: float
    exhaust_pressure: float

    air_mass_flow: float
    blower_mass_flow: float
    leakage_flow: float
    bypass_flow: float
    bypass_opening: float
    fuel_mass_flow: float

    rotor_speed: float
    blower_volumetric_efficiency: float
    cooler_effectiveness: float
    gas_power: float
    mechanical_power: float
    shaft_power: float
    blower_drive_power: float
    indicated_power: float
    pumping_power: float
    friction_power: float
    brake_power: float
    torque: float

    peak_cylinder_pressure: float
    knock_index: float
    spark_retard: float
    residual_share: float

    flow_residual: float
    within_range: float
    outcome: float


MATCH_POINT = np.dtype([(name, np.float64) for name in MatchPoint.__annotations__])
MATCH_STATE = np.dtype([(name, np.float64) for name in MatchState.__annotations__])

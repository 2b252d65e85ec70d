"""The operating point where blower and engine agree: one compiled, bracketed solution per point of a flat table.

The chain, from the air filter to the crank: throttle (compressible, may choke), inlet casting (loss on mean density),
blower, cooler, bypass from the plenum back to the blower inlet, engine demand, exhaust, power. Two unknowns are found
by nested secants that never leave a bracket: inside, the throttle coordinate s = sqrt(1 - p/p0), in which the flow of a
restriction is nearly straight; outside, the blower outlet pressure, in which both flows are nearly straight.
"""

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.blower import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    slip_law_delivery,
    slip_law_mass_flow,
)
from boostwright.machine.match_table import MatchPoint, MatchState
from boostwright.physics.compiled import compiled
from boostwright.physics.restriction import restriction_flow_kernel

AIR_HEAT_CAPACITY = DRY_AIR_GAS_CONSTANT * DRY_AIR_HEAT_CAPACITY_RATIO / (DRY_AIR_HEAT_CAPACITY_RATIO - 1.0)
VAPOUR_GAS_CONSTANT = 461.5  # J/kg/K, water
LIQUID_FUEL_HEAT_CAPACITY = 2200.0  # J/kg/K, from memory, of petrols and alcohols alike
AIR_MOLAR_MASS = 28.97e-3  # kg/mol
REFERENCE_PORT_TEMPERATURE = 320.0  # K, at which an engine's volumetric efficiency is stated
REFERENCE_CHARGE_TEMPERATURE = 330.0  # K, at which its indicated efficiency is stated
ATMOSPHERE = 101325.0

TOLERANCE = 1e-9  # of the engine's air flow, between blower and engine
INNER_TOLERANCE = 1e-11  # of the blower's displaced flow, between throttle and blower
STEPS = 80
LEAST_PRESSURE_SHARE = 0.02  # of the pressure ahead of it: what a loss coefficient can leave, where it no longer holds


@compiled
def _next_trial(x0: float, f0: float, x1: float, f1: float, low: float, high: float) -> float:
    """The secant's next trial, or the middle of the bracket where the secant leaves it or is not a number."""
    x = x1 - f1 * (x1 - x0) / (f1 - f0)
    return x if low < x < high else 0.5 * (low + high)


@compiled
def _moist_gas_constant(humidity_ratio: float) -> float:
    """Gas constant of air that carries `humidity_ratio` of water vapour per mass of dry air."""
    W = humidity_ratio
    return (DRY_AIR_GAS_CONSTANT + W * VAPOUR_GAS_CONSTANT) / (1.0 + W)


@compiled
def _pressure_behind_loss(
    inlet_pressure: float, temperature: float, mass_flow: float, effective_area: float, specific_gas_constant: float
) -> float:
    """Pressure behind a loss of one dynamic head in `effective_area`, taken at the mean density of both ends.

    p2 = sqrt(p1^2 - m|m| R T/A^2), which is p1 - p2 = m^2/(2 rho A^2) with rho at (p1 + p2)/2.
    """
    p1 = inlet_pressure
    squared = p1 * p1 - mass_flow * abs(mass_flow) * specific_gas_constant * temperature / effective_area**2
    least = LEAST_PRESSURE_SHARE * p1
    return math.sqrt(squared) if squared > least * least else least


@compiled
def _fuel_air_ratio(point: MatchPoint) -> float:
    """Mass of fuel per mass of moist air."""
    return 1.0 / (point.excess_air_ratio * point.stoichiometric_air_fuel_ratio * (1.0 + point.humidity_ratio))


@compiled
def _point_rotor_speed(point: MatchPoint) -> float:
    """Turns per second of the blower's driving rotor."""
    return point.drive_ratio * point.internal_step * point.engine_speed * (1.0 - point.belt_slip)


@compiled
def _fresh_temperature(point: MatchPoint) -> float:
    """Temperature at the rotors of air that has come through the inlet only: warmed by metal, cooled by fuel."""
    cooling = point.upstream_evaporation * point.latent_heat * _fuel_air_ratio(point) / AIR_HEAT_CAPACITY
    return point.air_temperature + point.inlet_heating - cooling


@compiled
def _throttle_outlet(point: MatchPoint, s: float) -> tuple[float, float]:
    """Pressure behind the throttle and mass flow through it at s = sqrt(1 - p/p0); below zero the flow is reversed."""
    p0, T0 = point.ambient_pressure, point.air_temperature
    p = p0 * (1.0 - s * s) if s >= 0.0 else p0 / (1.0 - s * s)
    R = _moist_gas_constant(point.humidity_ratio)
    return p, restriction_flow_kernel(p0, T0, p, T0, point.throttle_area, DRY_AIR_HEAT_CAPACITY_RATIO, R)


@compiled
def _inlet_pressure_at(point: MatchPoint, s: float) -> tuple[float, float, float]:
    """Pressure behind the throttle, pressure at the rotors, and the mass flow that both carry."""
    p, m = _throttle_outlet(point, s)
    R = _moist_gas_constant(point.humidity_ratio)
    return p, _pressure_behind_loss(p, point.air_temperature, m, point.inlet_area, R), m


@compiled
def _point_blower_flow(point: MatchPoint, p1: float, T1: float, p2: float) -> float:
    """Mass flow of the slip-law blower of this point."""
    return slip_law_mass_flow(
        p1,
        T1,
        p2,
        _point_rotor_speed(point),
        _moist_gas_constant(point.humidity_ratio),
        point.blower_displacement / point.internal_step,
        point.speed_limit,
        point.filling_loss,
        point.leakage_area,
        point.delivery_factor,
    )


@compiled
def _bypass_flow_at(point: MatchPoint, state: MatchState, opening: float, p1: float, p3: float) -> float:
    """Mass flow from the plenum back to the blower inlet."""
    R = _moist_gas_constant(point.humidity_ratio)
    area = opening * point.bypass_area
    T1, T3 = state.blower_inlet_temperature, state.charge_temperature
    return restriction_flow_kernel(p3, T3, p1, T1, area, DRY_AIR_HEAT_CAPACITY_RATIO, R) if area > 0.0 else 0.0


@compiled
def _balance_inlet(point: MatchPoint, state: MatchState, p2: float, opening: float, start: float) -> float:
    """The throttle coordinate at which inlet and bypass together feed the blower against the outlet pressure `p2`."""
    T1, p3 = state.blower_inlet_temperature, state.manifold_pressure
    R = _moist_gas_constant(point.humidity_ratio)
    displaced = point.ambient_pressure / (R * T1) * point.blower_displacement * _point_rotor_speed(point)
    low, high = -0.999, 0.99
    s, before, excess_before = start, 0.0, 0.0
    for step in range(STEPS):
        _, p1, m = _inlet_pressure_at(point, s)
        excess = m + _bypass_flow_at(point, state, opening, p1, p3) - _point_blower_flow(point, p1, T1, p2)
        if abs(excess) <= INNER_TOLERANCE * displaced:
            break
        if excess > 0.0:
            high = s
        else:
            low = s
        trial = (
            _next_trial(before, excess_before, s, excess, low, high) if step > 0 else s - excess / displaced * 0.5 * s
        )
        before, excess_before = s, excess
        s = trial if low < trial < high else 0.5 * (low + high)
    return s


@compiled
def _deliver(point: MatchPoint, state: MatchState, p2: float, s: float) -> None:
    """Write the inlet and the blower's delivery at this throttle coordinate and outlet pressure."""
    p, p1, m = _inlet_pressure_at(point, s)
    parts = slip_law_delivery(
        p1,
        state.blower_inlet_temperature,
        p2,
        _point_rotor_speed(point),
        _moist_gas_constant(point.humidity_ratio),
        DRY_AIR_HEAT_CAPACITY_RATIO,
        point.blower_displacement / point.internal_step,
        point.internal_volume_ratio,
        point.speed_limit,
        point.filling_loss,
        point.leakage_area,
        point.gas_work_factor,
        point.mechanical_power_at_limit,
        point.heat_loss_share,
        point.mechanical_heat_share,
        point.delivery_factor,
    )
    state.throttle_outlet_pressure = p
    state.blower_inlet_pressure = p1
    state.blower_outlet_pressure = p2
    state.air_mass_flow = m
    state.blower_mass_flow = parts.mass_flow
    state.blower_outlet_temperature = parts.outlet_temperature
    state.shaft_power = parts.shaft_power
    state.leakage_flow = parts.leakage_flow
    state.gas_power = parts.gas_power
    state.mechanical_power = parts.mechanical_power
    state.blower_volumetric_efficiency = parts.blower_volumetric_efficiency
    state.within_range = parts.within_range
    state.bypass_flow = parts.mass_flow - m


@compiled
def _cool(point: MatchPoint, state: MatchState) -> None:
    """Write the charge behind the cooler."""
    R, m, p2 = _moist_gas_constant(point.humidity_ratio), state.blower_mass_flow, state.blower_outlet_pressure
    share = m / point.cooler_reference_flow
    share = share if share > 1e-6 else 1e-6
    effectiveness = 1.0 - math.exp(-point.cooler_transfer_units * share**-point.cooler_transfer_exponent)
    T2 = state.blower_outlet_temperature
    T3 = T2 - effectiveness * (T2 - point.coolant_temperature)
    state.cooler_effectiveness = effectiveness
    state.charge_temperature = T3
    state.manifold_pressure = _pressure_behind_loss(p2, 0.5 * (T2 + T3), m, point.cooler_area, R)


@compiled
def _engine_demand(point: MatchPoint, state: MatchState) -> float:
    """Air that the engine swallows from the plenum; writes the states at its ports."""
    f = _fuel_air_ratio(point)
    p3, T3, m = state.manifold_pressure, state.charge_temperature, state.air_mass_flow
    back = m * (1.0 + f)
    R = _moist_gas_constant(point.humidity_ratio)
    p_e = math.sqrt(
        point.ambient_pressure**2
        + back * back * DRY_AIR_GAS_CONSTANT * point.exhaust_temperature / point.exhaust_area**2
    )
    T_p = T3 - point.evaporated_share * point.latent_heat * f / (AIR_HEAT_CAPACITY + LIQUID_FUEL_HEAT_CAPACITY * f)
    vapour = point.evaporated_share * f * AIR_MOLAR_MASS / point.fuel_molar_mass
    CR = point.compression_ratio
    scavenged = (CR - (p_e / p3) ** (1.0 / 1.3)) / (CR - 1.0)  # what re-expanding residual gas leaves of the stroke
    warmth = (T_p / REFERENCE_PORT_TEMPERATURE) ** point.intake_temperature_exponent
    state.exhaust_pressure = p_e
    state.port_temperature = T_p
    swept = point.engine_displacement * 0.5 * point.engine_speed
    return point.engine_volumetric_efficiency * scavenged * warmth * p3 * swept / (R * T_p * (1.0 + vapour))


@compiled
def _balance_engine(point: MatchPoint, state: MatchState, opening: float) -> bool:
    """Find the outlet pressure at which the engine swallows what the inlet feeds; True when both agree."""
    p0 = point.ambient_pressure
    low, high = 0.02 * p0, 15.0 * p0
    displacement_ratio = 2.0 * point.blower_displacement * point.drive_ratio / (point.engine_displacement * 0.95)
    p2 = state.blower_outlet_pressure if state.blower_outlet_pressure > 0.0 else p0 * displacement_ratio
    p2 = p2 if low < p2 < high else 0.5 * (low + high)
    s = math.sqrt(1.0 - state.throttle_outlet_pressure / p0) if 0.0 < state.throttle_outlet_pressure < p0 else 0.1
    before, excess_before = 0.0, 0.0
    for step in range(STEPS):
        s = _balance_inlet(point, state, p2, opening, s)
        _deliver(point, state, p2, s)
        _cool(point, state)
        demand = _engine_demand(point, state)
        excess = state.air_mass_flow - demand
        state.flow_residual = excess / demand
        if abs(excess) <= TOLERANCE * abs(demand):
            return True
        if excess > 0.0:
            low = p2
        else:
            high = p2
        trial = (
            _next_trial(before, excess_before, p2, excess, low, high) if step > 0 else p2 * state.air_mass_flow / demand
        )
        before, excess_before = p2, excess
        p2 = trial if low < trial < high else 0.5 * (low + high)
    return False


@compiled
def _balance_temperature(point: MatchPoint, state: MatchState, opening: float) -> bool:
    """The same with bypass gas warming the blower inlet: the inlet temperature is found by secants around it."""
    fresh = _fresh_temperature(point)
    state.blower_inlet_temperature = fresh
    state.charge_temperature = fresh
    state.manifold_pressure = point.ambient_pressure
    agreed = _balance_engine(point, state, opening)
    before, excess_before = 0.0, 0.0
    for step in range(STEPS if opening * point.bypass_area > 0.0 else 0):
        at = state.blower_inlet_temperature
        share = state.bypass_flow / state.blower_mass_flow
        excess = share * state.charge_temperature + (1.0 - share) * fresh - at
        if abs(excess) <= TOLERANCE * fresh:
            break
        trial = _next_trial(before, excess_before, at, excess, 0.5 * fresh, 10.0 * fresh) if step > 0 else at + excess
        before, excess_before = at, excess
        state.blower_inlet_temperature = trial
        agreed = _balance_engine(point, state, opening)
    return agreed


@compiled
def _burn(point: MatchPoint, state: MatchState) -> None:
    """Write knock, retard, peak pressure and the powers of a matched point."""
    N, Ve, CR = point.engine_speed, point.engine_displacement, point.compression_ratio
    p3, T3, p_e = state.manifold_pressure, state.charge_temperature, state.exhaust_pressure
    unretarded = point.peak_pressure_factor * p3 * CR**1.32
    ahead = 0.75 * unretarded * (1.0 - 0.012 * math.degrees(point.spark_retard))
    T_u = (state.port_temperature + 25.0) * (ahead / p3) ** 0.235
    knock_index = (
        point.knock_factor
        * (3333.0 / (60.0 * N))
        / 2.92
        * (ahead / (40.0 * ATMOSPHERE)) ** 1.7
        * math.exp(-3800.0 * (1.0 / T_u - 1.0 / 850.0))
        * (point.octane_number / 100.0) ** -3.402
    )
    forced = math.log(knock_index / point.knock_index_limit) / 0.07
    set_by_user = math.degrees(point.spark_retard)
    retard = forced if forced > set_by_user else set_by_user
    p_max = unretarded * (1.0 - 0.012 * retard)
    lam = point.excess_air_ratio
    released = 1.0 + 0.03 * (1.0 - ((lam - 0.87) / 0.13) ** 2) if lam < 1.0 else 1.0 / lam
    heat = (
        state.air_mass_flow
        / (1.0 + point.humidity_ratio)
        * point.lower_heating_value
        / point.stoichiometric_air_fuel_ratio
        * released
    )
    efficiency = (
        point.indicated_efficiency_factor
        * (1.0 - CR**-0.3)
        * (1.0 - 3e-4 * retard * retard)
        * (1.0 - point.efficiency_temperature_slope * (T3 - REFERENCE_CHARGE_TEMPERATURE))
    )
    S_p = 2.0 * point.stroke * N
    fmep = point.friction_factor * 1e5 * (0.4 + 0.005 * p_max / 1e5 + 0.09 * S_p + 0.0009 * S_p * S_p)
    swept = 0.5 * N * Ve
    state.knock_index = knock_index
    state.spark_retard = math.radians(retard)
    state.peak_cylinder_pressure = p_max
    state.fuel_mass_flow = state.air_mass_flow * _fuel_air_ratio(point)
    state.indicated_power = heat * efficiency
    state.pumping_power = 0.75 * (p3 - p_e) * swept
    state.friction_power = fmep * swept
    state.blower_drive_power = state.shaft_power / point.belt_efficiency
    state.brake_power = state.indicated_power + state.pumping_power - state.friction_power - state.blower_drive_power
    state.torque = state.brake_power / (2.0 * math.pi * N)


@compiled
def _cap_boost(point: MatchPoint, state: MatchState) -> bool:
    """Open the bypass until the manifold is at its cap; True when blower and engine agree there."""
    cap = point.manifold_pressure_cap
    low, high = point.bypass_opening, 1.0
    before, excess_before = low, state.manifold_pressure - cap
    opening = high
    agreed = False
    for _ in range(STEPS):
        agreed = _balance_temperature(point, state, opening)
        state.bypass_opening = opening
        excess = state.manifold_pressure - cap
        if abs(excess) <= TOLERANCE * cap or (opening >= 1.0 and excess > 0.0):
            break
        if excess > 0.0:
            low = opening
        else:
            high = opening
        trial = _next_trial(before, excess_before, opening, excess, low, high)
        before, excess_before, opening = opening, excess, trial
    return agreed


@compiled
def match_point(point: MatchPoint, state: MatchState) -> None:
    """Solve one point; always writes the whole state, `outcome` and the flow residual that is left."""
    state.rotor_speed = _point_rotor_speed(point)
    state.blower_outlet_pressure = 0.0
    state.throttle_outlet_pressure = 0.0
    state.bypass_opening = point.bypass_opening
    agreed = _balance_temperature(point, state, point.bypass_opening)
    if agreed and state.manifold_pressure > point.manifold_pressure_cap:
        agreed = _cap_boost(point, state)
    _burn(point, state)
    outcome = 0.0
    if state.throttle_outlet_pressure < 0.528282 * point.ambient_pressure:
        outcome = 1.0
    if state.manifold_pressure > point.manifold_pressure_cap * (1.0 + 1e-6):
        outcome = 2.0
    if not agreed:
        outcome = 3.0 if state.air_mass_flow <= 0.0 else 4.0
    state.outcome = outcome


@compiled
def match_points(points: NDArray[np.void], states: NDArray[np.void]) -> None:
    """Solve every row of `points` (`MATCH_POINT`) into the same row of `states` (`MATCH_STATE`)."""
    for i in range(points.size):
        match_point(points[i], states[i])

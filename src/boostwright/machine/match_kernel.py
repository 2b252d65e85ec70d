"""The operating point where blower and engine agree: one compiled, bracketed solution per row of a table of points.

The chain, from the air filter to the crank: throttle (compressible, may choke), inlet casting (loss on mean density),
blower, cooler, bypass from the plenum back to the blower inlet, engine demand, exhaust, power. Two unknowns are found
by nested secants that never leave a bracket: inside, the throttle coordinate s = sqrt(1 - p/p0), in which the flow of a
restriction is nearly straight; outside, the blower outlet pressure, in which both flows are nearly straight.

The closed forms of the engine (demand, efficiency, mixture, peak pressure, retard) are engineering practice from
memory, without a source; friction has the form of `physics.friction.friction_mep`. Where the crank-angle cycle is used,
it moves their factors until they say what the cycle says.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.blower import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    slip_law_delivery,
    slip_law_displaced_flow,
    slip_law_leakage_flow,
)
from boostwright.machine.match_table import MatchOutcome, MatchPoint, MatchState
from boostwright.physics.compiled import compiled
from boostwright.physics.knock import autoignition_delay_kernel
from boostwright.physics.restriction import restriction_flow_kernel

AIR_HEAT_CAPACITY = DRY_AIR_GAS_CONSTANT * DRY_AIR_HEAT_CAPACITY_RATIO / (DRY_AIR_HEAT_CAPACITY_RATIO - 1.0)
VAPOUR_GAS_CONSTANT = 461.5  # J/kg/K, water
LIQUID_FUEL_HEAT_CAPACITY = 2200.0  # J/kg/K, from memory, of petrols and alcohols alike
AIR_MOLAR_MASS = 28.97e-3  # kg/mol
REFERENCE_PORT_TEMPERATURE = 320.0  # K, at which an engine's volumetric efficiency is stated
REFERENCE_CHARGE_TEMPERATURE = 330.0  # K, at which its indicated efficiency is stated
CHOKED_RATIO, CHOKED_FLOW = 0.528282, 0.684731  # pressure ratio and flow function of a sonic throat
KNOCK_ARC = 20.0 / 360.0  # of a turn: how long the end gas stays near its highest pressure, in the knock index

TOLERANCE = 5e-10  # of the engine's air flow, between blower and engine
CAP_TOLERANCE = 1e-8  # of the cap: what the searches within leave uncertain is smaller
INNER_TOLERANCE = 1e-11  # of the flow that the blower could displace, between inlet and blower
STEPS = 100
NARROWEST = 1e-15  # a bracket narrower than this, relative to its end, holds no further number
LOWEST_OUTLET, HIGHEST_OUTLET = 0.02, 20.0  # of the ambient pressure: the bracket of the blower outlet
REVERSED, NEARLY_SHUT = -0.99, 1.0 - 1e-6  # the bracket of the throttle coordinate
EDGE = 1e-3  # how near to the end of a bracket is at its end
LEAST_PRESSURE_SHARE = 0.02  # of the pressure ahead: what a loss may leave, where its law no longer holds


class Plenum(NamedTuple):
    """Temperatures of what the bypass takes, as they were last found: mean in the cooler, and behind it."""

    cooler_temperature: float
    charge_temperature: float


@compiled
def match_points(points: NDArray[np.void], states: NDArray[np.void]) -> None:
    """Solve every row of `points` (`MATCH_POINT`) into the same row of `states` (`MATCH_STATE`)."""
    for i in range(points.size):
        match_point(points[i], states[i])


@compiled
def match_point(point: MatchPoint, state: MatchState) -> None:
    """Solve one point; it always writes the whole state, the flow residual that is left, and the outcome."""
    _start(point, state)
    agreed = _balance_temperature(point, state, point.bypass_opening)
    if agreed and state.manifold_pressure > point.manifold_pressure_cap:
        agreed = _cap_pressure(point, state)
    _burn(point, state)
    state.outcome = _success(point, state) if agreed else _failure(point, state)


@compiled
def _success(point: MatchPoint, state: MatchState) -> float:
    """What is special about a point that was found."""
    p, T0, R = state.throttle_outlet_pressure, point.air_temperature, state.specific_gas_constant
    if state.bypass_flow < -TOLERANCE * state.air_mass_flow:
        return MatchOutcome.REVERSE_FLOW.value
    if state.manifold_pressure > point.manifold_pressure_cap * (1.0 + 2.0 * CAP_TOLERANCE):
        return MatchOutcome.ABOVE_CAP.value
    if p < CHOKED_RATIO * point.ambient_pressure:
        return MatchOutcome.THROTTLE_CHOKED.value
    if state.air_mass_flow * math.sqrt(R * T0) > CHOKED_FLOW * point.inlet_area * p:
        return MatchOutcome.INLET_CHOKED.value
    return MatchOutcome.MATCHED.value


@compiled
def _failure(point: MatchPoint, state: MatchState) -> float:
    """What was at the end of its range when the search gave up."""
    if state.blower_outlet_pressure > (HIGHEST_OUTLET - EDGE) * point.ambient_pressure:
        return MatchOutcome.BYPASS_NEEDED.value
    return MatchOutcome.NO_BALANCE.value


@compiled
def _next_trial(x0: float, f0: float, x1: float, f1: float, low: float, high: float) -> float:
    """The secant's next trial, or the middle of the bracket where the secant leaves it or is not a number."""
    return _inside(x1 - f1 * (x1 - x0) / (f1 - f0), low, high)


@compiled
def _inside(trial: float, low: float, high: float) -> float:
    return trial if low < trial < high else 0.5 * (low + high)


@compiled
def _gas_constant(point: MatchPoint) -> float:
    W = point.humidity_ratio
    return (DRY_AIR_GAS_CONSTANT + W * VAPOUR_GAS_CONSTANT) / (1.0 + W)


@compiled
def _fuel_air_ratio(point: MatchPoint) -> float:
    """Mass of fuel per mass of moist air."""
    return 1.0 / (point.excess_air_ratio * point.stoichiometric_air_fuel_ratio * (1.0 + point.humidity_ratio))


@compiled
def _rotor_speed(point: MatchPoint) -> float:
    return point.drive_ratio * point.internal_step * point.engine_speed * (1.0 - point.belt_slip)


@compiled
def _fresh_temperature(point: MatchPoint) -> float:
    """Temperature at the rotors of air that has come through the inlet only: warmed by metal, cooled by fuel."""
    cooling = point.upstream_evaporation * point.latent_heat * _fuel_air_ratio(point) / AIR_HEAT_CAPACITY
    return point.air_temperature + point.inlet_heating - cooling


@compiled
def _swept_flow(point: MatchPoint) -> float:
    """Volume per second that the pistons of a four-stroke engine sweep on their inlet strokes."""
    return 0.5 * point.engine_speed * point.engine_displacement


@compiled
def _displaced_flow(point: MatchPoint) -> float:
    """Mass flow that the rotors would carry at ambient pressure if they filled and nothing leaked."""
    density = point.ambient_pressure / (_gas_constant(point) * point.air_temperature)
    return density * point.blower_displacement / point.internal_step * _rotor_speed(point)


@compiled
def _start(point: MatchPoint, state: MatchState) -> None:
    """A first guess: the displacement ratio, and no more in the inlet than displacement asks for."""
    T1, p0 = _fresh_temperature(point), point.ambient_pressure
    ratio = point.blower_displacement / point.internal_step * _rotor_speed(point) / _swept_flow(point)
    state.specific_gas_constant = _gas_constant(point)
    state.rotor_speed = _rotor_speed(point)
    state.filled_volume_flow = slip_law_displaced_flow(
        1.0,
        state.rotor_speed,
        point.blower_displacement / point.internal_step,
        point.speed_limit,
        point.filling_loss,
        point.delivery_factor,
    )
    state.bypass_opening = point.bypass_opening
    state.blower_inlet_temperature = T1
    state.blower_outlet_temperature = T1
    state.charge_temperature = T1
    state.blower_outlet_pressure = p0 * _inside(ratio, LOWEST_OUTLET, HIGHEST_OUTLET)
    state.manifold_pressure = state.blower_outlet_pressure
    through = _displaced_flow(point) * math.sqrt(0.5 * _gas_constant(point) * point.air_temperature)
    s = through / (point.throttle_area * p0)
    state.throttle_coordinate = s if s < 0.6 else 0.6


@compiled
def _pressure_behind_loss(
    inlet_pressure: float, temperature: float, mass_flow: float, loss_area: float, specific_gas_constant: float
) -> float:
    """Pressure behind a loss of one dynamic head in `loss_area`, at the mean density of both ends.

    p2 = sqrt(p1^2 - m|m| R T/A^2), which is p1 - p2 = m^2/(2 rho A^2) with rho at (p1 + p2)/2.
    """
    p1, least = inlet_pressure, LEAST_PRESSURE_SHARE * inlet_pressure
    squared = p1 * p1 - mass_flow * abs(mass_flow) * specific_gas_constant * temperature / (loss_area * loss_area)
    return math.sqrt(squared) if squared > least * least else least


@compiled
def _inlet(point: MatchPoint, state: MatchState, s: float) -> tuple[float, float, float]:
    """Pressure behind the throttle, pressure at the rotors, mass flow; for s below zero the flow is reversed."""
    p0, T0, R = point.ambient_pressure, point.air_temperature, state.specific_gas_constant
    p = p0 * (1.0 - s * s) if s >= 0.0 else p0 / (1.0 - s * s)
    m = restriction_flow_kernel(p0, T0, p, T0, point.throttle_area, DRY_AIR_HEAT_CAPACITY_RATIO, R)
    return p, _pressure_behind_loss(p, T0, m, point.inlet_area, R), m


@compiled
def _bypass_flow(
    point: MatchPoint, state: MatchState, plenum: Plenum, area: float, p1: float, p2: float, m: float
) -> float:
    """Mass flow from the plenum back to the blower inlet, while the blower delivers `m` at the pressure `p2`."""
    R = state.specific_gas_constant
    p3 = _pressure_behind_loss(p2, plenum.cooler_temperature, m, point.cooler_area, R)
    T1, T3 = state.blower_inlet_temperature, plenum.charge_temperature
    return restriction_flow_kernel(p3, T3, p1, T1, area, DRY_AIR_HEAT_CAPACITY_RATIO, R)


@compiled
def _feed_excess(point: MatchPoint, state: MatchState, plenum: Plenum, opening: float, p2: float, s: float) -> float:
    """Flow that inlet and bypass feed, less what the blower takes from them against the outlet pressure `p2`."""
    _, p1, m = _inlet(point, state, s)
    density = p1 / (state.specific_gas_constant * state.blower_inlet_temperature)
    taken = density * state.filled_volume_flow - slip_law_leakage_flow(density, p2 - p1, point.leakage_area)
    area = opening * point.bypass_area
    return m - taken + (_bypass_flow(point, state, plenum, area, p1, p2, taken) if area > 0.0 else 0.0)


@compiled
def _balance_inlet(
    point: MatchPoint, state: MatchState, plenum: Plenum, opening: float, p2: float, start: float, slope: float
) -> tuple[float, float, bool]:
    """The throttle coordinate at which the blower is fed, the slope of the excess there, and whether it was found."""
    displaced = _displaced_flow(point)
    low, high = REVERSED, NEARLY_SHUT
    s, s_before, excess_before = start, start, 0.0
    for step in range(STEPS):
        excess = _feed_excess(point, state, plenum, opening, p2, s)
        if step > 0 and s != s_before:
            slope = (excess - excess_before) / (s - s_before)
        if abs(excess) <= INNER_TOLERANCE * displaced:
            return s, slope, True
        if high - low < NARROWEST * high:
            break
        if excess > 0.0:
            high = s
        else:
            low = s
        s_before, excess_before = s, excess
        s = _inside(s - excess / slope, low, high)
    return s, slope, False


@compiled
def _first_slope(point: MatchPoint, s: float) -> float:
    """Slope of the feed's excess over the throttle coordinate, of incompressible flow."""
    opening = math.sqrt(2.0 / (_gas_constant(point) * point.air_temperature))
    ratio = point.throttle_area / point.inlet_area
    return point.throttle_area * point.ambient_pressure * opening + 2.0 * s * (1.0 + ratio * ratio) * _displaced_flow(
        point
    )


@compiled
def _deliver(point: MatchPoint, state: MatchState, opening: float, p2: float, s: float) -> None:
    """Write the inlet and the blower's delivery at this throttle coordinate and outlet pressure."""
    p, p1, m = _inlet(point, state, s)
    parts = slip_law_delivery(
        p1,
        state.blower_inlet_temperature,
        p2,
        state.rotor_speed,
        state.specific_gas_constant,
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
    state.throttle_coordinate = s
    state.throttle_outlet_pressure = p
    state.blower_inlet_pressure = p1
    state.blower_outlet_pressure = p2
    state.air_mass_flow = m
    state.blower_mass_flow = parts.mass_flow
    state.bypass_flow = parts.mass_flow - m if opening * point.bypass_area > 0.0 else 0.0
    state.leakage_flow = parts.leakage_flow
    state.blower_outlet_temperature = parts.outlet_temperature + point.added_outlet_temperature
    state.gas_power = parts.gas_power
    state.mechanical_power = parts.mechanical_power
    state.shaft_power = parts.shaft_power + point.added_shaft_power
    state.blower_volumetric_efficiency = parts.blower_volumetric_efficiency
    state.within_range = parts.within_range


@compiled
def _cool(point: MatchPoint, state: MatchState) -> None:
    """Write the charge behind the cooler."""
    m, T2 = state.blower_mass_flow, state.blower_outlet_temperature
    share = m / point.cooler_reference_flow
    share = share if share > 1e-6 else 1e-6
    effectiveness = 1.0 - math.exp(-point.cooler_transfer_units * share**-point.cooler_transfer_exponent)
    T3 = T2 - effectiveness * (T2 - point.coolant_temperature)
    state.cooler_effectiveness = effectiveness
    state.charge_temperature = T3
    state.manifold_pressure = _pressure_behind_loss(
        state.blower_outlet_pressure, 0.5 * (T2 + T3), m, point.cooler_area, state.specific_gas_constant
    )


@compiled
def _engine_demand(point: MatchPoint, state: MatchState) -> float:
    """Moist air that the engine swallows from the plenum; writes the states at its ports."""
    f, p3, CR = _fuel_air_ratio(point), state.manifold_pressure, point.compression_ratio
    exhausted = state.air_mass_flow * (1.0 + f)
    head = exhausted * exhausted * DRY_AIR_GAS_CONSTANT * point.exhaust_temperature / point.exhaust_area**2
    p_e = math.sqrt(point.ambient_pressure**2 + head)
    evaporation = point.latent_heat / (AIR_HEAT_CAPACITY + LIQUID_FUEL_HEAT_CAPACITY * f)
    T_p = state.charge_temperature - point.evaporated_share * f * evaporation
    vapour = point.evaporated_share * f * AIR_MOLAR_MASS / point.fuel_molar_mass
    left_by_residual = (CR - (p_e / p3) ** (1.0 / 1.3)) / (CR - 1.0)
    warmth = (T_p / REFERENCE_PORT_TEMPERATURE) ** point.intake_temperature_exponent
    state.exhaust_pressure = p_e
    state.port_temperature = T_p
    filled = point.engine_volumetric_efficiency * left_by_residual * warmth / (1.0 + vapour)
    return filled * p3 * _swept_flow(point) / (state.specific_gas_constant * T_p)


@compiled
def _balance_engine(point: MatchPoint, state: MatchState, opening: float) -> bool:
    """Find the outlet pressure at which the engine swallows what the inlet feeds; True when both agree."""
    low, high = LOWEST_OUTLET * point.ambient_pressure, HIGHEST_OUTLET * point.ambient_pressure
    T2, T3 = state.blower_outlet_temperature, state.charge_temperature
    plenum = Plenum(0.5 * (T2 + T3), T3)  # held while pressures are sought, or the bracket would move
    p2, p2_before, excess_before = state.blower_outlet_pressure, 0.0, 0.0
    s, s_per_pressure = state.throttle_coordinate, 0.0
    slope = _first_slope(point, s)
    least = TOLERANCE * 1e-3 * _displaced_flow(point)
    for step in range(STEPS):
        start = _inside(s + s_per_pressure * (p2 - p2_before), REVERSED, NEARLY_SHUT) if step > 0 else s
        s_before = s
        s, slope, fed = _balance_inlet(point, state, plenum, opening, p2, start, slope)
        if step > 0:
            s_per_pressure = (s - s_before) / (p2 - p2_before)
        _deliver(point, state, opening, p2, s)
        _cool(point, state)
        demand = _engine_demand(point, state)
        excess = state.air_mass_flow - demand
        state.flow_residual = excess / demand
        if abs(excess) <= TOLERANCE * abs(demand) + least or high - low < NARROWEST * high:
            return fed and abs(excess) <= TOLERANCE * abs(demand) + least
        if excess > 0.0:
            low = p2
        else:
            high = p2
        first = _inside(p2 * state.air_mass_flow / demand, low, high)
        trial = _next_trial(p2_before, excess_before, p2, excess, low, high) if step > 0 else first
        p2_before, excess_before, p2 = p2, excess, trial
    return False


@compiled
def _balance_temperature(point: MatchPoint, state: MatchState, opening: float) -> bool:
    """The same with bypass gas warming the blower inlet, whose temperature is found by secants around it."""
    fresh, held = _fresh_temperature(point), state.charge_temperature
    agreed = _balance_engine(point, state, opening)
    before, excess_before = 0.0, 0.0
    for step in range(STEPS if opening * point.bypass_area > 0.0 else 0):
        at = state.blower_inlet_temperature
        share = state.bypass_flow / state.blower_mass_flow if state.bypass_flow > 0.0 else 0.0
        excess = share * state.charge_temperature + (1.0 - share) * fresh - at
        settled = abs(state.charge_temperature - held) <= TOLERANCE * fresh  # what the engine's balance held
        if settled and abs(excess) <= TOLERANCE * fresh:
            return agreed
        secant = _next_trial(before, excess_before, at, excess, 0.5 * fresh, 10.0 * fresh)
        trial = secant if step > 0 and at != before else at + excess
        before, excess_before, held = at, excess, state.charge_temperature
        state.blower_inlet_temperature = trial
        agreed = _balance_engine(point, state, opening)
    return agreed


@compiled
def _start_capped(point: MatchPoint, state: MatchState) -> float:
    """A first guess of the opening that returns what the engine leaves at the cap; moves the inlet's warmth there."""
    cap, R = point.manifold_pressure_cap, state.specific_gas_constant
    T1, T3 = state.blower_inlet_temperature, state.charge_temperature
    p1, k = state.blower_inlet_pressure, DRY_AIR_HEAT_CAPACITY_RATIO
    wide = restriction_flow_kernel(cap, T3, p1, T1, point.bypass_area, k, R) if p1 < cap else 0.0
    share = 1.0 - cap / state.manifold_pressure
    back = share * state.blower_mass_flow
    opening = point.bypass_opening + back / wide if wide > back else 1.0
    if not point.bypass_opening < opening < 1.0:
        return 1.0
    state.blower_inlet_temperature = (1.0 - share) * T1 + share * T3
    return opening


@compiled
def _cap_pressure(point: MatchPoint, state: MatchState) -> bool:
    """Open the bypass until the manifold is at its cap, as far as it goes; True when blower and engine agree there."""
    cap = point.manifold_pressure_cap
    low, high, is_wide_known = point.bypass_opening, 1.0, False
    before, excess_before = low, state.manifold_pressure - cap
    opening = _start_capped(point, state)
    agreed = True
    for _ in range(STEPS):
        agreed = _balance_temperature(point, state, opening)
        state.bypass_opening = opening
        excess = state.manifold_pressure - cap
        if abs(excess) <= CAP_TOLERANCE * cap or (opening == 1.0 and excess > 0.0) or not agreed:
            return agreed
        if excess > 0.0:
            low = opening
        else:
            high = opening
        is_wide_known = is_wide_known or opening == 1.0
        is_further = excess < excess_before and opening - excess * (opening - before) / (excess - excess_before) >= 1.0
        trial = _next_trial(before, excess_before, opening, excess, low, high)
        trial = 1.0 if is_further and not is_wide_known else trial
        before, excess_before, opening = opening, excess, trial
    return False


@compiled
def _burn(point: MatchPoint, state: MatchState) -> None:
    """Write knock, retard, peak pressure, fuel and the powers of a matched point."""
    _burn_pressure(point, state)
    swept, retard = _swept_flow(point), math.degrees(state.spark_retard)
    S_p = 2.0 * point.stroke * point.engine_speed
    fmep = point.friction_factor * (0.4e5 + 0.005 * state.peak_cylinder_pressure + 0.09e5 * S_p + 0.0009e5 * S_p * S_p)
    warmth = state.charge_temperature - REFERENCE_CHARGE_TEMPERATURE
    efficiency = (
        point.indicated_efficiency_factor
        * (1.0 - point.compression_ratio**-0.3)
        * (1.0 - 3e-4 * retard * retard)
        * (1.0 - point.efficiency_temperature_slope * warmth)
    )
    state.residual_share = _residual_share(point, state)
    state.fuel_mass_flow = state.air_mass_flow * _fuel_air_ratio(point)
    state.indicated_power = _released_heat(point, state) * efficiency
    state.pumping_power = 0.75 * (state.manifold_pressure - state.exhaust_pressure) * swept
    state.friction_power = fmep * swept
    state.blower_drive_power = state.shaft_power / point.belt_efficiency
    state.brake_power = state.indicated_power + state.pumping_power - state.friction_power - state.blower_drive_power
    state.torque = state.brake_power / (2.0 * math.pi * point.engine_speed)


@compiled
def _residual_share(point: MatchPoint, state: MatchState) -> float:
    """Burned gas that fills the clearance at exhaust pressure, over that and the fresh charge; no overlap."""
    clearance = point.engine_displacement / (point.compression_ratio - 1.0)
    left = state.exhaust_pressure * clearance / (DRY_AIR_GAS_CONSTANT * point.exhaust_temperature)
    fresh = state.air_mass_flow * (1.0 + _fuel_air_ratio(point)) / (0.5 * point.engine_speed)
    return left / (left + fresh)


@compiled
def _released_heat(point: MatchPoint, state: MatchState) -> float:
    """Heat released per second: in a rich mixture the air sets it, with a gentle best near 0.87."""
    lam = point.excess_air_ratio
    dry_air = state.air_mass_flow / (1.0 + point.humidity_ratio)
    stoichiometric = dry_air * point.lower_heating_value / point.stoichiometric_air_fuel_ratio
    return stoichiometric * (1.0 + 0.03 * (1.0 - ((lam - 0.87) / 0.13) ** 2) if lam < 1.0 else 1.0 / lam)


@compiled
def _burn_pressure(point: MatchPoint, state: MatchState) -> None:
    """Write peak pressure and knock index, and the retard that keeps the index at its limit if it is above."""
    p3, set_retard = state.manifold_pressure, math.degrees(point.spark_retard)
    p_max = point.peak_pressure_factor * p3 * point.compression_ratio**1.32
    p_end = 0.75 * p_max * (1.0 - 0.012 * set_retard)  # of the end gas, while it waits
    T_end = (state.port_temperature + 25.0) * (p_end / p3) ** 0.235
    delay = autoignition_delay_kernel(p_end, T_end, point.octane_number)
    index = point.knock_factor * KNOCK_ARC / point.engine_speed / delay
    forced = math.log(index / point.knock_index_limit) / 0.07
    retard = forced if forced > set_retard else set_retard
    state.knock_index = index
    state.spark_retard = math.radians(retard)
    state.peak_cylinder_pressure = p_max * (1.0 - 0.012 * retard)

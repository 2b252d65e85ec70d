"""Gas exchange of one cycle block: exhaust stroke, overlap and intake stroke.

Every step is an implicit midpoint rule in two passes. In each pass the gas is frozen but for its pressure, and the one
equation for the pressure in mid-step is solved in closed form. It takes the square of a valve's flow as straight in the
pressure, so it is exact near equal pressures, where the flow itself has an infinite slope: a cylinder that hangs on its
port through an open valve has no time scale of its own there, and an explicit step would burst. Mass, energy and burned
mass change by the same flows that are booked, so the accounts close to rounding whatever the step.
"""

import math
from typing import NamedTuple

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_gas import Block, cylinder_space, flow_terms, mixture, valve_area, wall_heat
from boostwright.physics.compiled import compiled

TINY = 1e-300  # keeps a shut valve, whose flow and slope are both zero, from dividing them


class _Gas(NamedTuple):
    """Gas of the cylinder as a pass freezes it, and the slopes of its pressure with mass, energy and burned mass."""

    pressure: float
    temperature: float
    burned_share: float
    enthalpy: float
    heat_capacity_ratio: float
    flow_capacity: float  # 1/(R T)
    per_mass: float
    per_energy: float
    per_burned: float


class _Valve(NamedTuple):
    """Flow through one valve about the guessed pressure, positive into the cylinder."""

    is_inflow: bool
    square: float  # of the flow, without its sign
    square_slope: float  # with the cylinder pressure
    slope_in: float  # of the square at equal pressures, into the cylinder
    slope_out: float  # and out of it
    response_in: float  # change of cylinder pressure per mass that flows in
    response_out: float  # and per mass that flows out
    flow: float
    flow_slope: float
    stiffness: float


class _Solution(NamedTuple):
    """Pressure in mid-step and the two flows that go with it."""

    pressure: float
    intake_flow: float
    exhaust_flow: float


class _Through(NamedTuple):
    """What a valve carries into the cylinder per radian, and what its port gains by it."""

    mass: float
    enthalpy: float
    burned: float
    port_enthalpy: float
    port_burned: float


@compiled
def _gas(block: Block, lane: int, mass: float, energy: float, burned: float, volume: float) -> _Gas:
    y = burned / mass
    state = mixture(block, lane, energy / mass, y, block[at.TEMPERATURE + lane])
    T, R, k = state.temperature, state.specific_gas_constant, state.specific_gas_constant / state.heat_capacity
    R_fresh = block[at.FRESH_GAS_CONSTANT + lane]
    R_step = block[at.BURNED_GAS_CONSTANT + lane] - R_fresh
    return _Gas(
        mass * R * T / volume,
        T,
        y,
        energy / mass + R * T,
        1 + k,
        1 / (R * T),
        (R_fresh * T - k * state.fresh_energy) / volume,
        k / volume,
        (R_step * T - k * (state.burned_energy - state.fresh_energy)) / volume,
    )


@compiled
def _port_capacity(block: Block, lane: int, port: int, enthalpy: float, burned: float) -> float:
    """1/(R T) of the gas in a port, whose heat capacity is taken as constant."""
    rise = enthalpy - block[port + at.SUPPLY_ENTHALPY + lane] - burned * block[port + at.BURNED_ENTHALPY_STEP + lane]
    T = block[port + at.SUPPLY_TEMPERATURE + lane] + rise / block[port + at.SUPPLY_HEAT_CAPACITY + lane]
    return 1 / ((block[port + at.SUPPLY_GAS_CONSTANT + lane] + burned * block[port + at.GAS_CONSTANT_STEP + lane]) * T)


@compiled
def _valve(
    block: Block, lane: int, port: int, area: float, gas: _Gas, guess: float, port_enthalpy: float, port_burned: float
) -> _Valve:
    p0 = block[port + at.PRESSURE + lane]
    capacity_in = area * area * _port_capacity(block, lane, port, port_enthalpy, port_burned)
    capacity_out = area * area * gas.flow_capacity
    inflow = guess < p0
    own = flow_terms(gas.heat_capacity_ratio)
    t0 = block[port + at.FLOW_TERM_0 + lane] if inflow else own.t0
    t1 = block[port + at.FLOW_TERM_1 + lane] if inflow else own.t1
    t2 = block[port + at.FLOW_TERM_2 + lane] if inflow else own.t2
    t3 = block[port + at.FLOW_TERM_3 + lane] if inflow else own.t3
    t4 = block[port + at.FLOW_TERM_4 + lane] if inflow else own.t4
    limit = block[port + at.FLOW_LIMIT + lane] if inflow else own.limit
    high, low = (p0 if inflow else guess), (guess if inflow else p0)
    y = 1 - low / high
    choked = y > limit
    y = limit if choked else y
    psi2 = y * (t0 + y * (t1 + y * (t2 + y * (t3 + y * t4))))
    psi2_slope = t0 + y * (2 * t1 + y * (3 * t2 + y * (4 * t3 + y * 5 * t4)))
    psi2_slope = 0.0 if choked else psi2_slope
    square = (capacity_in if inflow else capacity_out) * high * high * psi2
    slope_in, slope_out = -capacity_in * p0 * psi2_slope, capacity_out * (2 * high * psi2 + p0 * psi2_slope)
    square_slope = slope_in if inflow else slope_out
    flow = math.sqrt(square)
    flow_slope = square_slope / (2 * flow + TINY)
    return _Valve(
        inflow,
        square,
        square_slope,
        -2 * capacity_in * p0,
        2 * capacity_out * p0,
        gas.per_mass + gas.per_energy * port_enthalpy + gas.per_burned * port_burned,
        gas.per_mass + gas.per_energy * gas.enthalpy + gas.per_burned * gas.burned_share,
        flow if inflow else -flow,
        flow_slope if inflow else -flow_slope,
        (capacity_in if inflow else capacity_out) * p0,
    )


@compiled
def _stiff_flow(valve: _Valve, port_pressure: float, guess: float, free_pressure: float, compliance: float) -> float:
    """Flow of one valve, exact in its root, when pressure = free pressure + compliance x response x flow.

    Inflow and outflow differ in the gas that flows. The free pressure, without this valve, says which it is.
    """
    inflow = free_pressure < port_pressure
    same = inflow == valve.is_inflow
    turned = valve.slope_in if inflow else valve.slope_out
    trial = guess if same else port_pressure
    slope = valve.square_slope if same else turned
    square = (valve.square if same else 0.0) + slope * (free_pressure - trial)
    square = square if square > 0 else 0.0
    half = 0.5 * compliance * (-slope * valve.response_in if inflow else slope * valve.response_out)
    flow = square / (half + math.sqrt(half * half + square) + TINY)
    return flow if inflow else -flow


@compiled
def _solve(
    intake: _Valve,
    exhaust: _Valve,
    intake_pressure: float,
    exhaust_pressure: float,
    guess: float,
    drive: float,
    resistance: float,
    half_step: float,
) -> _Solution:
    """Root of resistance p = drive + half step (responses x flows): stiffer valve exact, the other by its tangent."""
    away_from_intake = abs(guess - intake_pressure) + 1e-9 * intake_pressure
    away_from_exhaust = abs(guess - exhaust_pressure) + 1e-9 * exhaust_pressure
    first = intake.stiffness * away_from_exhaust > exhaust.stiffness * away_from_intake
    flow = exhaust.flow if first else intake.flow
    flow_slope = exhaust.flow_slope if first else intake.flow_slope
    other_in = exhaust.response_in if first else intake.response_in
    other_out = exhaust.response_out if first else intake.response_out
    gain = half_step * (other_in if flow > 0 else other_out)
    k = resistance - gain * flow_slope
    free = (drive + gain * (flow - flow_slope * guess)) / k
    stiff_intake = _stiff_flow(intake, intake_pressure, guess, free, half_step / k)
    stiff_exhaust = _stiff_flow(exhaust, exhaust_pressure, guess, free, half_step / k)
    stiff = stiff_intake if first else stiff_exhaust
    own_in = intake.response_in if first else exhaust.response_in
    own_out = intake.response_out if first else exhaust.response_out
    p = free + half_step / k * (own_in if stiff > 0 else own_out) * stiff
    soft = flow + flow_slope * (p - guess)
    return _Solution(p, stiff if first else soft, soft if first else stiff)


@compiled
def _through(
    block: Block, lane: int, port: int, flow: float, gas: _Gas, port_enthalpy: float, port_burned: float
) -> _Through:
    inflow = flow > 0
    exchange = flow * block[port + at.INVERSE_PORT_MASS + lane]
    supply = block[port + at.SUPPLY_ENTHALPY + lane]
    return _Through(
        flow,
        flow * (port_enthalpy if inflow else gas.enthalpy),
        flow * (port_burned if inflow else gas.burned_share),
        exchange * (supply - port_enthalpy if inflow else port_enthalpy - gas.enthalpy),
        exchange * (-port_burned if inflow else port_burned - gas.burned_share),
    )


@compiled
def _book(block: Block, lane: int, port: int, step: float, through: _Through) -> None:
    """Add one step's flow to the port and to its accounts."""
    inflow = through.mass > 0
    block[port + at.PORT_ENTHALPY + lane] += step * through.port_enthalpy
    block[port + at.PORT_BURNED + lane] += step * through.port_burned
    block[port + at.IN_MASS + lane] += step * (through.mass if inflow else 0.0)
    block[port + at.IN_ENTHALPY + lane] += step * (through.enthalpy if inflow else 0.0)
    block[port + at.IN_BURNED + lane] += step * (through.burned if inflow else 0.0)
    block[port + at.OUT_MASS + lane] -= step * (0.0 if inflow else through.mass)
    block[port + at.OUT_ENTHALPY + lane] -= step * (0.0 if inflow else through.enthalpy)
    block[port + at.OUT_BURNED + lane] -= step * (0.0 if inflow else through.burned)


@compiled
def _exchange_step(block: Block, lane: int, crank_angle: float, step: float) -> None:
    """Carry one lane over one step of the gas exchange; the angle is that of mid-step."""
    half = 0.5 * step
    space = cylinder_space(block, lane, crank_angle)
    V, dV = space.volume, space.volume_slope
    intake_area = valve_area(block, lane, at.INTAKE, crank_angle)
    exhaust_area = valve_area(block, lane, at.EXHAUST, crank_angle)
    p_in, p_ex = block[at.INTAKE + at.PRESSURE + lane], block[at.EXHAUST + at.PRESSURE + lane]
    m0, U0, b0 = block[at.MASS + lane], block[at.ENERGY + lane], block[at.BURNED + lane]
    hi0, yi0 = block[at.INTAKE + at.PORT_ENTHALPY + lane], block[at.INTAKE + at.PORT_BURNED + lane]
    he0, ye0 = block[at.EXHAUST + at.PORT_ENTHALPY + lane], block[at.EXHAUST + at.PORT_BURNED + lane]
    guess, q = block[at.GUESS_PRESSURE + lane], block[at.HEAT_RATE + lane]

    gas = _gas(block, lane, m0, U0, b0, V)
    intake = _valve(block, lane, at.INTAKE, intake_area, gas, guess, hi0, yi0)
    exhaust = _valve(block, lane, at.EXHAUST, exhaust_area, gas, guess, he0, ye0)
    found = _solve(
        intake,
        exhaust,
        p_in,
        p_ex,
        guess,
        gas.pressure - half * gas.per_energy * q,
        1 + half * gas.per_energy * dV,
        half,
    )
    into = _through(block, lane, at.INTAKE, found.intake_flow, gas, hi0, yi0)
    out = _through(block, lane, at.EXHAUST, found.exhaust_flow, gas, he0, ye0)
    m = m0 + half * (into.mass + out.mass)
    U = U0 + half * (into.enthalpy + out.enthalpy - found.pressure * dV - q)
    b = b0 + half * (into.burned + out.burned)
    hi, yi = hi0 + half * into.port_enthalpy, yi0 + half * into.port_burned
    he, ye = he0 + half * out.port_enthalpy, ye0 + half * out.port_burned
    block[at.TEMPERATURE + lane] = gas.temperature

    guess = found.pressure
    gas = _gas(block, lane, m, U, b, V)
    q = wall_heat(block, lane, gas.pressure, gas.temperature, block[at.EXCHANGE_VELOCITY + lane], V)
    intake = _valve(block, lane, at.INTAKE, intake_area, gas, guess, hi, yi)
    exhaust = _valve(block, lane, at.EXHAUST, exhaust_area, gas, guess, he, ye)
    drive = gas.pressure + gas.per_mass * (m0 - m) + gas.per_energy * (U0 - U - half * q) + gas.per_burned * (b0 - b)
    found = _solve(intake, exhaust, p_in, p_ex, guess, drive, 1 + half * gas.per_energy * dV, half)
    into = _through(block, lane, at.INTAKE, found.intake_flow, gas, hi, yi)
    out = _through(block, lane, at.EXHAUST, found.exhaust_flow, gas, he, ye)
    work = found.pressure * dV
    block[at.MASS + lane] = m0 + step * (into.mass + out.mass)
    block[at.ENERGY + lane] = U0 + step * (into.enthalpy + out.enthalpy - work - q)
    block[at.BURNED + lane] = b0 + step * (into.burned + out.burned)
    _book(block, lane, at.INTAKE, step, into)
    _book(block, lane, at.EXHAUST, step, out)
    block[at.WORK + lane] += step * work
    block[at.WALL_HEAT + lane] += step * q
    block[at.TEMPERATURE + lane] = gas.temperature
    block[at.GUESS_PRESSURE + lane] = found.pressure
    block[at.HEAT_RATE + lane] = q


@compiled
def exchange_phase(block: Block, phase: int, steps: int) -> None:
    """Carry a block from one event of the gas exchange to the next in equal steps."""
    begin = at.EVENTS + phase * at.LANES
    for number in range(steps):
        share = (number + 0.5) / steps
        for lane in range(at.LANES):
            length = block[begin + at.LANES + lane] - block[begin + lane]
            _exchange_step(block, lane, block[begin + lane] + share * length, length / steps)

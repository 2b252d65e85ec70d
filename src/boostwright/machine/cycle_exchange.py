"""Gas exchange of one cycle block: exhaust stroke, overlap and intake stroke.

Every step is an implicit midpoint rule in two passes. In each pass the gas is frozen but for its pressure, and the one
equation for the pressure in mid-step is solved in closed form. It takes the square of a valve's flow as straight in the
pressure, so it is exact near equal pressures, where the flow itself has an infinite slope: a cylinder that hangs on its
port through an open valve has no time scale of its own there, and an explicit step would burst. Mass, energy and burned
mass change by the same flows that are booked, so the accounts close to rounding whatever the step.
"""

from typing import NamedTuple

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_gas import (
    Block,
    begin_phase,
    cylinder_space,
    flow_terms,
    lanes,
    mixture,
    port_flow_terms,
    valve_area,
    wall_heat,
)
from boostwright.machine.cycle_math import root
from boostwright.physics.compiled import compiled, merged

TINY = 1e-300  # keeps a shut valve, whose flow and slope are both zero, from dividing them
INTAKE_OPEN, EXHAUST_OPEN, BOTH_OPEN = 1, 2, 3


class _State(NamedTuple):
    """Gas of the cylinder, and enthalpy and burned share of the gas in the intake port; or the rates of all these."""

    mass: float
    energy: float
    burned: float
    port_enthalpy: float
    port_burned: float


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
    """One valve, and the square of its flow near a guess of the cylinder pressure, with its sign apart."""

    port_pressure: float
    enthalpy: float  # of the port's gas
    burned_share: float
    is_inflow: bool  # at the guess
    square: float
    square_slope: float
    slope_in: float  # of the square on either side of the port's pressure
    slope_out: float
    response_in: float  # change of cylinder pressure per mass that comes in
    response_out: float  # and per mass that goes out


class _Course(NamedTuple):
    """What the crank angle says of a step: its length, and volume and valve areas in its middle."""

    step: float
    half: float
    volume: float
    volume_slope: float
    per_volume: float
    intake_area: float
    exhaust_area: float


class _Solution(NamedTuple):
    """Pressure in mid-step and the flows into the cylinder that go with it."""

    pressure: float
    intake_flow: float
    exhaust_flow: float


class _Pass(NamedTuple):
    """The two valves as a pass sees them, and what it finds."""

    intake: _Valve
    exhaust: _Valve
    found: _Solution


class _Parts(NamedTuple):
    """Mass that comes in and mass that goes out through one valve, both positive; one of them is mostly zero."""

    inflow: float
    outflow: float


@merged
def _gas(block: Block, lane: int, state: _State, per_volume: float) -> _Gas:
    m, per_mass = state.mass, 1 / state.mass
    u, y = state.energy * per_mass, state.burned * per_mass
    gas = mixture(block, lane, u, y, block[at.TEMPERATURE + lane])
    T, R, k = gas.temperature, gas.specific_gas_constant, gas.specific_gas_constant * gas.per_heat_capacity
    R_fresh, R_burned = block[at.FRESH_GAS_CONSTANT + lane], block[at.BURNED_GAS_CONSTANT + lane]
    return _Gas(
        m * R * T * per_volume,
        T,
        y,
        u + R * T,
        1 + k,
        1 / (R * T),
        (R_fresh * T - k * gas.fresh_energy) * per_volume,
        k * per_volume,
        ((R_burned - R_fresh) * T - k * (gas.burned_energy - gas.fresh_energy)) * per_volume,
    )


@merged
def _port_capacity(block: Block, lane: int, port: int, enthalpy: float, burned: float) -> float:
    """1/(R T) of the gas in a port: that of the exhaust does not vary, that of the intake has a constant cp."""
    if port == at.EXHAUST:
        return block[port + at.SUPPLY_CAPACITY + lane]
    rise = enthalpy - block[port + at.SUPPLY_ENTHALPY + lane] - burned * block[port + at.BURNED_ENTHALPY_STEP + lane]
    T = block[port + at.SUPPLY_TEMPERATURE + lane] + rise * block[port + at.PER_HEAT_CAPACITY + lane]
    return 1 / ((block[port + at.SUPPLY_GAS_CONSTANT + lane] + burned * block[port + at.GAS_CONSTANT_STEP + lane]) * T)


@merged
def _valve(
    block: Block, lane: int, port: int, area: float, gas: _Gas, guess: float, enthalpy: float, burned: float
) -> _Valve:
    """A valve at a guess of the cylinder pressure, whose port holds gas of this enthalpy and burned share."""
    p0 = block[port + at.PRESSURE + lane]
    capacity_in = area * area * _port_capacity(block, lane, port, enthalpy, burned)
    capacity_out = area * area * gas.flow_capacity
    inflow = guess < p0
    own, supplied = flow_terms(gas.heat_capacity_ratio), port_flow_terms(block, lane, port)
    t0, t1 = (supplied.t0 if inflow else own.t0), (supplied.t1 if inflow else own.t1)
    t2, t3 = (supplied.t2 if inflow else own.t2), (supplied.t3 if inflow else own.t3)
    t4, limit = (supplied.t4 if inflow else own.t4), (supplied.limit if inflow else own.limit)
    high, low = (p0 if inflow else guess), (guess if inflow else p0)
    y = 1 - low / high
    choked = y > limit
    y = limit if choked else y
    psi2 = y * (t0 + y * (t1 + y * (t2 + y * (t3 + y * t4))))
    psi2_slope = t0 + y * (2 * t1 + y * (3 * t2 + y * (4 * t3 + y * 5 * t4)))
    psi2_slope = 0.0 if choked else psi2_slope
    slope_in, slope_out = -capacity_in * p0 * psi2_slope, capacity_out * (2 * high * psi2 + p0 * psi2_slope)
    return _Valve(
        p0,
        enthalpy,
        burned,
        inflow,
        (capacity_in if inflow else capacity_out) * high * high * psi2,
        slope_in if inflow else slope_out,
        -2 * capacity_in * p0,
        2 * capacity_out * p0,
        gas.per_mass + gas.per_energy * enthalpy + gas.per_burned * burned,
        gas.per_mass + gas.per_energy * gas.enthalpy + gas.per_burned * gas.burned_share,
    )


@merged
def _flow_at(valve: _Valve, guess: float, free_pressure: float, compliance: float) -> float:
    """Flow into the cylinder when its pressure is the free pressure plus compliance x response x flow.

    Without this valve the cylinder would have the free pressure, which says what side the flow is on.
    """
    inflow = free_pressure < valve.port_pressure
    same = inflow == valve.is_inflow
    turned = valve.slope_in if inflow else valve.slope_out
    trial = guess if same else valve.port_pressure
    slope = valve.square_slope if same else turned
    square = (valve.square if same else 0.0) + slope * (free_pressure - trial)
    square = square if square > 0 else 0.0
    half = 0.5 * compliance * (-slope * valve.response_in if inflow else slope * valve.response_out)
    flow = square / (half + root(half * half + square) + TINY)
    return flow if inflow else -flow


@merged
def _solve_one(valve: _Valve, guess: float, drive: float, resistance: float, half: float) -> tuple[float, float]:
    """Pressure and flow of resistance p = drive + half step x response x flow with one valve open."""
    per_resistance = 1 / resistance
    free, compliance = drive * per_resistance, half * per_resistance
    flow = _flow_at(valve, guess, free, compliance)
    return free + compliance * (valve.response_in if flow > 0 else valve.response_out) * flow, flow


@merged
def _solve_both(
    intake: _Valve, exhaust: _Valve, guess: float, drive: float, resistance: float, half: float
) -> _Solution:
    """The same with both valves open: the stiffer one exact in its root, the other by its tangent at the guess."""
    from_intake = abs(guess - intake.port_pressure) + 1e-9 * guess
    from_exhaust = abs(guess - exhaust.port_pressure) + 1e-9 * guess
    stiff_in = intake.slope_out if guess > intake.port_pressure else -intake.slope_in
    stiff_ex = exhaust.slope_out if guess > exhaust.port_pressure else -exhaust.slope_in
    first = stiff_in * from_exhaust > stiff_ex * from_intake
    soft_in = exhaust.is_inflow if first else intake.is_inflow
    soft_square = exhaust.square if first else intake.square
    soft_slope = exhaust.square_slope if first else intake.square_slope
    response_in = exhaust.response_in if first else intake.response_in
    response_out = exhaust.response_out if first else intake.response_out
    size = root(soft_square)
    slope = soft_slope / (2 * size + TINY)
    flow, slope = (size if soft_in else -size), (slope if soft_in else -slope)
    gain = half * (response_in if soft_in else response_out)
    per_resistance = 1 / (resistance - gain * slope)
    free, compliance = (drive + gain * (flow - slope * guess)) * per_resistance, half * per_resistance
    intake_flow = _flow_at(intake, guess, free, compliance)
    exhaust_flow = _flow_at(exhaust, guess, free, compliance)
    stiff = intake_flow if first else exhaust_flow
    own_in = intake.response_in if first else exhaust.response_in
    own_out = intake.response_out if first else exhaust.response_out
    p = free + compliance * (own_in if stiff > 0 else own_out) * stiff
    soft = flow + slope * (p - guess)
    return _Solution(p, stiff if first else soft, soft if first else stiff)


@merged
def _solve(
    valves: int, intake: _Valve, exhaust: _Valve, guess: float, drive: float, resistance: float, half: float
) -> _Solution:
    if valves == INTAKE_OPEN:
        p, flow = _solve_one(intake, guess, drive, resistance, half)
        return _Solution(p, flow, 0.0)
    if valves == EXHAUST_OPEN:
        p, flow = _solve_one(exhaust, guess, drive, resistance, half)
        return _Solution(p, 0.0, flow)
    return _solve_both(intake, exhaust, guess, drive, resistance, half)


@merged
def _parts(valve: _Valve, flow: float, pressure: float, spread: float, half: float) -> _Parts:
    """Mean flows of a step in whose middle the valve has this flow; the pressure falls by twice the spread in the step.

    The square of the flow is taken as straight from the excess of pressure at the first end of the step to that at the
    last. Where the excess changes sign, its root is far from that in the middle, and two gases flow. A spread that the
    valve would even out within the step is no course of pressure but an echo of the step before; it is left out.
    """
    excess = pressure - valve.port_pressure
    outward = excess > 0
    agree = (flow < 0) == outward
    chord = flow * flow / (abs(excess) + TINY)
    out_square = chord if agree and outward else valve.slope_out
    in_square = -valve.slope_in if outward or not agree else chord
    gain, size = half * (valve.response_out if outward else valve.response_in), abs(excess) + abs(spread) + TINY
    kept = spread * size / (size + gain * gain * (out_square if outward else in_square))
    first, last = excess + kept, excess - kept
    a = root(first * (out_square if first > 0 else in_square))
    b = root(last * (out_square if last > 0 else in_square))
    whole = 2 / 3 * (a * a + a * b + b * b) / (a + b + TINY)  # mean of a root over a number that runs straight
    share = 2 / 3 / (abs(first) + abs(last) + TINY)
    early, late = share * a * abs(first), share * b * abs(last)  # the same of either end where the number changes sign
    same = (first > 0) == (last > 0)
    out = (whole if same else early) if first > 0 else (0.0 if same else late)
    into = (0.0 if same else late) if first > 0 else (whole if same else early)
    return _Parts(into, out)


@merged
def _rates(
    block: Block, lane: int, valves: int, gas: _Gas, intake: _Valve, exhaust: _Valve, into: _Parts, out: _Parts
) -> _State:
    """What the flows of the two valves change per radian; work and heat are still to come off the energy."""
    m, heat, b, h_port, y_port, h, y = 0.0, 0.0, 0.0, 0.0, 0.0, gas.enthalpy, gas.burned_share
    if valves != EXHAUST_OPEN:
        per_mass, supply = block[at.INTAKE + at.INVERSE_PORT_MASS + lane], block[at.INTAKE + at.SUPPLY_ENTHALPY + lane]
        m += into.inflow - into.outflow
        heat += into.inflow * intake.enthalpy - into.outflow * h
        b += into.inflow * intake.burned_share - into.outflow * y
        h_port = per_mass * (into.inflow * (supply - intake.enthalpy) + into.outflow * (h - intake.enthalpy))
        y_port = per_mass * (into.outflow * (y - intake.burned_share) - into.inflow * intake.burned_share)
    if valves != INTAKE_OPEN:
        m += out.inflow - out.outflow
        heat += out.inflow * exhaust.enthalpy - out.outflow * h
        b += out.inflow * exhaust.burned_share - out.outflow * y
    return _State(m, heat, b, h_port, y_port)


@merged
def _moved(state: _State, rates: _State, work_and_heat: float, step: float) -> _State:
    return _State(
        state.mass + step * rates.mass,
        state.energy + step * (rates.energy - work_and_heat),
        state.burned + step * rates.burned,
        state.port_enthalpy + step * rates.port_enthalpy,
        state.port_burned + step * rates.port_burned,
    )


@merged
def _flushed(start: _State, mid: _State, gas: _Gas, outflow: float) -> _State:
    """Mid-step again, now with the gas that leaves as it is on its way out, not as it was at first.

    With both valves open at low speed the gas of a step may be several times that of the cylinder. The factors are such
    that the share of the old gas falls as 1/(1 + 2a + 2a^2) over a step in which a is the outflow of half the step over
    the mass: the law of second order that never overshoots.
    """
    a = outflow / mid.mass
    b = a * gas.heat_capacity_ratio
    kept_share, kept_heat = (1 + 2 * a) / (1 + 2 * a * (1 + a)), (1 + 2 * b) / (1 + 2 * b * (1 + b))
    burned, energy = mid.mass * gas.burned_share, mid.mass * start.energy / start.mass
    return _State(
        mid.mass,
        energy + (mid.energy - energy) * kept_heat,
        burned + (mid.burned - burned) * kept_share,
        mid.port_enthalpy,
        mid.port_burned,
    )


@merged
def _plain(flow: float) -> _Parts:
    """A flow that does not turn round."""
    return _Parts(flow if flow > 0 else 0.0, 0.0 if flow > 0 else -flow)


@merged
def _book(block: Block, lane: int, port: int, step: float, parts: _Parts, valve: _Valve, gas: _Gas) -> None:
    """Add one step's flow to the accounts of a port."""
    into, out = step * parts.inflow, step * parts.outflow
    block[port + at.IN_MASS + lane] += into
    block[port + at.IN_ENTHALPY + lane] += into * valve.enthalpy
    block[port + at.IN_BURNED + lane] += into * valve.burned_share
    block[port + at.OUT_MASS + lane] += out
    block[port + at.OUT_ENTHALPY + lane] += out * gas.enthalpy
    block[port + at.OUT_BURNED + lane] += out * gas.burned_share


@merged
def _course(block: Block, lane: int, crank_angle: float, step: float, valves: int) -> _Course:
    space = cylinder_space(block, lane, crank_angle)
    intake_area, exhaust_area = 0.0, 0.0
    if valves != EXHAUST_OPEN:
        intake_area = valve_area(block, lane, at.INTAKE, crank_angle)
    if valves != INTAKE_OPEN:
        exhaust_area = valve_area(block, lane, at.EXHAUST, crank_angle)
    V, dV = space.volume, space.volume_slope
    return _Course(step, 0.5 * step, V, dV, 1 / V, intake_area, exhaust_area)


@merged
def _read_state(block: Block, lane: int) -> _State:
    return _State(
        block[at.MASS + lane],
        block[at.ENERGY + lane],
        block[at.BURNED + lane],
        block[at.INTAKE + at.PORT_ENTHALPY + lane],
        block[at.INTAKE + at.PORT_BURNED + lane],
    )


@merged
def _write_state(block: Block, lane: int, state: _State) -> None:
    block[at.MASS + lane], block[at.ENERGY + lane], block[at.BURNED + lane] = state.mass, state.energy, state.burned
    block[at.INTAKE + at.PORT_ENTHALPY + lane] = state.port_enthalpy
    block[at.INTAKE + at.PORT_BURNED + lane] = state.port_burned


@merged
def _pass(
    block: Block, lane: int, valves: int, course: _Course, gas: _Gas, start: _State, mid: _State, guess: float, q: float
) -> _Pass:
    """Pressure and flows in mid-step, with the gas as it is in the state `mid`; q is the heat to the walls."""
    port = at.EXHAUST
    h, y = block[port + at.PORT_ENTHALPY + lane], block[port + at.PORT_BURNED + lane]
    intake = _valve(block, lane, at.INTAKE, course.intake_area, gas, guess, mid.port_enthalpy, mid.port_burned)
    exhaust = _valve(block, lane, at.EXHAUST, course.exhaust_area, gas, guess, h, y)
    drive = (
        gas.pressure
        + gas.per_mass * (start.mass - mid.mass)
        + gas.per_energy * (start.energy - mid.energy - course.half * q)
        + gas.per_burned * (start.burned - mid.burned)
    )
    resistance = 1 + course.half * gas.per_energy * course.volume_slope
    return _Pass(intake, exhaust, _solve(valves, intake, exhaust, guess, drive, resistance, course.half))


@merged
def _exchange_step(block: Block, lane: int, crank_angle: float, step: float, valves: int) -> None:
    """Carry one lane over one step of the gas exchange; the angle is that of mid-step."""
    course = _course(block, lane, crank_angle, step, valves)
    start, q, half, dV = _read_state(block, lane), block[at.HEAT_RATE + lane], course.half, course.volume_slope

    gas = _gas(block, lane, start, course.per_volume)
    intake, exhaust, found = _pass(block, lane, valves, course, gas, start, start, block[at.GUESS_PRESSURE + lane], q)
    into, out = _plain(found.intake_flow), _plain(found.exhaust_flow)
    rates = _rates(block, lane, valves, gas, intake, exhaust, into, out)
    mid = _moved(start, rates, found.pressure * dV + q, half)
    if valves == BOTH_OPEN:
        mid = _flushed(start, mid, gas, half * (into.outflow + out.outflow))
    growth = half * dV * course.per_volume
    start_pressure = gas.pressure * (1 + growth + growth * growth)  # `gas` is in the volume of mid-step

    block[at.TEMPERATURE + lane] = gas.temperature
    gas = _gas(block, lane, mid, course.per_volume)
    q = wall_heat(block, lane, gas.pressure, gas.temperature, block[at.EXCHANGE_VELOCITY + lane], course.volume)
    intake, exhaust, found = _pass(block, lane, valves, course, gas, start, mid, found.pressure, q)
    spread, work = start_pressure - found.pressure, found.pressure * dV
    if valves != EXHAUST_OPEN:
        into = _parts(intake, found.intake_flow, found.pressure, spread, half)
        _book(block, lane, at.INTAKE, step, into, intake, gas)
    if valves != INTAKE_OPEN:
        out = _parts(exhaust, found.exhaust_flow, found.pressure, spread, half)
        _book(block, lane, at.EXHAUST, step, out, exhaust, gas)
    rates = _rates(block, lane, valves, gas, intake, exhaust, into, out)
    _write_state(block, lane, _moved(start, rates, work + q, step))
    block[at.WORK + lane] += step * work
    block[at.WALL_HEAT + lane] += step * q
    block[at.TEMPERATURE + lane], block[at.GUESS_PRESSURE + lane] = gas.temperature, found.pressure
    block[at.HEAT_RATE + lane] = q


@merged
def _exchange_phase(block: Block, phase: int, steps: int, grading: float, valves: int) -> None:
    """Carry a block from one event of the gas exchange to the next; with grading, later steps are longer.

    The first step is shorter and the last longer by the share `grading` of the mean; a negative one turns this round.
    """
    begin_phase(block, phase, 1)
    for number in range(steps):
        x0, x1 = number / steps, (number + 1) / steps
        s0, s1 = x0 + grading * x0 * (x0 - 1), x1 + grading * x1 * (x1 - 1)
        for lane in range(lanes(block)):
            length = block[at.PHASE_STEP + lane]
            angle = block[at.PHASE_BEGIN + lane] + 0.5 * (s0 + s1) * length
            _exchange_step(block, lane, angle, (s1 - s0) * length, valves)


@compiled
def exhaust_phase(block: Block, phase: int, steps: int, grading: float) -> None:
    """Carry a block through a phase in which only the exhaust valve is open."""
    _exchange_phase(block, phase, steps, grading, EXHAUST_OPEN)


@compiled
def intake_phase(block: Block, phase: int, steps: int, grading: float) -> None:
    """Carry a block through a phase in which only the intake valve is open."""
    _exchange_phase(block, phase, steps, grading, INTAKE_OPEN)


@compiled
def overlap_phase(block: Block, phase: int, steps: int) -> None:
    """Carry a block through the phase in which both valves are open, or, without overlap, both shut."""
    _exchange_phase(block, phase, steps, 0.0, BOTH_OPEN)

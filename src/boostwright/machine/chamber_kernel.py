"""The compiled chamber model: one time step of all chambers that are alive at one time.

The step is linearly implicit and closed: the pressure of each chamber is linear in that of the inlet plenum, which
leaves one equation to solve. Both sides of a flow use the same number, so mass and energy are conserved to rounding in
every step. What repeats the steps until the blower is periodic stands in `chamber_cycle`.
"""

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT, DRY_AIR_HEAT_CAPACITY_RATIO
from boostwright.physics.compiled import compiled

Array = NDArray[np.float64]

R = DRY_AIR_GAS_CONSTANT
G = DRY_AIR_HEAT_CAPACITY_RATIO
CHOKED_DROP = 1.0 - (2.0 / (G + 1.0)) ** (G / (G - 1.0))  # y = 1 - p/p0 from which on a restriction is choked
CHOKED_FLOW_SQUARED = G * (2.0 / (G + 1.0)) ** ((G + 1.0) / (G - 1.0))
LINEAR_DROP = 1e-5  # y below which flow goes over into a straight line through zero


class ChamberTables(NamedTuple):
    """What turns with the rotors, one row a step: volumes at the ends of the steps, port areas as their means."""

    volume: Array  # (steps + 1, chambers), m3
    inlet_area: Array  # (steps, chambers), m2
    outlet_area: Array  # (steps, chambers), m2


class ChamberConstants(NamedTuple):
    """What does not turn."""

    chambers_per_turn: int
    sealing_pitches: int
    swept_volume: float  # of one chamber, m3
    tip_leakage_area: float
    mesh_leakage_area: float
    port_inertance: float
    tract_inertance: float
    tract_effective_area: float
    plenum_volume: float
    heat_conductance: float
    wall_temperature_share: float


class ChamberPoint(NamedTuple):
    """The state at the inlet, the pressure behind the outlet, and the speed."""

    inlet_pressure: float
    inlet_temperature: float
    outlet_pressure: float
    rotor_speed: float


class Run(NamedTuple):
    """One geometry at one point with one rule of time stepping."""

    tables: ChamberTables
    constants: ChamberConstants
    point: ChamberPoint
    theta: float  # where in the step its pressures stand: 0.5 trapezoidal, in two passes; 1 backward, in one
    duration: float  # of a step


# Rows of the state of the chambers alive, one column a chamber, and places of what they share.
PRESSURE, MASS, PORT_FLOW = range(3)
STATE_ROWS = 3
PLENUM_PRESSURE, PLENUM_MASS, TRACT_FLOW, OUTLET_TEMPERATURE = range(4)
SHARED_PLACES = 4

# Rows of the scratch: values inside one step, and the coefficients taken at them.
X = 0  # chamber pressure
T = 1  # chamber temperature
V = 2  # chamber volume
W = 3  # flow through the inlet port
OUTLET_FLOW = 4  # into the chamber
LEAK = 5  # from the chamber ahead that one tip holds back
LEAK_HEAT = 6  # the same times the temperature it comes with
HEAT = 7  # from the walls
DRIVE = 8  # W = (DRIVE + P - X) / RESISTANCE, with P the plenum pressure
RESISTANCE = 9  # infinite while the port is closed
CONDUCTANCE = 10  # of the outlet port
OUTLET_SOURCE = 11  # temperature of the gas that crosses it
CONSTANT = 12  # X = CONSTANT + SLOPE P
SLOPE = 13
SCRATCH_ROWS = 14


class Plenum(NamedTuple):
    """What is between the tract and the ports inside one step."""

    pressure: float
    temperature: float
    tract_flow: float
    tract_source: float  # temperature of the gas that crosses the tract
    mesh_flow: float
    mesh_source: float


class Account(NamedTuple):
    """What crossed the borders in one pitch: masses, masses times temperature, work done on the gas, heat taken up."""

    mass_in: float
    enthalpy_in: float
    mass_out: float
    enthalpy_out: float
    leakage: float
    work: float
    heat: float


@compiled
def flow_squared_over_drop(drop: float) -> float:
    """Psi^2/y of St Venant and Wantzel for a drop y = 1 - p/p0, heat capacity ratio 1.4, without a power.

    Up to the choked drop a polynomial of degree six, fitted for the least largest error, that meets 2 at zero and the
    choked value with its slope: Psi is within 1.3e-8 of the exact law everywhere.
    """
    y = drop if drop > 0.0 else 0.0
    if y > CHOKED_DROP:
        return CHOKED_FLOW_SQUARED / y
    cubic = 0.024205692569056164 + y * (0.04596297526788262 + y * (-0.03856301686357677 + y * 0.06744430789699189))
    return 2.0 + y * (-2.142874267257817 + y * (0.0004884358313829162 + y * cubic))


@compiled
def chord_conductance(
    effective_area: float,
    upstream_pressure: float,
    upstream_temperature: float,
    downstream_pressure: float,
    downstream_temperature: float,
) -> float:
    """Mass flow over pressure difference of a restriction; finite and smooth through zero, the same from both sides."""
    forward = upstream_pressure >= downstream_pressure
    pu = upstream_pressure if forward else downstream_pressure
    pd = downstream_pressure if forward else upstream_pressure
    Tu = upstream_temperature if forward else downstream_temperature
    y = 1.0 - pd / pu
    return effective_area * sqrt(flow_squared_over_drop(y) / (R * Tu * sqrt(y * y + LINEAR_DROP * LINEAR_DROP)))


@compiled
def _port_resistance(area: float, pu: float, Tu: float, pd: float) -> tuple[float, float]:
    """Pressure loss over flow squared of a port with inertia, and the flow below which the loss is a straight line."""
    P = flow_squared_over_drop(1.0 - pd / pu)
    return R * Tu / (pu * area * area * P), area * pu * sqrt(LINEAR_DROP * P / (R * Tu))


@compiled
def _port_line(
    area: float, inertia: float, old_flow: float, w: float, pa: float, Ta: float, pb: float, Tb: float
) -> tuple[float, float, float]:
    """Flow from a to b through a port with inertia, (drive + pa - pb) / resistance: a Newton step about the flow w.

    Returns drive, resistance, and the temperature of the gas that crosses.
    """
    forward = w > 0.0 or (w == 0.0 and pa >= pb)
    pu, Tu, pd = (pa, Ta, pb) if forward else (pb, Tb, pa)
    loss, linear = _port_resistance(area, pu, Tu, pd)
    return inertia * old_flow + loss * w * abs(w), inertia + loss * (2.0 * abs(w) + linear), Tu


@compiled
def _estimate_from_state(tables: ChamberTables, step: int, theta: float, state: Array, scratch: Array) -> None:
    """The first estimate of the values inside the step: those at its start."""
    volume = tables.volume
    for i in range(state.shape[1]):
        V0, V1 = volume[step, i], volume[step + 1, i]
        scratch[X, i] = state[PRESSURE, i]
        scratch[T, i] = state[PRESSURE, i] * V0 / (state[MASS, i] * R)
        scratch[V, i] = V0 + theta * (V1 - V0)
        scratch[W, i] = state[PORT_FLOW, i]
        scratch[LEAK, i] = 0.0
        scratch[LEAK_HEAT, i] = 0.0


@compiled
def _tip_leaks(leakage_area: float, reach: int, theta_h: float, scratch: Array) -> None:
    """Flow across each tip, as the pressures will be once it has flowed: a Newton step about the last estimate."""
    for i in range(scratch.shape[1] - reach):
        j = i + reach
        pi, Ti, pj, Tj = scratch[X, i], scratch[T, i], scratch[X, j], scratch[T, j]
        conductance = chord_conductance(leakage_area, pj, Tj, pi, Ti)
        yielding = theta_h * G * R * (Ti / scratch[V, i] + Tj / scratch[V, j])
        leak = conductance * (pj - pi + yielding * scratch[LEAK, i]) / (1.0 + conductance * yielding)
        scratch[LEAK, i] = leak
        scratch[LEAK_HEAT, i] = leak * (Tj if leak >= 0.0 else Ti)


@compiled
def _net(scratch: Array, row: int, i: int, reach: int) -> float:
    """What a chamber gains over the tip ahead of it, less what it loses over the tip behind."""
    return scratch[row, i] - (scratch[row, i - reach] if i >= reach else 0.0)


@compiled
def _chamber_lines(run: Run, step: int, T2: float, plenum: Plenum, state: Array, scratch: Array) -> tuple[float, float]:
    """The energy account of every chamber, solved for its pressure as a line in that of the plenum.

    Returns what the ports take from the plenum, as its pressure times its volume: at no pressure in it, and per unit.
    """
    volume, inlet_area, outlet_area = run.tables.volume, run.tables.inlet_area, run.tables.outlet_area
    h, theta, reach, p2 = run.duration, run.theta, run.constants.sealing_pitches, run.point.outlet_pressure
    hgR = h * G * R
    P, Tp, T1 = plenum.pressure, plenum.temperature, run.point.inlet_temperature
    wall = T1 + run.constants.wall_temperature_share * (T2 - T1)
    inertia = run.constants.port_inertance / (theta * h)
    at_zero, per_pressure = 0.0, 0.0
    for i in range(state.shape[1]):
        x, Tx, p = scratch[X, i], scratch[T, i], state[PRESSURE, i]
        area = inlet_area[step, i]
        drive, resistance, source = 0.0, inf, 0.0
        if area > 0.0:
            drive, resistance, source = _port_line(area, inertia, state[PORT_FLOW, i], scratch[W, i], P, Tp, x, Tx)
        area = outlet_area[step, i]
        conductance = chord_conductance(area, p2, T2, x, Tx) if area > 0.0 else 0.0
        outlet_source = T2 if p2 >= x else Tx
        heat = run.constants.heat_conductance * (wall - Tx)
        V0, V1 = volume[step, i], volume[step + 1, i]
        inlet, outlet = hgR * source / resistance, hgR * outlet_source * conductance
        stiffness = V1 / theta + (G - 1.0) * (V1 - V0) + inlet + outlet
        load = (V1 / theta - V1 + V0) * p + (G - 1.0) * h * heat + hgR * _net(scratch, LEAK_HEAT, i, reach)
        constant, slope = (load + inlet * drive + outlet * p2) / stiffness, inlet / stiffness
        at_zero += inlet * (drive - constant)
        per_pressure += inlet * (1.0 - slope)
        scratch[DRIVE, i], scratch[RESISTANCE, i], scratch[HEAT, i] = drive, resistance, heat
        scratch[CONDUCTANCE, i], scratch[OUTLET_SOURCE, i] = conductance, outlet_source
        scratch[CONSTANT, i], scratch[SLOPE, i] = constant, slope
    return at_zero, per_pressure


@compiled
def _plenum_balance(run: Run, T2: float, old: Plenum, last: Plenum, at_zero: float, per_pressure: float) -> Plenum:
    """The one equation that remains: tract and mesh leak feed the plenum, the ports empty it."""
    c, p1, p2 = run.constants, run.point.inlet_pressure, run.point.outlet_pressure
    theta_h = run.theta * run.duration
    drive, resistance, tract_source = _port_line(
        c.tract_effective_area,
        c.tract_inertance / theta_h,
        old.tract_flow,
        last.tract_flow,
        p1,
        run.point.inlet_temperature,
        last.pressure,
        last.temperature,
    )
    mesh = chord_conductance(c.mesh_leakage_area, p2, T2, last.pressure, last.temperature)
    mesh_source = T2 if p2 >= last.pressure else last.temperature
    hgR = run.duration * G * R
    capacity, tract, leak = c.plenum_volume / run.theta, hgR * tract_source / resistance, hgR * mesh_source * mesh
    supply = capacity * old.pressure + tract * (drive + p1) + leak * p2 - at_zero
    P = supply / (capacity + tract + leak + per_pressure)
    return Plenum(P, last.temperature, (drive + p1 - P) / resistance, tract_source, mesh * (p2 - P), mesh_source)


@compiled
def _substitute(run: Run, plenum: Plenum, state: Array, scratch: Array) -> float:
    """Pressures, flows and temperatures inside the step, now that the plenum pressure is known; returns the inflow."""
    P, p2 = plenum.pressure, run.point.outlet_pressure
    theta_h, reach = run.theta * run.duration, run.constants.sealing_pitches
    inflow = 0.0
    for i in range(state.shape[1]):
        x = scratch[CONSTANT, i] + scratch[SLOPE, i] * P
        w = (scratch[DRIVE, i] + P - x) / scratch[RESISTANCE, i]
        o = scratch[CONDUCTANCE, i] * (p2 - x)
        mass = state[MASS, i] + theta_h * (w + o + _net(scratch, LEAK, i, reach))
        scratch[X, i], scratch[W, i], scratch[OUTLET_FLOW, i] = x, w, o
        scratch[T, i] = x * scratch[V, i] / (mass * R)
        inflow += w
    return inflow


@compiled
def _advance(run: Run, step: int, state: Array, scratch: Array) -> Account:
    """Carry the chambers to the end of the step; account for what crossed the borders with the very same numbers."""
    volume, inlet_area = run.tables.volume, run.tables.inlet_area
    h, theta, reach, chambers = run.duration, run.theta, run.constants.sealing_pitches, state.shape[1]
    out, out_heat, across, work, heat = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(chambers):
        x, w, o = scratch[X, i], scratch[W, i], scratch[OUTLET_FLOW, i]
        state[MASS, i] += h * (w + o + _net(scratch, LEAK, i, reach))
        state[PRESSURE, i] += (x - state[PRESSURE, i]) / theta
        is_open = inlet_area[step, i] > 0.0
        state[PORT_FLOW, i] = state[PORT_FLOW, i] + (w - state[PORT_FLOW, i]) / theta if is_open else 0.0
        out -= o
        out_heat -= o * scratch[OUTLET_SOURCE, i]
        work -= x * (volume[step + 1, i] - volume[step, i])
        heat += scratch[HEAT, i]
        sealed = i + reach < chambers and inlet_area[step, i + reach] <= 0.0
        across += scratch[LEAK, i] if is_open and sealed else 0.0
    return Account(0.0, 0.0, h * out, h * out_heat, h * across, work, h * heat)


@compiled
def chamber_step(run: Run, step: int, state: Array, shared: Array, scratch: Array) -> Account:
    """Carry all chambers over one step; each pass takes the coefficients at the values that the one before found."""
    c, h, theta, T2 = run.constants, run.duration, run.theta, shared[OUTLET_TEMPERATURE]
    plenum_mass = shared[PLENUM_MASS]
    temperature = shared[PLENUM_PRESSURE] * c.plenum_volume / (plenum_mass * R)
    old = Plenum(shared[PLENUM_PRESSURE], temperature, shared[TRACT_FLOW], 0.0, 0.0, 0.0)
    plenum, inflow = old, 0.0
    _estimate_from_state(run.tables, step, theta, state, scratch)
    for _ in range(2 if theta < 1.0 else 1):
        _tip_leaks(c.tip_leakage_area, c.sealing_pitches, theta * h, scratch)
        at_zero, per_pressure = _chamber_lines(run, step, T2, plenum, state, scratch)
        found = _plenum_balance(run, T2, old, plenum, at_zero, per_pressure)
        inflow = _substitute(run, found, state, scratch)
        mass = plenum_mass + theta * h * (found.tract_flow + found.mesh_flow - inflow)
        temperature = found.pressure * c.plenum_volume / (mass * R)
        plenum = Plenum(
            found.pressure, temperature, found.tract_flow, found.tract_source, found.mesh_flow, found.mesh_source
        )
    part = _advance(run, step, state, scratch)
    shared[PLENUM_MASS] += h * (plenum.tract_flow + plenum.mesh_flow - inflow)
    shared[PLENUM_PRESSURE] += (plenum.pressure - old.pressure) / theta
    shared[TRACT_FLOW] += (plenum.tract_flow - old.tract_flow) / theta
    return Account(
        h * plenum.tract_flow,
        h * plenum.tract_flow * plenum.tract_source,
        part.mass_out - h * plenum.mesh_flow,
        part.enthalpy_out - h * plenum.mesh_flow * plenum.mesh_source,
        part.leakage + h * plenum.mesh_flow,
        part.work,
        part.heat,
    )

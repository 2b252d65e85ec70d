"""The chamber model made periodic: one pitch after another until a blower repeats itself, and rows of such points.

A chamber lives for K pitches of the driving rotor. Instead of following one chamber through its life, the ring of the K
chambers alive is carried over one pitch; then every chamber takes its neighbour's place, the last one hands its dead
pocket to the first, and the pitch is repeated until nothing changes.
"""

from math import isfinite
from typing import NamedTuple

import numpy as np

from boostwright.machine.chamber_kernel import (
    MASS,
    OUTLET_TEMPERATURE,
    PLENUM_MASS,
    PLENUM_PRESSURE,
    PORT_FLOW,
    PRESSURE,
    SCRATCH_ROWS,
    SHARED_PLACES,
    STATE_ROWS,
    TRACT_FLOW,
    Account,
    Array,
    ChamberConstants,
    ChamberPoint,
    ChamberTables,
    G,
    R,
    Run,
    chamber_step,
)
from boostwright.physics.compiled import compiled, compiled_parallel, prange

CP = R * G / (G - 1.0)
LEAST_CHAMBER_FLOW = 0.02  # of the displaced flow: with less going through, the outlet temperature is not followed
HOTTEST_OUTLET = 4.0  # over inlet temperature: where an almost blanked blower is held
TRAPEZOID_PITCHES, BACKWARD_PITCHES = 150, 600


class ChamberCycle(NamedTuple):
    """The periodic state in numbers free of size and weather, and how it was reached."""

    blower_volumetric_efficiency: float
    work_ratio: float  # gas work per turn over inlet pressure and displacement
    heat_ratio: float  # heat lost from the gas, likewise
    leakage_ratio: float  # over the displaced flow
    temperature_ratio: float
    mass_defect: float  # flow in less flow out, over the displaced flow
    energy_defect: float  # enthalpy in + work + heat - enthalpy out, over inlet pressure and displacement
    residual: float  # largest relative change of the state over the last pitch
    pitches: float
    theta: float  # 0.5 trapezoidal; 1 where that failed and the backward rule was used


CYCLE_NUMBERS = len(ChamberCycle._fields)


class Ring(NamedTuple):
    """The chambers alive, shape (rows, chambers), and what they share, by the names in `chamber_kernel`."""

    chambers: Array
    shared: Array


@compiled
def starting_ring(tables: ChamberTables, constants: ChamberConstants, point: ChamberPoint) -> Ring:
    """A start: chambers open to the outlet in its state, all others in that of the inlet, filling as they grow."""
    p1, T1, p2 = point.inlet_pressure, point.inlet_temperature, point.outlet_pressure
    T2 = T1 + T1 * (G - 1.0) / G * (p2 / p1 - 1.0)
    volume, density = tables.volume, p1 / (R * T1)
    steps_in_a_second = constants.chambers_per_turn * point.rotor_speed * tables.inlet_area.shape[0]
    ring = Ring(np.zeros((STATE_ROWS, volume.shape[1])), np.zeros(SHARED_PLACES))
    for i in range(volume.shape[1]):
        delivering = tables.outlet_area[0, i] > 0.0
        ring.chambers[PRESSURE, i] = p2 if delivering else p1
        ring.chambers[MASS, i] = ring.chambers[PRESSURE, i] * volume[0, i] / (R * (T2 if delivering else T1))
        if tables.inlet_area[0, i] > 0.0:
            ring.chambers[PORT_FLOW, i] = density * (volume[1, i] - volume[0, i]) * steps_in_a_second
    ring.shared[PLENUM_PRESSURE] = p1
    ring.shared[PLENUM_MASS] = density * constants.plenum_volume
    ring.shared[TRACT_FLOW] = density * constants.swept_volume * constants.chambers_per_turn * point.rotor_speed
    ring.shared[OUTLET_TEMPERATURE] = T2
    return ring


@compiled
def _overwrite(ring: Ring, other: Ring) -> None:
    """Written as loops, here and below: expressions of whole arrays would double the time to compile."""
    for row in range(STATE_ROWS):
        for i in range(ring.chambers.shape[1]):
            ring.chambers[row, i] = other.chambers[row, i]
    for place in range(SHARED_PLACES):
        ring.shared[place] = other.shared[place]


@compiled
def _shift(chambers: Array) -> None:
    """Every chamber takes the place ahead of it; the dead pocket of the last one begins the next life."""
    last = chambers.shape[1] - 1
    pressure, mass = chambers[PRESSURE, last], chambers[MASS, last]
    for row in range(STATE_ROWS):
        for i in range(last, 0, -1):
            chambers[row, i] = chambers[row, i - 1]
    chambers[PRESSURE, 0], chambers[MASS, 0], chambers[PORT_FLOW, 0] = pressure, mass, 0.0


@compiled
def _displaced_mass(run: Run) -> float:
    return run.point.inlet_pressure * run.constants.swept_volume / (R * run.point.inlet_temperature)


@compiled
def _outlet_temperature(run: Run, account: Account) -> float:
    """Temperature at which the flow carries away the work and the heat, held where almost nothing flows."""
    T1, least = run.point.inlet_temperature, LEAST_CHAMBER_FLOW * _displaced_mass(run)
    through = account.mass_in if account.mass_in > least else least
    T2 = T1 + (account.work + account.heat) / (through * CP)
    return min(max(T2, T1 / HOTTEST_OUTLET), T1 * HOTTEST_OUTLET)


@compiled
def chamber_pitch(run: Run, ring: Ring, scratch: Array) -> Account:
    """Carry all chambers over one pitch and shift them on; the outlet temperature follows the pitch's account."""
    mass_in, enthalpy_in, mass_out, enthalpy_out, leakage, work, heat = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for step in range(run.tables.inlet_area.shape[0]):
        part = chamber_step(run, step, ring.chambers, ring.shared, scratch)
        mass_in += part.mass_in
        enthalpy_in += part.enthalpy_in
        mass_out += part.mass_out
        enthalpy_out += part.enthalpy_out
        leakage += part.leakage
        work += part.work
        heat += part.heat
    _shift(ring.chambers)
    account = Account(mass_in, enthalpy_in, mass_out, enthalpy_out, leakage, work, heat)
    ring.shared[OUTLET_TEMPERATURE] = _outlet_temperature(run, account)
    return account


@compiled
def _residual(run: Run, ring: Ring, before: Ring) -> float:
    """Largest relative change of pressures, masses and outlet temperature over one pitch."""
    p1, T1, m1 = run.point.inlet_pressure, run.point.inlet_temperature, _displaced_mass(run)
    new, old = ring.shared, before.shared
    worst = abs(new[OUTLET_TEMPERATURE] - old[OUTLET_TEMPERATURE]) / T1
    worst = max(worst, abs(new[PLENUM_PRESSURE] - old[PLENUM_PRESSURE]) / p1)
    worst = max(worst, abs(new[PLENUM_MASS] / old[PLENUM_MASS] - 1.0))
    for i in range(ring.chambers.shape[1]):
        worst = max(worst, abs(ring.chambers[PRESSURE, i] - before.chambers[PRESSURE, i]) / p1)
        worst = max(worst, abs(ring.chambers[MASS, i] - before.chambers[MASS, i]) / m1)
    return worst


class Settled(NamedTuple):
    """How a run of pitches ended."""

    account: Account
    residual: float
    pitches: int


@compiled
def _settle(run: Run, ring: Ring, tolerance: float, most_pitches: int) -> Settled:
    """Repeat the pitch until it repeats itself, or is no number any more, or the pitches run out."""
    scratch = np.zeros((SCRATCH_ROWS, ring.chambers.shape[1]))
    before = Ring(np.zeros(ring.chambers.shape), np.zeros(SHARED_PLACES))
    account, residual, pitches = Account(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), 1.0, 0
    while residual > tolerance and pitches < most_pitches:
        _overwrite(before, ring)
        account = chamber_pitch(run, ring, scratch)
        residual = _residual(run, ring, before)
        pitches += 1
    return Settled(account, residual, pitches)


@compiled
def _is_sound(settled: Settled, ring: Ring, tolerance: float) -> bool:
    """Whether the run repeats itself with numbers that a gas can have."""
    for i in range(ring.chambers.shape[1]):
        if not ring.chambers[PRESSURE, i] > 0.0:
            return False
    return settled.residual <= tolerance and isfinite(settled.account.work)


@compiled
def _cycle(run: Run, settled: Settled, outlet_temperature: float) -> ChamberCycle:
    account, m, flow_work = settled.account, _displaced_mass(run), run.point.inlet_pressure * run.constants.swept_volume
    energy = CP * (account.enthalpy_in - account.enthalpy_out) + account.work + account.heat
    return ChamberCycle(
        account.mass_in / m,
        account.work / flow_work,
        -account.heat / flow_work,
        account.leakage / m,
        outlet_temperature / run.point.inlet_temperature,
        (account.mass_in - account.mass_out) / m,
        energy / flow_work,
        settled.residual,
        float(settled.pitches),
        run.theta,
    )


@compiled
def chamber_cycle(
    tables: ChamberTables, constants: ChamberConstants, point: ChamberPoint, tolerance: float, ring: Ring
) -> ChamberCycle:
    """The periodic state of one point, from `ring` on, which is left at it.

    The trapezoidal rule with two passes is tried first. Where it does not settle, the backward rule starts afresh: it
    damps what the other leaves ringing in ports far larger than their chambers.
    """
    steps = tables.inlet_area.shape[0]
    duration = 1.0 / (constants.chambers_per_turn * point.rotor_speed * steps)
    theta, most_pitches = 0.5, TRAPEZOID_PITCHES
    while True:
        run = Run(tables, constants, point, theta, duration)
        settled = _settle(run, ring, tolerance, most_pitches)
        if theta == 1.0 or _is_sound(settled, ring, tolerance):
            return _cycle(run, settled, ring.shared[OUTLET_TEMPERATURE])
        theta, most_pitches = 1.0, BACKWARD_PITCHES
        _overwrite(ring, starting_ring(tables, constants, point))


@compiled
def _foresee(ring: Ring, last: Ring, share: float) -> None:
    """Go on from `ring` as it came from `last`, and remember it there; a guess that would leave nothing is not made."""
    for row in range(STATE_ROWS):
        for i in range(ring.chambers.shape[1]):
            here, before = ring.chambers[row, i], last.chambers[row, i]
            guess = here + share * (here - before)
            last.chambers[row, i] = here
            ring.chambers[row, i] = guess if row == PORT_FLOW or guess > 0.5 * here else here
    for place in range(SHARED_PLACES):
        here, before = ring.shared[place], last.shared[place]
        guess = here + share * (here - before)
        last.shared[place] = here
        ring.shared[place] = guess if place == TRACT_FLOW or guess > 0.5 * here else here


@compiled
def _chamber_walk(
    tables: ChamberTables, constants: ChamberConstants, walk: Array, tolerance: float, cycles: Array
) -> None:
    """One walk from point to point along the outlet pressure: each starts from where the two before it point."""
    ring = starting_ring(tables, constants, ChamberPoint(walk[0, 0], walk[0, 1], walk[0, 2], walk[0, 3]))
    last = starting_ring(tables, constants, ChamberPoint(walk[0, 0], walk[0, 1], walk[0, 2], walk[0, 3]))
    for j in range(walk.shape[0]):
        point = ChamberPoint(walk[j, 0], walk[j, 1], walk[j, 2], walk[j, 3])
        if j > 0:
            gone = walk[j - 1, 2] - walk[j - 2, 2] if j > 1 else 0.0
            _foresee(ring, last, (point.outlet_pressure - walk[j - 1, 2]) / gone if gone != 0.0 else 0.0)
        cycle = chamber_cycle(tables, constants, point, tolerance, ring)
        for k in range(CYCLE_NUMBERS):
            cycles[j, k] = cycle[k]


@compiled_parallel
def chamber_walks(tables: ChamberTables, constants: ChamberConstants, walks: Array, tolerance: float) -> Array:
    """Walks that run side by side, (walks, points, 4) as `ChamberPoint`, to (walks, points, CYCLE_NUMBERS)."""
    cycles = np.empty((walks.shape[0], walks.shape[1], CYCLE_NUMBERS))
    for i in prange(walks.shape[0]):
        _chamber_walk(tables, constants, walks[i], tolerance, cycles[i])
    return cycles

"""Compression, combustion and expansion of one cycle block, with both valves shut: Runge-Kutta steps of fourth order.

What is carried is the energy with the heat that burning has yet to set free, so that work and wall heat alone change it
and the account closes to rounding.
"""

from typing import NamedTuple

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_gas import (
    Block,
    begin_phase,
    cylinder_space,
    gas_constant,
    heat_capacity,
    lanes,
    mixture,
    wall_heat,
)
from boostwright.machine.cycle_math import exponential, logarithm
from boostwright.physics.compiled import compiled, merged

POLYTROPIC_EXPONENT = 1.33  # of the motored pressure in the gas velocity of combustion: common practice, no source
COMPRESSION, COMBUSTION, EXPANSION = 0, 1, 2


class _Course(NamedTuple):
    """What the crank angle alone says of the shut cylinder."""

    volume: float
    volume_slope: float
    burned: float  # of the fresh charge
    burned_slope: float
    motored_pressure: float


class _Rate(NamedTuple):
    """What one crank angle says: pressure, temperature, slope of the pressure, work and wall heat per radian."""

    pressure: float
    temperature: float
    pressure_slope: float
    work: float
    heat: float


@merged
def _course(block: Block, lane: int, crank_angle: float, phase: int) -> _Course:
    """Volume, burn curve (Wiebe, scaled to end at 1; see `boostwright.physics.combustion`) and motored pressure."""
    space = cylinder_space(block, lane, crank_angle)
    if phase == COMPRESSION:
        return _Course(space.volume, space.volume_slope, 0.0, 0.0, 0.0)
    motored = block[at.MOTORED_CONSTANT + lane] * exponential(-POLYTROPIC_EXPONENT * logarithm(space.volume))
    if phase == EXPANSION:
        return _Course(space.volume, space.volume_slope, 1.0, 0.0, motored)
    z = (crank_angle - block[at.EVENTS + at.LANES + lane]) * block[at.PER_BURN_DURATION + lane]
    z = z if z > 1e-12 else 1e-12
    a, n = block[at.BURN_COMPLETENESS + lane], block[at.BURN_EXPONENT + lane]
    power = exponential(n * logarithm(z))
    left, scale = exponential(-a * power), block[at.BURN_SCALE + lane]
    slope = scale * a * n * power / z * left * block[at.PER_BURN_DURATION + lane]
    return _Course(space.volume, space.volume_slope, scale * (1 - left), slope, motored)


@merged
def _rate(block: Block, lane: int, course: _Course, energy: float, guess: float, phase: int) -> _Rate:
    """State and rates of the shut cylinder, from its energy with the heat still bound in the fuel."""
    m, residual = block[at.MASS + lane], block[at.RESIDUAL_SHARE + lane]
    chemical, per_mass = block[at.CHEMICAL_ENERGY + lane], 1 / block[at.MASS + lane]
    y, dy = residual + (1 - residual) * course.burned, (1 - residual) * course.burned_slope
    gas = mixture(block, lane, (energy - chemical * (1 - course.burned)) * per_mass, y, guess)
    R, T, V = gas.specific_gas_constant, gas.temperature, course.volume
    p = m * R * T / V
    velocity = block[at.CLOSED_VELOCITY + lane]
    if phase != COMPRESSION:
        rise = p - course.motored_pressure
        velocity += block[at.COMBUSTION_VELOCITY_VOLUME + lane] * rise * per_mass / R
    q = wall_heat(block, lane, p, T, velocity, V)
    work = p * course.volume_slope
    dR = (block[at.BURNED_GAS_CONSTANT + lane] - block[at.FRESH_GAS_CONSTANT + lane]) * dy
    heating = chemical * course.burned_slope - work - q
    dT = (heating * per_mass - (gas.burned_energy - gas.fresh_energy) * dy) * gas.per_heat_capacity
    return _Rate(p, T, p * (dR / R + dT / T) - work / V, work, q)


@merged
def _peak_between(p0: float, s0: float, p1: float, s1: float, step: float) -> float:
    """Highest value of the cubic through two pressures and their slopes; the greater of them where it has no top."""
    c2 = 3 * (p1 - p0) - step * (2 * s0 + s1)
    c3 = 2 * (p0 - p1) + step * (s0 + s1)
    root = c2 * c2 - 3 * c3 * step * s0
    root = root if root > 0 else 0.0
    x = -step * s0 / (c2 - root**0.5 - 1e-300)
    inside = s0 > 0 and s1 <= 0
    x = x if inside else 0.0
    top = p0 + x * (step * s0 + x * (c2 + x * c3))
    end = p0 if p0 > p1 else p1
    return top if inside and top > end else end


@merged
def _end_gas(block: Block, lane: int, node: _Rate, phase: int) -> float:
    """Temperature of the unburned gas: that of the cylinder until it burns, then compressed without heat or mixing."""
    y, T = block[at.RESIDUAL_SHARE + lane], block[at.END_GAS_TEMPERATURE + lane]
    R = gas_constant(block, lane, y)
    rise = logarithm(node.pressure / block[at.NODE_PRESSURE + lane])
    at_node = T * exponential(rise * R / (R + heat_capacity(block, lane, T, y)))
    mean = R + heat_capacity(block, lane, 0.5 * (T + at_node), y)
    return node.temperature if phase == COMPRESSION else T * exponential(rise * R / mean)


@merged
def _book_node(block: Block, lane: int, node: _Rate, step: float, weight: float, phase: int) -> None:
    """Take one node into the peak pressure (with the step that led to it) and into the knock integral."""
    p0, s0 = block[at.NODE_PRESSURE + lane], block[at.NODE_SLOPE + lane]
    top = _peak_between(p0, s0, node.pressure, node.pressure_slope, step)
    block[at.PEAK_PRESSURE + lane] = top if top > block[at.PEAK_PRESSURE + lane] else block[at.PEAK_PRESSURE + lane]
    T = _end_gas(block, lane, node, phase)
    if phase != EXPANSION:
        reaction = exponential(1.7 * logarithm(node.pressure) - 3800 / T)
        block[at.KNOCK + lane] += weight * step / 3 * block[at.KNOCK_RATE_FACTOR + lane] * reaction
    block[at.END_GAS_TEMPERATURE + lane] = T
    block[at.NODE_PRESSURE + lane], block[at.NODE_SLOPE + lane] = node.pressure, node.pressure_slope


@merged
def _closed_step(block: Block, lane: int, angle: float, step: float, weight: float, phase: int) -> None:
    """One Runge-Kutta step from a node, which it books on the way."""
    half, E = 0.5 * step, block[at.ENERGY + lane]
    begin, mid = _course(block, lane, angle, phase), _course(block, lane, angle + half, phase)
    end = _course(block, lane, angle + step, phase)
    k1 = _rate(block, lane, begin, E, block[at.TEMPERATURE + lane], phase)
    k2 = _rate(block, lane, mid, E - half * (k1.work + k1.heat), k1.temperature, phase)
    k3 = _rate(block, lane, mid, E - half * (k2.work + k2.heat), k2.temperature, phase)
    k4 = _rate(block, lane, end, E - step * (k3.work + k3.heat), k3.temperature, phase)
    work = step / 6 * (k1.work + 2 * (k2.work + k3.work) + k4.work)
    heat = step / 6 * (k1.heat + 2 * (k2.heat + k3.heat) + k4.heat)
    _book_node(block, lane, k1, step, weight, phase)
    block[at.ENERGY + lane] = E - work - heat
    block[at.WORK + lane] += work
    block[at.WALL_HEAT + lane] += heat
    block[at.TEMPERATURE + lane] = k4.temperature


@merged
def _closed_phase(block: Block, phase: int, steps: int) -> None:
    """Carry a block from one event of the shut cylinder to the next in an even number of equal steps (Simpson)."""
    begin_phase(block, phase, steps)
    for number in range(steps):
        weight = 1.0 if number == 0 else 4.0 if number % 2 else 2.0
        for lane in range(lanes(block)):
            step = block[at.PHASE_STEP + lane]
            _closed_step(block, lane, block[at.PHASE_BEGIN + lane] + number * step, step, weight, phase)
    for lane in range(lanes(block)):
        step = block[at.PHASE_STEP + lane]
        end = block[at.PHASE_BEGIN + lane] + steps * step
        course = _course(block, lane, end, phase)
        node = _rate(block, lane, course, block[at.ENERGY + lane], block[at.TEMPERATURE + lane], phase)
        _book_node(block, lane, node, step, 1.0, phase)


@compiled
def _shut(block: Block) -> None:
    """From the state at intake closing to that of the shut cylinder, its accounts at zero."""
    for lane in range(lanes(block)):
        m = block[at.MASS + lane]
        y = block[at.BURNED + lane] / m
        chemical = m * (1 - y) * block[at.HEAT_OF_BURNING + lane]
        block[at.RESIDUAL_SHARE + lane], block[at.TRAPPED_MASS + lane] = y, m
        block[at.CHEMICAL_ENERGY + lane] = chemical
        block[at.ENERGY + lane] += chemical
        block[at.WORK + lane] = block[at.WALL_HEAT + lane] = block[at.KNOCK + lane] = 0.0
        block[at.PEAK_PRESSURE + lane] = block[at.NODE_SLOPE + lane] = 0.0
        block[at.NODE_PRESSURE + lane] = 1.0
        block[at.END_GAS_TEMPERATURE + lane] = 300.0


@compiled
def _light(block: Block) -> None:
    """The pressure that the motored cylinder would have, as a constant p V^n from the start of burning."""
    for lane in range(lanes(block)):
        V = cylinder_space(block, lane, block[at.EVENTS + at.LANES + lane]).volume
        p = block[at.NODE_PRESSURE + lane]
        block[at.MOTORED_CONSTANT + lane] = p * exponential(POLYTROPIC_EXPONENT * logarithm(V))


@compiled
def _open(block: Block) -> None:
    """From the shut cylinder to the state at exhaust opening; what has not burned by then leaves unburned."""
    for lane in range(lanes(block)):
        share = _course(block, lane, block[at.EVENTS + 2 * at.LANES + lane], COMBUSTION).burned
        y = block[at.RESIDUAL_SHARE + lane]
        block[at.ENERGY + lane] -= block[at.CHEMICAL_ENERGY + lane] * (1 - share)
        block[at.BURNED + lane] = block[at.MASS + lane] * (y + (1 - y) * share)
        block[at.GUESS_PRESSURE + lane] = block[at.NODE_PRESSURE + lane]
        V = cylinder_space(block, lane, block[at.EVENTS + 3 * at.LANES + lane]).volume
        p, T = block[at.NODE_PRESSURE + lane], block[at.TEMPERATURE + lane]
        block[at.HEAT_RATE + lane] = wall_heat(block, lane, p, T, block[at.EXCHANGE_VELOCITY + lane], V)


@compiled
def closed_cycle(block: Block, compression: int, combustion: int, expansion: int) -> None:
    """Carry a block from intake closing to exhaust opening; the numbers of steps must be even."""
    _shut(block)
    _closed_phase(block, COMPRESSION, compression)
    _light(block)
    _closed_phase(block, COMBUSTION, combustion)
    _closed_phase(block, EXPANSION, expansion)
    _open(block)

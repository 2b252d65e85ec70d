"""The periodic cycle of a block: whole cycles from intake closing to intake closing until the state repeats.

What one cycle leaves to the next is mostly its residual gas, so the change from cycle to cycle shrinks by nearly one
factor, five to thirty per cent. Two cycles on a coarse grid and one extrapolation by that factor find the state; cycles
on the full grid follow until they change it no more than `TOLERANCE`.
"""

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_closed import closed_cycle
from boostwright.machine.cycle_exchange import exchange_phase
from boostwright.machine.cycle_gas import (
    Block,
    flow_terms,
    gas_constant,
    heat_capacity,
    internal_energy,
    temperature_from_enthalpy,
)
from boostwright.physics.compiled import compiled

Steps = NDArray[np.int64]

TOLERANCE = 1e-5  # largest change over the last cycle, in shares of the state
MOST_CYCLES = 40
LARGEST_FACTOR = 0.8  # a guard: no sound engine keeps more of its gas
ENERGY_SCALE = 1e6  # J/kg, by which a change of energy is judged
INHERITED = (
    at.MASS,
    at.ENERGY,
    at.BURNED,
    at.INTAKE + at.PORT_ENTHALPY,
    at.INTAKE + at.PORT_BURNED,
    at.EXHAUST + at.PORT_ENTHALPY,
    at.EXHAUST + at.PORT_BURNED,
)


@compiled
def _clear_accounts(block: Block, port: int) -> None:
    for row in range(port + at.IN_MASS, port + at.OUT_BURNED + at.LANES, at.LANES):
        for lane in range(at.LANES):
            block[row + lane] = 0.0


@compiled
def _set_flow_terms(block: Block, lane: int, port: int) -> None:
    """Flow function of the gas that a port supplies."""
    terms = flow_terms(block[port + at.SUPPLY_HEAT_CAPACITY_RATIO + lane])
    block[port + at.FLOW_TERM_0 + lane] = terms.t0
    block[port + at.FLOW_TERM_1 + lane] = terms.t1
    block[port + at.FLOW_TERM_2 + lane] = terms.t2
    block[port + at.FLOW_TERM_3 + lane] = terms.t3
    block[port + at.FLOW_TERM_4 + lane] = terms.t4
    block[port + at.FLOW_LIMIT + lane] = terms.limit


@compiled
def _supply_exhaust(block: Block) -> None:
    """Let the exhaust port give back the gas whose enthalpy and burned share stand in its rows."""
    port = at.EXHAUST
    for lane in range(at.LANES):
        h, y = block[port + at.PORT_ENTHALPY + lane], block[port + at.PORT_BURNED + lane]
        T = temperature_from_enthalpy(block, lane, h, y, block[port + at.SUPPLY_TEMPERATURE + lane])
        R = gas_constant(block, lane, y)
        block[port + at.SUPPLY_ENTHALPY + lane] = h
        block[port + at.SUPPLY_TEMPERATURE + lane] = T
        block[port + at.SUPPLY_GAS_CONSTANT + lane] = R
        block[port + at.SUPPLY_HEAT_CAPACITY_RATIO + lane] = 1 + R / heat_capacity(block, lane, T, y)
        _set_flow_terms(block, lane, port)


@compiled
def _begin(block: Block) -> None:
    """Energies of the first guess, and the flow function of the intake."""
    for lane in range(at.LANES):
        m, T = block[at.MASS + lane], block[at.TEMPERATURE + lane]
        block[at.ENERGY + lane] = m * internal_energy(block, lane, T, block[at.BURNED + lane] / m)
        block[at.INTAKE + at.PORT_ENTHALPY + lane] = block[at.INTAKE + at.SUPPLY_ENTHALPY + lane]
        _set_flow_terms(block, lane, at.INTAKE)
        port, hot = at.EXHAUST, block[at.EXHAUST + at.SUPPLY_TEMPERATURE + lane]
        enthalpy = internal_energy(block, lane, hot, 1.0) + gas_constant(block, lane, 1.0) * hot
        block[port + at.PORT_ENTHALPY + lane], block[port + at.PORT_BURNED + lane] = enthalpy, 1.0


@compiled
def _mean_exhaust(block: Block) -> None:
    """What the exhaust port will give back is the mean of what it has received."""
    port = at.EXHAUST
    for lane in range(at.LANES):
        m = block[port + at.OUT_MASS + lane]
        block[port + at.PORT_ENTHALPY + lane] = block[port + at.OUT_ENTHALPY + lane] / m
        block[port + at.PORT_BURNED + lane] = block[port + at.OUT_BURNED + lane] / m


@compiled
def one_cycle(block: Block, steps: Steps) -> None:
    """Carry a block from intake closing to the next intake closing."""
    closed_cycle(block, steps[0], steps[1], steps[2])
    _clear_accounts(block, at.INTAKE)
    _clear_accounts(block, at.EXHAUST)
    _supply_exhaust(block)
    exchange_phase(block, 3, steps[3])
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] = block[at.WORK + lane]
    exchange_phase(block, 4, steps[4])
    exchange_phase(block, 5, steps[5])
    exchange_phase(block, 6, steps[6])
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] -= block[at.WORK + lane]
    exchange_phase(block, 7, steps[7])
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] += block[at.WORK + lane]
    _mean_exhaust(block)


@compiled
def _read_state(block: Block, state: NDArray[np.float64]) -> None:
    """What the next cycle inherits, one row a quantity, in shares of the reference mass and of the energy scale."""
    for k in range(len(INHERITED)):
        for lane in range(at.LANES):
            state[k, lane] = block[INHERITED[k] + lane] / _scale(block, lane, k)


@compiled
def _write_state(block: Block, state: NDArray[np.float64]) -> None:
    for k in range(len(INHERITED)):
        for lane in range(at.LANES):
            block[INHERITED[k] + lane] = state[k, lane] * _scale(block, lane, k)


@compiled
def _scale(block: Block, lane: int, k: int) -> float:
    mass = block[at.REFERENCE_MASS + lane] if k < 3 else 1.0
    return mass * (ENERGY_SCALE if k == 1 or k == 3 or k == 5 else 1.0)


@compiled
def _shrinking(
    before: NDArray[np.float64], between: NDArray[np.float64], after: NDArray[np.float64], factor: NDArray[np.float64]
) -> None:
    """Factor by which the change of the trapped gas shrinks from cycle to cycle; the ports follow it without memory."""
    for lane in range(at.LANES):
        product = square = 0.0
        for k in range(3):
            change = between[k, lane] - before[k, lane]
            product += (after[k, lane] - between[k, lane]) * change
            square += change * change
        ratio = product / (square + 1e-30)
        factor[lane] = ratio if 0 < ratio < LARGEST_FACTOR else LARGEST_FACTOR if ratio > 0 else 0.0


@compiled
def _extrapolate(
    block: Block, before: NDArray[np.float64], after: NDArray[np.float64], factor: NDArray[np.float64]
) -> float:
    """Go on to where the changes would add up; the largest change of the last cycle."""
    largest = 0.0
    for lane in range(at.LANES):
        reach = factor[lane] / (1 - factor[lane])
        for k in range(len(INHERITED)):
            change = after[k, lane] - before[k, lane]
            block[at.PERIOD_CHANGE + lane] = abs(change) if k == 0 else max(block[at.PERIOD_CHANGE + lane], abs(change))
            after[k, lane] += reach * change
        largest = max(largest, block[at.PERIOD_CHANGE + lane])
    _write_state(block, after)
    return largest


@compiled
def repeat_cycle(block: Block, coarse: Steps, steps: Steps) -> None:
    """Carry a block through cycles until the state repeats; its rows then hold the last cycle."""
    first, second, third = _rows(), _rows(), _rows()
    factor = np.empty(at.LANES)
    _begin(block)
    _read_state(block, first)
    one_cycle(block, coarse)
    _read_state(block, second)
    one_cycle(block, coarse)
    _read_state(block, third)
    _shrinking(first, second, third, factor)
    _extrapolate(block, second, third, factor)
    for number in range(MOST_CYCLES):
        _read_state(block, first)
        one_cycle(block, steps)
        _read_state(block, second)
        largest = _extrapolate(block, first, second, factor)
        if number > 0 and largest < TOLERANCE:
            break


@compiled
def _rows() -> NDArray[np.float64]:
    return np.empty((len(INHERITED), at.LANES))


@compiled
def repeat_cycles(blocks: NDArray[np.float64], coarse: Steps, steps: Steps) -> None:
    """The same for many blocks, one row each."""
    for number in range(blocks.shape[0]):
        repeat_cycle(blocks[number], coarse, steps)

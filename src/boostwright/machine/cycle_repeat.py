"""The periodic cycle of a block: the state at intake closing that one cycle hands on to the next unchanged.

From cycle to cycle a disturbance shrinks to a tenth or, with much residual gas and overlap, to a half. Each lane
therefore takes quasi-Newton steps: the cycles done so far say how the change over a cycle follows the state (D. G.
Anderson, Iterative procedures for nonlinear integral equations, 1965). The first cycles run on a coarse grid; what they
say of slopes holds on the full grid too.
"""

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_gas import Block
from boostwright.machine.cycle_period import Steps, one_cycle, start_cycle
from boostwright.physics.compiled import compiled

State = NDArray[np.float64]  # one row a quantity that the next cycle inherits, one column a lane
History = NDArray[np.float64]  # several of these

TOLERANCE = 3e-6
"""Change over the last cycle, in shares of the state, at which it counts as repeated."""
COARSE_CYCLES, MOST_CYCLES, MEMORY = 3, 60, 4
RIDGE, REACH = 1e-10, 3.0  # see _set_equations and _improve
ENERGY_SCALE = 1e6  # J/kg, by which a change of energy is judged
INHERITED = (  # the first three of the cylinder, extensive, in shares of the reference mass
    at.MASS,
    at.ENERGY,
    at.BURNED,
    at.INTAKE + at.PORT_ENTHALPY,
    at.INTAKE + at.PORT_BURNED,
    at.EXHAUST + at.PORT_ENTHALPY,
    at.EXHAUST + at.PORT_BURNED,
)
EXTENSIVE, QUANTITIES = 3, len(INHERITED)
SCALES = (1.0, ENERGY_SCALE, 1.0, ENERGY_SCALE, 1.0, ENERGY_SCALE, 1.0)


@compiled
def _scale(block: Block, lane: int, quantity: int) -> float:
    return SCALES[quantity] * (block[at.REFERENCE_MASS + lane] if quantity < EXTENSIVE else 1.0)


@compiled
def _read_state(block: Block, state: State) -> None:
    for k in range(QUANTITIES):
        for lane in range(at.LANES):
            state[k, lane] = block[INHERITED[k] + lane] / _scale(block, lane, k)


@compiled
def _write_state(block: Block, state: State) -> None:
    for k in range(QUANTITIES):
        for lane in range(at.LANES):
            block[INHERITED[k] + lane] = state[k, lane] * _scale(block, lane, k)


@compiled
def _unsettled(block: Block, change: State) -> int:
    """Lanes whose state still changes, after noting by how much; one that is no number any more does not count."""
    count = 0
    for lane in range(at.LANES):
        square = 0.0
        for k in range(QUANTITIES):
            square += change[k, lane] * change[k, lane]
        block[at.PERIOD_CHANGE + lane] = square**0.5
        count += 1 if square >= TOLERANCE * TOLERANCE else 0
    return count


@compiled
def _set_equations(equations: State, changes: History, change: State, lane: int) -> None:
    """Normal equations for the weights of the remembered differences that together make up the change of a lane.

    `RIDGE` of the diagonal's sum is added, so that differences that repeat one another share their weight.
    """
    pairs = equations.shape[0]
    trace = 1e-30
    for i in range(pairs):
        for j in range(i + 1):
            product = 0.0
            for k in range(QUANTITIES):
                product += changes[i, k, lane] * changes[j, k, lane]
            equations[i, j] = equations[j, i] = product
        equations[i, pairs] = 0.0
        for k in range(QUANTITIES):
            equations[i, pairs] += changes[i, k, lane] * change[k, lane]
        trace += equations[i, i]
    for i in range(pairs):
        equations[i, i] += RIDGE * trace


@compiled
def _solve_equations(equations: State) -> None:
    """Gauss's elimination in place, for a symmetric positive matrix; the last column becomes the solution."""
    pairs = equations.shape[0]
    for i in range(pairs):
        for k in range(pairs, i - 1, -1):  # from the last, so that the pivot is there until it is divided itself
            equations[i, k] /= equations[i, i]
        for j in range(pairs):
            if j != i:
                for k in range(pairs, i - 1, -1):
                    equations[j, k] -= equations[j, i] * equations[i, k]


@compiled
def _improve(after: State, change: State, changes: History, results: History, equations: State) -> None:
    """Take from the result of a cycle what the remembered differences say that it would still change.

    No further than `REACH` times the last change: far from the periodic state the slopes may mislead.
    """
    pairs, step = equations.shape[0], np.empty(QUANTITIES)
    for lane in range(at.LANES):
        _set_equations(equations, changes, change, lane)
        _solve_equations(equations)
        length = size = 0.0
        for k in range(QUANTITIES):
            step[k] = 0.0
            for i in range(pairs):
                step[k] += equations[i, pairs] * results[i, k, lane]
            length += step[k] * step[k]
            size += change[k, lane] * change[k, lane]
        share = min(1.0, REACH * np.sqrt(size / (length + 1e-30)))
        for k in range(QUANTITIES):
            after[k, lane] -= share * step[k]


@compiled
def repeat_cycle(block: Block, coarse: Steps, steps: Steps) -> int:
    """Carry a block through cycles until the state repeats; its rows then hold the last one. Returns their number."""
    before, after, last_after = _state(), _state(), _state()
    change, last_change = _state(), _state()
    changes = np.empty((MEMORY, QUANTITIES, at.LANES))
    results = np.empty((MEMORY, QUANTITIES, at.LANES))
    start_cycle(block)
    kept = 0
    for number in range(MOST_CYCLES):
        _read_state(block, before)
        one_cycle(block, coarse if number < COARSE_CYCLES else steps)
        _read_state(block, after)
        _subtract(after, before, change)
        if _unsettled(block, change) == 0 and number > COARSE_CYCLES:
            return number + 1
        if number > 0 and number != COARSE_CYCLES:  # the first full cycle differs from the last coarse one by its grid
            _subtract(change, last_change, changes[kept % MEMORY])
            _subtract(after, last_after, results[kept % MEMORY])
            kept += 1
        _copy(change, last_change)
        _copy(after, last_after)
        pairs = min(kept, MEMORY)
        if pairs > 0:
            _improve(after, change, changes, results, np.empty((pairs, pairs + 1)))
        _write_state(block, after)
    return MOST_CYCLES


@compiled
def _subtract(left: State, right: State, difference: State) -> None:  # loops compile in a tenth of an array's time
    for k in range(QUANTITIES):
        for lane in range(at.LANES):
            difference[k, lane] = left[k, lane] - right[k, lane]


@compiled
def _copy(state: State, target: State) -> None:
    for k in range(QUANTITIES):
        for lane in range(at.LANES):
            target[k, lane] = state[k, lane]


@compiled
def _state() -> State:
    return np.empty((QUANTITIES, at.LANES))

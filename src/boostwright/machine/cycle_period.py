"""One cycle of a block, from intake closing to intake closing, and the state it starts from."""

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_closed import closed_cycle
from boostwright.machine.cycle_exchange import exhaust_phase, intake_phase, overlap_phase
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
"""Steps of the eight phases, between the events of a block; those of the shut cylinder must be even."""

EXHAUST_GRADING, INTAKE_GRADING = -0.5, 0.5  # short steps near the top dead centre, where the volume changes fastest


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
        block[port + at.SUPPLY_CAPACITY + lane] = 1 / (R * T)
        block[port + at.SUPPLY_HEAT_CAPACITY_RATIO + lane] = 1 + R / heat_capacity(block, lane, T, y)
        _set_flow_terms(block, lane, port)


@compiled
def start_cycle(block: Block) -> None:
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
    exhaust_phase(block, 3, steps[3], 0.0)
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] = block[at.WORK + lane]
    exhaust_phase(block, 4, steps[4], EXHAUST_GRADING)
    overlap_phase(block, 5, steps[5])
    intake_phase(block, 6, steps[6], INTAKE_GRADING)
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] -= block[at.WORK + lane]
    intake_phase(block, 7, steps[7], 0.0)
    for lane in range(at.LANES):
        block[at.GROSS_WORK + lane] += block[at.WORK + lane]
    _mean_exhaust(block)

"""Cycles of one gas that stands for charge and burned gas alike, with burning as mere heat."""

import numpy as np

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle import COARSE_STEPS, STEPS
from boostwright.machine.cycle_repeat import repeat_cycle
from boostwright.machine.cycle_setup import Charges, GasColumn, cycle_blocks
from boostwright.machine.engine import CycleConditions
from boostwright.physics.fuels import fuel_named


def breathing(engine_speed, manifold_pressure, exhaust_pressure):
    """Conditions with dry gas; fuel and mixture play no part in cycles of one gas."""
    return CycleConditions(
        engine_speed=engine_speed,
        manifold_pressure=manifold_pressure,
        charge_temperature=325.0,
        exhaust_pressure=exhaust_pressure,
        humidity_ratio=0.0,
        fuel=fuel_named("methane"),
        excess_air_ratio=1.0,
        evaporated_share=0.0,
        octane_number=100.0,
        spark_retard=0.0,
    )


def gas_column(gas):
    """One gas as the cycle takes it, its polynomials integrated by hand."""
    R, polynomial = gas.specific_gas_constant, gas.polynomial
    terms = np.empty((2, 6, 1))
    terms[:, 1:, 0] = polynomial[:, :5] / np.arange(1, 6)
    terms[:, 1, 0] -= R
    terms[:, 0, 0] = polynomial[:, 5] - float(gas.enthalpy(298.15))
    return GasColumn(gas_constant=np.array([R]), terms=terms)


def one_gas_cycle(flat_engine, flat_conditions, gas, heat, fineness=1):
    """The block of one periodic cycle on a grid so much finer; the heat is that of a kilogram of fresh gas."""
    column = gas_column(gas)
    charges = Charges(
        air=column,
        fresh=column,
        burned=column,
        fuel_share=np.array([1e-12]),
        heat_of_burning=heat / flat_engine.combustion_efficiency,
    )
    blocks = cycle_blocks(flat_engine, flat_conditions, charges)
    repeat_cycle(blocks[0], COARSE_STEPS, fineness * STEPS)
    return blocks[0]


def value(block, row):
    """First lane of a row."""
    return float(block[row])


__all__ = ["at", "breathing", "gas_column", "one_gas_cycle", "value"]

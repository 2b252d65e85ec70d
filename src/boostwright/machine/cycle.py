"""Engine cycles over the crank angle: an engine and its conditions in, work, filling and limits of each cycle out.

One zone, four strokes, periodic: valves that pass gas both ways, a burn curve, heat to the walls, fresh and burned gas
whose heat capacities follow the temperature. The kernels work on blocks of sixteen cycles side by side.
"""

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_repeat import TOLERANCE, repeat_cycle
from boostwright.machine.cycle_setup import Charges, charges_of, cycle_blocks
from boostwright.machine.engine import CycleConditions, Engine
from boostwright.physics.crank import mean_piston_speed
from boostwright.physics.friction import friction_mep

Floats = NDArray[np.float64]
Noun = TypeVar("Noun", Engine, CycleConditions)

STEPS = np.array([12, 16, 8, 16, 60, 28, 88, 28])
"""Steps of the eight phases: compression, burning, expansion; blow-down, exhaust, overlap, intake, after bottom."""
COARSE_STEPS = np.array([6, 8, 4, 8, 30, 14, 44, 14])
"""The same while the periodic state is sought."""


@dataclass(frozen=True, kw_only=True)
class CycleResult:
    """What comes out of the cycles; arrays of the shape to which engine and conditions broadcast."""

    engine_volumetric_efficiency: Floats
    trapped_mass: Floats
    residual_share: Floats
    air_mass_flow: Floats
    fuel_mass_flow: Floats
    imep: Floats
    gross_imep: Floats
    pumping_mep: Floats
    fmep: Floats
    bmep: Floats
    indicated_power: Floats
    brake_power: Floats
    indicated_efficiency: Floats
    peak_cylinder_pressure: Floats
    knock_index: Floats
    exhaust_temperature: Floats
    wall_heat: Floats
    port_temperature: Floats
    period_change: Floats

    @property
    def is_settled(self) -> NDArray[np.bool_]:
        """Where the cycle repeats itself; elsewhere its figures mean nothing."""
        return self.period_change < TOLERANCE


def run_cycles(engine: Engine, conditions: CycleConditions) -> CycleResult:
    """Periodic cycles of an engine under conditions; the fields of both broadcast against one another.

    Raises
    ------
    ValueError
        If the burn begins before the intake valve has shut, or after the exhaust valve opens.
    """
    shape = _shape(engine, conditions)
    columns, given = flat(engine, shape), flat(conditions, shape)
    charges = charges_of(given)
    blocks = cycle_blocks(columns, given, charges)
    for block in blocks:
        repeat_cycle(block, COARSE_STEPS, STEPS)
    return _result(blocks, columns, given, charges, shape)


def _shape(engine: Engine, conditions: CycleConditions) -> tuple[int, ...]:
    values = (
        getattr(noun, field.name) for noun in (engine, conditions) for field in fields(noun) if field.name != "fuel"
    )
    return np.broadcast_shapes(*(np.shape(value) for value in values))


def flat(noun: Noun, shape: tuple[int, ...]) -> Noun:
    """The same with every field an array of one length."""
    names = [field.name for field in fields(noun) if field.name != "fuel"]
    columns = {name: np.broadcast_to(np.asarray(getattr(noun, name), dtype=float), shape).ravel() for name in names}
    return replace(noun, **columns)


def _result(
    blocks: Floats, engine: Engine, conditions: CycleConditions, charges: Charges, shape: tuple[int, ...]
) -> CycleResult:
    cases = charges.fuel_share.size

    def row(number: int) -> Floats:
        return blocks[:, number : number + at.LANES].reshape(-1)[:cases]

    swept, speed = engine.swept_volume, np.asarray(conditions.engine_speed)
    cycles = np.asarray(engine.cylinders) * speed / 2  # per second, of all cylinders
    intake, exhaust = at.INTAKE, at.EXHAUST
    charge = row(intake + at.IN_MASS) - row(intake + at.OUT_MASS)
    fresh = charge - (row(intake + at.IN_BURNED) - row(intake + at.OUT_BURNED))
    air = fresh * (1 - charges.fuel_share)
    density = conditions.manifold_pressure / (charges.air.gas_constant * np.asarray(conditions.charge_temperature))
    imep, gross = row(at.WORK) / swept, row(at.GROSS_WORK) / swept
    peak = row(at.PEAK_PRESSURE)
    fmep = engine.friction_factor * friction_mep(
        peak,
        mean_piston_speed(engine.stroke, speed),
        engine.friction_constant,
        engine.friction_pressure_factor,
        engine.friction_speed_factor,
        engine.friction_speed_squared_factor,
    )
    fuel = fresh * charges.fuel_share
    result = CycleResult(
        engine_volumetric_efficiency=air / (density * swept),
        trapped_mass=row(at.TRAPPED_MASS),
        residual_share=row(at.RESIDUAL_SHARE),
        air_mass_flow=air * cycles,
        fuel_mass_flow=fuel * cycles,
        imep=imep,
        gross_imep=gross,
        pumping_mep=imep - gross,
        fmep=fmep,
        bmep=imep - fmep,
        indicated_power=imep * swept * cycles,
        brake_power=(imep - fmep) * swept * cycles,
        indicated_efficiency=imep * swept / (fuel * conditions.fuel.lower_heating_value),
        peak_cylinder_pressure=peak,
        knock_index=row(at.KNOCK),
        exhaust_temperature=row(exhaust + at.SUPPLY_TEMPERATURE),
        wall_heat=row(at.WALL_HEAT),
        port_temperature=row(intake + at.SUPPLY_TEMPERATURE),
        period_change=row(at.PERIOD_CHANGE),
    )
    return replace(result, **{field.name: getattr(result, field.name).reshape(shape) for field in fields(result)})

"""Data with the engine's crank-angle cycle, tabulated, in place of its closed forms of power, pressure and knock."""

from dataclasses import replace
from functools import partial

from boostwright.inference.calibrate import CalibrationData
from boostwright.inference.chain_form import ChainForm
from boostwright.inference.priors import Points
from boostwright.machine.cycle_engine import CycleEngine
from boostwright.machine.cycle_table import CycleTable, cycle_table, with_cycle
from boostwright.machine.operating_point import OperatingPoints


def with_cycle_engine(data: CalibrationData, engine: CycleEngine) -> CalibrationData:
    """The same data, to be fitted with the cycle of the engine that both setups share."""
    table = cycle_table(engine, data.baseline)
    matched = partial(_matched, form=data.form, table=table)
    return replace(data, form=replace(data.form, name=f"{data.form.name}, engine cycle", matched=matched))


def _matched(points: Points, form: ChainForm, table: CycleTable) -> OperatingPoints:
    return with_cycle(form.matched(points), table)

"""A measured blower map: a table with one operating point a row, and each column's unit in its header.

rotor_speed [rpm], pressure_ratio, mass_flow [kg/s] or volume_flow [m3/h] at the inlet, outlet_temperature [degC] or
isentropic_efficiency [%], shaft_power [kW], inlet_pressure [kPa], inlet_temperature [degC]; in any order, and in any
format that logs are read from.
"""

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.physics.blower_work import compressed_temperature
from boostwright.physics.moist_air import DRY_AIR_GAS_CONSTANT
from boostwright.records.log import open_table
from boostwright.records.table import Cells, Table
from boostwright.units import Unit, UnitError, example_unit, suitable_unit

HEAT_CAPACITY_RATIO = 1.4  # with which the trade turns temperature rises into efficiencies

# quantity: its dimension, and what an operating point of a blower can have at most and at least, in SI
_QUANTITIES: Mapping[str, tuple[str, float, float]] = {
    "rotor_speed": ("speed", 1.0, 3e3),
    "pressure_ratio": ("fraction", 0.9, 5.0),
    "mass_flow": ("mass_flow", 1e-6, 1e3),
    "volume_flow": ("volume_flow", 1e-6, 1e3),
    "outlet_temperature": ("temperature", 200.0, 800.0),
    "isentropic_efficiency": ("fraction", 0.02, 1.2),
    "shaft_power": ("power", 1.0, 1e8),
    "inlet_pressure": ("pressure", 2e4, 2e5),
    "inlet_temperature": ("temperature", 200.0, 400.0),
}
_ALWAYS = ("rotor_speed", "pressure_ratio", "shaft_power", "inlet_pressure", "inlet_temperature")
_ONE_OF = (("mass_flow", "volume_flow"), ("outlet_temperature", "isentropic_efficiency"))

Channels = Mapping[str, NDArray[np.float64]]


@dataclass(frozen=True, kw_only=True)
class BlowerMapRecord:
    """Measured operating points of a blower, one an entry, in SI; `rows` are their rows in the file."""

    file: str
    rows: NDArray[np.int64]
    rotor_speed: NDArray[np.float64]
    pressure_ratio: NDArray[np.float64]
    mass_flow: NDArray[np.float64]
    outlet_temperature: NDArray[np.float64]
    shaft_power: NDArray[np.float64]
    inlet_pressure: NDArray[np.float64]
    inlet_temperature: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class _Column:
    position: int
    header: str
    quantity: str
    unit: Unit


def read_blower_map(path: Path) -> BlowerMapRecord:
    """Read a measured map.

    Raises
    ------
    FileError
        With everything that is wrong in the file.
    """
    try:
        return _read(path)
    except FileError as wrong:
        raise FileError([replace(fault, file=str(path)) for fault in wrong.faults]) from wrong


def _read(path: Path) -> BlowerMapRecord:
    table = open_table(path)
    columns, faults = _understand(table)
    faults = [*faults, *_missing(table.headers, [column.quantity for column in columns], faults)]
    if faults:
        raise FileError(faults)
    cells = table.read([column.position for column in columns])
    if faults := [*cells.faults, *(fault for column in columns for fault in _impossible(column, cells))]:
        raise FileError(faults)
    return _record(
        path, {column.quantity: column.unit.to_si(cells.values[column.position]) for column in columns}, cells
    )


def _understand(table: Table) -> tuple[list[_Column], list[Fault]]:
    columns: list[_Column] = []
    faults: list[Fault] = []
    for position, (header, units_row) in enumerate(zip(table.headers, table.units, strict=True)):
        name, unit = _split(header)
        try:
            found = _column(position, header, name, unit or units_row.strip("[]() "))
        except UnitError as wrong:
            faults.append(replace(wrong.fault, column=header))
            continue
        if found.quantity in [column.quantity for column in columns]:
            faults.append(Fault(column=header, problem=f"is {found.quantity} once more", remedy="keep one of the two"))
        columns.append(found)
    return columns, faults


def _split(header: str) -> tuple[str, str]:
    parts = re.fullmatch(r"\s*(.*?)\s*[\[(]\s*(.*?)\s*[\])]\s*", header)
    name, unit = (parts[1], parts[2]) if parts else (header.strip(), "")
    return re.sub(r"[\s\-]+", "_", name).casefold(), unit


def _column(position: int, header: str, name: str, unit: str) -> _Column:
    if name not in _QUANTITIES:
        near = difflib.get_close_matches(name, _QUANTITIES, n=2, cutoff=0.5)
        choices = " or ".join(near) if near else ", ".join(_QUANTITIES)
        raise UnitError(f'"{name}"', "is no quantity of a blower map", f"take the column out, or name it {choices}")
    return _Column(
        position=position, header=header, quantity=name, unit=suitable_unit(unit, name, _QUANTITIES[name][0])
    )


def _missing(headers: Sequence[str], told: Sequence[str], faults: Sequence[Fault]) -> Iterator[Fault]:
    """What no column says, those that could not be understood apart; and what two columns say in two ways."""
    attempted = {_split(fault.column)[0] for fault in faults} | set(told)
    for quantity in _ALWAYS:
        if quantity not in attempted:
            yield _absent(headers, quantity)
    for first, second in _ONE_OF:
        if first not in attempted and second not in attempted:
            yield _absent(headers, first, second)
        if first in told and second in told:
            problem = f"gives {first} and {second}, and one follows from the other"
            yield Fault(problem=problem, remedy="take one of the two columns out")


def _absent(headers: Sequence[str], *choices: str) -> Fault:
    found = ", ".join(f'"{header}"' for header in headers)
    names = " or ".join(f'"{choice} [{example_unit(_QUANTITIES[choice][0])}]"' for choice in choices)
    return Fault(problem=f"has no {' or '.join(choices)} among its columns {found}", remedy=f"add a column {names}")


def _impossible(column: _Column, cells: Cells) -> Iterator[Fault]:
    """What can only be another unit or a slip of the pen, row by row."""
    _, low, high = _QUANTITIES[column.quantity]
    written = cells.values[column.position]
    values = column.unit.to_si(written)
    for i in np.flatnonzero((values < low) | (values > high)).tolist():
        size = "low" if values[i] < low else "high"
        problem = f"is too {size} for {column.quantity} in {column.unit.symbol}"
        row = int(cells.rows[i])
        remedy = "correct it, or the unit in the header"
        yield Fault(row=row, column=column.header, value=f"{written[i]:.6g}", problem=problem, remedy=remedy)


def _record(path: Path, channels: Channels, cells: Cells) -> BlowerMapRecord:
    p1, T1, pr = channels["inlet_pressure"], channels["inlet_temperature"], channels["pressure_ratio"]
    if (mass_flow := channels.get("mass_flow")) is None:
        mass_flow = channels["volume_flow"] * p1 / (DRY_AIR_GAS_CONSTANT * T1)
    if (outlet_temperature := channels.get("outlet_temperature")) is None:
        efficiency = channels["isentropic_efficiency"]
        outlet_temperature = compressed_temperature(T1, pr, efficiency, HEAT_CAPACITY_RATIO)
    return BlowerMapRecord(
        file=str(path),
        rows=cells.rows,
        rotor_speed=channels["rotor_speed"],
        pressure_ratio=pr,
        mass_flow=mass_flow,
        outlet_temperature=outlet_temperature,
        shaft_power=channels["shaft_power"],
        inlet_pressure=p1,
        inlet_temperature=T1,
    )

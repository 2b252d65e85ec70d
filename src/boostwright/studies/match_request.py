"""What a person types to ask for a match: speeds as `2000:6000:100`, air as `100 kPa, 25 degC, 0.4`, form of blower."""

import re
from pathlib import Path
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.machine.blower_map import BlowerMap
from boostwright.machine.build import build_of
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_build import chamber_of
from boostwright.machine.chamber_map import chamber_map, typical_corrected_speeds, typical_pressure_ratios
from boostwright.machine.measured_map import measured_map
from boostwright.machine.operating_point import Ambient, BlowerForm, ambient_air
from boostwright.records.blower_map_file import read_blower_map
from boostwright.records.build_file import BuildFile
from boostwright.studies.match import CHAMBER
from boostwright.units import UnitError, parse_quantity

Floats: TypeAlias = NDArray[np.float64]

MOST_SPEEDS = 2000
_READINGS = (  # name, dimension, lowest and highest possible out of doors
    ("pressure", "pressure", 3e4, 1.2e5),
    ("temperature", "temperature", 220.0, 340.0),
    ("relative humidity", "fraction", 0.0, 1.0),
)


def speeds_from_text(text: str) -> Floats:
    """Engine speeds [1/s] from first, last and step in rev/min, the last one included where the step meets it.

    Raises
    ------
    UnitError
        If it is not three numbers, or they make no rising row of positive speeds.
    """
    remedy = "write first:last:step in rpm, such as 2000:6000:100"
    parts = re.fullmatch(r"\s*([\d.]+)\s*:\s*([\d.]+)\s*:\s*([\d.]+)\s*(?:rpm)?\s*", text)
    try:
        first, last, step = (float(part) for part in parts.groups()) if parts else (0.0, 0.0, 0.0)
    except ValueError as wrong:
        raise UnitError(f'"{text}"', "is not a row of engine speeds", remedy) from wrong
    if not (first > 0.0 and step > 0.0 and last >= first):
        raise UnitError(f'"{text}"', "is not a rising row of positive engine speeds", remedy)
    amount = int(np.floor((last - first) / step + 1e-9)) + 1
    if amount > MOST_SPEEDS:
        raise UnitError(f'"{text}"', f"is {amount} speeds, and {MOST_SPEEDS} are the most", "take a larger step")
    return np.asarray((first + step * np.arange(amount)) / 60.0, dtype=np.float64)


def ambient_from_text(text: str) -> Ambient:
    """The air around a build from absolute pressure, temperature and relative humidity, with commas between.

    Raises
    ------
    UnitError
        If one of the three is missing, has no unit, or is impossible.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != len(_READINGS):
        remedy = 'write pressure, temperature and relative humidity, such as "100 kPa, 25 degC, 0.4"'
        raise UnitError(f'"{text}"', "is not the three readings of a weather station", remedy)
    values: list[float] = []
    for part, (name, dimension, low, high) in zip(parts, _READINGS, strict=True):
        value = parse_quantity(part, dimension=dimension)
        if not low <= value <= high:
            raise UnitError(f'"{part}"', f"is no {name} of outside air", "check the number and its unit")
        values.append(value)
    return ambient_air(*values)


def blower_from_text(text: str, build_file: BuildFile) -> BlowerForm | None:
    """The form of blower that is asked for: `slip` (which needs none), `chamber`, or a measured map by its file.

    Raises
    ------
    UnitError
        If it is none of the three.
    FileError
        If the map is not sound, or the ports of the build contradict its chambers.
    """
    if text == "slip":
        return None
    build = build_of(build_file)
    limit, per_rotor_turn = build.blower.speed_limit, build.blower.blower_displacement / build.drive.internal_step
    if text == "chamber":
        made = chamber_map(_geometry(build_file), typical_corrected_speeds(limit), typical_pressure_ratios())
        return BlowerForm(name=CHAMBER, blower=made)
    if Path(text).suffix.lower() != ".csv":
        raise UnitError(f'"{text}"', "is not a form of blower", "write slip, chamber, or the name of a map's .csv file")
    return BlowerForm(name=f"map {Path(text).name}", blower=_map_from(Path(text), per_rotor_turn, limit))


def _geometry(build_file: BuildFile) -> ChamberGeometry:
    try:
        return chamber_of(build_file)
    except ValueError as wrong:
        remedy = "check the angles under [inlet] and [blower]; those not stated are listed by --assumptions"
        raise FileError([Fault(file=build_file.name, problem=str(wrong), remedy=remedy)]) from wrong


def _map_from(path: Path, blower_displacement: float, speed_limit: float) -> BlowerMap:
    record = read_blower_map(path)
    try:
        return measured_map(record, blower_displacement, speed_limit)
    except ValueError as wrong:
        problem, _, remedy = str(wrong).partition(": ")
        raise FileError([Fault(file=str(path), problem=problem, remedy=remedy or "check the map")]) from wrong

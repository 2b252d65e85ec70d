"""What a person types to ask for a match: engine speeds as `2000:6000:100`, the air as `100 kPa, 25 degC, 0.4`."""

import re
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.operating_point import Ambient, ambient_air
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

"""What a person types to ask for a plan: a range as `3000:5800`, times as `6 min`."""

import re
from dataclasses import replace

from boostwright.errors import FileError
from boostwright.units import UnitError, parse_quantity


def range_from_text(text: str) -> tuple[float, float]:
    """Lowest and highest engine speed [1/s] from two numbers in rev/min."""
    parts = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)\s*(?:rpm)?\s*", text)
    low, high = (float(part) / 60 for part in parts.groups()) if parts else (0.0, 0.0)
    if not 0 < low < high:
        raise UnitError(
            f'"{text}"', "is not a range of engine speeds in rpm", "write the lower first, such as 3000:5800"
        )
    return low, high


def duration_from_text(text: str, option: str) -> float:
    """A time above zero [s]; the fault names the option that it was given to."""
    try:
        seconds = parse_quantity(text, dimension="time")
        if not seconds > 0:
            raise UnitError(f'"{text}"', "is no time", 'write one above zero, such as "6 min"')
    except UnitError as wrong:
        raise FileError([replace(wrong.fault, key=option)]) from wrong
    return seconds


def gain_from_text(text: str) -> float:
    """A gain above zero as a fraction."""
    try:
        gain = parse_quantity(text, dimension="fraction")
        if not gain > 0:
            raise UnitError(f'"{text}"', "is no gain", 'write one above zero, such as "1 %"')
    except UnitError as wrong:
        raise FileError([replace(wrong.fault, key="--gain")]) from wrong
    return gain

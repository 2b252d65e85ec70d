"""A what-if as a page shows it: curves, words at every tenth rev/min, limits in order, sliders with their ends."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.limits import LimitMargin, LimitStatus
from boostwright.publish.compare_page import READING_STEP
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.verdict import GAIN, LOSS, OPEN
from boostwright.studies.what_if import Setting, WhatIf, WhatIfCurve
from boostwright.studies.words import decimals_for, number, signed_plus_minus, speed_text
from boostwright.units import display_unit, parse_unit, printed_symbol

_WORDS = {
    "brake_torque_nm": "Torque",
    "brake_power_kw": "Power",
    "boost_kpa": "Boost",
    "charge_temperature_degC": "Charge after cooler",
    "blower_drive_power_kw": "Drive power",
}
FUELS = ("E0", "E10", "E20", "E30", "E50", "E85", "E100", "methanol", "propane", "methane")
_MORE_DECIMALS = {"fraction": 2, "torque": 0, "speed": 0, "temperature": 0}


@dataclass(frozen=True, kw_only=True)
class Slider:
    """One thing to turn: what the page calls it, its unit, its ends and step, where it stood in the test."""

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    decimals: int
    tested: float


@dataclass(frozen=True, kw_only=True)
class PageCurve:
    """One quantity along the engine speed, with its range, and the words for every reading."""

    name: str
    words: str
    unit: str
    tested: list[float | None]
    asked: list[float | None]
    lower: list[float | None]
    upper: list[float | None]
    difference: list[float | None]
    difference_lower: list[float | None]
    difference_upper: list[float | None]
    readings: list[str]
    tested_readings: list[str]
    differences: list[str]


@dataclass(frozen=True, kw_only=True)
class PageLimit:
    """One limit as it is printed; the share of the limit is for the bar, and none if it is not known."""

    name: str
    value: str
    limit: str
    left: str
    at: str
    share_percent: float | None
    status: str
    needs: list[str]


@dataclass(frozen=True, kw_only=True)
class WhatIfPage:
    """A what-if with all its words; `states` says of each reading what the first curve's difference shows."""

    engine_speed_rpm: list[float | None]
    readings_rpm: list[int]
    curves: list[PageCurve]
    states: list[str]
    pressure_ratio: list[float | None]
    volume_flow_m3_per_min: list[float | None]
    tested_pressure_ratio: list[float | None]
    tested_volume_flow_m3_per_min: list[float | None]
    limits: list[PageLimit]
    limits_headline: str
    is_far: bool
    warnings: list[str]


def sliders(tested: Setting) -> list[Slider]:
    """What can be turned, around where it stood in the test."""
    ratio, pressure, temperature = tested.drive_ratio, tested.ambient_pressure / 1e3, tested.air_temperature - 273.15
    return [
        _slider("drive_ratio", "Drive ratio", "", round(0.8 * ratio, 2), round(1.25 * ratio, 2), 0.01, 2, ratio),
        _slider("ambient_pressure_kpa", "Air pressure", "kPa", 65.0, 105.0, 0.5, 1, pressure),
        _slider("air_temperature_degC", "Air temperature", "°C", -10.0, 45.0, 0.5, 1, temperature),
    ]


def _slider(
    key: str, words: str, unit: str, low: float, high: float, step: float, decimals: int, tested: float
) -> Slider:
    return Slider(
        key=key, words=words, unit=unit, low=low, high=high, step=step, decimals=decimals, tested=round(tested, 4)
    )


def what_if_page(result: WhatIf) -> WhatIfPage:
    """Set a what-if for a page."""
    speed = 60.0 * result.engine_speed
    first, last = math.ceil(speed[0] / READING_STEP), math.floor(speed[-1] / READING_STEP)
    readings = READING_STEP * np.arange(first, last + 1)
    ordered = sorted(result.limits, key=lambda limit: (limit.status is LimitStatus.NOT_KNOWN, limit.margin))
    return WhatIfPage(
        engine_speed_rpm=json_list(speed),
        readings_rpm=[int(rpm) for rpm in readings],
        curves=[_page_curve(curve, speed, readings) for curve in result.curves],
        states=_states(result.curves[0], speed, readings),
        pressure_ratio=json_list(result.pressure_ratio),
        volume_flow_m3_per_min=json_list(60.0 * result.volume_flow),
        tested_pressure_ratio=json_list(result.tested_pressure_ratio),
        tested_volume_flow_m3_per_min=json_list(60.0 * result.tested_volume_flow),
        limits=[_page_limit(limit) for limit in ordered],
        limits_headline=result.limits_headline,
        is_far=result.is_far,
        warnings=list(result.warnings),
    )


def _states(curve: WhatIfCurve, speed: NDArray[np.float64], readings: NDArray[np.int_]) -> list[str]:
    lower, upper = (np.interp(readings, speed, values) for values in (curve.difference_lower, curve.difference_upper))
    return [str(state) for state in np.where(lower > 0.0, GAIN, np.where(upper < 0.0, LOSS, OPEN))]


def _page_curve(curve: WhatIfCurve, speed: NDArray[np.float64], readings: NDArray[np.int_]) -> PageCurve:
    unit = printed_symbol(parse_unit(curve.unit))

    def at(values: NDArray[np.float64]) -> list[float]:
        return [float(value) for value in np.interp(readings, speed, values)]

    asked = zip(*(at(values) for values in (curve.asked, curve.lower, curve.upper)), strict=True)
    tested = zip(*(at(values) for values in (curve.tested, curve.tested_lower, curve.tested_upper)), strict=True)
    differences = zip(at(curve.difference_lower), at(curve.difference_upper), strict=True)
    return PageCurve(
        name=curve.name,
        words=_WORDS[curve.name],
        unit=unit,
        tested=json_list(curve.tested),
        asked=json_list(curve.asked),
        lower=json_list(curve.lower),
        upper=json_list(curve.upper),
        difference=json_list(curve.asked - curve.tested),
        difference_lower=json_list(curve.difference_lower),
        difference_upper=json_list(curve.difference_upper),
        readings=[_said(value, low, high, unit) for value, low, high in asked],
        tested_readings=[_said(value, low, high, unit) for value, low, high in tested],
        differences=[_difference(low, high, unit) for low, high in differences],
    )


def _said(value: float, low: float, high: float, unit: str) -> str:
    """A value with both ends of its range, which is seldom even: `504 N·m (412–557)`."""
    if not math.isfinite(value + low + high):
        return "–"
    decimals = decimals_for((high - low) / 2.0)
    shown, first, last = (number(size, decimals) for size in (value, low, high))
    return f"{shown}\u00a0{unit} ({first}–{last})"


def _difference(low: float, high: float, unit: str) -> str:
    if not math.isfinite(low + high):
        return "–"
    if low == high:
        return "as tested"
    return signed_plus_minus((low + high) / 2.0, (high - low) / 2.0, unit)


def _page_limit(limit: LimitMargin) -> PageLimit:
    known = limit.status is not LimitStatus.NOT_KNOWN
    return PageLimit(
        name=limit.name,
        value=_quantity(limit.value, limit.dimension),
        limit=_quantity(limit.limit, limit.dimension),
        left=f"{number(100.0 * limit.margin)} %" if known else "",
        at=f"{speed_text(limit.engine_speed)} rev/min" if math.isfinite(limit.engine_speed) else "",
        share_percent=json_number(100.0 * (1.0 - limit.margin)) if known else None,
        status=limit.status.value,
        needs=list(limit.needs),
    )


def _quantity(value: float, dimension: str) -> str:
    if not math.isfinite(value):
        return "–"
    if dimension == "speed":
        return f"{speed_text(value)}\u00a0rev/min"
    unit = display_unit(dimension, "metric")
    text = number(float(unit.from_si(value)), _MORE_DECIMALS.get(dimension, 1))
    return f"{text}\u00a0{printed_symbol(unit)}".strip()

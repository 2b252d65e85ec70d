"""A what-if as a page shows it: curves, words at every tenth rev/min, limits in order, sliders with their ends."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.limits import LimitStatus
from boostwright.publish.compare_page import READING_STEP
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.verdict import GAIN, LOSS, OPEN
from boostwright.studies.what_if import LimitRange, Setting, WhatIf, WhatIfCurve
from boostwright.studies.words import NO_BREAK, THIN, decimals_for, number, plus_minus, signed_plus_minus, speed_text
from boostwright.units import System, Unit, display_unit, parse_unit, printed_symbol

_WORDS = {  # name of a curve: what the page calls it, and its dimension
    "brake_torque_nm": ("Torque", "torque"),
    "brake_power_kw": ("Power", "power"),
    "boost_kpa": ("Boost", "gauge_pressure"),
    "charge_temperature_degC": ("Charge after cooler", "temperature"),
    "blower_drive_power_kw": ("Drive power", "power"),
}
_METRIC_FLOW = Unit(symbol="m³/min", dimension="volume_flow", scale=1.0 / 60.0)
FUELS = ("E0", "E10", "E20", "E30", "E50", "E85", "E100", "methanol", "propane", "methane")
_MORE_DECIMALS = {"fraction": 2, "torque": 0, "speed": 0, "temperature": 0}


@dataclass(frozen=True, kw_only=True)
class Slider:
    """One thing to turn: what the page calls it, its unit, its ends and step, where it stood in the test and stands."""

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    decimals: int
    tested: float
    asked: float


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


@dataclass(frozen=True, kw_only=True)
class PageLimit:
    """One limit as it is printed; the shares of the limit are for the bar, and none if it is not known.

    `shares_percent` follow the engine speeds of the page; `status` is "may give" where the range reaches the limit;
    `chance` that it is exceeded is known of a machine that fits its pulls.
    """

    name: str
    value: str
    limit: str
    left: str
    at: str
    share_percent: float | None
    lower_percent: float | None
    upper_percent: float | None
    shares_percent: list[float | None]
    status: str
    needs: list[str]
    chance: str = ""


@dataclass(frozen=True, kw_only=True)
class WhatIfPage:
    """A what-if with all its words; `differences` and `states` say at each reading what the first curve changes by.

    `basis` is "pulls" if the machine was fitted to them, "build" if only its file speaks.
    """

    basis: str
    flow_unit: str
    engine_speed_rpm: list[float | None]
    readings_rpm: list[int]
    curves: list[PageCurve]
    differences: list[str]
    states: list[str]
    pressure_ratio: list[float | None]
    volume_flow: list[float | None]
    tested_pressure_ratio: list[float | None]
    tested_volume_flow: list[float | None]
    limits: list[PageLimit]
    limits_headline: str
    is_far: bool
    warnings: list[str]


def sliders(tested: Setting, asked: Setting, units: System) -> list[Slider]:
    """What can be turned, around where it stood in the test; the keys carry the units, as requests do."""
    pressure, temperature = _AIR[units]
    return [
        _slider("drive_ratio", "Drive ratio", _ratio_ends(tested.drive_ratio), tested.drive_ratio, asked.drive_ratio),
        _air_slider("Air pressure", pressure, tested.ambient_pressure, asked.ambient_pressure),
        _air_slider("Air temperature", temperature, tested.air_temperature, asked.air_temperature),
    ]


@dataclass(frozen=True, kw_only=True)
class _Ends:
    """The ends of a slider, its step and its decimals, in a unit."""

    unit: str
    low: float
    high: float
    step: float
    decimals: int


_AIR: dict[System, tuple[tuple[str, _Ends], tuple[str, _Ends]]] = {
    "metric": (
        ("ambient_pressure_kpa", _Ends(unit="kPa", low=65.0, high=105.0, step=0.5, decimals=1)),
        ("air_temperature_degC", _Ends(unit="degC", low=-10.0, high=45.0, step=0.5, decimals=1)),
    ),
    "us": (
        ("ambient_pressure_inhg", _Ends(unit="inHg", low=19.0, high=31.0, step=0.1, decimals=1)),
        ("air_temperature_degF", _Ends(unit="degF", low=10.0, high=115.0, step=1.0, decimals=0)),
    ),
}


def _ratio_ends(tested: float) -> _Ends:
    return _Ends(unit="-", low=round(0.8 * tested, 2), high=round(1.25 * tested, 2), step=0.01, decimals=2)


def _air_slider(words: str, of: tuple[str, _Ends], tested: float, asked: float) -> Slider:
    key, ends = of
    unit = parse_unit(ends.unit)
    return _slider(key, words, ends, float(unit.from_si(tested)), float(unit.from_si(asked)))


def _slider(key: str, words: str, ends: _Ends, tested: float, asked: float) -> Slider:
    return Slider(
        key=key,
        words=words,
        unit=printed_symbol(parse_unit(ends.unit)),
        low=min(ends.low, math.floor(tested / ends.step) * ends.step),
        high=max(ends.high, math.ceil(tested / ends.step) * ends.step),
        step=ends.step,
        decimals=ends.decimals,
        tested=round(tested, 4),
        asked=round(asked, 4),
    )


def flow_unit(units: System) -> Unit:
    """The unit in which flows through the blower are shown."""
    return _METRIC_FLOW if units == "metric" else parse_unit("cfm")


def what_if_page(result: WhatIf, units: System) -> WhatIfPage:
    """Set a what-if for a page."""
    speed = 60.0 * result.engine_speed
    first, last = math.ceil(speed[0] / READING_STEP), math.floor(speed[-1] / READING_STEP)
    readings = READING_STEP * np.arange(first, last + 1)
    ordered = sorted(result.limits, key=lambda limit: (not math.isfinite(limit.most), -limit.upper))
    flow = flow_unit(units)
    curves = [_page_curve(curve, speed, readings, units) for curve in result.curves]
    return WhatIfPage(
        basis=result.basis.value,
        flow_unit=printed_symbol(flow),
        engine_speed_rpm=json_list(speed),
        readings_rpm=[int(rpm) for rpm in readings],
        curves=curves,
        differences=_differences(curves[0], speed, readings),
        states=_states(result.curves[0], speed, readings),
        pressure_ratio=json_list(result.pressure_ratio),
        volume_flow=json_list(flow.from_si(result.volume_flow)),
        tested_pressure_ratio=json_list(result.tested_pressure_ratio),
        tested_volume_flow=json_list(flow.from_si(result.tested_volume_flow)),
        limits=[_page_limit(limit, units) for limit in ordered],
        limits_headline=_limits_headline(ordered),
        is_far=result.is_far,
        warnings=list(result.warnings),
    )


def _differences(curve: PageCurve, speed: NDArray[np.float64], readings: NDArray[np.int_]) -> list[str]:
    ends = (np.array(values, dtype=np.float64) for values in (curve.difference_lower, curve.difference_upper))
    lower, upper = (np.interp(readings, speed, values).tolist() for values in ends)
    return [_difference(low, high, curve.unit) for low, high in zip(lower, upper, strict=True)]


def _states(curve: WhatIfCurve, speed: NDArray[np.float64], readings: NDArray[np.int_]) -> list[str]:
    lower, upper = (np.interp(readings, speed, values) for values in (curve.difference_lower, curve.difference_upper))
    return [str(state) for state in np.where(lower > 0.0, GAIN, np.where(upper < 0.0, LOSS, OPEN))]


def _page_curve(curve: WhatIfCurve, speed: NDArray[np.float64], readings: NDArray[np.int_], units: System) -> PageCurve:
    words, dimension = _WORDS[curve.name]
    computed, shown = parse_unit(curve.unit), display_unit(dimension, units)
    factor, unit = computed.scale / shown.scale, printed_symbol(shown)

    def value(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return shown.from_si(computed.to_si(values))

    def at(values: NDArray[np.float64]) -> list[float]:
        return np.interp(readings, speed, values).tolist()

    asked = zip(*(at(value(values)) for values in (curve.asked, curve.lower, curve.upper)), strict=True)
    tested = zip(*(at(value(v)) for v in (curve.tested, curve.tested_lower, curve.tested_upper)), strict=True)
    return PageCurve(
        name=curve.name,
        words=words,
        unit=unit,
        tested=json_list(value(curve.tested)),
        asked=json_list(value(curve.asked)),
        lower=json_list(value(curve.lower)),
        upper=json_list(value(curve.upper)),
        difference=json_list(factor * (curve.asked - curve.tested)),
        difference_lower=json_list(factor * curve.difference_lower),
        difference_upper=json_list(factor * curve.difference_upper),
        readings=[_said(middle, low, high, unit) for middle, low, high in asked],
        tested_readings=[_said_again(middle, low, high, unit) for middle, low, high in tested],
    )


def _said(value: float, low: float, high: float, unit: str) -> str:
    """A value with both ends of its range, which is seldom even: `504 N·m (412–557)`."""
    if not math.isfinite(value + low + high):
        return "–"
    decimals = decimals_for((high - low) / 2.0)
    said = f"{value:,.{decimals}f}{NO_BREAK}{unit} ({low:,.{decimals}f}–{high:,.{decimals}f})"
    if "-" not in said:  # nothing negative: half the time, and a slider waits for thousands of them
        return said.replace(",", THIN)
    shown, first, last = (number(size, decimals) for size in (value, low, high))
    return f"{shown}{NO_BREAK}{unit} ({first}–{last})"


_said_again = lru_cache(maxsize=4096)(_said)  # as tested the words are the same in every answer to a slider


def _difference(low: float, high: float, unit: str) -> str:
    if not math.isfinite(low + high):
        return "–"
    if low == high:
        return "as tested"
    return signed_plus_minus((low + high) / 2.0, (high - low) / 2.0, unit)


def _limits_headline(ordered: list[LimitRange]) -> str:
    """What gives, may give, or comes nearest, by the upper end of its range."""
    known = [limit for limit in ordered if math.isfinite(limit.most)]
    if not known:
        return "No limit is known."
    first = known[0]
    middle, half = 50.0 * (first.lower + first.upper), 50.0 * (first.upper - first.lower)
    name, place = first.margin.name, f"at {speed_text(first.margin.engine_speed)} rev/min"
    if first.lower > 1.0:
        return f"{_sentence(name)} gives first: over its limit by {plus_minus(middle - 100.0, half, '%')} {place}."
    if first.upper > 1.0:
        return f"{_sentence(name)} may give: {plus_minus(middle, half, '%')} of its limit {place}."
    return (
        f"No known limit gives. {_sentence(name)} comes nearest: {plus_minus(100.0 - middle, half, '%')} left {place}."
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"


def _page_limit(limit: LimitRange, units: System) -> PageLimit:
    margin, known = limit.margin, math.isfinite(limit.most)
    middle, half = 50.0 * (limit.lower + limit.upper), 50.0 * (limit.upper - limit.lower)
    may_give = known and limit.lower <= 1.0 < limit.upper
    return PageLimit(
        name=margin.name,
        value=limit_quantity(margin.value, margin.dimension, units),
        limit=limit_quantity(margin.limit, margin.dimension, units),
        left=plus_minus(100.0 - middle, half, "%") if known else "",
        at=f"{speed_text(margin.engine_speed)} rev/min" if math.isfinite(margin.engine_speed) else "",
        share_percent=json_number(middle) if known else None,
        lower_percent=json_number(100.0 * limit.lower) if known else None,
        upper_percent=json_number(100.0 * limit.upper) if known else None,
        shares_percent=json_list(100.0 * limit.share),
        status="may give" if may_give else margin.status.value if known else LimitStatus.NOT_KNOWN.value,
        needs=list(margin.needs),
    )


def limit_quantity(value: float, dimension: str, units: System) -> str:
    """The value of a limit in words."""
    if not math.isfinite(value):
        return "–"
    if dimension == "speed":
        return f"{speed_text(value)}{NO_BREAK}rev/min"
    unit = display_unit(dimension, units)
    text = number(float(unit.from_si(value)), _MORE_DECIMALS.get(dimension, 1))
    return f"{text}{NO_BREAK}{printed_symbol(unit)}".strip()

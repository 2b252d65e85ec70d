"""An explanation as a page shows it: changes and shares at every tenth rev/min, and what the data determined."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.publish.compare_page import READING_STEP
from boostwright.publish.explain_tables import DIMENSIONS, Row, channel_table, parameter_table, weather_table
from boostwright.studies.explain_result import Band, CauseTerm, DerivedQuantity, ExplainResult
from boostwright.studies.rounding import json_list
from boostwright.studies.words import (
    NO_BREAK,
    decimals_for,
    number,
    plus_minus,
    quantity_words,
    signed,
)
from boostwright.units import System, display_unit, printed_symbol

_MOST_DECIMALS = 2  # of a percentage: a cause known to a thousandth of a percent of power is no news


@dataclass(frozen=True, kw_only=True)
class PageBand:
    """A curve in percent along the engine speed with its 95 % range, its words at every reading and over the range."""

    name: str
    values: list[float | None]
    lower: list[float | None]
    upper: list[float | None]
    readings: list[str]
    average: str


@dataclass(frozen=True, kw_only=True)
class PageDerived:
    """A quantity that the fitted machine gives for both setups, in words at every reading."""

    words: str
    unit: str
    baseline: list[str]
    candidate: list[str]


@dataclass(frozen=True, kw_only=True)
class PageUnknown:
    """One unknown before and after the data."""

    words: str
    unit: str
    before: str
    after: str
    share_removed: str
    is_determined: bool


@dataclass(frozen=True, kw_only=True)
class PageRow:
    """One line of a small table."""

    words: str
    cells: list[str]


@dataclass(frozen=True, kw_only=True)
class ExplainPage:
    """An explanation with all its words. `causes`, `interaction` and `unexplained` sum to `measured`."""

    headline: str
    because: str
    answer: str
    readings_rpm: list[int]
    engine_speed_rpm: list[float | None]
    air: PageBand
    pressure: PageBand
    measured: PageBand
    causes: list[PageBand]
    interaction: PageBand
    unexplained: PageBand
    derived: list[PageDerived]
    determined: str
    unknowns: list[PageUnknown]
    channels: list[PageRow]
    weather: list[PageRow]
    notes: list[str]
    warnings: list[str]


def explain_page(result: ExplainResult, units: System) -> ExplainPage:
    """Set an explanation for a page."""
    speed = 60.0 * result.engine_speed
    first, last = math.ceil(speed[0] / READING_STEP), math.floor(speed[-1] / READING_STEP)
    readings = READING_STEP * np.arange(first, last + 1)
    headline, _, because = result.sentence.partition(". ")

    def band(name: str, of: Band) -> PageBand:
        return _page_band(name, of, speed, readings)

    def term(name: str, of: CauseTerm) -> PageBand:
        return band(name, of.relative_gain)

    return ExplainPage(
        headline=f"{headline}.",
        because=because,
        answer=headline.partition(":")[0],
        readings_rpm=[int(rpm) for rpm in readings],
        engine_speed_rpm=json_list(speed),
        air=band("air mass flow", result.air_gain),
        pressure=band("absolute manifold pressure", result.pressure_gain),
        measured=term("Together, as measured", result.measured_gain),
        causes=[term(_cause_words(cause), cause) for cause in result.causes],
        interaction=term("Causes acting together", result.interaction),
        unexplained=term("Not explained", result.unexplained),
        derived=[_page_derived(quantity, speed, readings, units) for quantity in result.derived],
        determined=_determined(result),
        unknowns=[_unknown(row) for row in parameter_table(result, units).rows],
        channels=[PageRow(words=row.head, cells=row.cells[:2]) for row in channel_table(result).rows],
        weather=[PageRow(words=row.head, cells=row.cells) for row in weather_table(result).rows],
        notes=list(result.merging),
        warnings=list(result.warnings),
    )


def _cause_words(cause: CauseTerm) -> str:
    words = cause.name.replace(" + ", " and ")
    return f"{words[0].upper()}{words[1:]}"


def _page_band(name: str, of: Band, speed: NDArray[np.float64], readings: NDArray[np.int_]) -> PageBand:
    values, lower, upper = (100.0 * curve for curve in (of.values, of.lower, of.upper))
    at = [np.interp(readings, speed, curve) for curve in (values, lower, upper)]
    return PageBand(
        name=name,
        values=json_list(values),
        lower=json_list(lower),
        upper=json_list(upper),
        readings=[_percent(float(v), float(high - low) / 2.0) for v, low, high in zip(*at, strict=True)],
        average=_percent(100.0 * of.mean, 100.0 * of.half_width),
    )


def _percent(value: float, half_width: float) -> str:
    decimals = min(decimals_for(half_width), _MOST_DECIMALS)
    return NO_BREAK.join((signed(value, decimals), "±", number(half_width, decimals), "%"))


def _page_derived(
    of: DerivedQuantity, speed: NDArray[np.float64], readings: NDArray[np.int_], units: System
) -> PageDerived:
    dimension = DIMENSIONS.get(of.unit)
    unit = None if dimension is None else display_unit(dimension, units)
    scale, zero = (0.01, 0.0) if unit is None else (unit.scale, unit.offset)

    def said(band: Band) -> list[str]:
        values, lower, upper = (np.interp(readings, speed, curve) for curve in (band.values, band.lower, band.upper))
        return [
            plus_minus(float(v - zero) / scale, float(high - low) / 2.0 / scale, "").rstrip()
            for v, low, high in zip(values, lower, upper, strict=True)
        ]

    return PageDerived(
        words=quantity_words(of.name),
        unit="%" if unit is None else printed_symbol(unit),
        baseline=said(of.baseline),
        candidate=said(of.candidate),
    )


def _determined(result: ExplainResult) -> str:
    """How many unknowns the data rather than the assumptions say."""
    count = sum(row.is_determined for row in result.parameters)
    return (
        f"The pulls determined {count} of {len(result.parameters)} unknowns; the others stay near what was assumed, "
        "and the ranges above hold that."
    )


def _unknown(row: Row) -> PageUnknown:
    before, after, unit, share_removed = row.cells
    return PageUnknown(
        words=row.head,
        unit=unit.strip("–"),
        before=before,
        after=after,
        share_removed=share_removed,
        is_determined=row.is_shown,
    )

"""The tables of an explanation, each a list of rows that any page can set; every number with its interval."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.calibrate import LOGARITHMIC
from boostwright.nomenclature import WORDS
from boostwright.publish.compare_tables import round_speeds
from boostwright.studies.explain_result import Band, CauseTerm, Estimate, ExplainResult, FittedChannel, FittedCurve
from boostwright.studies.words import (
    MINUS,
    NO_BREAK,
    decimals_for,
    number,
    plus_minus,
    quantity_words,
    signed,
    signed_plus_minus,
)
from boostwright.units import System, Unit, display_unit, parse_unit, printed_symbol

MOST_SPEEDS = 6
_MOST_DECIMALS = 2  # of a percentage of power: less is no news to anybody
_LEAST_DECIMALS = 1  # so that a reader can add the shares up
FINEST_LEVEL = 1e-4  # of a value: a pressure that a valve holds comes out of the chain with no spread at all
DIMENSIONS = {"kg_per_s": "mass_flow", "kpa": "pressure", "kw": "power", "degC": "temperature"}  # others are shares
_OF_UNKNOWNS: dict[System, dict[str, str]] = {  # SI unit of an unknown: the unit that it is read in
    "metric": {"m2": "cm^2", "Pa": "hPa", "W": "kW", "rad": "deg"},
    "us": {"m2": "in^2", "Pa": "inHg", "W": "hp", "rad": "deg"},
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a table: its head, its cells as printed, and whether it says something that is shown."""

    head: str
    cells: list[str]
    is_shown: bool = True


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table as printed: what it tells, the heads of its columns, and its rows."""

    name: str
    caption: str
    columns: list[str]
    rows: list[Row]


def share_table(result: ExplainResult, system: System = "metric", *, most_speeds: int = MOST_SPEEDS) -> Table:
    """The gain by cause: the mean over the range in power and in percent, and percent at round engine speeds."""
    rpm = _chosen_speeds(60 * result.engine_speed, most_speeds)
    power = display_unit("power", system)
    terms = (*result.causes, result.interaction, result.together, result.unexplained, result.measured_gain)
    words = {"unexplained": "not explained", "together": "all causes together", "interaction": "acting together"}
    return Table(
        name="Shares of the gain in power",
        caption=(
            f"Gain in power of {result.candidate} over {result.baseline} by cause, in percent of the power of "
            f"{result.baseline}; ± is half of the 95{NO_BREAK}% interval; shares add up to the measured gain"
        ),
        columns=["cause", f"mean, {printed_symbol(power)}", "mean, %", *[f"{number(x)} rev/min" for x in rpm]],
        rows=[
            Row(
                head=words.get(term.name, term.name),
                cells=[
                    _signed(term.gain.mean / power.scale, term.gain.half_width / power.scale),
                    _percent(term.relative_gain.mean, term.relative_gain.half_width),
                    *_percents_at(term, 60 * result.engine_speed, rpm),
                ],
                is_shown=term.relative_gain.is_shown and term is not result.interaction,
            )
            for term in terms
        ],
    )


def _chosen_speeds(rpm: NDArray[np.float64], most: int) -> list[int]:
    """A few round engine speeds, evenly spread."""
    speeds = round_speeds(float(rpm[0]), float(rpm[-1]))
    return speeds[:: -(-len(speeds) // most)]


def _percents_at(term: CauseTerm, rpm: NDArray[np.float64], speeds: list[int]) -> list[str]:
    band = term.relative_gain
    values, half = (np.interp(speeds, rpm, of) for of in (band.values, (band.upper - band.lower) / 2))
    return [_percent(float(value), float(width)) for value, width in zip(values, half, strict=True)]


def _percent(value: float, half_width: float) -> str:
    decimals = min(_MOST_DECIMALS, max(_LEAST_DECIMALS, decimals_for(100 * half_width)))
    return NO_BREAK.join((signed(100 * value, decimals), "±", number(100 * half_width, decimals)))


def _signed(value: float, half_width: float) -> str:
    decimals = min(_MOST_DECIMALS, decimals_for(half_width))
    return NO_BREAK.join((signed(value, decimals), "±", number(half_width, decimals)))


def air_table(result: ExplainResult) -> Table:
    """The gain in air and in pressure, which answers whether it is more air or only more pressure."""
    rpm = _chosen_speeds(60 * result.engine_speed, MOST_SPEEDS)
    named = (
        ("air mass flow", result.air_gain),
        ("absolute manifold pressure", result.pressure_gain),
        ("air beyond pressure", result.air_minus_pressure),
    )
    terms = [CauseTerm(name=name, parts=(), gain=band, relative_gain=band) for name, band in named]
    return Table(
        name="Gain in air and in pressure",
        caption=f"Gain in air and in pressure, %; ± is half of the 95{NO_BREAK}% interval",
        columns=["gain in", "mean", *[f"{number(x)} rev/min" for x in rpm]],
        rows=[
            Row(
                head=term.name,
                cells=[
                    _percent(term.relative_gain.mean, term.relative_gain.half_width),
                    *_percents_at(term, 60 * result.engine_speed, rpm),
                ],
                is_shown=term.relative_gain.is_shown,
            )
            for term in terms
        ],
    )


def derived_table(result: ExplainResult, system: System = "metric") -> Table:
    """What the chain gives besides, as the mean over the range of both setups."""
    rows: list[Row] = []
    for of in result.derived:
        unit = display_unit(DIMENSIONS[of.unit], system) if of.unit in DIMENSIONS else parse_unit("%")
        cells = [_level(band, unit) for band in (of.baseline, of.candidate)]
        rows.append(Row(head=quantity_words(of.name), cells=[*cells, printed_symbol(unit)]))
    return Table(
        name="What the fitted chain gives besides",
        caption=f"What the fitted chain gives besides, mean over the range; ± is half of the 95{NO_BREAK}% interval",
        columns=["quantity", result.baseline, result.candidate, "unit"],
        rows=rows,
    )


def _level(band: Band, unit: Unit) -> str:
    value = float(unit.from_si(band.mean))
    return plus_minus(value, max(band.half_width / unit.scale, FINEST_LEVEL * abs(value)), "").rstrip()


def fit_table(result: ExplainResult, system: System = "metric") -> Table:
    """Measured against fitted, one row for each logged channel and setup."""
    rows: list[Row] = []
    for channel in result.channels:
        unit = display_unit(parse_unit(WORDS[channel.name].unit).dimension, system)
        symbol = "rev/min" if unit.symbol == "rpm" else printed_symbol(unit)
        for setup, curve in ((result.baseline, channel.baseline), (result.candidate, channel.candidate)):
            measured = plus_minus(
                float(unit.from_si(curve.measured.mean())), float(curve.measured_half_width.mean()) / unit.scale, ""
            ).rstrip()
            met = f"{int(curve.is_within.sum())} of {curve.measured.size}"
            largest = _largest_residual(channel, curve, unit)
            cells = [setup, measured, _level(curve.fitted, unit), symbol, largest, met]
            rows.append(Row(head=quantity_words(channel.name), cells=cells))
    return Table(
        name="Measured against fitted",
        caption=(
            f"Measured against fitted, mean over the range; ± is half of the 95{NO_BREAK}% interval; a point is met "
            "where the fitted curve lies within the point's own error"
        ),
        columns=["channel", "setup", "measured", "fitted", "unit", "largest difference", "points met"],
        rows=rows,
    )


def _largest_residual(channel: FittedChannel, curve: FittedCurve, unit: Unit) -> str:
    """The largest difference of measured and fitted with the error of that point."""
    place = int(np.argmax(np.abs(curve.residual / curve.measured_half_width)))
    is_relative = channel.name in LOGARITHMIC
    size = 0.01 * float(curve.fitted.values[place]) if is_relative else unit.scale
    said = "%" if is_relative else printed_symbol(unit).replace("°C", "K")
    return signed_plus_minus(float(curve.residual[place]) / size, float(curve.measured_half_width[place]) / size, said)


def parameter_table(result: ExplainResult, system: System = "metric") -> Table:
    """Every unknown before and after the data, those first of which the data told most."""
    rows: list[Row] = []
    for row in sorted(result.parameters, key=lambda row: -row.share_removed):
        scale, unit = _unknown_unit(row.unit, system)
        cells = [_range(row.prior, scale), _range(row.posterior, scale), unit, _share(row.share_removed)]
        rows.append(Row(head=quantity_words(row.name), cells=cells, is_shown=row.is_determined))
    return Table(
        name="What the data determined",
        caption=(
            f"Every unknown before and after the data, 95{NO_BREAK}% ranges; a difference is that of the setups, "
            "a slope that along engine speed, and a dash stands for a ratio"
        ),
        columns=["unknown", "assumed", "after the data", "unit", "variance removed"],
        rows=rows,
    )


def _unknown_unit(si: str, system: System) -> tuple[float, str]:
    """Size and symbol of the unit that an unknown is read in; a dash stands for a ratio."""
    spelling = _OF_UNKNOWNS[system].get(si)
    if spelling is None:
        return 1.0, "–" if si == "-" else si
    unit = parse_unit(spelling)
    return unit.scale, printed_symbol(unit)


def _range(estimate: Estimate, scale: float) -> str:
    return " to ".join(f"{bound / scale:.3g}".replace("-", MINUS) for bound in (estimate.lower, estimate.upper))


def _share(of: float) -> str:
    return f"{number(100 * of)}{NO_BREAK}%"


def channel_table(result: ExplainResult) -> Table:
    """What each channel that was not logged would leave of the widths of the intervals."""
    return Table(
        name="What another channel would sharpen",
        caption=f"What logging another channel would leave of the widths of the intervals; 100{NO_BREAK}%: nothing",
        columns=["channel", "gain in air", "all causes", "sharpens most", "leaves of it"],
        rows=[
            Row(
                head=quantity_words(row.channel),
                cells=[
                    _share(row.air_gain_left),
                    _share(row.causes_left),
                    row.sharpest_cause,
                    _share(row.sharpest_cause_left),
                ],
            )
            for row in result.sharper_channels
        ],
    )


def weather_table(result: ExplainResult) -> Table:
    """The published rules' factors for power beside what this engine does in the same change of weather."""
    rows: list[Row] = []
    for row in result.weather_factors:
        over = row.excess
        own = plus_minus(row.chain.value, (row.chain.upper - row.chain.lower) / 2, "").rstrip()
        percent = signed_plus_minus(100 * over.value, 50 * (over.upper - over.lower), "%")
        rows.append(Row(head=row.correction_rule, cells=[number(row.standard, 4), own, percent]))
    return Table(
        name="Weather factors",
        caption="A standard's factor to its reference weather, coolant as it was, beside what this engine does",
        columns=["rule", "its factor", "this engine's factor", "reads high by"],
        rows=rows,
    )

"""The rows of a pulley chart as words, once for the terminal and for the printed page."""

import math
from dataclasses import dataclass

from boostwright.studies.limit_curves import CONFIDENCE, Estimate
from boostwright.studies.pulleys import PulleyChart, PulleyPlace, PulleyRow
from boostwright.studies.words import MINUS, NO_BREAK, number, speed_text


@dataclass(frozen=True, kw_only=True)
class PlaceCells:
    """One pulley in one place, in words: value and range apart, so that a page may set the range smaller."""

    name: str
    boost: str
    boost_range: str
    power: str
    power_range: str
    first_limit: str
    chance: str


@dataclass(frozen=True, kw_only=True)
class PulleyCells:
    """One row of the chart in words."""

    pulley: str
    ratio: str
    rotor_speed: str
    reference: PlaceCells
    hot: PlaceCells
    chance: str
    is_within: bool
    is_chosen: bool


def pulley_cells(chart: PulleyChart) -> list[PulleyCells]:
    """Every pulley by rising ratio."""
    return [_cells(chart, row) for row in chart.rows]


def chart_notes(chart: PulleyChart) -> list[str]:
    """What the columns mean."""
    question = chart.question
    air = [
        f"{number(ambient.ambient_pressure / 1e3, 1)} kPa, {number(ambient.air_temperature - 273.15)} °C"
        for ambient in (question.reference, question.hot)
    ]
    speeds = chart.rows[0].reference.limits[0].engine_speed
    span = f"{speed_text(float(speeds[0]))} to {speed_text(float(speeds[-1]))} rev/min"
    return [
        f"Boost, power and rotor speed at {speed_text(question.target_speed)} rev/min; limits and chances over {span}. "
        f"Reference: {air[0]}; hot: {air[1]}{_coolant(chart)}.",
        f"In brackets the {100 * CONFIDENCE:.0f} % range of what nobody has said of the build; what the model itself "
        f"gets wrong is not in it. Chance: share of {chart.rows[0].worst.size} draws that break any known limit in the "
        f"place, or in either of them; accepted: {100 * question.risk:g} %. × marks what is beyond it.",
    ]


def _coolant(chart: PulleyChart) -> str:
    """What the cooler is fed with: the build says it, and no place changes it."""
    cooler = chart.rows[0].pulley.build.cooler
    if cooler.cooler_transfer_units == 0.0:
        return ""
    return (
        f"; the charge cooler is fed at {number(cooler.coolant_temperature - 273.15)} °C in both, as the build has it"
    )


def chance_text(chance: float, draw_count: int) -> str:
    """A chance in percent; one that no draw shows is only known to be below what they can show."""
    if chance == 0.0:
        return f"<{NO_BREAK}{300.0 / draw_count:.1g} %"  # three over the number: 95 % upper end of a count of none
    return f"{100.0 * chance:.1f} %" if chance < 0.1 else f"{100.0 * chance:.0f} %"


def _cells(chart: PulleyChart, row: PulleyRow) -> PulleyCells:
    return PulleyCells(
        pulley=row.pulley.label,
        ratio=f"{row.pulley.drive_ratio:.3f}",
        rotor_speed=speed_text(row.reference.rotor_speed.value),
        reference=_place(row.reference, "reference"),
        hot=_place(row.hot, "hot"),
        chance=chance_text(row.chance, row.worst.size),
        is_within=row.chance <= chart.question.risk,
        is_chosen=row is chart.chosen,
    )


def _place(place: PulleyPlace, name: str) -> PlaceCells:
    return PlaceCells(
        name=name,
        boost=number(place.boost.value / 1e3),
        boost_range=_range(place.boost),
        power=number(place.brake_power.value / 1e3),
        power_range=_range(place.brake_power),
        first_limit=first_limit_text(place),
        chance=chance_text(place.chance, place.worst.size),
    )


def _range(estimate: Estimate) -> str:
    return f"({number(estimate.lower / 1e3)}–{number(estimate.upper / 1e3)})"


def first_limit_text(place: PulleyPlace) -> str:
    """The first limit that is reached with its speed, or what comes nearest with what is left of it."""
    curve = place.first_limit
    if curve is None:
        return "no limit is known"
    if math.isfinite(curve.reached_by_value):
        speed = curve.first_speed
        lower, upper = (speed_text(end) if math.isfinite(end) else "none" for end in (speed.lower, speed.upper))
        return f"{curve.name} from {speed_text(speed.value)} ({lower}–{upper})"
    greatest = curve.greatest
    left = [100.0 * (1.0 - share) for share in (greatest.value, greatest.upper, greatest.lower)]
    value, low, high = (number(x, 0 if greatest.half_width >= 0.01 else 1) for x in left)
    between = f"{low} to {high}" if MINUS in low else f"{low}–{high}"
    at = speed_text(float(curve.engine_speed[curve.place]))
    return f"none; {curve.name} {value} % left ({between}) at {at}"

"""Limits and what would give them room, as words: once for the terminal and for every page."""

import math
from dataclasses import dataclass

from boostwright.publish.pulley_tables import chance_text
from boostwright.studies.limit_changes import WANTED_MARGIN, LimitChange
from boostwright.studies.limit_curves import CONFIDENCE, Estimate, LimitCurve
from boostwright.studies.limits import LimitsResult
from boostwright.studies.words import MINUS, NO_BREAK, decimals_for, number, signed, speed_text
from boostwright.units import System, Unit, display_unit, printed_symbol

_MORE_DECIMALS = {"fraction": 2, "velocity": 1, "volume_flow": 2, "power": 1}


@dataclass(frozen=True, kw_only=True)
class LimitCells:
    """One limit in words."""

    name: str
    value: str
    allowed: str
    left: str
    at: str
    chance: str
    status: str


@dataclass(frozen=True, kw_only=True)
class ChangeCells:
    """One way to gain margin in words."""

    limit: str
    change: str
    present: str
    needed: str
    power: str
    enough: str
    is_enough: bool


def limit_cells(result: LimitsResult) -> list[LimitCells]:
    """Every limit, the one that binds first; of those that are not known, what would tell."""
    return [_limit(curve, result.draw_count) for curve in result.limits]


def change_cells(result: LimitsResult, system: System = "metric") -> list[ChangeCells]:
    """Every way to gain margin, those that are enough first within each limit."""
    return [_change(change, system) for change in result.changes]


def limits_notes(result: LimitsResult, system: System = "metric") -> list[str]:
    """What the columns mean."""
    speeds = result.engine_speed
    span = f"{speed_text(float(speeds[0]))} to {speed_text(float(speeds[-1]))} rev/min"
    pressure, temperature = display_unit("pressure", system), display_unit("temperature", system)
    air = (
        f"{number(float(pressure.from_si(result.ambient.ambient_pressure)), 1)} {printed_symbol(pressure)}, "
        f"{number(float(temperature.from_si(result.ambient.air_temperature)))} {printed_symbol(temperature)}"
    )
    who = f"Setup {result.setup}: " if result.setup else "From "
    return [
        f"{who}{result.basis}, at {air}, over {span}.",
        f"In brackets 95 % ranges; chance: share of {result.draw_count} draws that exceed the limit anywhere in that "
        "span. What the model itself gets wrong is not in a build file's draws.",
    ]


def changes_note() -> str:
    """What is said above the ways to gain margin."""
    return (
        f"One thing changed at a time, so that {100 * WANTED_MARGIN:.0f} % of the limit is left. Power: what the mean "
        "over the speeds gains or loses by it, or for another highest speed, what the top gains or loses. Enough: "
        "share of the draws in which it suffices within its range."
    )


def _limit(curve: LimitCurve, draw_count: int) -> LimitCells:
    if not curve.is_known:
        needs = f": give {', '.join(curve.needs)}" if curve.needs else ""
        return LimitCells(
            name=curve.name, value="–", allowed="–", left="", at="", chance="", status=f"{curve.status.value}{needs}"
        )
    at, greatest = curve.place, curve.greatest
    left = Estimate(value=1.0 - greatest.value, lower=1.0 - greatest.upper, upper=1.0 - greatest.lower)
    return LimitCells(
        name=curve.name,
        value=_quantity(float(curve.values[at]), curve.dimension),
        allowed=_quantity(curve.limit, curve.dimension),
        left=_percent_range(left),
        at=f"{speed_text(float(curve.engine_speed[at]))} rev/min",
        chance=chance_text(curve.chance, draw_count),
        status=curve.status.value,
    )


def _change(change: LimitChange, system: System) -> ChangeCells:
    unit = display_unit(change.dimension, system)
    return ChangeCells(
        limit=change.limit,
        change=change.name,
        present=_plain(change.present, change, unit),
        needed=_needed(change, unit),
        power=_power(change.power_change, display_unit("power", system)),
        enough=f"{100.0 * change.share_reached:.0f} %",
        is_enough=change.share_reached >= CONFIDENCE,
    )


def _needed(change: LimitChange, unit: Unit) -> str:
    """The value that is needed with its range; where it lies beyond what can be had, what the end of it leaves."""
    needed = change.needed
    if math.isnan(needed.value):
        return f"not alone: {_plain(change.end, change, unit)} leaves {_percent_range(change.margin_at_end)}"
    lower, upper = (
        "beyond" if math.isnan(end) else _plain(end, change, unit, "") for end in (needed.lower, needed.upper)
    )
    between = f"{lower} to {upper}" if MINUS in f"{lower}{upper}" else f"{lower}–{upper}"
    return f"{_plain(needed.value, change, unit)} ({between})"


def _plain(value: float, change: LimitChange, unit: Unit, symbol: str | None = None) -> str:
    decimals = {"length": 1, "fraction": 2, "temperature": 0, "angle": 0, "area": 1, "speed": 0, "volume_flow": 2}
    shown = float(unit.from_si(value))
    if change.name.startswith("ribs"):
        return number(math.ceil(shown - 1e-9))
    if change.name == "flow of an injector":  # read in the trade's small unit
        shown, mark = 6e7 * value, "cc/min"
        text = number(shown)
    elif change.dimension == "speed":
        text, mark = speed_text(value), "rev/min"
    else:
        text, mark = number(shown, decimals.get(change.dimension, 2)), printed_symbol(unit)
    mark = mark if symbol is None else symbol
    return f"{text}{NO_BREAK}{mark}".rstrip(f"{NO_BREAK} ")


def _power(power: Estimate, unit: Unit) -> str:
    if math.isnan(power.value) or power.half_width == 0.0 == power.value:
        return "–"
    decimals = min(decimals_for(power.half_width / unit.scale), 1)
    value, lower, upper = (signed(x / unit.scale, decimals) for x in (power.value, power.lower, power.upper))
    return f"{value} ({lower} to {upper}) {printed_symbol(unit)}"


def _percent_range(left: Estimate) -> str:
    decimals = 0 if left.half_width >= 0.01 else 1
    value, low, high = (number(100.0 * x, decimals) for x in (left.value, left.lower, left.upper))
    between = f"{low} to {high}" if MINUS in f"{low}{high}" else f"{low}–{high}"
    return f"{value}{NO_BREAK}% ({between})"


def _quantity(value: float, dimension: str) -> str:
    unit = display_unit(dimension, "metric")
    text = number(float(unit.from_si(value)), _MORE_DECIMALS.get(dimension, 0))
    return f"{text}{NO_BREAK}{printed_symbol(unit)}".rstrip(f"{NO_BREAK} ")

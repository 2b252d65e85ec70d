"""Limits of the machine that fits the pulls, as a page shows them: chance of each, and what would give it room."""

import math
from dataclasses import dataclass

from boostwright.publish.limits_tables import ChangeCells, change_cells, changes_note, limits_notes
from boostwright.publish.pulley_tables import chance_text
from boostwright.publish.what_if_page import PageLimit, limit_quantity
from boostwright.studies.limit_changes import WANTED_MARGIN
from boostwright.studies.limit_curves import LimitCurve
from boostwright.studies.limits import ACCEPTED, LimitsResult, wants_margin
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.words import NO_BREAK, number, plus_minus, speed_text
from boostwright.units import System


@dataclass(frozen=True, kw_only=True)
class LimitsPage:
    """Limits with all their words: every one, the likeliest to be exceeded first, and ways to give them room."""

    setup: str
    engine_speed_rpm: list[float | None]
    limits_headline: str
    limits: list[PageLimit]
    chance: str
    room: str
    changes: list[ChangeCells]
    changes_note: str
    notes: list[str]
    warnings: list[str]


def limits_page(result: LimitsResult, units: System) -> LimitsPage:
    """Set limits for a page."""
    return LimitsPage(
        setup=result.setup,
        engine_speed_rpm=json_list(60.0 * result.engine_speed),
        limits_headline=result.sentence,
        limits=[_page_limit(curve, result.draw_count, units) for curve in result.limits],
        chance=f"Chance that any known limit is exceeded: {chance_text(result.chance, result.draw_count)}.",
        room=_room(result),
        changes=change_cells(result, units),
        changes_note=changes_note(),
        notes=limits_notes(result, units),
        warnings=list(result.warnings),
    )


def _room(result: LimitsResult) -> str:
    """What is to be said above the ways to gain margin, or in place of them."""
    if result.changes:
        return "What would give it room"
    margin, accepted = f"{number(100.0 * WANTED_MARGIN)}{NO_BREAK}%", f"{number(100.0 * ACCEPTED)}{NO_BREAK}%"
    if any(wants_margin(curve) for curve in result.limits):
        return "No single change that we try gives it room."
    return f"Every known limit has more than {margin} left, and is exceeded with a chance of at most {accepted}."


def _page_limit(curve: LimitCurve, draw_count: int, units: System) -> PageLimit:
    if not curve.is_known:
        return PageLimit(
            name=curve.name,
            value="–",
            limit="–",
            left="",
            at="",
            share_percent=None,
            lower_percent=None,
            upper_percent=None,
            shares_percent=json_list(100.0 * curve.share),
            status=curve.status.value,
            needs=list(curve.needs),
        )
    greatest, at = curve.greatest, curve.place
    left = 100.0 * (1.0 - greatest.value)
    may_give = greatest.lower <= 1.0 < greatest.upper
    return PageLimit(
        name=curve.name,
        value=limit_quantity(float(curve.values[at]), curve.dimension, units),
        limit=limit_quantity(curve.limit, curve.dimension, units),
        left=plus_minus(left, 100.0 * greatest.half_width, "%")
        if math.isfinite(greatest.half_width)
        else f"{number(left)}{NO_BREAK}%",
        at=f"{speed_text(float(curve.engine_speed[at]))} rev/min",
        share_percent=json_number(100.0 * greatest.value),
        lower_percent=json_number(100.0 * greatest.lower),
        upper_percent=json_number(100.0 * greatest.upper),
        shares_percent=json_list(100.0 * curve.share),
        status="may give" if may_give else curve.status.value,
        needs=[],
        chance=chance_text(curve.chance, draw_count),
    )

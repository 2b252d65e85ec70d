"""A comparison as a page shows it: every reading at the hand said once, here, so that no page rounds or judges."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from boostwright.publish.compare_tables import SpeedRow, rows_at, speed_rows
from boostwright.studies.claim import Claim, claim_of
from boostwright.studies.compare import RELATIVE
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.rounding import json_list
from boostwright.studies.words import quantity_words, signed_plus_minus, speed_text
from boostwright.units import printed_symbol

READING_STEP = 10  # rev/min


@dataclass(frozen=True, kw_only=True)
class PullCurve:
    """One pull over the engine speeds of the curve, in the unit of the page; a gap where the pull has none."""

    file: str
    setup: str
    used: bool
    values: list[float | None]


@dataclass(frozen=True, kw_only=True)
class ComparePage:
    """What a page adds to a comparison: words at every tenth rev/min, the table, single pulls, the claim.

    `is_relative` says whether the gain is read in percent or in the unit of the quantity.
    """

    title: str
    words: str
    unit: str
    is_relative: bool
    average: str
    readings_rpm: list[int]
    readings: list[SpeedRow]
    table: list[SpeedRow]
    turning_points_rpm: list[int]
    crossing_words: list[str]
    pulls: list[PullCurve]
    claim: Claim


def compare_page(result: CompareResult) -> ComparePage:
    """Set a comparison for a page."""
    speed = 60.0 * result.curves.engine_speed
    first, last = math.ceil(speed[0] / READING_STEP), math.floor(speed[-1] / READING_STEP)
    speeds = [READING_STEP * step for step in range(first, last + 1)]
    average = result.average
    return ComparePage(
        title=result.title,
        words=quantity_words(result.quantity),
        unit=printed_symbol(result.unit),
        is_relative=result.quantity in RELATIVE,
        average=signed_plus_minus(100.0 * average.relative_value, 100.0 * average.relative_half_width, "%"),
        readings_rpm=speeds,
        readings=rows_at(result, speeds),
        table=speed_rows(result),
        turning_points_rpm=_turning_points(result, speeds[0], speeds[-1]),
        crossing_words=[
            f"changes sign at {speed_text(found.engine_speed)}, "
            f"within {speed_text(found.lower)}–{speed_text(found.upper)}"
            for found in result.crossovers
        ],
        pulls=[
            PullCurve(
                file=pull.file,
                setup=pull.setup,
                used=pull.used,
                values=json_list(result.unit.from_si(pull.values)),
            )
            for pull in result.pulls
        ],
        claim=claim_of(result),
    )


def _turning_points(result: CompareResult, first: int, last: int) -> list[int]:
    """Ends, borders of the stretches, changes of sign and the best speed, rounded as they are said."""
    curves = result.curves
    best = float(curves.engine_speed[int(np.argmax(curves.gain))])
    borders = [before.to_speed for before, _ in pairwise(result.stretches)]
    speeds = [best, *borders, *(found.engine_speed for found in result.crossovers)]
    rounded = {min(max(READING_STEP * round(60.0 * speed / READING_STEP), first), last) for speed in speeds}
    return sorted({first, last, *rounded})

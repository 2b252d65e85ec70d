"""What gives first, as blocks of a document: each limit with how much of it is used, and those that nobody stated."""

from collections.abc import Sequence

import numpy as np

from boostwright.errors import BoostwrightError
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import Ambient, ambient_air
from boostwright.publish.document import Block, Column, Paragraph, SmallPrint, Table
from boostwright.records.build_file import read_build_file
from boostwright.records.campaign import Campaign
from boostwright.studies.drawn_operation import drawn_build
from boostwright.studies.language import Language
from boostwright.studies.limit_curves import LimitCurve, limit_curves, limits_answer
from boostwright.studies.match import SEED
from boostwright.studies.pulley_request import DRAW_COUNT
from boostwright.studies.words import NO_BREAK
from boostwright.units import System, display_unit, printed_symbol

SPEED_COUNT = 15


def campaign_limits(campaign: Campaign, language: Language) -> tuple[Block, ...]:
    """The limits of the candidate's build over the declared range, in the mean air of its pulls."""
    build_name = campaign.setups[campaign.candidate].build
    if build_name is None:
        return (Paragraph(text=language.say("missing.limits_builds")),)
    air = _mean_air(campaign)
    if air is None:
        return (Paragraph(text=language.say("missing.limits_air")),)
    try:
        build_file = read_build_file(campaign.folder / build_name)
        speeds = np.linspace(*campaign.speed_range, SPEED_COUNT)
        build = build_of(build_file)
        operation = drawn_build(build_file, speeds, DRAW_COUNT, np.random.default_rng(SEED)).operation(build, air)
        curves = limit_curves(build, operation)
    except BoostwrightError as lacking:
        return (Paragraph(text=language.say("missing.limits_failed", reason=str(lacking))),)
    return (
        Paragraph(text=limits_answer(curves)),
        limits_table(curves, language, campaign.units),
        *unknown_limits(curves, language),
        SmallPrint(text=language.say("limits.basis", build=build_name)),
    )


def _mean_air(campaign: Campaign) -> Ambient | None:
    """The mean weather of the candidate's pulls."""
    known = [entry.weather for entry in campaign.pulls if entry.setup == campaign.candidate and entry.weather]
    if not known:
        return None
    words = ("barometer", "air_temperature", "relative_humidity")
    return ambient_air(*(float(np.mean([getattr(weather, word) for weather in known])) for word in words))


def limits_table(curves: Sequence[LimitCurve], language: Language, system: System) -> Table:
    """Every known limit, those that bind first."""
    say = language.say
    heads = ("column_limit", "column_allowed", "column_used", "column_at", "column_chance", "column_status")
    sides = ("left", "right", "right", "right", "right", "left")
    return Table(
        caption=say("limits.caption"),
        columns=tuple(
            Column(head=say(f"limits.{head}"), side="left" if side == "left" else "right")
            for head, side in zip(heads, sides, strict=True)
        ),
        rows=tuple(_limit_row(curve, language, system) for curve in curves if curve.is_known),
    )


def _limit_row(curve: LimitCurve, language: Language, system: System) -> tuple[str, ...]:
    greatest, unit = curve.greatest, display_unit(curve.dimension, system)
    allowed = float(unit.from_si(curve.limit))
    decimals = 0 if abs(allowed) >= 100.0 else 1 if abs(allowed) >= 10.0 else 2
    used = language.plus_minus(100.0 * greatest.value, 100.0 * greatest.half_width, "%")
    chance = f"<{NO_BREAK}{language.number(300.0 / curve.worst.size, 1)}" if not curve.chance else ""
    return (
        language.phrase(curve.name),
        f"{language.number(allowed, decimals)}{NO_BREAK}{printed_symbol(unit)}".strip(),
        used,
        language.speed(float(curve.engine_speed[curve.place])),
        f"{chance}{NO_BREAK}%" if chance else language.percent(curve.chance),
        language.phrase(curve.status.value),
    )


def unknown_limits(curves: Sequence[LimitCurve], language: Language) -> tuple[Block, ...]:
    """The limits that nobody stated, which no word here calls kept."""
    names = [language.phrase(curve.name) for curve in curves if not curve.is_known]
    return (Paragraph(text=language.say("limits.unknown", names=language.joined(names))),) if names else ()

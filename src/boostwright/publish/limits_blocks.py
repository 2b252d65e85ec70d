"""What gives first, as blocks of a document: each limit with how much of it is used, and those that nobody stated."""

from collections.abc import Sequence

from boostwright.errors import BoostwrightError
from boostwright.publish.document import Block, Column, Paragraph, Picture, SmallPrint, Table
from boostwright.publish.figure_style import svg
from boostwright.publish.limits_figure import limits_figure
from boostwright.records.campaign import Campaign
from boostwright.studies.language import Language
from boostwright.studies.limit_curves import LimitCurve
from boostwright.studies.limits import LimitsResult, campaign_limits
from boostwright.studies.words import NO_BREAK
from boostwright.units import System, display_unit, printed_symbol


def tested_limits(campaign: Campaign, language: Language) -> tuple[Block, ...]:
    """The limits of the candidate as its pulls have determined it, or what is lacking to say them."""
    if any(campaign.setups[setup].build is None for setup in (campaign.baseline, campaign.candidate)):
        return (Paragraph(text=language.say("missing.limits_builds")),)
    try:
        result = campaign_limits(campaign, campaign.candidate)
    except BoostwrightError as lacking:
        return (Paragraph(text=language.say("missing.limits_failed", reason=str(lacking))),)
    return limits_blocks(result, campaign, language)


def limits_blocks(result: LimitsResult, campaign: Campaign, language: Language) -> tuple[Block, ...]:
    """Limits as blocks: the answer, the picture, the table, what is not known, and what all of it rests on."""
    basis = language.say("limits.basis", baseline=campaign.baseline, candidate=campaign.candidate)
    return (
        Paragraph(text=result.sentence),
        Picture(verdict="", svg=svg(limits_figure(result)), spoken=result.sentence),
        limits_table(result.limits, language, campaign.units),
        *unknown_limits(result.limits, language),
        SmallPrint(text=basis),
    )


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

"""The answer to "and elsewhere?" as blocks of a document: the tested gain on builds that nobody tested."""

from collections.abc import Sequence
from pathlib import Path

from boostwright.publish.carry_figures import carry_figure
from boostwright.publish.document import Block, Bullets, Column, Paragraph, Picture, SmallPrint, Table
from boostwright.publish.figure_style import svg
from boostwright.records.campaign import Campaign
from boostwright.studies.carry import carry
from boostwright.studies.carry_request import asked_of
from boostwright.studies.carry_result import CarriedBuild, CarryResult
from boostwright.studies.carry_words import build_words
from boostwright.studies.explain_result import Band
from boostwright.studies.language import Language
from boostwright.units import System, display_unit, printed_symbol


def carried_blocks(campaign: Campaign, builds: Sequence[Path], language: Language) -> tuple[Block, ...]:
    """Carry the gain of a campaign to builds, in the air of its pulls.

    Raises
    ------
    BoostwrightError
        If a build is wrong or has another blower, or the pulls do not suffice for a fit.
    """
    asked = asked_of(campaign.folder, builds, None, None, None)
    return carry_blocks(carry(asked.tested, asked.targets, asked.pulls_there), language, campaign.units)


def carry_blocks(result: CarryResult, language: Language, system: System) -> tuple[Block, ...]:
    """A carried gain as blocks: a sentence and its distance from the test for each build, table, picture, notes."""
    names = result.baseline, result.candidate
    said = [" ".join(build_words(build, names, system)) for build in result.builds]
    notes = list(dict.fromkeys(note for build in result.builds for note in build.notes))
    return (
        *(Paragraph(text=text) for text in said),
        _table(result, language, system),
        Picture(verdict="", svg=svg(carry_figure(result, system)), spoken=" ".join(said)),
        *([Bullets(items=(*notes, *result.warnings))] if notes or result.warnings else []),
        SmallPrint(text=language.say("elsewhere.basis")),
    )


def _table(result: CarryResult, language: Language, system: System) -> Table:
    """The mean of each build over its range, with the 95 % interval."""
    say = language.say
    power, boost = (printed_symbol(display_unit(name, system)) for name in ("power", "gauge_pressure"))
    heads = (
        say("table.column_gain", unit="%"),
        say("table.column_gain", unit=power),
        say("elsewhere.column_air"),
        say("elsewhere.column_boost", baseline=result.baseline, unit=boost),
        say("elsewhere.column_power", baseline=result.baseline, unit=power),
    )
    return Table(
        caption=say("elsewhere.caption"),
        columns=(
            Column(head=say("elsewhere.column_build"), side="left"),
            *(Column(head=head) for head in heads),
            Column(head=say("elsewhere.column_reach"), side="left"),
        ),
        rows=tuple(_row(build, language, system) for build in result.builds),
        is_small=True,
    )


def _row(build: CarriedBuild, language: Language, system: System) -> tuple[str, ...]:
    power, boost = (display_unit(name, system).scale for name in ("power", "gauge_pressure"))

    def gain(band: Band, scale: float) -> str:
        return language.signed_plus_minus(band.mean / scale, band.half_width / scale, "").rstrip()

    def level(band: Band, scale: float) -> str:
        return language.plus_minus(band.mean / scale, band.half_width / scale, "").rstrip()

    return (
        build.build,
        gain(build.gains["brake_power_relative"], 0.01),
        gain(build.gains["brake_power"], power),
        gain(build.gains["air_mass_flow_relative"], 0.01),
        level(build.baseline["boost"], boost),
        level(build.baseline["brake_power"], power),
        language.phrase(build.distance.furthest.value),
    )

"""The answer to "why?" as blocks of a document, or what is lacking for it and the command that gives it."""

from collections.abc import Sequence

from boostwright.errors import DataError, FitError
from boostwright.publish import explain_tables
from boostwright.publish.document import Block, Bullets, Column, Notice, Paragraph, Picture, Table
from boostwright.publish.explain_figures import attribution_figure
from boostwright.publish.figure_style import svg
from boostwright.records.campaign import Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import screened_data
from boostwright.studies.explain_result import ExplainResult
from boostwright.studies.language import Language


def explanation(
    campaign: Campaign, pulls: Sequence[ReducedPull], language: Language
) -> tuple[ExplainResult | None, tuple[Block, ...]]:
    """Explain the gain of a campaign from its pulls and builds; without builds, say what would be needed."""
    if any(campaign.setups[setup].build is None for setup in (campaign.baseline, campaign.candidate)):
        return None, (Paragraph(text=language.say("missing.why_builds")),)
    try:
        result = explain(screened_data(campaign, pulls), campaign.baseline, campaign.candidate)
    except (DataError, FitError) as lacking:
        return None, (Paragraph(text=language.say("missing.why_failed", reason=str(lacking))),)
    return result, explained_blocks(result, campaign)


def explained_blocks(result: ExplainResult, campaign: Campaign) -> tuple[Block, ...]:
    """An explanation as blocks: the answer, the picture of its causes, their table, and what was not told apart."""
    tables = (explain_tables.share_table(result, campaign.units), explain_tables.air_table(result))
    blocks: list[Block] = [
        Paragraph(text=result.sentence),
        Picture(verdict="", svg=svg(attribution_figure(result)), spoken=result.headline),
        *(_table(table) for table in tables),
        Paragraph(text=result.fit_sentence),
    ]
    if result.merging:
        blocks.append(Bullets(items=tuple(result.merging)))
    return (*blocks, *(Notice(text=warning) for warning in result.warnings))


def _table(table: explain_tables.Table) -> Table:
    first, *others = table.columns
    return Table(
        caption=table.caption,
        columns=(Column(head=first, side="left"), *(Column(head=head) for head in others)),
        rows=tuple((row.head, *row.cells) for row in table.rows),
        is_small=True,
    )

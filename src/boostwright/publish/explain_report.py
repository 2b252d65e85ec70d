"""The "why" part of an HTML report, and the report that holds nothing else: sentences, figures, and tables of both."""

from collections.abc import Sequence
from pathlib import Path

from markupsafe import Markup

from boostwright.errors import DataError, FitError
from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.explain_figures import attribution_figure, fit_figure, parameter_figure
from boostwright.publish.explain_tables import (
    air_table,
    channel_table,
    derived_table,
    fit_table,
    parameter_table,
    share_table,
    weather_table,
)
from boostwright.publish.html_page import environment, picture, style
from boostwright.publish.identity import Identity, identity
from boostwright.publish.why_part import NoWhy, WhyPart, WhyStep, input_files
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import screened_data
from boostwright.studies.explain_result import ExplainResult
from boostwright.units import System


def why_part(result: ExplainResult, system: System = "metric") -> WhyPart:
    """Set an explanation for a report."""
    return WhyPart(
        sentence=result.sentence,
        warnings=result.warnings,
        steps=[
            WhyStep(
                question="Which part brought it?",
                sentence=result.headline,
                figure=picture(attribution_figure(result), "why-causes", result.headline),
                tables=[share_table(result, system), air_table(result), derived_table(result, system)],
                notes=result.merging,
            ),
            WhyStep(
                question="Does the fitted machine follow what was measured?",
                sentence=result.fit_sentence,
                figure=picture(fit_figure(result, system), "why-fit", result.fit_sentence),
                tables=[fit_table(result, system)],
            ),
            WhyStep(
                question="What did the data determine?",
                sentence=result.parameter_sentence,
                figure=picture(parameter_figure(result), "why-unknowns", result.parameter_sentence),
                tables=[parameter_table(result, system)],
            ),
            WhyStep(
                question="Which further channel would sharpen it?",
                sentence=result.channel_sentence,
                figure=Markup(),
                tables=[channel_table(result)] if result.sharper_channels else [],
            ),
            WhyStep(
                question="What would a weather correction have done?",
                sentence="The causes above hold the weather as measured; no correction of power enters them.",
                figure=Markup(),
                tables=[weather_table(result)],
            ),
        ],
    )


def why_of(campaign: Campaign, pulls: Sequence[ReducedPull]) -> WhyPart | NoWhy:
    """The why part of a campaign from its reduced pulls, or what is lacking for it and the remedy."""
    try:
        data = screened_data(campaign, pulls)
        return why_part(explain(data, campaign.baseline, campaign.candidate), campaign.units)
    except (DataError, FitError) as lacking:
        return NoWhy(reason=f"Builds and channels do not suffice for an explanation: {lacking}.")


def write_explanation(result: ExplainResult, campaign: Campaign, command: str, target: Path) -> None:
    """Write the report that holds the why part alone."""
    made_from = identity(campaign.folder, input_files(campaign), command)
    write_atomically(target, explain_report(result, campaign, made_from).encode("utf-8"))


def explain_report(result: ExplainResult, campaign: Campaign, identity: Identity) -> str:
    """Set the report that holds the why part alone."""
    return (
        environment()
        .get_template("explain.html")
        .render(
            campaign=campaign,
            why=why_part(result, campaign.units),
            cautions=CAUTIONS,
            identity=identity,
            style=style(),
        )
    )

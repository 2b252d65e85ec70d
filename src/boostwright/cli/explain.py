"""`boostwright explain`: why did it gain, by more air or only by more pressure, and which part brought it?"""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

if TYPE_CHECKING:
    from boostwright.inference.calibrate import CalibrationData
    from boostwright.records.campaign import Campaign

CampaignFolder = Annotated[
    Path, typer.Argument(metavar="CAMPAIGN", help="Folder that holds campaign.toml, its pulls and its builds.")
]
Chain = Annotated[
    bool, typer.Option("--chain", help="Draw by Markov chains: a quarter of a minute more, for what will be published.")
]


Report = Annotated[
    Path | None, typer.Option("--report", metavar="FILE.html", help="Write the figures and tables as one HTML file.")
]


class BlowerChoice(StrEnum):
    """How the blower is described in the fit."""

    SLIP = "slip"
    CHAMBER = "chamber"


BlowerOption = Annotated[
    BlowerChoice,
    typer.Option("--blower", help="slip: four losses; chamber: chambers and ports as drawn, a quarter of a minute."),
]


def explain(
    campaign: CampaignFolder,
    chain: Chain = False,
    json: JsonTarget = None,
    report: Report = None,
    blower: BlowerOption = BlowerChoice.SLIP,
) -> None:
    """Explain a gain: split it into inlet, filling, leakage, belt, weather and more, each with its interval.

    Example: boostwright explain examples/inlet-elbow --report why.html
    """
    progress("Fitting the machine to the pulls; the first run on a computer compiles it, which takes half a minute ...")
    from rich.console import Console

    from boostwright.inference.posterior_draws import chain_draws, randomised_maximum_likelihood
    from boostwright.publish.explain_report import write_explanation
    from boostwright.publish.explain_terminal import WIDTH, print_explanation
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.explain import explain as explained
    from boostwright.studies.explain_data import campaign_data

    asked = read_campaign(campaign)
    sampler = chain_draws if chain else randomised_maximum_likelihood
    data = campaign_data(asked) if blower is BlowerChoice.SLIP else _chamber_data(asked)
    result = explained(data, asked.baseline, asked.candidate, sampler)
    if json is not None:
        write_json(result.as_json(), json)
    options = (" --chain" if chain else "") + (" --blower chamber" if blower is BlowerChoice.CHAMBER else "")
    if report is not None:
        write_explanation(result, asked, f"boostwright explain .{options}", report)
        progress(f"Report: {report}")
    if json != "-":
        print_explanation(result, Console(highlight=False, width=WIDTH), asked.units)


def _chamber_data(campaign: "Campaign") -> "CalibrationData":
    """Data of the chamber form; its runs are told of as they go."""
    from boostwright.studies.explain_chambers import chamber_data

    told = [0.0]

    def advance(share: float) -> None:
        if share - told[0] >= 0.25:
            told[0] = share
            progress(f"Running the chambers over ranges of their ports: {100 * share:.0f} % ...")

    data = chamber_data(campaign, advance)
    progress("Fitting and drawing, ten seconds or so ...")
    return data

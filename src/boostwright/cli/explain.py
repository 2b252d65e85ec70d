"""`boostwright explain`: why did it gain, by more air or only by more pressure, and which part brought it?"""

from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

CampaignFolder = Annotated[
    Path, typer.Argument(metavar="CAMPAIGN", help="Folder that holds campaign.toml, its pulls and its builds.")
]
Chain = Annotated[
    bool, typer.Option("--chain", help="Draw by Markov chains: a quarter of a minute more, for what will be published.")
]


Report = Annotated[
    Path | None, typer.Option("--report", metavar="FILE.html", help="Write the figures and tables as one HTML file.")
]


def explain(campaign: CampaignFolder, chain: Chain = False, json: JsonTarget = None, report: Report = None) -> None:
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
    result = explained(campaign_data(asked), asked.baseline, asked.candidate, sampler)
    if json is not None:
        write_json(result.as_json(), json)
    if report is not None:
        write_explanation(result, asked, f"boostwright explain .{' --chain' if chain else ''}", report)
        progress(f"Report: {report}")
    if json != "-":
        print_explanation(result, Console(highlight=False, width=WIDTH), asked.units)

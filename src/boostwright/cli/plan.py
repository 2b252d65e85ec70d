"""`boostwright plan`: which order of pulls would show a gain, and what it costs in hours."""

from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.output import JsonTarget, write_json

Folder = Annotated[
    Path | None, typer.Argument(metavar="[CAMPAIGN]", help="Takes the speed range from its campaign.toml.")
]
Range = Annotated[str, typer.Option("--range", metavar="FROM:TO", help="Engine speeds in rpm, without a campaign.")]
Pull = Annotated[str, typer.Option(help="From one pull to the next of the same setup, cooling down included.")]
Change = Annotated[str, typer.Option(help="What a change of setup takes besides.")]


def plan(
    campaign: Folder = None,
    speed_range: Range = "3000:5800",
    pull: Pull = "6 min",
    change: Change = "30 min",
    json: JsonTarget = None,
) -> None:
    """Rank orders of pulls by the gain they would show and the hours they take, before the first pull.

    Example: boostwright plan --pull "5 min" --change "45 min"
    """
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.plan import PlanQuestion, plan_orders
    from boostwright.studies.plan_request import duration_from_text, range_from_text

    speeds = range_from_text(speed_range) if campaign is None else read_campaign(campaign).speed_range
    question = PlanQuestion(
        speed_range=speeds,
        pull_time=duration_from_text(pull, "--pull"),
        change_time=duration_from_text(change, "--change"),
    )
    result = plan_orders(question)
    if json is not None:
        write_json(result.as_json(), json)
    if json != "-":
        from rich.console import Console

        from boostwright.publish.plan_terminal import print_plan

        print_plan(result, Console(highlight=False))

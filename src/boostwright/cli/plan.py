"""`boostwright plan`: before a session the order of its pulls, in it the next one, after it what would settle it."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.compare import ArchiveFolder
from boostwright.cli.output import JsonTarget, write_json

if TYPE_CHECKING:
    from boostwright.records.campaign import Campaign
    from boostwright.studies.plan import PlanQuestion, PlanResult
    from boostwright.studies.run_card_result import RunCard

Folder = Annotated[
    Path | None, typer.Argument(metavar="[CAMPAIGN]", help="Plans on from the pulls of its campaign.toml.")
]
Range = Annotated[str, typer.Option("--range", metavar="FROM:TO", help="Engine speeds in rpm, without a campaign.")]
Pull = Annotated[str, typer.Option(help="From one pull to the next of the same setup, cooling down included.")]
Change = Annotated[str, typer.Option(help="What a change of setup takes besides.")]
HoursLeft = Annotated[str | None, typer.Option(metavar='"2 h"', help="What is left of the session, if it still runs.")]
Gain = Annotated[str, typer.Option(metavar='"1 %"', help="The average gain that matters, to show or to exclude.")]
Quantity = Annotated[str, typer.Option(help="What is compared, with a campaign.")]


def plan(
    campaign: Folder = None,
    speed_range: Range = "3000:5800",
    pull: Pull = "6 min",
    change: Change = "30 min",
    hours_left: HoursLeft = None,
    gain: Gain = "1 %",
    quantity: Quantity = "power",
    archive: ArchiveFolder = None,
    json: JsonTarget = None,
) -> None:
    """Rank orders of pulls before a session; with a campaign, say the next pull and what would settle its question.

    Example: boostwright plan --pull "5 min" --change "45 min"

    Example: boostwright plan examples/inlet-elbow --hours-left "1.5 h"
    """
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.plan import PlanQuestion, plan_orders
    from boostwright.studies.plan_request import duration_from_text, range_from_text

    if campaign is None and hours_left is not None:
        _refuse_hours_without_pulls(hours_left)
    asked = None if campaign is None else read_campaign(campaign)
    question = PlanQuestion(
        speed_range=range_from_text(speed_range) if asked is None else asked.speed_range,
        pull_time=duration_from_text(pull, "--pull"),
        change_time=duration_from_text(change, "--change"),
    )
    result = plan_orders(question) if asked is None else _run_card(asked, question, hours_left, gain, quantity, archive)
    if json is not None:
        write_json(result.as_json(), json)
    if json != "-":
        _print(result)


def _run_card(
    campaign: "Campaign",
    question: "PlanQuestion",
    hours_left: str | None,
    gain: str,
    quantity: str,
    archive: Path | None,
) -> "RunCard":
    from boostwright.studies.compare import NO_ARCHIVE, question_of, reduced_pulls
    from boostwright.studies.plan_request import duration_from_text, gain_from_text
    from boostwright.studies.run_card import RunCardQuestion, run_card

    card = RunCardQuestion(
        plan=question,
        worthwhile_gain=gain_from_text(gain),
        time_left=None if hours_left is None else duration_from_text(hours_left, "--hours-left"),
    )
    pulls, evidence = reduced_pulls(campaign), NO_ARCHIVE
    if archive is not None:
        from boostwright.records.archive import opened
        from boostwright.studies.archive import archive_evidence

        evidence = archive_evidence(opened(archive), campaign, pulls)
    return run_card(pulls, question_of(campaign, quantity, evidence), card)


def _print(result: "PlanResult | RunCard") -> None:
    from rich.console import Console

    from boostwright.publish.plan_terminal import print_plan, print_run_card
    from boostwright.studies.plan import PlanResult

    console = Console(highlight=False)
    if isinstance(result, PlanResult):
        print_plan(result, console)
    else:
        print_run_card(result, console)


def _refuse_hours_without_pulls(hours_left: str) -> None:
    from boostwright.errors import Fault, FileError

    remedy = "name the folder of the session's campaign, or leave the option out"
    raise FileError([Fault(key="--hours-left", value=f'"{hours_left}"', problem="needs a campaign", remedy=remedy)])

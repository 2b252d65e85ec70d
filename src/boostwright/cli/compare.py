"""`boostwright compare`: did the candidate gain over the baseline, where, how sure?"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

if TYPE_CHECKING:
    from boostwright.records.campaign import Campaign
    from boostwright.reduction.stages import ReducedPull
    from boostwright.studies.compare_result import CompareResult

Folder = Annotated[Path, typer.Argument(metavar="CAMPAIGN", help="Folder with campaign.toml and its pulls.")]
Quantity = Annotated[str, typer.Option(help="What is compared: power, torque, boost, or what every pull carries.")]
Setup = Annotated[str | None, typer.Option(help="A setup of the campaign, instead of the one campaign.toml names.")]
NoFiles = Annotated[bool, typer.Option("--no-files", help="Only print; write no report into CAMPAIGN/results.")]


def compare(
    campaign: Folder,
    quantity: Quantity = "power",
    baseline: Setup = None,
    candidate: Setup = None,
    json: JsonTarget = None,
    no_files: NoFiles = False,
) -> None:
    """Compare two setups from their pulls: the gain with its band, the verdict, a report.

    Example: boostwright compare examples/inlet-elbow --quantity torque
    """
    from dataclasses import replace

    from boostwright.records.campaign import read_campaign
    from boostwright.studies.compare import compare_pairs, reduced_pulls

    asked = read_campaign(campaign)
    asked = replace(asked, baseline=baseline or asked.baseline, candidate=candidate or asked.candidate)
    pulls = reduced_pulls(asked)
    first, *others = compare_pairs(pulls, asked, quantity)
    if json is not None:
        pairs = {"pairs": [pair.as_json() for pair in others]} if others else {}
        write_json(first.as_json() | pairs, json)
    if json != "-":
        for result in (first, *others):
            print_result(result)
    if not no_files:
        progress(f"Report: {write_report(asked, pulls, [first, *others])}")


def print_result(result: "CompareResult") -> None:
    """Print one comparison to the terminal."""
    from rich.console import Console

    from boostwright.publish.compare_terminal import print_comparison

    print_comparison(result, Console(highlight=False))


def write_report(campaign: "Campaign", pulls: "tuple[ReducedPull, ...]", results: "list[CompareResult]") -> Path:
    """Write the report of the results, joined by what else all pulls carry."""
    from boostwright.publish.compare_files import write_comparison
    from boostwright.studies.compare import compare_companions

    every = [*results, *compare_companions(pulls, campaign, results[0].quantity)]
    return write_comparison(campaign, every, f"boostwright compare . --quantity {results[0].quantity}")

"""`boostwright compare`: did the candidate gain over the baseline, where, how sure?"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

if TYPE_CHECKING:
    from boostwright.studies.compare_result import CompareResult

Folder = Annotated[Path, typer.Argument(metavar="CAMPAIGN", help="Folder with campaign.toml and its pulls.")]
Quantity = Annotated[str, typer.Option(help="What is compared: power, torque, boost, or what every pull carries.")]
Setup = Annotated[str | None, typer.Option(help="A setup of the campaign, instead of the one campaign.toml names.")]
NoFiles = Annotated[bool, typer.Option("--no-files", help="Only print; write nothing into CAMPAIGN/results.")]
Why = Annotated[bool, typer.Option("--why", help="Say in the report why it gained; needs the builds of both setups.")]
Report = Annotated[
    Path | None,
    typer.Option("--report", metavar="FILE.html", help="Where the report goes, instead of CAMPAIGN/results."),
]
ArchiveFolder = Annotated[
    Path | None,
    typer.Option(
        "--archive", envvar="BOOSTWRIGHT_ARCHIVE", help="The firm's archive, which knows the stand's scatter."
    ),
]


def compare(
    campaign: Folder,
    quantity: Quantity = "power",
    baseline: Setup = None,
    candidate: Setup = None,
    json: JsonTarget = None,
    no_files: NoFiles = False,
    why: Why = False,
    report: Report = None,
    archive: ArchiveFolder = None,
) -> None:
    """Compare two setups from their pulls: the gain with its band, the verdict, a report.

    Example: boostwright compare examples/inlet-elbow --quantity torque --why
    """
    from dataclasses import replace

    from boostwright.records.campaign import read_campaign

    asked = read_campaign(campaign)  # before what takes a second to load: what is wrong with it is told at once
    from boostwright.publish.compare_files import write_comparison, write_comparison_report
    from boostwright.publish.why_part import NOT_ASKED
    from boostwright.studies.compare import NO_ARCHIVE, compare_companions, compare_pairs, reduced_pulls

    asked = replace(asked, baseline=baseline or asked.baseline, candidate=candidate or asked.candidate)
    pulls = reduced_pulls(asked)
    evidence = NO_ARCHIVE
    if archive is not None:
        from boostwright.records.archive import opened
        from boostwright.studies.archive import archive_evidence

        evidence = archive_evidence(opened(archive), asked, pulls)
    first, *others = compare_pairs(pulls, asked, quantity, evidence)
    if json is not None:
        pairs = {"pairs": [pair.as_json() for pair in others]} if others else {}
        write_json(first.as_json() | pairs, json)
    if json != "-":
        for result in (first, *others):
            print_result(result)
    if report is not None or not no_files:
        results = [first, *others, *compare_companions(pulls, asked, first.quantity, evidence)]
        folder = asked.folder if no_files else write_comparison(asked, results)
        reason = NOT_ASKED
        if why:
            from boostwright.publish.explain_report import why_of  # the machine, and what compiles it

            reason = why_of(asked, pulls)
        target = report or folder / "report.html"
        asked_for = [" --why" if why else "", " --archive ARCHIVE" if archive else ""]
        command = f"boostwright compare . --quantity {first.quantity}{''.join(asked_for)}"
        write_comparison_report(asked, results, command, reason, target)
        progress(f"Report: {target}")


def print_result(result: "CompareResult") -> None:
    """Print one comparison to the terminal."""
    from rich.console import Console

    from boostwright.publish.compare_terminal import print_comparison

    print_comparison(result, Console(highlight=False))

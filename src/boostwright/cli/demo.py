"""`boostwright demo`: the whole job on the example campaign."""

from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.compare import print_result, write_report
from boostwright.cli.output import progress

Target = Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Where the copy goes; never over something there.")]


def demo(folder: Target = Path("boostwright-demo")) -> None:
    """Copy the example campaign, compare its two inlet elbows, and say where the report is.

    Example: boostwright demo
    """
    progress("Loading (the first run compiles and takes longer) ...")
    from boostwright.records.campaign import read_campaign
    from boostwright.records.examples import copy_example
    from boostwright.studies.compare import compare_pairs, reduced_pulls

    copy = copy_example("inlet-elbow", folder)
    progress(f"Copied the example campaign (invented data) to {copy}; reading its pulls ...")
    campaign = read_campaign(copy)
    pulls = reduced_pulls(campaign)
    results = compare_pairs(pulls, campaign, "power")
    print_result(results[0])
    report = write_report(campaign, pulls, results)
    typer.echo(f"\nThe report: {report.resolve()}\nThe campaign, to change and run again: boostwright compare {copy}")

"""`boostwright demo`: the whole job on the example campaign."""

from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.compare import print_result
from boostwright.cli.output import progress

Target = Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Where the copy goes; never over something there.")]


def demo(folder: Target = Path("boostwright-demo")) -> None:
    """Copy the example campaign, compare its two inlet elbows, say why one gained, and where the report is.

    Example: boostwright demo
    """
    progress("Loading (the first run compiles and takes longer) ...")
    from boostwright.publish.compare_files import write_comparison, write_comparison_report
    from boostwright.publish.explain_report import why_of
    from boostwright.records.campaign import read_campaign
    from boostwright.records.examples import copy_example
    from boostwright.studies.compare import compare_companions, compare_pairs, reduced_pulls

    copy = copy_example("inlet-elbow", folder)
    progress(f"Copied the example campaign (invented data) to {copy}; reading its pulls ...")
    campaign = read_campaign(copy)
    pulls = reduced_pulls(campaign)
    results = compare_pairs(pulls, campaign, "power")
    print_result(results[0])
    progress("Fitting the machine to the pulls, to say why it gained ...")
    every = [*results, *compare_companions(pulls, campaign, "power")]
    report = write_comparison(campaign, every) / "report.html"
    command = "boostwright compare . --quantity power --why"
    write_comparison_report(campaign, every, command, why_of(campaign, pulls), report)
    typer.echo(
        f"\nThe report: {report.resolve()}\nThe campaign, to change and run again: boostwright compare {copy} --why"
    )

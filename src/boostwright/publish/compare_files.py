"""The files of a comparison in the campaign's `results` folder, each written whole or not at all."""

import io
from collections.abc import Sequence
from pathlib import Path

from boostwright.errors import Fault, FileError
from boostwright.publish.compare_figure import compare_figure
from boostwright.publish.compare_report import compare_report
from boostwright.publish.export import gain_csv, gain_workbook
from boostwright.publish.figure_style import save
from boostwright.publish.identity import identity
from boostwright.publish.why_part import NOT_ASKED, NoWhy, WhyPart, input_files
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.rounding import json_text

RESULTS = "results"


def write_comparison(campaign: Campaign, results: Sequence[CompareResult]) -> Path:
    """Write JSON, tables and pictures of every result; files of other names in the folder stay as they are.

    Returns
    -------
    Path
        The folder that holds them.
    """
    folder = campaign.folder / RESULTS
    if folder.exists() and not folder.is_dir():
        remedy = "move that file away, or run with --no-files"
        raise FileError([Fault(file=str(folder), problem="is a file where the results folder would be", remedy=remedy)])
    for result in results:
        stem = f"{result.candidate}-over-{result.baseline}-{result.quantity}".replace("/", "-")
        picture = io.BytesIO()
        save(compare_figure(result), picture, "png")
        write_atomically(folder / f"{stem}.png", picture.getvalue())
        write_atomically(folder / f"{stem}.json", json_text(result.as_json()).encode("utf-8"))
        write_atomically(folder / f"{stem}.csv", gain_csv(result).encode("utf-8"))
        write_atomically(folder / f"{stem}.xlsx", gain_workbook(result))
    return folder


def write_comparison_report(
    campaign: Campaign, results: Sequence[CompareResult], command: str, why: WhyPart | NoWhy, target: Path
) -> None:
    """Write the HTML report of the results, with the why part or the reason that there is none."""
    files = [CAMPAIGN_FILE, *(entry.file for entry in campaign.pulls)] if why is NOT_ASKED else input_files(campaign)
    report = compare_report(results, campaign, identity(campaign.folder, files, command), why)
    write_atomically(target, report.encode("utf-8"))

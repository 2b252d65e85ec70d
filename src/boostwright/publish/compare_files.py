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
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.rounding import json_text

RESULTS = "results"


def write_comparison(campaign: Campaign, results: Sequence[CompareResult], command: str) -> Path:
    """Write report, JSON, tables and pictures of every result; files of other names in the folder stay as they are.

    Returns
    -------
    Path
        The HTML report.
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
    files = [CAMPAIGN_FILE, *(entry.file for entry in campaign.pulls)]
    report = compare_report(results, campaign, identity(campaign.folder, files, command))
    write_atomically(folder / "report.html", report.encode("utf-8"))
    return folder / "report.html"

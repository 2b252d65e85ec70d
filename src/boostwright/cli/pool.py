"""`boostwright pool`: what several campaigns say together, and what the next engine would gain."""

from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, refuse_picture, write_json, write_picture

Folders = Annotated[list[Path], typer.Argument(metavar="CAMPAIGN...", help="Folders, each with its campaign.toml.")]
Quantity = Annotated[str, typer.Option(help="What is compared: power, torque, boost, or what every pull carries.")]
Range = Annotated[
    str | None, typer.Option("--range", metavar="FROM:TO", help="Engine speeds in rpm; else all that are declared.")
]
TrendOver = Annotated[str | None, typer.Option(metavar="air-flow|boost", help="Ask whether the gain follows this.")]
FigureFile = Annotated[Path | None, typer.Option(metavar="FILE.svg|png|pdf", help="Draw the campaigns and the trend.")]


def pool(
    campaigns: Folders,
    quantity: Quantity = "power",
    speed_range: Range = None,
    trend: TrendOver = None,
    figure: FigureFile = None,
    json: JsonTarget = None,
) -> None:
    """Draw one answer from campaigns on several engines: mean gain, spread between engines, the next engine.

    Example: boostwright pool examples/workboat-family/* --trend air-flow
    """
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.plan_request import range_from_text
    from boostwright.studies.pool import PoolQuestion, pool_campaigns

    if figure is not None:
        refuse_picture(figure)
    question = PoolQuestion(
        quantity=quantity, speed_range=None if speed_range is None else range_from_text(speed_range), trend=trend
    )
    result = pool_campaigns([read_campaign(folder) for folder in campaigns], question, progress)
    if json is not None:
        write_json(result.as_json(), json)
    if json != "-":
        from rich.console import Console

        from boostwright.publish.pool_terminal import print_pool

        print_pool(result, Console(highlight=False))
    if figure is not None:
        from boostwright.publish.pool_figure import pool_figure

        write_picture(pool_figure(result), figure)

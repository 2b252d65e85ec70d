"""`boostwright match BUILD --vary ...`: which of many changed builds is best, how surely, and inside which limits."""

import os
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from boostwright.cli.output import progress, write_json, write_picture

if TYPE_CHECKING:
    from boostwright.inference.calibrated_chamber import CalibratedChamber
    from boostwright.studies.vary import VaryStudy
    from boostwright.studies.vary_result import VaryGoal, VaryResult
    from boostwright.studies.workers import Workers

_PANEL = "Varying the build"
Vary = Annotated[
    list[str] | None,
    typer.Option(
        "--vary",
        metavar="KEY=LOW:HIGH:STEPS",
        rich_help_panel=_PANEL,
        help="Vary a number of the build file, such as inlet.port_closing_angle=200:240:9; may be given several times.",
    ),
]
SearchChoice = Annotated[
    str, typer.Option("--search", metavar="grid|latin|optimise", rich_help_panel=_PANEL, help="How designs are chosen.")
]
Designs = Annotated[
    int | None,
    typer.Option("--designs", min=1, rich_help_panel=_PANEL, help="How many designs, unless on a grid; 40 a key."),
]
Sets = Annotated[
    int,
    typer.Option(
        "--sets", min=8, max=1000, rich_help_panel=_PANEL, help="Sets of what nobody has measured that are carried."
    ),
]
ObjectiveChoice = Annotated[
    str,
    typer.Option(
        "--objective", metavar="average|SPEED", rich_help_panel=_PANEL, help='Power on average, or at "5500 rpm".'
    ),
]
AllowedLosses = Annotated[
    list[str] | None,
    typer.Option(
        "--allowed-loss",
        metavar="SPEED, LOSS",
        rich_help_panel=_PANEL,
        help='What may be lost at a speed: "2000 rpm, 1 %" or "2000 rpm, 2 kW".',
    ),
]
LimitRisk = Annotated[
    float,
    typer.Option("--limit-risk", rich_help_panel=_PANEL, help="Share of the sets in which a limit may be exceeded."),
]
Results = Annotated[
    Path | None,
    typer.Option(
        "--results",
        metavar="FILE.parquet",
        rich_help_panel=_PANEL,
        help="Keep every operating point; a stopped study goes on from there.",
    ),
]
WorkerCount = Annotated[
    int | None, typer.Option("--workers", min=1, rich_help_panel=_PANEL, help="Processes on this machine.")
]
Calibrated = Annotated[
    Path | None,
    typer.Option(
        "--calibrated",
        metavar="CAMPAIGN",
        rich_help_panel=_PANEL,
        help="Carry the sets of chambers that fit the pulls of this campaign, whose build is varied.",
    ),
]
Scheduler = Annotated[
    str | None,
    typer.Option("--scheduler", metavar="tcp://HOST:PORT", rich_help_panel=_PANEL, help="Of a Dask cluster."),
]
DESIGNS_A_KEY = 40


@dataclass(frozen=True, kw_only=True)
class VaryOptions:
    """What was typed beside the build."""

    vary: list[str]
    search: str
    designs: int | None
    sets: int
    objective: str
    allowed_losses: list[str]
    limit_risk: float
    results: Path | None
    workers: int | None
    scheduler: str | None
    calibrated: Path | None
    speeds: str | None
    ambient: str | None
    blower: str | None
    figure: Path | None
    json: str | None


def vary_build(build: Path, options: VaryOptions) -> None:
    """Run the study, print it, and write what is asked for."""
    from boostwright.records.build_file import read_build_file
    from boostwright.studies.match import STANDARD_AIR
    from boostwright.studies.match_request import ambient_from_text, speeds_from_text
    from boostwright.studies.vary_calibrated import calibrated_sets, fitted_speeds
    from boostwright.studies.vary_request import (
        chosen_form,
        goal_from_text,
        search_from_text,
        study_speeds,
        study_with_sets,
        variation_from_text,
        vary_study,
    )

    build_file = read_build_file(build)
    search = search_from_text(options.search, options.designs)
    variations = [variation_from_text(text, build_file, search) for text in options.vary]
    goal = goal_from_text(options.objective, options.allowed_losses, options.limit_risk)
    asked = None if options.speeds is None else speeds_from_text(options.speeds)
    air = ambient_from_text(options.ambient or STANDARD_AIR)
    if options.calibrated is None:
        form = chosen_form(options.blower, variations)
        study = vary_study(build_file, variations, study_speeds(build_file, asked, goal), air, form, options.sets)
    else:
        chambers = _fitted(options.calibrated, build)
        speeds = study_speeds(build_file, fitted_speeds(chambers) if asked is None else asked, goal)
        sets = calibrated_sets(chambers, build_file, speeds, options.sets)
        study = study_with_sets(build_file, variations, speeds, air, sets, is_calibrated=True)
    result = _result(study, goal, search, options)
    if options.json is not None:
        write_json(result.as_json(), options.json)
    if options.json != "-":
        _print(result)
    if options.figure is not None:
        from boostwright.publish.vary_figure import vary_figure

        write_picture(vary_figure(result), options.figure)


def _fitted(folder: Path, build: Path) -> "CalibratedChamber":
    """The chambers of this build as the pulls of the campaign leave them."""
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.explain_chambers import campaign_chambers
    from boostwright.studies.vary_calibrated import setup_of_build

    campaign = read_campaign(folder)
    setup = setup_of_build(campaign, build)
    progress("Fitting the chambers to the pulls: half a minute or so ...")
    return next(fitted for fitted in campaign_chambers(campaign) if fitted.setup == setup)


def _result(study: "VaryStudy", goal: "VaryGoal", search: Any, options: VaryOptions) -> "VaryResult":
    """Match all designs, or find what is left to match, in the results file or in a folder that goes."""
    import tempfile

    with tempfile.TemporaryDirectory(prefix="boostwright-") as folder:
        target = options.results or Path(folder) / "designs.parquet"
        return _stored_result(study, goal, search, options, target)


def _stored_result(
    study: "VaryStudy", goal: "VaryGoal", search: Any, options: VaryOptions, target: Path
) -> "VaryResult":
    from boostwright.records.chunk_store import open_store
    from boostwright.studies.vary_request import plan_of
    from boostwright.studies.vary_run import result_of, run_plan

    plan = plan_of(study, goal, search, options.designs or DESIGNS_A_KEY * len(study.variations))
    store = open_store(target, plan.digest, plan.title)
    if not store.is_complete:
        with _workers(options, plan.chunk_count) as workers, _bar(plan.most_designs) as advance:
            run_plan(plan, store, workers, advance)
    return result_of(study, goal, store)


def _workers(options: VaryOptions, chunk_count: int) -> "Workers":
    from boostwright.studies.workers import LocalProcesses, ThisProcess

    if options.scheduler is not None:
        return _cluster(options.scheduler)
    count = min(options.workers or os.cpu_count() or 1, chunk_count)
    return ThisProcess() if count == 1 else LocalProcesses(count)


def _cluster(address: str) -> "Workers":
    from boostwright.errors import DataError

    try:
        from boostwright.studies.cluster import Cluster
    except ModuleNotFoundError as wrong:
        raise DataError(
            '--scheduler needs what the extra "cluster" brings; install it: pip install "boostwright[cluster]"'
        ) from wrong
    return Cluster(address)


@contextmanager
def _bar(design_count: int) -> Generator[Any]:
    """A bar with the time left, on standard error."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (TextColumn("designs"), BarColumn(), MofNCompleteColumn(), TextColumn("left"), TimeRemainingColumn())
    with Progress(*columns, TextColumn("gone"), TimeElapsedColumn(), console=Console(stderr=True)) as bar:
        task = bar.add_task("designs", total=design_count)

        def advance(amount: int) -> None:
            bar.advance(task, amount)

        yield advance


def _print(result: "VaryResult") -> None:
    from rich.console import Console

    from boostwright.publish.vary_terminal import WIDTH, print_vary

    print_vary(result, Console(highlight=False, width=max(WIDTH, Console().width)))

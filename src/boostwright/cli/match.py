"""`boostwright match`: what a build does at each engine speed, and which limit gives first."""

from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path
from threading import Timer
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.match_pulleys import (
    HotPlace,
    PulleyOptions,
    Pulleys,
    ReportFile,
    Risk,
    TargetBoost,
    TargetPower,
    TargetSpeed,
    choose_pulley,
)
from boostwright.cli.match_vary import (
    AllowedLosses,
    Calibrated,
    Designs,
    LimitRisk,
    ObjectiveChoice,
    Results,
    Scheduler,
    SearchChoice,
    Sets,
    Vary,
    VaryOptions,
    WorkerCount,
    vary_build,
)
from boostwright.cli.output import JsonTarget, progress, refuse_picture, write_json, write_picture

if TYPE_CHECKING:
    from boostwright.studies.match import MatchResult

BuildPath = Annotated[Path, typer.Argument(metavar="BUILD.toml", help="Engine, blower, drive and air path.")]
Speeds = Annotated[str | None, typer.Option(metavar="FIRST:LAST:STEP", help="Engine speeds in rpm: 2000:6000:100.")]
Weather = Annotated[str | None, typer.Option(metavar="P, T, RH", help='The air around: "100 kPa, 25 degC, 0.4".')]
Assumptions = Annotated[bool, typer.Option("--assumptions", help="List every number that the file does not give.")]
BlowerChoice = Annotated[
    str | None,
    typer.Option(metavar="slip|chamber|MAP.csv", help="Form of blower, or a measured map; slip if not said."),
]
FigureFile = Annotated[Path | None, typer.Option(metavar="FILE.svg|png|pdf", help="Draw curves and blower map.")]


def match(
    build: BuildPath,
    speeds: Speeds = None,
    ambient: Weather = None,
    blower: BlowerChoice = None,
    assumptions: Assumptions = False,
    figure: FigureFile = None,
    json: JsonTarget = None,
    pulleys: Pulleys = None,
    target_boost: TargetBoost = None,
    target_power: TargetPower = None,
    risk: Risk = None,
    hot: HotPlace = None,
    target_speed: TargetSpeed = None,
    report: ReportFile = None,
    vary: Vary = None,
    search: SearchChoice = "grid",
    designs: Designs = None,
    sets: Sets = 20,
    objective: ObjectiveChoice = "average",
    allowed_loss: AllowedLosses = None,
    limit_risk: LimitRisk = 0.05,
    results: Results = None,
    workers: WorkerCount = None,
    scheduler: Scheduler = None,
    calibrated: Calibrated = None,
) -> None:
    """Match a build: rotor speed, boost, air, temperatures, power and limits at each engine speed.

    With --pulleys, --target-boost or --target-power: which pulley, and the risk that it takes.

    With --vary: which of many changed builds is best, how surely, and inside which limits.

    Example: boostwright match examples/inlet-elbow/builds/cast.toml --speeds 2000:5800:200

    Example: boostwright match examples/inlet-elbow/builds/cast.toml --pulleys "66 mm, 68 mm, 70 mm, 72 mm"

    Example: boostwright match examples/inlet-elbow/builds/cast.toml --vary drive.driven_pulley=66:74:5
    """
    from boostwright.records.build_file import read_build_file
    from boostwright.studies.match import STANDARD_AIR, match_build, round_speeds
    from boostwright.studies.match_request import ambient_from_text, blower_from_text, speeds_from_text

    if figure is not None:
        refuse_picture(figure)
    pulley_options = PulleyOptions(
        pulleys=pulleys,
        target_boost=target_boost,
        target_power=target_power,
        risk=risk,
        hot=hot,
        target_speed=target_speed,
        report=report,
    )
    if pulley_options.is_asked:
        pulley_options.refuse_beside(vary)
        with _saying_what_takes_time():
            choose_pulley(build, pulley_options, speeds, ambient, blower, figure, json)
        return
    if vary:
        asked_to_vary = VaryOptions(
            vary=vary,
            search=search,
            designs=designs,
            sets=sets,
            objective=objective,
            allowed_losses=allowed_loss or [],
            limit_risk=limit_risk,
            results=results,
            workers=workers,
            scheduler=scheduler,
            calibrated=calibrated,
            speeds=speeds,
            ambient=ambient,
            blower=blower,
            figure=figure,
            json=json,
        )
        vary_build(build, asked_to_vary)
        return
    build_file = read_build_file(build)
    asked = round_speeds(build_file) if speeds is None else speeds_from_text(speeds)
    air = ambient_from_text(ambient or STANDARD_AIR)
    with _saying_what_takes_time():
        result = match_build(build_file, asked, air, blower_from_text(blower or "slip", build_file))
    if json is not None:
        write_json(result.as_json(), json)
    if json != "-":
        _print(result, with_assumptions=assumptions)
    if figure is not None:
        from boostwright.publish.match_figures import match_figure

        write_picture(match_figure(result), figure)


@contextmanager
def _saying_what_takes_time() -> Generator[None]:
    """Only the first match on a machine takes long; whoever waits for it shall know why."""
    note = Timer(
        2.0, progress, ["Still at work: the first match on a machine compiles the kernels, the next takes a second."]
    )
    note.daemon = True
    note.start()
    try:
        yield
    finally:
        note.cancel()


def _print(result: "MatchResult", *, with_assumptions: bool) -> None:
    from rich.console import Console

    from boostwright.publish.match_terminal import WIDTH, print_assumptions, print_match

    console = Console(highlight=False, width=max(WIDTH, Console().width))
    print_match(result, console)
    if with_assumptions:
        console.print()
        print_assumptions(result, console)

"""`boostwright sheet`: the page that a maker prints for dealers."""

import shlex
from os.path import relpath
from pathlib import Path
from typing import Annotated, Literal

import typer

from boostwright.cli.match_pulleys import HotPlace, Pulleys, Risk, TargetBoost, TargetPower, TargetSpeed
from boostwright.cli.output import progress
from boostwright.cli.publish import PaperSize, Tongue

BuildPath = Annotated[Path, typer.Argument(metavar="BUILD.toml", help="Engine, blower, drive and air path.")]
Notes = Annotated[
    Path | None, typer.Option(metavar="NOTES.toml", help="Title, and notes on torque, belt and fitting, word for word.")
]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="Where it goes, without ending; beside the build if not said."),
]
UnitSystem = Annotated[
    Literal["metric", "us"] | None,
    typer.Option("--units", metavar="metric|us", help="Of the page; metric if not said."),
]
Speeds = Annotated[str | None, typer.Option(metavar="FIRST:LAST:STEP", help="Engine speeds in rpm: 2000:6000:100.")]
Weather = Annotated[str | None, typer.Option(metavar="P, T, RH", help='The air around: "100 kPa, 25 degC, 0.4".')]


def sheet(
    build: BuildPath,
    notes: Notes = None,
    out: Out = None,
    paper: PaperSize = "a4",
    units: UnitSystem = None,
    language: Tongue = "en",
    speeds: Speeds = None,
    ambient: Weather = None,
    pulleys: Pulleys = None,
    target_boost: TargetBoost = None,
    target_power: TargetPower = None,
    risk: Risk = None,
    hot: HotPlace = None,
    target_speed: TargetSpeed = None,
) -> None:
    """Print the application sheet of a build: pulleys with limits, what fuel system and drive must carry, cautions.

    Example: boostwright sheet examples/inlet-elbow/builds/machined.toml --pulleys "76 mm, 72 mm, 68 mm, 64 mm"
    """
    from boostwright.publish.document_files import write_document
    from boostwright.publish.published_sheet import SheetRequest, build_sheet
    from boostwright.records.build_file import read_build_file
    from boostwright.studies.match import STANDARD_AIR, round_speeds
    from boostwright.studies.match_request import ambient_from_text, speeds_from_text
    from boostwright.studies.pulley_request import ask_of, target_from_texts, target_speed_from_text
    from boostwright.studies.pulleys import HOT_AIR

    build_file = read_build_file(build)
    asked = round_speeds(build_file) if speeds is None else speeds_from_text(speeds)
    target = target_from_texts(target_boost, target_power)
    places = (ambient_from_text(ambient or STANDARD_AIR), ambient_from_text(hot or HOT_AIR))
    typed = {
        "--notes": None if notes is None else Path(relpath(notes, build.parent)).as_posix(),
        "--units": units,
        "--language": language if language != "en" else None,
        "--speeds": speeds,
        "--ambient": ambient,
        "--pulleys": pulleys,
        "--target-boost": target_boost,
        "--target-power": target_power,
        "--risk": risk,
        "--hot": hot,
        "--at": target_speed,
    }
    said = [word for name, value in typed.items() if value is not None for word in (name, value)]
    request = SheetRequest(
        engine_speed=asked,
        ask=ask_of(pulleys, target, risk, target_speed_from_text(target_speed, asked), places),
        command=shlex.join(["boostwright", "sheet", build.name, *said]),
        units=units or "metric",
        language=language,
    )
    progress("Trying the pulleys in both places ...")
    document = build_sheet(build, notes, request)
    pdf, page = write_document(document, build.with_name(f"{build.stem}-sheet") if out is None else out, paper)
    typer.echo(f"{document.opening.sentence}\n{document.opening.standing}")
    typer.echo(f"\nPDF: {pdf}\nHTML: {page}\nCheck code: {document.check_code}")

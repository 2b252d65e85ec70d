"""`boostwright limits`: what gives first, how likely, and what would give it room."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, refuse_picture, write_json, write_picture

if TYPE_CHECKING:
    from boostwright.studies.limits import LimitsResult

Asked = Annotated[
    Path, typer.Argument(metavar="BUILD.toml|CAMPAIGN", help="A build file, or a campaign whose pulls calibrate it.")
]
Speeds = Annotated[
    str | None, typer.Option(metavar="FIRST:LAST:STEP", help="Engine speeds in rpm; of a build file only.")
]
Weather = Annotated[
    str | None, typer.Option(metavar="P, T, RH", help='The air around, such as "95 kPa, 38 degC, 0.3".')
]
SetupName = Annotated[str | None, typer.Option("--setup", help="Which setup of a campaign; its candidate if not said.")]
Chain = Annotated[bool, typer.Option("--chain", help="Draw by Markov chains; of a campaign only.")]
FigureFile = Annotated[Path | None, typer.Option(metavar="FILE.svg|png|pdf", help="Draw every limit with its range.")]


def limits(
    asked: Asked,
    speeds: Speeds = None,
    ambient: Weather = None,
    setup: SetupName = None,
    chain: Chain = False,
    figure: FigureFile = None,
    json: JsonTarget = None,
) -> None:
    """Say which limit gives first: every margin with its chance, and what would give it room.

    Example: boostwright limits examples/inlet-elbow/builds/cast.toml --ambient "95 kPa, 38 degC, 0.3"
    """
    if figure is not None:
        refuse_picture(figure)
    if asked.is_dir() or asked.name == "campaign.toml":
        _refuse(asked, "is a campaign, whose speeds are those of its pulls", {"--speeds": speeds})
        result = _of_campaign(asked, ambient, setup, chain=chain)
    else:
        _refuse(asked, "is a build file and has no pulls", {"--setup": setup, "--chain": "given" if chain else None})
        result = _of_build(asked, speeds, ambient)
    if json is not None:
        write_json(result.as_json(), json)
    if json != "-":
        _print(result)
    if figure is not None:
        _draw(result, figure)


def _of_build(path: Path, speeds: str | None, ambient: str | None) -> "LimitsResult":
    from boostwright.records.build_file import read_build_file
    from boostwright.studies.limits import build_limits
    from boostwright.studies.match import STANDARD_AIR, round_speeds
    from boostwright.studies.match_request import ambient_from_text, speeds_from_text

    build_file = read_build_file(path)
    at = round_speeds(build_file) if speeds is None else speeds_from_text(speeds)
    return build_limits(build_file, at, ambient_from_text(ambient or STANDARD_AIR))


def _of_campaign(path: Path, ambient: str | None, setup: str | None, *, chain: bool) -> "LimitsResult":
    from boostwright.inference.posterior_draws import chain_draws, randomised_maximum_likelihood
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.limits import campaign_limits
    from boostwright.studies.match_request import ambient_from_text

    campaign = read_campaign(path if path.is_dir() else path.parent)
    air = None if ambient is None else ambient_from_text(ambient)
    progress("Fitting the machine to the pulls; the first run on a computer compiles it, which takes half a minute ...")
    sampler = chain_draws if chain else randomised_maximum_likelihood
    return campaign_limits(campaign, setup or campaign.candidate, air, sampler)


def _print(result: "LimitsResult") -> None:
    from rich.console import Console

    from boostwright.publish.limits_terminal import WIDTH, print_limits

    print_limits(result, Console(highlight=False, width=max(WIDTH, Console().width)))


def _draw(result: "LimitsResult", target: Path) -> None:
    from boostwright.publish.limits_figure import limits_figure

    write_picture(limits_figure(result), target)


def _refuse(asked: Path, problem: str, options: dict[str, str | None]) -> None:
    """Refuse options that mean nothing here, rather than ignore them."""
    from boostwright.errors import DataError, Fault

    given = [option for option, value in options.items() if value is not None]
    if given:
        raise DataError(str(Fault(file=str(asked), problem=problem, remedy=f"leave {' and '.join(given)} out")))

"""`boostwright carry`: what does the tested change do on another engine, pulley, altitude or fuel?"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

if TYPE_CHECKING:
    from boostwright.studies.carry_result import CarryResult
    from boostwright.units import System

CampaignFolder = Annotated[Path, typer.Argument(metavar="CAMPAIGN", help="The test: its pulls and its builds.")]
Builds = Annotated[
    list[Path] | None, typer.Option("--to", metavar="BUILD.toml", help="A build to carry to; give it again for more.")
]
Weather = Annotated[
    str | None, typer.Option(metavar="P, T, RH", help='The air there: "82 kPa, 30 degC, 0.3"; else that of the pulls.')
]
Baseline = Annotated[
    Path | None, typer.Option(metavar="CAMPAIGN2", help="Pulls of the baseline on that build: fits both engines.")
]
Speeds = Annotated[str | None, typer.Option(metavar="FIRST:LAST:STEP", help="Engine speeds in rpm: 2000:6000:100.")]
OtherSpecimen = Annotated[
    bool, typer.Option("--another-engine", help="Take an engine written like the tested one for another of its kind.")
]
Chain = Annotated[
    bool, typer.Option("--chain", help="Draw by Markov chains: a quarter of a minute more, for what will be published.")
]
FigureFile = Annotated[Path | None, typer.Option(metavar="FILE.svg|png|pdf", help="Draw gain, boost and power.")]


def carry(
    campaign: CampaignFolder,
    to: Builds = None,
    ambient: Weather = None,
    baseline: Baseline = None,
    speeds: Speeds = None,
    another_engine: OtherSpecimen = False,
    chain: Chain = False,
    figure: FigureFile = None,
    json: JsonTarget = None,
) -> None:
    """Carry a tested gain to builds that nobody tested: gain, boost and power there, each with its interval.

    Example: boostwright carry examples/inlet-elbow --to examples/inlet-elbow/builds/other-engine.toml
    """
    from boostwright.inference.posterior_draws import chain_draws, randomised_maximum_likelihood
    from boostwright.inference.transfer import joint_chain_draws, joint_draws
    from boostwright.studies.carry import carry as carried
    from boostwright.studies.carry_request import asked_of

    if figure is not None:
        _refuse_picture(figure)
    question = asked_of(campaign, to or [], ambient, speeds, baseline, is_another_specimen=another_engine)
    progress("Fitting the machine to the pulls; the first run on a computer compiles it, which takes half a minute ...")
    samplers = (chain_draws, joint_chain_draws) if chain else (randomised_maximum_likelihood, joint_draws)
    result = carried(question.tested, question.targets, question.pulls_there, *samplers)
    if json is not None:
        write_json(result.as_json(), json)
    if figure is not None:
        _draw(result, figure, question.units)
    if json != "-":
        _print(result, question.units)


def _print(result: "CarryResult", units: "System") -> None:
    from rich.console import Console

    from boostwright.publish.carry_terminal import WIDTH, print_carried

    print_carried(result, Console(highlight=False, width=max(WIDTH, Console().width)), units)


def _draw(result: "CarryResult", target: Path, units: "System") -> None:
    import io

    from boostwright.publish.carry_figures import carry_figure
    from boostwright.publish.figure_style import save
    from boostwright.records.atomic import write_atomically

    picture = io.BytesIO()
    save(carry_figure(result, units), picture, target.suffix.removeprefix(".").lower())
    write_atomically(target, picture.getvalue())
    progress(f"Figure: {target}")


def _refuse_picture(target: Path) -> None:
    from boostwright.units import UnitError

    if target.suffix.lower() not in (".svg", ".png", ".pdf"):
        raise UnitError(f'"{target}"', "is not the name of a picture that we draw", "end it in .svg, .png or .pdf")

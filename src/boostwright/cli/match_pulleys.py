"""`boostwright match BUILD --pulleys ...`: which pulley, what each one gives, and the risk that it takes."""

import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import progress, write_json, write_picture

if TYPE_CHECKING:
    from boostwright.studies.pulleys import PulleyChart

_PANEL = "Choosing a pulley"
Pulleys = Annotated[
    str | None,
    typer.Option(
        "--pulleys",
        metavar="LIST",
        rich_help_panel=_PANEL,
        help='Blower pulleys that can be had: "68 mm, 70 mm", "2.75 in, 3 in", or ratios "2.4, 2.6".',
    ),
]
TargetBoost = Annotated[
    str | None,
    typer.Option("--target-boost", metavar="P", rich_help_panel=_PANEL, help='Boost that is wanted: "80 kPa".'),
]
TargetPower = Annotated[
    str | None,
    typer.Option("--target-power", metavar="P", rich_help_panel=_PANEL, help='Power that is wanted: "250 kW".'),
]
Risk = Annotated[
    str | None,
    typer.Option(
        "--risk", metavar="SHARE", rich_help_panel=_PANEL, help="Chance of breaking a limit that is accepted; 0.05."
    ),
]
HotPlace = Annotated[
    str | None,
    typer.Option(
        "--hot",
        metavar="P, T, RH",
        rich_help_panel=_PANEL,
        help='A hot or high place beside --ambient; "95 kPa, 38 degC, 0.3" if not said.',
    ),
]
TargetSpeed = Annotated[
    str | None,
    typer.Option(
        "--at", metavar="SPEED", rich_help_panel=_PANEL, help="Where boost and power are read; the highest speed."
    ),
]
ReportFile = Annotated[
    Path | None,
    typer.Option("--report", metavar="FILE.html", rich_help_panel=_PANEL, help="The chart on one page to print."),
]


@dataclass(frozen=True, kw_only=True)
class PulleyOptions:
    """What was typed to ask for a pulley."""

    pulleys: str | None
    target_boost: str | None
    target_power: str | None
    risk: str | None
    hot: str | None
    target_speed: str | None
    report: Path | None

    @property
    def is_asked(self) -> bool:
        """Whether a pulley is asked for at all."""
        return self.report is not None or any(value is not None for value in self.typed.values())

    def refuse_beside(self, vary: list[str] | None) -> None:
        """Refuse to answer half of what was asked."""
        from boostwright.units import UnitError

        if vary:
            remedy = "ask one of them; --vary drive.driven_pulley=... varies the pulley as well"
            raise UnitError(f'"{vary[0]}"', "cannot be varied in a chart of pulleys", remedy)

    @property
    def typed(self) -> dict[str, str | None]:
        """The options that make the chart, as they are typed."""
        return {
            "--pulleys": self.pulleys,
            "--target-boost": self.target_boost,
            "--target-power": self.target_power,
            "--risk": self.risk,
            "--hot": self.hot,
            "--at": self.target_speed,
        }


def choose_pulley(
    build: Path,
    options: PulleyOptions,
    speeds: str | None,
    ambient: str | None,
    blower: str | None,
    figure: Path | None,
    json: str | None,
) -> None:
    """Print the chart of pulleys, and write what was asked for beside it."""
    from boostwright.records.build_file import read_build_file
    from boostwright.studies.match import STANDARD_AIR, round_speeds
    from boostwright.studies.match_request import ambient_from_text, blower_from_text, speeds_from_text
    from boostwright.studies.pulley_request import answered, ask_of, target_from_texts, target_speed_from_text
    from boostwright.studies.pulleys import HOT_AIR

    _refuse_page(options.report)
    build_file = read_build_file(build)
    asked = round_speeds(build_file) if speeds is None else speeds_from_text(speeds)
    target = target_from_texts(options.target_boost, options.target_power)
    places = (ambient_from_text(ambient or STANDARD_AIR), ambient_from_text(options.hot or HOT_AIR))
    speed = target_speed_from_text(options.target_speed, asked)
    ask = ask_of(options.pulleys, target, options.risk, speed, places)
    chart = answered(build_file, asked, ask, blower_from_text(blower or "slip", build_file))
    if json is not None:
        write_json(chart.as_json(), json)
    if json != "-":
        _print(chart)
    if figure is not None:
        _draw(chart, figure)
    if options.report is not None:
        typed = {"--speeds": speeds, "--ambient": ambient, "--blower": blower, **options.typed}
        said = [word for name, value in typed.items() if value is not None for word in (name, value)]
        command = shlex.join(["boostwright", "match", build.name, *said, "--report", options.report.name])
        _write_page(chart, build, command, options.report)


def _print(chart: "PulleyChart") -> None:
    from rich.console import Console

    from boostwright.publish.pulley_terminal import WIDTH, print_pulleys

    print_pulleys(chart, Console(highlight=False, width=max(WIDTH, Console().width)))


def _draw(chart: "PulleyChart", target: Path) -> None:
    from boostwright.publish.pulley_figure import pulley_figure

    write_picture(pulley_figure(chart), target)


def _write_page(chart: "PulleyChart", build: Path, command: str, target: Path) -> None:
    from boostwright.publish.identity import identity
    from boostwright.publish.pulley_report import pulley_report
    from boostwright.records.atomic import write_atomically

    made_from = identity(build.parent, [build.name], command)
    write_atomically(target, pulley_report(chart, build.stem, made_from).encode("utf-8"))
    progress(f"Page: {target}")


def _refuse_page(target: Path | None) -> None:
    from boostwright.units import UnitError

    if target is not None and target.suffix.lower() not in (".html", ".htm"):
        raise UnitError(f'"{target}"', "is not the name of a page that we write", "end it in .html")

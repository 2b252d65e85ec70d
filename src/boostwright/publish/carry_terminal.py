"""A carried gain as it is printed in the terminal: sentence, table over speed, distance from the test."""

from rich.console import Console
from rich.table import Table

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.terminal import say
from boostwright.studies.carry_result import CarriedBuild, CarryResult, Reach
from boostwright.studies.carry_words import build_words
from boostwright.studies.explain_result import Band
from boostwright.studies.words import number, plus_minus, signed_plus_minus, speed_text
from boostwright.units import System, Unit, display_unit, printed_symbol

WIDTH = 118
_LOOK = {Reach.TESTED: "", Reach.OUTSIDE: "", Reach.FAR: "yellow"}


def print_carried(result: CarryResult, console: Console, units: System) -> None:
    """Print every build's sentence and table, one table over all builds if there are several, and the cautions."""
    shown = display_unit("gauge_pressure", units), display_unit("power", units)
    if len(result.builds) > 1:
        _print_table(console, "All builds, mean over the range of each, 95 % intervals", _summary(result, *shown))
    for build in result.builds:
        sentence, distance = build_words(build, (result.baseline, result.candidate), units)
        console.print()
        say(console, sentence, "bold")
        say(console, distance)
        head = f"{build.build}: at each engine speed, 95 % intervals; boost and power with {result.baseline}"
        _print_table(console, head, _speeds(build, *shown))
        for note in build.notes:
            say(console, f"• {note}")
    console.print()
    measured = signed_plus_minus(100 * result.tested_gain.mean, 100 * result.tested_gain.half_width, "%")
    say(console, f"On the tested engine {measured} of power was measured, in the weather of its pulls.", "dim")
    say(
        console,
        "Elsewhere both setups are given the same weather, coolant, belt and mixture. The intervals hold what is "
        "unknown of each engine; how often they hold the truth is counted in docs/carried.md.",
        "dim",
    )
    for warning in result.warnings:
        say(console, f"• {warning}")
    console.print()
    for caution in CAUTIONS:
        say(console, caution, "dim")


def _print_table(console: Console, title: str, table: Table) -> None:
    console.print()
    say(console, title)
    console.print(table)


def _table(*headings: str) -> Table:
    """A table of numbers between a first and a last column of words."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    first, *numbers, last = headings
    table.add_column(first, no_wrap=True, vertical="bottom")
    for heading in numbers:
        table.add_column(heading, justify="right", no_wrap=True, vertical="bottom")
    table.add_column(last, no_wrap=True, vertical="bottom")
    return table


def _headings(pressure: Unit, power: Unit) -> list[str]:
    of_power = printed_symbol(power)
    return ["gain\n%", f"gain\n{of_power}", "air\n%", f"boost\n{printed_symbol(pressure)}", f"power\n{of_power}"]


def _summary(result: CarryResult, pressure: Unit, power: Unit) -> Table:
    table = _table("build", *_headings(pressure, power), "against the test")
    for build in result.builds:
        gains, levels = build.gains, build.baseline
        cells = [
            _mean(gains["brake_power_relative"], 0.01),
            _mean(gains["brake_power"], power.scale),
            _mean(gains["air_mass_flow_relative"], 0.01),
            _mean(levels["boost"], pressure.scale, signed=False),
            _mean(levels["brake_power"], power.scale, signed=False),
        ]
        reach = build.distance.furthest
        said = {Reach.TESTED: "as tested", Reach.OUTSIDE: "outside", Reach.FAR: "far outside"}[reach]
        table.add_row(build.build, *cells, said, style=_LOOK[reach])
    return table


def _speeds(build: CarriedBuild, pressure: Unit, power: Unit) -> Table:
    headings = ("engine\nrev/min", "rotor\nrev/min", "PR\n", *_headings(pressure, power))
    table = _table(*headings, "against\nthe test")
    gains, levels = build.gains, build.baseline
    for i, speed in enumerate(build.engine_speed):
        reach = build.distance.reach[i]
        table.add_row(
            speed_text(float(speed)),
            number(60 * float(build.rotor_speed[i])),
            number(float(build.pressure_ratio[i]), 2),
            _at(gains["brake_power_relative"], i, 0.01),
            _at(gains["brake_power"], i, power.scale),
            _at(gains["air_mass_flow_relative"], i, 0.01),
            _at(levels["boost"], i, pressure.scale, signed=False),
            _at(levels["brake_power"], i, power.scale, signed=False),
            _distance(build, i),
            style=_LOOK[reach],
        )
    return table


def _distance(build: CarriedBuild, i: int) -> str:
    """How far one speed lies outside: rotor speed and pressure ratio beyond the tested range, then the word."""
    distance, parts = build.distance, list[str]()
    for name, beyond in (("rotor", distance.rotor_speed[i]), ("PR", distance.pressure_ratio[i])):
        if abs(beyond) > 0.01:
            parts.append(f"{name} {'+' if beyond > 0 else '−'}{number(100 * abs(float(beyond)))} %")
    return ", ".join([distance.reach[i].value, *parts])


def _mean(band: Band, scale: float, *, signed: bool = True) -> str:
    said = signed_plus_minus if signed else plus_minus
    return said(band.mean / scale, band.half_width / scale, "").rstrip()


def _at(band: Band, i: int, scale: float, *, signed: bool = True) -> str:
    """Value and half the width of its interval at one speed."""
    said = signed_plus_minus if signed else plus_minus
    half = (band.upper[i] - band.lower[i]) / 2
    return said(float(band.values[i]) / scale, float(half) / scale, "").rstrip()

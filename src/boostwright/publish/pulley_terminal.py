"""A pulley chart in the terminal: the answer, a row a pulley, what is not known, the cautions."""

import textwrap

from rich.console import Console
from rich.table import Table
from rich.text import Text

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.pulley_tables import PlaceCells, chart_notes, pulley_cells
from boostwright.publish.terminal import say
from boostwright.studies.pulleys import PulleyChart

WIDTH = 138
_LIMIT_WIDTH = 46


def print_pulleys(chart: PulleyChart, console: Console) -> None:
    """Print the chart; the pulley that is chosen is marked, those beyond the risk are coloured and say so."""
    say(console, chart.sentence, "bold")
    console.print()
    console.print(_table(chart))
    for line in chart_notes(chart):
        say(console, line, "dim")
    console.print()
    for warning in chart.warnings:
        say(console, f"• {warning}")
    console.print()
    for caution in CAUTIONS:
        say(console, caution, "dim")


def _table(chart: PulleyChart) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("")
    for heading in ("pulley", "ratio"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("place", no_wrap=True)
    for heading in ("boost, kPa", "power, kW", "rotor rev/min"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("first limit, from rev/min", no_wrap=True)
    for heading in ("chance", "either"):
        table.add_column(heading, justify="right", no_wrap=True)
    for cells in pulley_cells(chart):
        look = "bold" if cells.is_chosen else "" if cells.is_within else "magenta"
        mark = "▶" if cells.is_chosen else "" if cells.is_within else "×"
        first = [mark, cells.pulley, cells.ratio], cells.rotor_speed, cells.chance
        for place, (head, rotor, either) in ((cells.reference, first), (cells.hot, (["", "", ""], "", ""))):
            table.add_row(*head, *_figures(place), rotor, _broken(place.first_limit), place.chance, either, style=look)
    return table


def _figures(cells: PlaceCells) -> tuple[str, str, str]:
    return cells.name, f"{cells.boost} {cells.boost_range}", f"{cells.power} {cells.power_range}"


def _broken(text: str) -> Text:
    """Text in lines of the column's width, broken between words only and never inside a number."""
    return Text("\n".join(textwrap.wrap(text, _LIMIT_WIDTH, break_on_hyphens=False)))

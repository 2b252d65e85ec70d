"""Limits in the terminal: what gives first, every margin with its chance, what would give room, the cautions."""

import textwrap

from rich.console import Console
from rich.table import Table
from rich.text import Text

from boostwright.machine.limits import LimitStatus
from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.limits_tables import change_cells, changes_note, limit_cells, limits_notes
from boostwright.publish.terminal import say
from boostwright.studies.limits import LimitsResult

WIDTH = 150
_NEEDS_WIDTH = 40
_LOOK = {LimitStatus.OVER.value: "bold magenta", LimitStatus.NEAR.value: "bold yellow", LimitStatus.OK.value: ""}


def print_limits(result: LimitsResult, console: Console) -> None:
    """Print the sentence, the table of limits, the ways to gain margin, warnings and cautions."""
    say(console, result.sentence, "bold")
    console.print()
    console.print(_limits(result))
    for line in limits_notes(result):
        say(console, line, "dim")
    if result.changes:
        console.print()
        say(console, "What would give room", "bold")
        console.print(_changes(result))
        say(console, changes_note(), "dim")
    console.print()
    for warning in result.warnings:
        say(console, f"• {warning}")
    console.print()
    for caution in CAUTIONS:
        say(console, caution, "dim")


def _limits(result: LimitsResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("limit", no_wrap=True)
    for heading in ("highest", "allowed", "left", "at", "chance"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for cells in limit_cells(result):
        status = "\n".join(textwrap.wrap(cells.status, _NEEDS_WIDTH, break_on_hyphens=False))
        table.add_row(
            cells.name,
            cells.value,
            cells.allowed,
            cells.left,
            cells.at,
            cells.chance,
            Text(status),
            style=_LOOK.get(cells.status, "dim"),
        )
    return table


def _changes(result: LimitsResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for heading in ("limit", "change"):
        table.add_column(heading, no_wrap=True)
    table.add_column("now", justify="right", no_wrap=True)
    table.add_column("to", no_wrap=True)
    for heading in ("power", "enough"):
        table.add_column(heading, justify="right", no_wrap=True)
    before = ""
    for cells in change_cells(result):
        limit, before = ("" if cells.limit == before else cells.limit), cells.limit
        row = (limit, cells.change, cells.present, cells.needed, cells.power, cells.enough)
        table.add_row(*row, style="" if cells.is_enough else "dim")
    return table

"""An explanation as it is printed in the terminal: the answer, the causes, what the data determined, what to log."""

from rich.console import Console
from rich.table import Table as RichTable

from boostwright.publish.explain_tables import (
    Table,
    air_table,
    channel_table,
    derived_table,
    fit_table,
    parameter_table,
    share_table,
    weather_table,
)
from boostwright.publish.terminal import say
from boostwright.studies.explain_result import ExplainResult
from boostwright.units import System

WIDTH = 118


def print_explanation(result: ExplainResult, console: Console, system: System = "metric") -> None:
    """Print the answer, then the tables, then what the reader should heed."""
    say(console, result.sentence, "bold")
    _print_table(console, share_table(result, system, most_speeds=4))
    for note in result.merging:
        say(console, note, "dim")
    _print_table(console, air_table(result))
    _print_table(console, derived_table(result, system))
    _print_table(console, fit_table(result, system))
    _print_table(console, parameter_table(result, system))
    console.print()
    say(console, result.channel_sentence)
    if result.sharper_channels:
        _print_table(console, channel_table(result))
    _print_table(console, weather_table(result))
    for warning in result.warnings:
        say(console, f"• {warning}")


def _print_table(console: Console, table: Table) -> None:
    """Print a table whose first column is words, dimmed where nothing is shown."""
    printed = RichTable(box=None, pad_edge=False)
    first, *others = table.columns
    printed.add_column(first, no_wrap=True)
    for heading in others:
        printed.add_column(heading.replace(" rev/min", ""), justify="right", no_wrap=True)
    for row in table.rows:
        printed.add_row(row.head, *row.cells, style="" if row.is_shown else "dim")
    console.print()
    say(console, f"{table.caption}.")
    console.print(printed)

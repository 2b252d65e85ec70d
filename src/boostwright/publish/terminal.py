"""What every printed result shares: sentences broken between words, tables without lines."""

import textwrap

from rich.console import Console
from rich.table import Table
from rich.text import Text


def say(console: Console, sentence: str, style: str = "") -> None:
    """Print a sentence broken between words only: the console itself would break at the thin space inside a number."""
    for line in textwrap.wrap(sentence, width=console.width, break_long_words=False, break_on_hyphens=False):
        console.print(Text(line, style=style), soft_wrap=True)


def plain_table(*headings: str) -> Table:
    """A table of numbers without lines, whose last column is words."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    *numbers, words = headings
    for heading in numbers:
        table.add_column(heading, justify="right", no_wrap=True, vertical="bottom")
    table.add_column(words, vertical="bottom")
    return table

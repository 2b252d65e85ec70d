"""A pool as it is printed in the terminal: the answer, every campaign, what a trend shows, warnings."""

import math

from rich.console import Console

from boostwright.publish.terminal import plain_table, say
from boostwright.studies.pool_result import PoolResult, Trend
from boostwright.studies.pool_words import gain_text, percent_text
from boostwright.studies.words import (
    NO_BREAK,
    count,
    decimals_for,
    number,
    quantity_words,
    signed,
)
from boostwright.units import printed_symbol


def print_pool(result: PoolResult, console: Console) -> None:
    """Print the answer, what each campaign says and does to it, and what the numbers rest on."""
    say(console, result.headline, "bold")
    say(console, result.sentence)
    console.print()
    table = plain_table("gain, %", "pulls", "weight, %", "the others\nalone, %", "campaign")
    for row in result.campaigns:
        others = "" if row.others_mean is None else gain_text(row.others_mean).removesuffix(f"{NO_BREAK}%")
        table.add_row(
            gain_text(row.gain).removesuffix(f"{NO_BREAK}%"), str(row.pulls), number(100 * row.share), others, row.name
        )
    table.add_row(gain_text(result.mean).removesuffix(f"{NO_BREAK}%"), "", "100", "", "together")
    console.print(table)
    console.print()
    if result.trend is not None:
        say(console, trend_sentence(result.trend))
        console.print()
    for warning in result.warnings:
        say(console, f"• {warning}")
    say(console, _basis(result), "dim")


def _basis(result: PoolResult) -> str:
    apart = result.heterogeneity
    share, low, high = (number(100 * x) for x in (apart.share.estimate, apart.share.lower, apart.share.upper))
    freedom = count(apart.degrees_of_freedom, "degree")
    return (
        f"Of the scatter of a typical campaign {share}{NO_BREAK}% is difference between engines ({low} to "
        f"{high}{NO_BREAK}%; Q = {number(apart.q_statistic, 1)} on {freedom} of freedom, p = {apart.p_value:.2g}). "
        "Random effects by restricted likelihood, intervals after Knapp and Hartung; campaigns count as independent."
    )


def trend_sentence(trend: Trend) -> str:
    """What the line over a level of the baseline shows."""
    unit, quantity = printed_symbol(trend.unit), quantity_words(trend.quantity)
    span = float(trend.moderator[-1] - trend.moderator[0]) / trend.unit.scale
    step = 10.0 ** math.floor(math.log10(span))
    slope = [step * trend.unit.scale * x for x in (trend.slope.estimate, trend.slope.lower, trend.slope.upper)]
    places = max(0, -math.floor(math.log10(step)))
    per = f"for every {number(step, places)}{NO_BREAK}{unit} more {quantity}"
    size = f"{percent_text(slope[0], (slope[2] - slope[1]) / 2)} {per}"
    if trend.is_shown:
        said = f"The gain {'rises' if slope[0] > 0 else 'falls'} with {quantity}: {size}."
    else:
        said = f"A trend over {quantity} is not shown: {size}."
    ends = ", ".join(_end(trend, i, places + 1) for i in (0, -1))
    return f"{said} On the line {ends}; beyond these nothing was tested."


def _end(trend: Trend, place: int, places: int) -> str:
    """The line at one end, with the range of a next engine there if it is known."""
    level = number(float(trend.moderator[place]) / trend.unit.scale, places)
    gain = percent_text(float(trend.line[place]), float(trend.line_upper[place] - trend.line_lower[place]) / 2)
    said = f"at {level}{NO_BREAK}{printed_symbol(trend.unit)} {gain}"
    if not trend.next_lower.size:
        return said
    digits = max(1, decimals_for(50 * float(trend.next_upper[place] - trend.next_lower[place])))
    low, high = (signed(100 * float(x[place]), digits) for x in (trend.next_lower, trend.next_upper))
    return f"{said} (a next engine there {low} to {high}{NO_BREAK}%)"

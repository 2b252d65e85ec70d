"""A study of designs as it is printed in the terminal: the answer, the best designs, the curve, what limits them."""

import numpy as np
from rich.console import Console
from rich.table import Table

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.terminal import plain_table, say
from boostwright.studies.vary_result import CONFIDENCE, LISTED, Ranged, VaryResult, sets_text, shown_rows
from boostwright.studies.words import MINUS, NO_BREAK, decimals_for, number, signed, speed_text
from boostwright.units import printed_symbol

WIDTH = 100
_SAME = 0.005  # kW: a design that is the build as it stands differs by less, by where the solver stopped


def print_vary(result: VaryResult, console: Console) -> None:
    """Print the headline, the designs with the most gain, the curve of the best one, warnings and cautions."""
    say(console, result.headline, "bold")
    if result.not_worse:
        others = f"{number(result.not_worse)} other allowed designs are" if result.not_worse > 1 else "One other is"
        say(console, f"{others} not shown to gain less than the best.")
    console.print()
    if result.shown is not None:
        console.print(_designs(result))
        console.print()
        console.print(_curve(result))
    say(
        console,
        f"± and brackets: {100 * CONFIDENCE:.0f} % range over {sets_text(result.study)} "
        f"(blower: {result.study.blower_form}). Used: share of a limit that at most {100 * result.goal.risk:.3g} % of "
        "the sets exceed.",
        "dim",
    )
    for warning in result.warnings:
        say(console, f"• {warning}")
    console.print()
    for caution in CAUTIONS:
        say(console, caution, "dim")


def _designs(result: VaryResult) -> Table:
    study, scores, verdicts = result.study, result.scores, result.verdicts
    heads = [f"{v.key_path.replace('.', '.' + chr(8203))}\n{printed_symbol(v.unit)}".rstrip() for v in study.variations]
    table = plain_table(*heads, "gain\nkW", "power\nkW", "used most\n%", "limit")
    table.title, table.title_justify = "As it stands, and the designs with the most gain", "left"
    for row in (0, *shown_rows(result, LISTED)):
        values = [f"{float(v.unit.from_si(x)):.4g}" for v, x in zip(study.variations, scores.designs[row], strict=True)]
        used, name = _most_used(result, row)
        mark = "" if row == 0 or verdicts.is_allowed[row] else ", not as asked"
        style = "bold" if row == result.shown else "dim" if row == 0 else ""
        table.add_row(
            *values,
            _gain(verdicts.gain, row) if row else "–",
            _level(verdicts.level, row),
            used,
            name + mark,
            style=style,
        )
    return table


def _gain(gain: Ranged, row: int) -> str:
    half = float(gain.upper[row] - gain.value[row])
    decimals = decimals_for(half) if half > _SAME else 1
    return f"{signed(float(gain.value[row]), decimals)}{NO_BREAK}±{NO_BREAK}{number(half, decimals)}"


def _level(level: Ranged, row: int) -> str:
    low, high = number(float(level.lower[row])), number(float(level.upper[row]))
    return f"{number(float(level.value[row]))} ({low}–{high})"


def _most_used(result: VaryResult, row: int) -> tuple[str, str]:
    used, names = result.scores.used[row], result.study.limit_names
    if not names or np.isnan(used).all():
        return "–", "not known"
    worst = int(np.nanargmax(used))
    return number(100.0 * float(used[worst])), names[worst]


def _curve(result: VaryResult) -> Table:
    table = plain_table("rev/min", "as it stands\nkW", "shown design\nkW", "gain\nkW", "")
    table.title, table.title_justify = "The design in bold over engine speed", "left"
    for place, speed in enumerate(result.study.engine_speed):
        gain = result.shown_gain
        word = "gain" if gain.lower[place] > 0.0 else "loss" if gain.upper[place] < 0.0 else "open"
        table.add_row(
            speed_text(speed),
            _level(result.present_power, place),
            _level(result.shown_power, place),
            _gain(gain, place).replace("-", MINUS),
            word,
        )
    return table

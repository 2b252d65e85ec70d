"""A comparison as it is printed in the terminal: verdict, sketch of the gain, table, pulls, warnings."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from boostwright.inference.gain_summary import Interval
from boostwright.publish.compare_tables import peak_rows, pull_notes, speed_rows
from boostwright.publish.sketch import gain_sketch
from boostwright.publish.terminal import plain_table, say
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.words import NO_BREAK, decimals_for, joined, number, quantity_words, signed, speed_span_text
from boostwright.units import printed_symbol

_STATE_LOOK = {"gain shown": "bold blue", "loss shown": "bold dark_orange3", "open": "dim"}


def print_comparison(result: CompareResult, console: Console) -> None:
    """Print the verdict with its sentence, the curve as a sketch, the table and what was done with every pull."""
    say(console, result.headline, "bold")
    say(console, result.sentence)
    console.print()
    say(console, f"gain of {result.candidate} over {result.baseline} in {quantity_words(result.quantity)}, %")
    curves = result.curves
    band = (100 * edge for edge in (curves.relative_gain, curves.relative_lower, curves.relative_upper))
    for line in gain_sketch(curves.engine_speed, *band):
        console.print(Text(line, no_wrap=True))
    console.print()
    console.print(_speed_table(result))
    console.print()
    for row in peak_rows(result):
        say(console, _peak_words(row.setup, row.value, row.engine_speed, row.manifold_pressure, row.rotor_speed))
    console.print()
    console.print(_pull_table(result))
    for line in _sensitivity_lines(result):
        say(console, line)
    for warning in result.warnings:
        say(console, f"• {warning}")


def _sensitivity_lines(result: CompareResult) -> Iterator[str]:
    """One line for drift, one for heat soak, and with a single pull of a setup one for the shape."""
    found = result.sensitivity
    if found is None:
        return
    drifts = [
        _percent(drift.interval, 3600.0) + (f" on {drift.session}" if len(found.drift) > 1 else "")
        for drift in found.drift
    ]
    yield (
        f"Drift: {joined(drifts)} an hour. Without allowing for drift and heat soak the average gain would read "
        f"{_percent(found.without_drift, 1.0)}."
    )
    if found.soak is not None:
        yield f"Heat soak before the pull: {_percent(found.soak, 1.0)} a kelvin, from these pulls and what was known."
    if min(result.evidence.baseline_pulls, result.evidence.candidate_pulls) < 2:
        spans = [f"{part.state} at {speed_span_text(part.from_speed, part.to_speed)}" for part in found.shape]
        said = f"the gain is {joined(spans)}" if spans else "nowhere is the gain surely above or below its average"
        yield f"Shape, which is known better than the level from single pulls: {said}."


def _percent(interval: Interval, factor: float) -> str:
    """An interval in percent of the baseline."""
    half = 50 * factor * (interval.upper - interval.lower)
    places = max(1, decimals_for(half))
    middle = signed(100 * factor * interval.estimate, places)
    return NO_BREAK.join((middle, "±", number(half, places), "%"))


def _peak_words(setup: str, value: str, engine_speed: str, manifold_pressure: str, rotor_speed: str) -> str:
    known = [
        f"{manifold_pressure} in the manifold" if manifold_pressure != "–" else "",
        f"rotor at {rotor_speed} rev/min" if rotor_speed != "–" else "",
    ]
    return ", ".join([f"Peak of {setup}: {value} at {engine_speed} rev/min", *filter(None, known)])


def _speed_table(result: CompareResult) -> Table:
    unit = printed_symbol(result.unit)
    names = (f"{result.baseline}\n{unit}", f"{result.candidate}\n{unit}")
    table = plain_table("rev/min", *names, f"gain\n{unit}", "gain\n%", "")
    for row in speed_rows(result):
        table.add_row(
            row.engine_speed,
            row.baseline,
            row.candidate,
            f"{row.gain} ± {row.half_width}",
            f"{row.percent} ± {row.percent_half_width}",
            Text(row.state, style=_STATE_LOOK.get(row.state, "")),
        )
    return table


def _pull_table(result: CompareResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for heading in ("pull", "setup", "what was done with it"):
        table.add_column(heading)
    for file, setup, done, _ in pull_notes(result):
        table.add_row(Text(file), Text(setup), Text(done, style="" if done == "used" else "bold"))
    return table

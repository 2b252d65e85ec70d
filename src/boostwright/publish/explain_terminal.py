"""An explanation as it is printed in the terminal: the answer, the causes, what the data determined, what to log."""

from rich.console import Console
from rich.table import Table

from boostwright.publish.terminal import say
from boostwright.studies.explain_result import Band, DerivedQuantity, Estimate, ExplainResult
from boostwright.studies.words import number, plus_minus, quantity_words, signed_plus_minus

WIDTH = 118
KILOWATT = 1e3
_PRINTED_UNIT = {"-": (1.0, "–"), "m2": (1e-4, "cm²"), "Pa": (100.0, "hPa"), "W": (KILOWATT, "kW")}  # of an SI unit
_PRINTED_KEY = {"kg_per_s": "kg/s", "kpa": "kPa", "percent": "%", "kw": "kW", "degC": "°C"}


def print_explanation(result: ExplainResult, console: Console) -> None:
    """Print the answer, then the tables, then what the reader should heed."""
    say(console, result.sentence, "bold")
    head = f"Gain in brake power of {result.candidate} over {result.baseline}, mean over the range, 95 % intervals"
    _print_table(console, head, _cause_table(result))
    for note in result.merging:
        say(console, note, "dim")
    _print_table(console, "What the chain gives besides, mean over the range", _derived_table(result))
    _print_table(console, "What the data determined", _parameter_table(result))
    if result.sharper_channels:
        head = "What another channel would leave of the widths of the intervals (100 %: nothing gained)"
        _print_table(console, head, _channel_table(result))
    head = "What a standard's weather correction would do to power, coolant as it was, and what this engine does"
    _print_table(console, head, _weather_table(result))
    for warning in result.warnings:
        say(console, f"• {warning}")


def _print_table(console: Console, title: str, table: Table) -> None:
    console.print()
    say(console, title)
    console.print(table)


def _table(first: str, *headings: str) -> Table:
    """A table whose first column is words and whose others are numbers."""
    table = Table(box=None, pad_edge=False)
    table.add_column(first, no_wrap=True)
    for heading in headings:
        table.add_column(heading, justify="right", no_wrap=True)
    return table


def _cause_table(result: ExplainResult) -> Table:
    table = _table("cause", "kW", "% of power")
    for term in (*result.causes, result.interaction, result.unexplained, result.measured_gain):
        style = "bold" if term is result.measured_gain else "" if term.gain.is_shown else "dim"
        table.add_row(term.name, _interval(term.gain, KILOWATT), _interval(term.relative_gain, 0.01), style=style)
    return table


def _interval(band: Band, scale: float) -> str:
    return signed_plus_minus(band.mean / scale, band.half_width / scale, "").rstrip()


def _derived_table(result: ExplainResult) -> Table:
    table = _table("quantity", result.baseline, result.candidate, "unit")
    for quantity in result.derived:
        cells = [_figure(band, quantity) for band in (quantity.baseline, quantity.candidate)]
        table.add_row(quantity_words(quantity.name), *cells, _PRINTED_KEY[quantity.unit])
    return table


def _figure(band: Band, of: DerivedQuantity) -> str:
    return plus_minus((band.mean - of.zero) / of.scale, band.half_width / of.scale, "").rstrip()


def _parameter_table(result: ExplainResult) -> Table:
    table = _table("unknown", "before: 95 % range", "after", "unit", "variance removed")
    for row in sorted(result.parameters, key=lambda row: -row.share_removed):
        scale, unit = _PRINTED_UNIT.get(row.unit, (1.0, row.unit))
        before, after = (_range(estimate, scale) for estimate in (row.prior, row.posterior))
        share = f"{number(100 * row.share_removed)} %"
        style = "" if row.is_determined else "dim"
        table.add_row(quantity_words(row.name), before, after, unit, share, style=style)
    return table


def _range(estimate: Estimate, scale: float) -> str:
    lower, upper = (f"{bound / scale:.3g}" for bound in (estimate.lower, estimate.upper))
    return f"{lower} – {upper}"


def _weather_table(result: ExplainResult) -> Table:
    table = _table("rule", "its factor", "this engine's factor", "reads high by")
    for row in result.weather_factors:
        over = row.excess
        percent = signed_plus_minus(100 * over.value, 50 * (over.upper - over.lower), "%")
        engine = plus_minus(row.chain.value, (row.chain.upper - row.chain.lower) / 2, "").rstrip()
        table.add_row(row.correction_rule, number(row.standard, 4), engine, percent)
    return table


def _channel_table(result: ExplainResult) -> Table:
    table = _table("channel", "gain in air", "all causes", "sharpens most")
    for row in result.sharper_channels:
        shares = [f"{number(100 * share)} %" for share in (row.air_gain_left, row.causes_left, row.sharpest_cause_left)]
        table.add_row(quantity_words(row.channel), shares[0], shares[1], f"{row.sharpest_cause}: {shares[2]}")
    return table

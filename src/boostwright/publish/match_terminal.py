"""A match as it is printed in the terminal: the table at round speeds, the limits, the cautions."""

import math

from rich.console import Console
from rich.table import Table
from rich.text import Text

from boostwright.machine.assumptions import Assumption
from boostwright.machine.limits import LimitMargin, LimitStatus
from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.terminal import say
from boostwright.studies.match import COLUMNS, CONFIDENCE, MatchResult, assumption_unit
from boostwright.studies.words import NO_BREAK, number, speed_text
from boostwright.units import display_unit, printed_symbol

WIDTH = 120  # the longest key that a limit asks for stands whole
_SHOWN = (  # column of the result, heading, decimals
    ("engine_speed_rpm", "engine\nrev/min", 0),
    ("rotor_speed_rpm", "rotor\nrev/min", 0),
    ("boost_kpa", "boost\nkPa", 0),
    ("air_mass_flow_kg_per_s", "air\nkg/s", 3),
    ("blower_inlet_pressure_kpa", "inlet\nkPa abs", 1),
    ("pressure_ratio", "PR\n", 2),
    ("blower_volumetric_efficiency", "VE\n", 2),
    ("blower_outlet_temperature_degC", "outlet\n°C", 0),
    ("charge_temperature_degC", "charge\n°C", 0),
    ("blower_drive_power_kw", "drive\nkW", 1),
    ("brake_power_kw", "power\nkW", 0),
    ("brake_torque_nm", "torque\nN·m", 0),
)
_LOOK = {
    LimitStatus.OVER: "bold magenta",
    LimitStatus.NEAR: "bold yellow",
    LimitStatus.OK: "",
    LimitStatus.NOT_KNOWN: "dim",
}
_MORE_DECIMALS = {"fraction": 2, "velocity": 1, "volume_flow": 2, "power": 1}


def print_match(result: MatchResult, console: Console) -> None:
    """Print the headline, the table with its 95 % ranges, limits, warnings and cautions."""
    say(console, result.headline, "bold")
    console.print()
    console.print(_table(result))
    say(
        console,
        f"In brackets the {100 * CONFIDENCE:.0f} % range of what nobody has said of the build (blower: "
        f"{result.blower_form}); what the model itself gets wrong is not in it. See --assumptions.",
        "dim",
    )
    console.print()
    console.print(_limits_table(result.limits))
    for warning in result.warnings:
        say(console, f"• {warning}")
    console.print()
    for caution in CAUTIONS:
        say(console, caution, "dim")


def print_assumptions(result: MatchResult, console: Console) -> None:
    """Print every number that nobody gave: key, value, range, unit, how it scales, where it comes from."""
    table = Table(box=None, pad_edge=False, title="What nobody has said, and how it was taken", title_justify="left")
    table.add_column("key", no_wrap=True)
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("95 % range", justify="right", no_wrap=True)
    table.add_column("scaling; source")
    for assumption in result.assumptions:
        unit = assumption_unit(assumption)
        value, low, high = (f"{x:#.3g}".rstrip(".") for x in unit.from_si(_figures(assumption)))
        said = assumption.source if assumption.scaling == "none" else f"{assumption.scaling}; {assumption.source}"
        table.add_row(
            assumption.key_path, f"{value} {printed_symbol(unit)}".rstrip(), f"{low} – {high}", Text(said), style=""
        )
    console.print(table)


def _figures(assumption: Assumption) -> list[float]:
    return [assumption.value, assumption.low, assumption.high]


def _table(result: MatchResult) -> Table:
    table = Table(box=None, pad_edge=False)
    for _, heading, _ in _SHOWN:
        table.add_column(heading, justify="right", no_wrap=True)
    columns = {column.name: result.shown(column) for column in COLUMNS}
    for i, matched in enumerate(result.operating.is_matched):
        cells = [_cell(float(columns[name][i]), decimals) for name, _, decimals in _SHOWN]
        for place, (name, _, decimals) in enumerate(_SHOWN):
            if matched and name in ("boost_kpa", "brake_power_kw"):
                low, high = (
                    number(float(result.lower[name][i]), decimals),
                    number(float(result.upper[name][i]), decimals),
                )
                cells[place] += f" ({low}–{high})"
        table.add_row(*cells)
    return table


def _cell(value: float, decimals: int) -> str:
    return "–" if math.isnan(value) else number(value, decimals)


def _limits_table(limits: tuple[LimitMargin, ...]) -> Table:
    """Limits, the one with the least margin first; what is not known comes last, with the keys that would tell."""
    table = Table(box=None, pad_edge=False)
    table.add_column("limit", no_wrap=True)
    for heading in ("value", "allowed", "left", "at"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("", overflow="fold")
    for limit in sorted(limits, key=lambda limit: (limit.status is LimitStatus.NOT_KNOWN, limit.margin)):
        known = limit.status is not LimitStatus.NOT_KNOWN
        table.add_row(
            limit.name,
            _quantity(limit.value, limit.dimension),
            _quantity(limit.limit, limit.dimension),
            f"{number(100 * limit.margin)} %" if known else "",
            "" if math.isnan(limit.engine_speed) else f"{speed_text(limit.engine_speed)} rev/min",
            limit.status.value if known else f"not known: give {', '.join(limit.needs)}",
            style=_LOOK[limit.status],
        )
    return table


def _quantity(value: float, dimension: str) -> str:
    if math.isnan(value):
        return "–"
    unit = display_unit(dimension, "metric")
    text = number(float(unit.from_si(value)), _MORE_DECIMALS.get(dimension, 0))
    return f"{text}{NO_BREAK}{printed_symbol(unit)}".rstrip()

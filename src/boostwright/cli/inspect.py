"""`boostwright inspect`: what was understood of a log, of a folder of logs, or of a campaign."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, write_json

if TYPE_CHECKING:
    from rich.console import Console

    from boostwright.records.columns import ColumnRule
    from boostwright.studies.inspect import InspectedLog, Inspection

Place = Annotated[Path, typer.Argument(metavar="FILE_OR_FOLDER", help="A log, a folder of logs, or a campaign.")]
Units = Annotated[
    list[str] | None, typer.Option("--unit", metavar="HEADER=UNIT", help='The unit of a column: --unit "MAP=psi abs".')
]
Columns = Annotated[
    list[str] | None,
    typer.Option("--column", metavar="HEADER=QUANTITY", help='What a column is: --column "Trq=torque [N*m]".'),
]
Write = Annotated[bool, typer.Option("--write", help="Draft a campaign.toml for a folder of logs; never over another.")]


def inspect(
    place: Place, unit: Units = None, column: Columns = None, write: Write = False, json: JsonTarget = None
) -> None:
    """Show what is understood of logs: quantities, units, ranges, sample rate, sweep, faults.

    Example: boostwright inspect examples/inlet-elbow/pulls/01-cast.csv --column "Torque=torque [N m]"
    """
    from rich.console import Console

    from boostwright.errors import FileError
    from boostwright.studies.inspect import inspect_path

    if write and not place.is_dir():
        raise typer.BadParameter("--write drafts a campaign for a folder: give the folder of the logs")
    rules = _rules(column or [], unit or [])
    found = inspect_path(place, rules)
    if json is not None:
        write_json(found.as_json(), json)
    if json != "-":
        _print(found, Console(highlight=False))
    if write:
        _draft(place, rules)
    if found.all_faults:
        raise FileError(found.all_faults)


def _rules(columns: list[str], units: list[str]) -> "list[ColumnRule]":
    from boostwright.records.columns import ColumnRule, parse_rule
    from boostwright.units import parse_unit

    said = [parse_rule(*_parted(text, "--column", "Trq=torque [N*m]")) for text in columns]
    for text in units:
        header, symbol = _parted(text, "--unit", "MAP=psi abs")
        said.append(ColumnRule(header=header, unit=parse_unit(symbol)))
    return said


def _parted(text: str, option: str, example: str) -> tuple[str, str]:
    header, sign, said = text.rpartition("=")
    if not sign or not header.strip():
        raise typer.BadParameter(f'"{text}" names no column: write {option} "{example}"')
    return header.strip(), said.strip()


def _draft(folder: Path, rules: "list[ColumnRule]") -> None:
    from boostwright.errors import FileError
    from boostwright.records.campaign import read_campaign
    from boostwright.records.folder import write_draft

    path = write_draft(folder, rules)
    typer.echo(f"Draft: {path}")
    try:
        read_campaign(folder)
    except FileError as missing:
        typer.echo("Still to be filled in:")
        for fault in missing.faults:
            typer.echo(f"  {fault.key}: {fault.remedy}")


def _print(found: "Inspection", console: "Console") -> None:
    for log in found.logs:
        _print_log(log, console)


def _print_log(log: "InspectedLog", console: "Console") -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("column", "quantity", "unit", "from", "to", "in SI"):
        table.add_column(title, overflow="fold")
    for column in log.columns:
        ends = ["" if end is None else f"{end:.5g}" for end in (column.lowest, column.highest)]
        cells = (column.header, column.quantity, column.unit, *ends, column.conversion)
        table.add_row(*map(Text, cells))  # as text: a header is never markup
    console.print(Text(log.file, style="bold"))
    console.print(table)
    for ignored in log.ignored:
        console.print(Text(f'"{ignored.header}" is left out: {ignored.reason}'))
    for line in (*_rates(log), *log.notes, *_sketch(log)):
        console.print(Text(line))
    if log.faults:
        said = "1 fault" if len(log.faults) == 1 else f"{len(log.faults)} faults"
        console.print(Text(f"{said}, listed at the end", style="bold"))
    console.print()


def _rates(log: "InspectedLog") -> list[str]:
    said = [f"{log.samples} samples"] if log.samples else []
    said += [f"{log.sample_rate:.4g} a second"] if log.sample_rate else []
    if sweep := log.sweep:
        said.append(f"sweep {60 * sweep.from_speed:.0f} to {60 * sweep.to_speed:.0f} rpm")
        said += [f"{60 * sweep.sweep_rate:.0f} rpm/s"] if sweep.sweep_rate == sweep.sweep_rate else []
    return [", ".join(said)] if said else []


def _sketch(log: "InspectedLog", rows: int = 5) -> list[str]:
    """Bars of torque or power along the sweep, in eighths of a line."""
    from boostwright.units import display_unit

    if log.sweep is None or len(log.sweep.curve) < 2:
        return []
    sweep, low, high = log.sweep, min(log.sweep.curve), max(log.sweep.curve)
    floor = low - 0.1 * (high - low) - 1e-9
    eighths = [round((value - floor) / (high - floor) * 8 * rows) for value in sweep.curve]
    lines = ["".join(" ▁▂▃▄▅▆▇█"[min(8, max(0, bar - 8 * row))] for bar in eighths) for row in reversed(range(rows))]
    unit = display_unit("torque" if sweep.quantity == "torque" else "power", "metric")
    ends = " to ".join(f"{float(unit.from_si(value)):.4g}" for value in (low, high))
    start, stop = f"{60 * sweep.from_speed:.0f}", f"{60 * sweep.to_speed:.0f} rpm"
    return [f"{sweep.quantity}, {ends} {unit.symbol}", *lines, f"{start}{stop:>{len(sweep.curve) - len(start)}}"]

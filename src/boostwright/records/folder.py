"""The logs that lie in a folder, and the draft of a campaign for them."""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

import tomlkit

from boostwright.errors import Fault, FileError
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import CAMPAIGN_FILE
from boostwright.records.columns import ColumnRule, understand_columns
from boostwright.records.log import LOG_SUFFIXES, open_table
from boostwright.records.toml import PLACEHOLDER

_MOST_SETUPS = 5
_SAY_NOTHING = {"pull", "run", "log", "test", "dyno", "sweep", "data", "export"}
# `cast_01`, `cast 2`, `03-machined`: a name and a running number, nothing else.
_PLAIN_NAME = re.compile(r"(?:\d+[ _-]+)?([A-Za-z][A-Za-z_-]*?)(?:[ _-]*\d+)?")


def find_logs(folder: Path) -> tuple[str, ...]:
    """Return the logs that lie in a folder and in its `pulls`, as paths within the folder, by name."""
    found = [
        path.relative_to(folder).as_posix()
        for place in (folder, folder / "pulls")
        if place.is_dir()
        for path in place.iterdir()
        if path.suffix.lower() in LOG_SUFFIXES and path.is_file() and not path.name.startswith((".", "~"))
    ]
    return tuple(sorted(found))


def write_draft(folder: Path, rules: Sequence[ColumnRule] = ()) -> Path:
    """Write a draft of `campaign.toml` for the logs of a folder, and return its path; never over one that is there.

    Raises
    ------
    FileError
        If there is one already, or there are no logs, or it cannot be written.
    """
    path = folder / CAMPAIGN_FILE
    if path.exists():
        raise FileError([Fault(file=str(path), problem="is there already", remedy="edit it, or move it away first")])
    write_atomically(path, draft_campaign(folder, rules).encode("utf-8"))
    return path


def draft_campaign(folder: Path, rules: Sequence[ColumnRule] = ()) -> str:
    """Return a `campaign.toml` for the logs of a folder in which "?" stands for what only a person knows.

    Raises
    ------
    FileError
        If there are no logs.
    """
    logs = find_logs(folder)
    if not logs:
        fault = Fault(file=str(folder), problem="holds no logs", remedy="put the logs in it, or in its pulls/")
        raise FileError([fault])
    setups = _guess_setups(logs)
    names = tuple(dict.fromkeys(setups.values())) or ("first", "second")
    parts = [_head(folder, names, guessed=bool(setups)), _columns(folder, logs, rules)]
    parts += [_pull(folder, file, names, setups.get(file, PLACEHOLDER)) for file in logs]
    return "\n".join(part for part in parts if part)


def _guess_setups(logs: Sequence[str]) -> dict[str, str]:
    """Return the setup of each log if all the file names say one plainly, else nothing."""
    plain = {file: _PLAIN_NAME.fullmatch(Path(file).stem) for file in logs}
    names = {file: said[1].strip("_- ").lower() for file, said in plain.items() if said}
    enough = 2 <= len(set(names.values())) <= _MOST_SETUPS and len(names) == len(logs)
    return names if enough and not set(names.values()) & _SAY_NOTHING else {}


def _head(folder: Path, setups: Sequence[str], *, guessed: bool) -> str:
    choice = " or ".join(setups)
    tables = "\n".join(f"[setups.{name}]" for name in setups)
    origin = "from the file names" if guessed else "name the setups, and name them again in the pulls below"
    return f"""\
# Drafted by `boostwright inspect --write`. Fill in what says "{PLACEHOLDER}"; `boostwright inspect` lists what is open.
title = {_text(folder.resolve().name)}
baseline = "{PLACEHOLDER}"           # {choice}
candidate = "{PLACEHOLDER}"          # {choice}
speed_range_rpm = "{PLACEHOLDER}"    # such as [3000, 5800]: what the claim speaks about, declared before looking
correction = "none"      # none | sae-j1349 | sae-j1349-jun90 | iso-1585 | din-70020 | jis-d1001 | sae-j607
units = "metric"         # metric | us

[stand]
name = "{PLACEHOLDER}"
kind = "engine"          # engine | hub | roller
# rotating_inertia = "0.45 kg*m**2"    # only if the stand does not take the inertia term out itself

# {origin}
{tables}
"""


def _columns(folder: Path, logs: Sequence[str], rules: Sequence[ColumnRule]) -> str:
    """Return a [columns] table with what is said of columns, and a comment for each that nobody knows."""
    lines: dict[str, None] = {}
    for file in logs:
        for line in _column_lines(folder / file, rules):
            lines[line] = None
    return "\n".join(["[columns]", *lines, ""]) if lines else ""


def _column_lines(path: Path, rules: Sequence[ColumnRule]) -> Iterator[str]:
    try:
        table = open_table(path)
    except FileError:
        return  # inspect says why
    understood = understand_columns(table.headers, table.units, rules)
    for column in understood.columns:
        if column.rule is not None:
            unit = f" [{column.unit.symbol}]" if column.rule.unit else ""
            yield f'{_text(column.header)} = "{column.quantity}{unit}"'
    for fault in understood.faults:
        place = f'"{fault.column}" ' if fault.column else ""
        yield f"# {place}{fault.problem}; {fault.remedy}"
    for column in understood.ignored:
        if column.by_rule:
            yield f'{_text(column.header)} = "ignore"'
        elif column.header:
            yield f'# "{column.header}" is left out: {column.reason}'


def _pull(folder: Path, file: str, setups: Sequence[str], setup: str) -> str:
    written = datetime.fromtimestamp((folder / file).stat().st_mtime).isoformat(timespec="seconds")
    return f"""\
[[pulls]]
file = {_text(file)}
setup = {_text(setup)}    # {" or ".join(setups)}
started = "{PLACEHOLDER}"            # such as 2026-03-14T09:12:00, without quotes; last written {written}
barometer = "{PLACEHOLDER}"          # such as "1006 hPa": station pressure at the stand, not reduced to sea level
air_temperature = "{PLACEHOLDER}"    # such as "24 degC"
relative_humidity = "{PLACEHOLDER}"  # such as 0.52
# soak_temperature = "31 degC"    # intake metal or coolant circuit just before the pull
"""


def _text(text: str) -> str:
    return tomlkit.item(text).as_string()

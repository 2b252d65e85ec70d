"""Writing `campaign.toml`: what has not changed stays as the user wrote it, comments and units included."""

import math
from collections.abc import Mapping, MutableMapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from boostwright.errors import Fault, FileError
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign, PullEntry, Setup, Stand, count_installations
from boostwright.records.columns import ColumnRule, parse_rule
from boostwright.units import UnitError, parse_quantity, parse_unit

Keys = MutableMapping[str, Any]


def write_campaign(campaign: Campaign) -> Path:
    """Write the campaign into its folder, over the one that is there, and return the path of the file.

    Raises
    ------
    FileError
        If the file that is there is not TOML, or cannot be written.
    """
    path = campaign.folder / CAMPAIGN_FILE
    document = _document(path)
    _put(document, "title", campaign.title)
    _put(document, "baseline", campaign.baseline)
    _put(document, "candidate", campaign.candidate)
    _put_speed_range(document, campaign.speed_range)
    _put_unless(document, "correction", campaign.correction, "none")
    _put_unless(document, "units", campaign.units, "metric")
    _put(document, "engine_family", campaign.engine_family or None)
    if campaign.stand != Stand() or "stand" in document:
        _put_stand(_table(document, "stand"), campaign.stand)
    _put_setups(_table(document, "setups"), campaign.setups)
    if campaign.columns or "columns" in document:
        _put_columns(_table(document, "columns"), campaign.columns)
    _put_pulls(document, campaign.pulls)
    write_atomically(path, tomlkit.dumps(document).encode("utf-8"))
    return path


def _document(path: Path) -> tomlkit.TOMLDocument:
    if not path.exists():
        return tomlkit.document()
    try:
        return tomlkit.parse(path.read_bytes())
    except (TOMLKitError, UnicodeDecodeError) as wrong:
        problem, remedy = f"is not TOML: {wrong}", "mend it, or move it away"
        raise FileError([Fault(file=str(path), problem=problem, remedy=remedy)]) from wrong


def _table(document: Keys, key: str) -> Keys:
    if key not in document:
        document[key] = tomlkit.table()
    return document[key]


def _put(table: Keys, key: str, value: Any) -> None:
    """Set a key that says something else; one that is to say nothing goes."""
    if value is None:
        table.pop(key, None)
    elif table.get(key) != value:
        table[key] = value


def _put_unless(table: Keys, key: str, value: str, default: str) -> None:
    """Set a key, but leave it unsaid where it was and still is the default."""
    if key in table or value != default:
        _put(table, key, value)


def _put_quantity(table: Keys, key: str, value: float | None, dimension: str, unit: str) -> None:
    if value is None:
        _put(table, key, None)
    elif not _says(table.get(key), value, dimension):
        _put(table, key, f"{float(parse_unit(unit).from_si(value)):.12g} {unit}")


def _says(written: Any, value: float, dimension: str) -> bool:
    try:
        return written is not None and math.isclose(parse_quantity(written, dimension=dimension), value, rel_tol=1e-11)
    except UnitError:
        return False


def _put_speed_range(document: Keys, speed_range: tuple[float, float]) -> None:
    rpm = [round(60 * speed, 6) for speed in speed_range]
    _put(document, "speed_range_rpm", [int(speed) if speed.is_integer() else speed for speed in rpm])


def _put_stand(table: Keys, stand: Stand) -> None:
    _put(table, "name", stand.name or None)
    _put_unless(table, "kind", stand.kind, "engine")
    inertia = stand.rotating_inertia or None
    _put_quantity(table, "rotating_inertia", inertia, "inertia", "kg*m^2")


def _put_setups(table: Keys, setups: Mapping[str, Setup]) -> None:
    for name in [name for name in table if name not in setups]:
        del table[name]
    for name, setup in setups.items():
        _put(_table(table, name), "build", setup.build)


def _put_columns(table: Keys, rules: Sequence[ColumnRule]) -> None:
    said = {rule.header: _rule_text(rule) for rule in rules}
    for header in [header for header in table if header not in said]:
        del table[header]
    for header, text in said.items():
        if header not in table or parse_rule(header, table[header]) != parse_rule(header, text):
            table[header] = text


def _rule_text(rule: ColumnRule) -> str:
    if rule.quantity is None:
        raise ValueError(f'the rule for "{rule.header}" names no quantity, as one of a campaign must')
    return rule.quantity if rule.unit is None else f"{rule.quantity} [{rule.unit.symbol}]"


def _put_pulls(document: Keys, pulls: Sequence[PullEntry]) -> None:
    known = {str(table.get("file")): table for table in document.get("pulls", ())}
    if list(known) != [pull.file for pull in pulls]:
        entries = tomlkit.aot()
        for pull in pulls:
            entries.append(known.get(pull.file, tomlkit.table()))
        document["pulls"] = entries
    for table, pull in zip(document["pulls"], pulls, strict=True):
        _put_pull(table, pull)
    if count_installations(pulls) != tuple(pulls) or any("installation" in table for table in document["pulls"]):
        for table, pull in zip(document["pulls"], pulls, strict=True):
            _put(table, "installation", pull.installation)


def _put_pull(table: Keys, pull: PullEntry) -> None:
    _put(table, "file", pull.file)
    _put(table, "setup", pull.setup)
    _put(table, "started", pull.started)
    weather = pull.weather
    _put_quantity(table, "barometer", weather and weather.barometer, "pressure", "hPa")
    _put_quantity(table, "air_temperature", weather and weather.air_temperature, "temperature", "degC")
    if weather is None or not _says(table.get("relative_humidity"), weather.relative_humidity, "fraction"):
        _put(table, "relative_humidity", weather and weather.relative_humidity)
    _put_quantity(table, "soak_temperature", pull.soak_temperature, "temperature", "degC")
    _put_unless(table, "session", pull.session, pull.started.date().isoformat())

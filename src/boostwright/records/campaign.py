"""The campaign folder: a question, its setups and its pulls, as `campaign.toml` says them."""

import os
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any, Literal, cast, get_args

from boostwright.errors import Fault, FileError
from boostwright.records.columns import ColumnRule, parse_rule
from boostwright.records.toml import TomlTable, read_toml
from boostwright.records.weather import Weather, weather_faults
from boostwright.units import System, UnitError

CAMPAIGN_FILE = "campaign.toml"
Correction = Literal["none", "sae-j1349", "sae-j1349-jun90", "iso-1585", "din-70020", "jis-d1001", "sae-j607"]
StandKind = Literal["engine", "hub", "roller"]

_RPM = 1 / 60
_ENGINE_SPEEDS = (100.0, 30_000.0)  # rpm that a claim can be about
_WEATHER = ("barometer", "air_temperature", "relative_humidity")


@dataclass(frozen=True, kw_only=True)
class Stand:
    """The dynamometer. A rotating inertia [kg*m2] of 0 means that there is nothing to remove from the readings."""

    name: str = ""
    kind: StandKind = "engine"
    rotating_inertia: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Setup:
    """A build as tested; `build` is the path of its description within the campaign folder, if it has one."""

    name: str
    build: str | None = None


@dataclass(frozen=True, kw_only=True)
class PullEntry:
    """What the campaign says about one pull; `file` is its path within the campaign folder."""

    file: str
    setup: str
    session: str
    installation: int
    started: datetime
    weather: Weather | None = None
    soak_temperature: float | None = None


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """A question, its setups and its pulls. The claim speaks about `speed_range`, in turns per second."""

    folder: Path
    title: str
    baseline: str
    candidate: str
    speed_range: tuple[float, float]
    correction: Correction = "none"
    units: System = "metric"
    engine_family: str = ""
    stand: Stand
    setups: Mapping[str, Setup]
    columns: tuple[ColumnRule, ...] = ()
    pulls: tuple[PullEntry, ...]

    def __post_init__(self) -> None:
        faults = list(_setup_faults(self.baseline, self.candidate, tuple(self.setups)))
        if faults:
            raise FileError([replace(fault, file=str(self.folder / CAMPAIGN_FILE)) for fault in faults])


def read_campaign(folder: Path) -> Campaign:
    """Read the campaign of a folder.

    Raises
    ------
    FileError
        With every fault of `campaign.toml`, each at its key path.
    """
    remedy = f"draft one with: boostwright inspect {folder} --write"
    return campaign_from_document(read_toml(folder / CAMPAIGN_FILE, remedy), folder)


def campaign_from_document(document: dict[str, Any], folder: Path) -> Campaign:
    """Return the campaign that a TOML document describes, for this folder.

    Raises
    ------
    FileError
        With every fault of the document, each at its key path.
    """
    faults: list[Fault] = []
    campaign = _campaign(TomlTable(document, faults), folder, faults)
    if campaign is None or faults:
        raise FileError([replace(fault, file=str(folder / CAMPAIGN_FILE)) for fault in faults])
    return campaign


def read_column_rules(folder: Path) -> tuple[ColumnRule, ...]:
    """Return what a campaign says about columns, though the rest of it may be wrong.

    Raises
    ------
    FileError
        If `campaign.toml` is not there, or is not TOML.
    """
    return _columns(TomlTable(read_toml(folder / CAMPAIGN_FILE, "draft one first"), []).table("columns"))


def _campaign(top: TomlTable, folder: Path, faults: list[Fault]) -> Campaign | None:
    title = top.text("title", 'write title = "what the campaign asks"')
    baseline, candidate = _compared(top, "baseline"), _compared(top, "candidate")
    speed_range = _speed_range(top)
    correction = top.choice("correction", get_args(Correction))
    units = top.choice("units", get_args(System))
    engine_family = top.text("engine_family", 'write engine_family = "workboat six", as every campaign of it has it')
    stand = _stand(top.table("stand"))
    setups = _setups(top, folder)
    columns = _columns(top.table("columns"))
    pulls = _pulls(top, setups)
    top.finish()
    if setups:
        faults += _setup_faults(baseline, candidate, tuple(setups))
    if faults or baseline is None or candidate is None or speed_range is None:
        return None
    return Campaign(
        folder=folder,
        title=title or folder.resolve().name,
        baseline=baseline,
        candidate=candidate,
        speed_range=speed_range,
        correction=cast("Correction", correction or "none"),
        units=cast("System", units or "metric"),
        engine_family=engine_family or "",
        stand=stand,
        setups=setups,
        columns=columns,
        pulls=pulls,
    )


def _compared(top: TomlTable, key: str) -> str | None:
    remedy = f'write {key} = "the name of a setup"'
    return top.text(key, remedy) if top.require(key, remedy) else None


def _setup_faults(baseline: str | None, candidate: str | None, setups: Sequence[str]) -> Iterator[Fault]:
    known = " or ".join(f'"{name}"' for name in setups)
    for key, name in (("baseline", baseline), ("candidate", candidate)):
        if name is not None and name not in setups:
            yield Fault(key=key, value=f'"{name}"', problem="is not one of the setups", remedy=f"choose {known}")
    if baseline is not None and baseline == candidate:
        problem = "is the baseline as well"
        yield Fault(key="candidate", value=f'"{candidate}"', problem=problem, remedy="name two setups")


def _speed_range(top: TomlTable) -> tuple[float, float] | None:
    key, remedy = "speed_range_rpm", "write speed_range_rpm = [3000, 5800], the range that the claim speaks about"
    numbers = top.numbers(key, remedy) if top.require(key, remedy) else None
    if numbers is None:
        return None
    low, high = _ENGINE_SPEEDS
    if len(numbers) != 2 or not low <= numbers[0] < numbers[1] <= high:
        top.refuse(key, "is not a range of engine speeds in rpm, the lower first", remedy)
        return None
    return numbers[0] * _RPM, numbers[1] * _RPM


def _stand(table: TomlTable) -> Stand:
    name = table.text("name", 'write name = "bench 2"')
    kind = table.choice("kind", get_args(StandKind))
    inertia = table.quantity("rotating_inertia", "inertia", "0.45 kg*m**2")
    if inertia is not None and inertia < 0:
        table.refuse("rotating_inertia", "is below zero", "give the inertia of what the stand does not see")
    table.finish()
    return Stand(name=name or "", kind=cast("StandKind", kind or "engine"), rotating_inertia=inertia or 0.0)


def _setups(top: TomlTable, folder: Path) -> dict[str, Setup]:
    if not top.require("setups", "write a table for each, such as [setups.cast] and [setups.machined]"):
        return {}
    table = top.table("setups")
    return {name: _setup(table.table(name), name, folder) for name in table.written()}


def _setup(table: TomlTable, name: str, folder: Path) -> Setup:
    build = table.text("build", 'write build = "builds/cast.toml"')
    build = None if build is None else _portable(build)
    table.finish()
    if build is not None and not _lies_inside(build):
        table.refuse("build", "lies outside the campaign folder", "copy it into builds/")
    elif build is not None and not os.path.isfile(folder / build):  # a name too long for the system is not there either
        table.refuse("build", "is not there", "check the name; comparing needs no build, so you may leave it out")
    return Setup(name=name, build=build)


def _portable(path: str) -> str:
    """A path as every system understands it, though it was written on Windows."""
    return path.replace("\\", "/")


def _lies_inside(path: str) -> bool:
    parts = PurePosixPath(_portable(path))
    return not parts.is_absolute() and ".." not in parts.parts and ":" not in path


def _columns(table: TomlTable) -> tuple[ColumnRule, ...]:
    rules: list[ColumnRule] = []
    for header in table.written():
        said = table.text(header, f'write "{header}" = "torque [N*m]"')
        if said is not None:
            try:
                rules.append(parse_rule(header, said))
            except UnitError as wrong:
                table.refuse(header, wrong.fault.problem, wrong.fault.remedy)
    return tuple(rules)


def _pulls(top: TomlTable, setups: Mapping[str, Setup]) -> tuple[PullEntry, ...]:
    read = [(table, _pull(table, setups)) for table in top.tables("pulls", "[[pulls]]")]
    told = [(table, pull) for table, pull in read if pull is not None]
    _refuse_twins(told)
    _refuse_mixed_setups(told)
    _refuse_uncounted(told)
    pulls = tuple(pull for _, pull in told)
    if _clocks_differ(told) or any(pull.installation for pull in pulls):
        return pulls
    return count_installations(pulls)


def _pull(table: TomlTable, setups: Mapping[str, Setup]) -> PullEntry | None:
    remedy = "write started = 2026-03-14T09:12:00, the date and time of day at which it began"
    file, setup = _pull_file(table), _pull_setup(table, setups)
    started = table.moment("started") if table.require("started", remedy) else None
    session = table.day_or_text("session")
    installation = table.whole_number("installation")
    weather = _weather(table)
    soak_temperature = table.quantity("soak_temperature", "temperature", "31 degC")
    table.finish()
    if file is None or setup is None or started is None:
        return None
    return PullEntry(
        file=file,
        setup=setup,
        session=session or started.date().isoformat(),
        installation=installation or 0,  # 0 until they are counted
        started=started,
        weather=weather,
        soak_temperature=soak_temperature,
    )


def _pull_file(table: TomlTable) -> str | None:
    remedy = 'write file = "pulls/01.csv"'
    file = table.text("file", remedy) if table.require("file", remedy) else None
    if file is not None and not _lies_inside(file):
        table.refuse("file", "lies outside the campaign folder", "copy it into pulls/")
        return None
    return None if file is None else _portable(file)


def _pull_setup(table: TomlTable, setups: Mapping[str, Setup]) -> str | None:
    choices = " or ".join(f'"{name}"' for name in setups) or "the name of a setup"
    remedy = f"write setup = {choices}"
    setup = table.text("setup", remedy) if table.require("setup", remedy) else None
    if setup is not None and setups and setup not in setups:
        table.refuse("setup", "is not one of the setups", remedy)
        return None
    return setup


def _weather(table: TomlTable) -> Weather | None:
    barometer = table.quantity("barometer", "pressure", "1006 hPa")
    air_temperature = table.quantity("air_temperature", "temperature", "24 degC")
    relative_humidity = table.quantity("relative_humidity", "fraction", "52 %")
    faults = weather_faults(barometer, air_temperature, relative_humidity)
    for fault in faults:
        table.refuse(fault.key, fault.problem, fault.remedy)
    missing = [key for key in _WEATHER if key not in table.written()]
    if 0 < len(missing) < len(_WEATHER):
        table.refuse(missing[0], "is missing beside the rest of the weather", f"give {', '.join(_WEATHER)}, or none")
    if faults or barometer is None or air_temperature is None or relative_humidity is None:
        return None
    return Weather(barometer=barometer, air_temperature=air_temperature, relative_humidity=relative_humidity)


_Told = Sequence[tuple[TomlTable, PullEntry]]


def _refuse_twins(told: _Told) -> None:
    files = Counter(pull.file for _, pull in told)
    starts = Counter(pull.started for _, pull in told)
    for table, pull in told:
        if files[pull.file] > 1:
            table.refuse("file", "is the file of more than one pull", "give each pull its own log")
        if starts[pull.started] > 1:
            table.refuse("started", "is the start of more than one pull", "give each its own date and time")


def _refuse_mixed_setups(told: _Told) -> None:
    first: dict[int, str] = {}
    for table, pull in told:
        if pull.installation and first.setdefault(pull.installation, pull.setup) != pull.setup:
            problem = f'is an installation of "{first[pull.installation]}" too'
            table.refuse("installation", problem, "count one further at each change of setup")


def _refuse_uncounted(told: _Told) -> None:
    uncounted = [table for table, pull in told if not pull.installation]
    if len(uncounted) < len(told):
        for table in uncounted:
            table.refuse("installation", "is missing and other pulls have it", "give it for every pull, or for none")


def _clocks_differ(told: _Told) -> bool:
    zoned = [table for table, pull in told if pull.started.tzinfo is not None]
    if len(zoned) in (0, len(told)):
        return False
    for table in zoned:
        table.refuse("started", "has a time zone and others have none", "write all of them alike")
    return True


def count_installations(pulls: Sequence[PullEntry]) -> tuple[PullEntry, ...]:
    """Return the pulls with their installations counted: a new one at each change of setup or session."""
    number, counted, before = 0, dict[str, int](), None
    for pull in sorted(pulls, key=lambda pull: pull.started):
        number += (pull.setup, pull.session) != before
        before = (pull.setup, pull.session)
        counted[pull.file] = number
    return tuple(replace(pull, installation=counted[pull.file]) for pull in pulls)

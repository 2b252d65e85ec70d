"""During a session: a log that has arrived becomes a pull of the campaign, screened and compared at once."""

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path, PurePosixPath

from boostwright.errors import Fault, FileError
from boostwright.inference.fault_screen import screen_pulls
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import Campaign, PullEntry, count_installations
from boostwright.records.log import read_log
from boostwright.records.pull import pull_faults
from boostwright.records.weather import Weather
from boostwright.studies.compare import compare_setups, question_of, reduced_pulls
from boostwright.studies.compare_result import CompareResult

WEATHER_HOLDS = timedelta(hours=2)
"""How long after a pull its weather stands for the next one that has none."""


@dataclass(frozen=True, kw_only=True)
class Session:
    """A campaign while it is being made, and the SHA-256 of each log that is part of it."""

    campaign: Campaign
    contents: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """The session after a log has arrived, and what should be said about it; `is_news` if the pulls have changed."""

    session: Session
    file: str
    notes: tuple[str, ...]
    is_news: bool


@dataclass(frozen=True, kw_only=True)
class SessionNews:
    """Where the question stands: the comparison once both setups have pulls, and what is wrong with which pull."""

    result: CompareResult | None
    faults: tuple[tuple[str, str], ...]
    waiting_for: tuple[str, ...]


def arrived(session: Session, file: str, written: datetime, setup: str | None) -> Arrival:
    """Make a complete log part of the session: a new pull, a changed one, or one that has a new name.

    Parameters
    ----------
    file : str
        Path of the log within the campaign's folder.
    written : datetime
        When the log was last written: its pull began that long before as the log lasts.
    setup : str, optional
        The setup that is on the stand, where the file's name does not say it; else that of the latest pull.

    Raises
    ------
    FileError
        If the log cannot be read or is no pull; the session then stays as it is.
    """
    content = file_digest(session.campaign.folder / file)
    before = session.contents.get(file)
    is_known = any(entry.file == file for entry in session.campaign.pulls)
    if is_known and before in (content, None):  # a pull that the campaign had before anybody watched
        seen = replace(session, contents={**session.contents, file: content})
        return Arrival(session=seen, file=file, notes=(), is_news=False)
    twin = next((name for name, known in session.contents.items() if known == content and name != file), None)
    if twin is not None and any(entry.file == twin for entry in session.campaign.pulls):
        return _same_as(session, file, twin)
    taken, notes = _taken(session.campaign, file, written, setup)
    contents = {**session.contents, file: content}
    return Arrival(session=Session(campaign=taken, contents=contents), file=file, notes=notes, is_news=True)


def brought_in(session: Session, place: Path) -> str:
    """The path within the campaign of a log, copied into its `pulls` if it lies elsewhere.

    A log that has grown since it was copied replaces its copy, and one that has become shorter does not. Anything else
    under a known name is another pull, since some loggers write every pull under the same name: it gets a new one.
    """
    pulls = session.campaign.folder / "pulls"
    if place.parent.resolve() == pulls.resolve():
        return f"pulls/{place.name}"
    data = place.read_bytes()
    content = hashlib.sha256(data).hexdigest()
    known = next((name for name, digest in session.contents.items() if digest == content), None)
    if known is not None:
        return known
    for target in _names(pulls, place):
        copied = target.read_bytes() if target.exists() else b""
        if data.startswith(copied):
            write_atomically(target, data)
        elif not copied.startswith(data):
            continue
        return f"pulls/{target.name}"
    raise AssertionError("there is always a free name")


def _names(pulls: Path, place: Path) -> Iterator[Path]:
    """The names that a copy may have: its own, then numbered ones."""
    yield pulls / place.name
    for number in count(2):
        yield pulls / f"{place.stem}-{number}{place.suffix}"


def session_news(campaign: Campaign, quantity: str) -> SessionNews:
    """Compare what there is, and call out every pull that something is wrong with."""
    pulls = reduced_pulls(campaign)
    screened = screen_pulls(pulls)
    faults = tuple((row.pull.file, row.fault.sentence) for row in screened if row.fault is not None)
    setups = {pull.setup for pull in pulls}
    missing = tuple(name for name in (campaign.baseline, campaign.candidate) if name not in setups)
    result = None if missing else compare_setups(pulls, question_of(campaign, quantity))
    return SessionNews(result=result, faults=faults, waiting_for=missing)


def file_digest(place: Path) -> str:
    """SHA-256 of what a file holds."""
    return hashlib.sha256(place.read_bytes()).hexdigest()


def _same_as(session: Session, file: str, twin: str) -> Arrival:
    """What another name of a known log means: it was renamed if the old name is gone, else it is a copy."""
    if (session.campaign.folder / twin).exists():
        note = f"holds the same as {twin}, and a pull counts once: left out"
        return Arrival(session=session, file=file, notes=(note,), is_news=False)
    pulls = tuple(replace(entry, file=file) if entry.file == twin else entry for entry in session.campaign.pulls)
    contents = {file if name == twin else name: content for name, content in session.contents.items()}
    moved = Session(campaign=replace(session.campaign, pulls=pulls), contents=contents)
    return Arrival(session=moved, file=file, notes=(f"was {twin} before, and is the same pull",), is_news=True)


def _taken(campaign: Campaign, file: str, written: datetime, setup: str | None) -> tuple[Campaign, tuple[str, ...]]:
    log = read_log(campaign.folder / file, campaign.columns)
    known = next((entry for entry in campaign.pulls if entry.file == file), None)
    if known is not None:
        return campaign, (f'is a pull of "{known.setup}", and was read anew',)
    duration = float(log.channels["time"][-1]) if "time" in log.channels else 0.0
    started = _free_moment(campaign, written - timedelta(seconds=duration))
    chosen, source = _setup_of(campaign, file, setup)
    weather, weather_note = _weather_at(campaign, started)
    entry = PullEntry(
        file=file,
        setup=chosen,
        session=started.date().isoformat(),
        installation=0,
        started=started,
        weather=weather,
    )
    if weather is not None or not log.gauge:  # without a barometer, comparing says what to enter for this pull
        _refuse(pull_faults(entry, log), file)
    notes = (f'is taken as a pull of "{chosen}", {source}', *filter(None, [weather_note]))
    return replace(campaign, pulls=_numbered(campaign.pulls, entry)), notes


def _refuse(faults: Sequence[Fault], file: str) -> None:
    if faults:
        raise FileError([replace(fault, file=file) for fault in faults])


def _free_moment(campaign: Campaign, moment: datetime) -> datetime:
    """To the second, as the campaign writes its moments, and not that of another pull."""
    zoned = any(entry.started.tzinfo is not None for entry in campaign.pulls)
    moment = (moment.astimezone() if zoned else moment).replace(microsecond=0)
    taken = {entry.started for entry in campaign.pulls}
    while moment in taken:
        moment += timedelta(seconds=1)
    return moment


def _setup_of(campaign: Campaign, file: str, setup: str | None) -> tuple[str, str]:
    """The setup of a new pull, and where it is known from."""
    stem = PurePosixPath(file).stem
    said = [name for name in campaign.setups if re.search(rf"(?<![^\W\d_]){re.escape(name)}(?![^\W\d_])", stem, re.I)]
    if len(said) == 1:
        return said[0], "as its name says"
    if setup is not None:
        return setup, "as asked"
    if campaign.pulls:
        return max(campaign.pulls, key=lambda entry: entry.started).setup, "as the latest pull before it"
    choices = " or ".join(f'"{name}"' for name in campaign.setups)
    fault = Fault(file=file, problem="does not say its setup in its name", remedy=f"give --setup: {choices}")
    raise FileError([fault])


def _weather_at(campaign: Campaign, started: datetime) -> tuple[Weather | None, str]:
    """The weather of the nearest pull, if it is near enough, and that it is borrowed."""
    known = [entry for entry in campaign.pulls if entry.weather is not None]
    nearest = min(known, key=lambda entry: abs(entry.started - started), default=None)
    if nearest is None:
        return None, "has no weather: enter it in campaign.toml"
    if abs(nearest.started - started) > WEATHER_HOLDS:
        return None, f"has no weather, and that of {nearest.file} is too long ago: enter it in campaign.toml"
    return nearest.weather, f"has the weather of {nearest.file} until you enter its own in campaign.toml"


def _numbered(pulls: Sequence[PullEntry], entry: PullEntry) -> tuple[PullEntry, ...]:
    """The pulls with a new one, its installation counted on as the others are."""
    if count_installations(pulls) == tuple(pulls):
        return count_installations((*pulls, entry))
    latest = max(pulls, key=lambda pull: pull.started)
    stays = (latest.setup, latest.session) == (entry.setup, entry.session)
    number = latest.installation if stays else max(pull.installation for pull in pulls) + 1
    return (*pulls, replace(entry, installation=number))

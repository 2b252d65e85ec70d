"""The one folder that the app reads and writes: names that stay inside it, and digests that say whether it changed."""

import hashlib
import json
import re
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Final

from boostwright import __version__
from boostwright.errors import Fault, FileError
from boostwright.publish.identity import digest
from boostwright.records.atomic import write_atomically
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign, read_campaign
from boostwright.records.folder import find_logs
from boostwright.records.log import LOG_SUFFIXES
from boostwright.records.unpacked import unpacked_size

BUILD_SUFFIX: Final = ".toml"
MOST_LOGS: Final = 400
MOST_FILES: Final = 40
MOST_FILE: Final = 64 << 20
MOST_UNPACKED: Final = 512 << 20
MOST_RATIO: Final = 200  # a workbook of a log packs to a tenth
LEAST_SUSPECT: Final = 32 << 20  # below this no ratio does harm
_ODD: Final = re.compile(r"[^\w.+ ()-]+")
_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def confined(folder: Path, name: str) -> Path:
    """The path of a file of the folder, links followed.

    Raises
    ------
    FileError
        If it lies outside.
    """
    path = (folder / name).resolve()
    if not path.is_relative_to(_resolved(folder)):
        remedy = "copy the file itself into the folder"
        raise FileError([Fault(file=name, problem="lies outside the campaign folder", remedy=remedy)])
    return path


@lru_cache(maxsize=16)
def _resolved(folder: Path) -> Path:
    return folder.resolve()


def confined_campaign(folder: Path) -> Campaign:
    """The campaign of the folder, all its files inside it."""
    confined(folder, CAMPAIGN_FILE)
    campaign = read_campaign(folder)
    for name in files_of(campaign):
        confined(folder, name)
    return campaign


def files_of(campaign: Campaign) -> list[str]:
    """Everything that the campaign's results are made from."""
    builds = [setup.build for setup in campaign.setups.values() if setup.build is not None]
    return [CAMPAIGN_FILE, *builds, *(entry.file for entry in campaign.pulls)]


def content_key(folder: Path, names: Iterable[str], *said: object) -> str:
    """A digest of files, of the version and of whatever else was said: the name of a result."""
    parts = [__version__, *(f"{name}:{_digest(confined(folder, name))}" for name in names)]
    return hashlib.sha256(json.dumps([parts, said], default=str).encode()).hexdigest()


def version_of(folder: Path) -> str:
    """Which campaign.toml is there: a digest, or nothing if there is none."""
    path = confined(folder, CAMPAIGN_FILE)
    return _digest(path) if path.is_file() else ""


def inspected_files(folder: Path) -> list[str]:
    """What an inspection is made from."""
    return [*find_logs(folder), CAMPAIGN_FILE]


def content_of(folder: Path) -> str:
    """Which state of the folder is there: a digest of everything that its results are made from."""
    return content_key(folder, [*inspected_files(folder), *find_builds(folder)], "content")


def _digest(path: Path) -> str:
    if not path.is_file():
        return "not there"
    state = path.stat()
    return _digest_at(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=4096)
def _digest_at(path: Path, changed: int, size: int) -> str:
    del changed, size  # they only tell one state of the file from another
    return digest(path)


def safe_name(said: str) -> str:
    """The name under which a dropped file is kept: the last part of what was said, without odd characters.

    Raises
    ------
    FileError
        If nothing of a name is left, or it is neither a kind of log that is read nor a build.
    """
    last = said.replace("\\", "/").rpartition("/")[2]
    name = _ODD.sub("_", last).strip(" .")[-120:].lstrip(" .")
    if not Path(name).stem.strip("_") or _RESERVED.fullmatch(name):
        raise FileError([Fault(file=said[:120], problem="has no name to keep it under", remedy="rename it")])
    if Path(name).suffix.lower() not in (*LOG_SUFFIXES, BUILD_SUFFIX) or name.lower() == CAMPAIGN_FILE:
        remedy = f"give one of {' '.join(LOG_SUFFIXES)}, or a build as {BUILD_SUFFIX}"
        raise FileError([Fault(file=name, problem="is no kind of log that we read", remedy=remedy)])
    return name


def find_builds(folder: Path) -> list[str]:
    """The builds that lie in the folder's builds, as paths within the folder."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.glob(f"builds/*{BUILD_SUFFIX}"))


def other_builds(folder: Path, campaign: Campaign) -> list[str]:
    """The builds of the folder that no setup uses."""
    used = {confined(folder, setup.build) for setup in campaign.setups.values() if setup.build is not None}
    return [name for name in find_builds(folder) if confined(folder, name) not in used]


def keep_file(folder: Path, said: str, data: bytes) -> str:
    """Put a dropped log into pulls/ or a build into builds/, never over another, and return its path in the folder.

    Raises
    ------
    FileError
        If its name, its size or its content cannot be taken.
    """
    last = safe_name(said)
    name = f"builds/{last}" if last.lower().endswith(BUILD_SUFFIX) else f"pulls/{last}"
    path = confined(folder, name)
    if path.exists() or (folder / name).is_symlink():
        raise FileError([Fault(file=name, problem="is there already", remedy="rename the file, or remove the old one")])
    if len(find_logs(folder)) + len(find_builds(folder)) >= MOST_LOGS:
        problem = f"would be more than {MOST_LOGS} files"
        raise FileError([Fault(file=name, problem=problem, remedy="use another folder")])
    _refuse_bomb(name, data)
    write_atomically(path, data)
    return name


def _refuse_bomb(name: str, data: bytes) -> None:
    """A log that unpacks to more than any logger writes, or to far more than it is, is not kept."""
    unpacked = unpacked_size(data)
    if unpacked > MOST_UNPACKED or (unpacked > LEAST_SUSPECT and unpacked > MOST_RATIO * len(data)):
        problem = f"unpacks to {unpacked >> 20} MB, from {len(data) / (1 << 20):.1f} MB"
        remedy = f"export the pull alone; {MOST_UNPACKED >> 20} MB and {MOST_RATIO} times the file are the most"
        raise FileError([Fault(file=name, problem=problem, remedy=remedy)])

"""The example campaigns that come with the package: invented, small, ready to be copied and worked on."""

import shutil
from collections.abc import Iterator
from itertools import count
from pathlib import Path

from boostwright.errors import DataError, Fault, FileError

_INSTALLED = Path(__file__).parents[1] / "examples"
_CHECKOUT = Path(__file__).parents[3] / "examples"


def example_folder(name: str) -> Path:
    """Where an example campaign lies: inside the installed package, or beside the source of a checkout."""
    for place in (_INSTALLED, _CHECKOUT):
        if (place / name / "campaign.toml").is_file():
            return place / name
    known = sorted({path.parent.name for place in (_INSTALLED, _CHECKOUT) for path in place.glob("*/campaign.toml")})
    fault = Fault(value=f'"{name}"', problem="is not an example", remedy=f"choose one of: {', '.join(known)}")
    raise DataError(str(fault))


def copy_example(name: str, target: Path) -> Path:
    """Copy an example campaign to a folder that does not exist yet, or to the next free name beside it.

    Raises
    ------
    FileError
        If the folder cannot be written.
    """
    source = example_folder(name)
    free = next(path for path in _numbered(target) if not path.exists())
    try:
        shutil.copytree(source, free, ignore=shutil.ignore_patterns("results"))
    except OSError as wrong:  # shutil.Error, which lists what did not copy, is one too
        problem = f"cannot be written: {(wrong.strerror or 'the disk refused some of it').lower()}"
        raise FileError(
            [Fault(file=str(free), problem=problem, remedy="give a folder in which you may write")]
        ) from wrong
    return free


def _numbered(target: Path) -> Iterator[Path]:
    yield target
    yield from (target.with_name(f"{target.name}-{number}") for number in count(2))

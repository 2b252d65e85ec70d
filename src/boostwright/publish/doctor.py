"""Is this installation sound? What is installed, and whether the parts that a computer can spoil do their work here."""

import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

import numpy as np
import typst

from boostwright import __version__
from boostwright.errors import BoostwrightError
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import ambient_air, build_points, matched
from boostwright.publish.figure_style import FONTS
from boostwright.records.build_file import read_build_file
from boostwright.records.examples import example_folder

LIBRARIES = ("numpy", "scipy", "numba", "polars", "matplotlib", "typst", "pydantic", "starlette", "uvicorn")
EXTRAS = {"asammdf": "mdf", "distributed": "cluster"}


@dataclass(frozen=True, kw_only=True)
class Check:
    """One thing that was tried, whether it worked, and what was seen or what to do."""

    name: str
    is_sound: bool
    said: str


@dataclass(frozen=True, kw_only=True)
class Examination:
    """What is installed, and how the checks came out."""

    versions: tuple[tuple[str, str], ...]
    checks: tuple[Check, ...]

    @property
    def is_sound(self) -> bool:
        """Whether every check came out well."""
        return all(check.is_sound for check in self.checks)

    def as_json(self) -> dict[str, object]:
        """As it is sent to whoever helps; it names no folder and no person."""
        checks = [{"name": check.name, "is_sound": check.is_sound, "said": check.said} for check in self.checks]
        return {"versions": dict(self.versions), "checks": checks}


def examined() -> Examination:
    """Look at the versions and try each part."""
    tried = {
        "results can be written": _writes,
        "fonts of reports are there": _has_fonts,
        "PDF reports can be set": _sets_type,
        "the machine model runs and balances": _matches,
    }
    return Examination(versions=tuple(_versions()), checks=tuple(_tried(name, work) for name, work in tried.items()))


def _versions() -> list[tuple[str, str]]:
    own = [("boostwright", __version__), ("python", platform.python_version())]
    own += [("system", f"{platform.system()} {platform.machine()}"), ("cores", str(os.cpu_count()))]
    own += [("text encoding", sys.getfilesystemencoding())]
    return [*own, *((name, _version(name)) for name in LIBRARIES), *_extras()]


def _extras() -> list[tuple[str, str]]:
    return [(f"extra {extra} ({library})", _version(library)) for library, extra in EXTRAS.items()]


def _version(library: str) -> str:
    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return "not installed"


def _tried(name: str, work: Callable[[], str]) -> Check:
    """Any failure is what is looked for here, and is said instead of raised."""
    try:
        return Check(name=name, is_sound=True, said=work())
    except (OSError, RuntimeError, ValueError, BoostwrightError) as wrong:
        return Check(name=name, is_sound=False, said=str(wrong).splitlines()[0])


def _writes() -> str:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "größe – 2 µm.txt"
        place.write_text("±", encoding="utf-8")
        if place.read_text(encoding="utf-8") != "±":
            raise OSError("what was written did not come back")
    return "also under names that are not plain English"


def _has_fonts() -> str:
    fonts = sorted(path.stem for path in FONTS.glob("*.ttf"))
    if len(fonts) < 3:
        raise OSError("some are missing: install boostwright again")
    return ", ".join(fonts)


def _sets_type() -> str:
    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[FONTS])
    page = typst.compile(b"= Check", format="pdf", font_paths=fonts)
    if not page.startswith(b"%PDF"):
        raise RuntimeError("what came out is no PDF: install typst again")
    return f"{len(page)} bytes"


def _matches() -> str:
    build = build_of(read_build_file(example_folder("inlet-elbow") / "builds" / "cast.toml"))
    start = time.perf_counter()
    at = matched(build_points(build, np.linspace(50.0, 95.0, 10), ambient_air(1e5, 298.15, 0.4)))
    seconds = time.perf_counter() - start
    if not at.is_matched.all():
        raise RuntimeError("a point did not converge: run the tests, and report it")
    rise = at["blower_outlet_temperature"] - at["blower_inlet_temperature"]
    if not (rise > 0).all():
        raise RuntimeError("the blower cools what it compresses: run the tests, and report it")
    return f"10 points in {seconds:.1f} s, the first run of an installation compiles"

"""What becomes of a build when some numbers of it are varied: the study, its designs, and the table of a chunk of them.

A design is one choice of the varied numbers. Each is matched as the build is taken to be, and again with every set of
what nobody has measured; the sets are the same for all designs, so that differences between designs are not blurred.
Nothing here reads or writes: chunks of designs go out, tables come back, in whatever order and on whatever machine.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from itertools import product
from typing import TypeAlias, cast

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.stats import qmc

from boostwright.errors import FileError
from boostwright.machine.blower_map import BlowerMap
from boostwright.machine.build import Build, build_of
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_build import chamber_of
from boostwright.machine.chamber_map import chamber_map
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.fitted_blower import FittedBlower
from boostwright.machine.limits import limit_uses
from boostwright.machine.match_table import MATCH_STATE
from boostwright.machine.operating_point import (
    Ambient,
    BlowerForm,
    FinerModel,
    OperatingPoints,
    build_points,
    matched,
    matched_with,
)
from boostwright.machine.parameter_sets import ParameterSets
from boostwright.records.build_file import BuildFile, changed
from boostwright.studies.match import CHAMBER, COLUMNS, OUTCOME_WORDS
from boostwright.units import Unit

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]

SHOWN = (
    "rotor_speed_rpm",
    "boost_kpa",
    "air_mass_flow_kg_per_s",
    "blower_volumetric_efficiency",
    "blower_outlet_temperature_degC",
    "charge_temperature_degC",
    "blower_drive_power_kw",
    "brake_power_kw",
    "brake_torque_nm",
    "knock_index",
    "peak_cylinder_pressure_kpa",
)
LIMIT_COLUMN = "used of limit: "
IMPOSSIBLE = "not possible"
POINTS_A_CHUNK = 2000  # operating points: a second or two of work
MAPS_A_CHUNK = 64  # maps of chambers: the same
NOT_RUN = -1.0  # in place of an outcome: the chambers of this set cannot be
MAP_RATIOS = 1.02 + 1.78 * np.linspace(0.0, 1.0, 9) ** 2
_COLUMNS = tuple(column for column in COLUMNS if column.name in SHOWN)


class Search(StrEnum):
    """How designs are chosen."""

    GRID = "grid"
    LATIN = "latin"
    OPTIMISE = "optimise"


@dataclass(frozen=True, kw_only=True)
class Variation:
    """One number of the build that is varied: between which ends, in how many steps on a grid, and where it stands.

    `low`, `high` and `present` are in SI; `unit` is that in which a person says them.
    """

    key_path: str
    unit: Unit
    low: float
    high: float
    steps: int
    present: float

    @property
    def column(self) -> str:
        """What its column is called in a table of results."""
        return f"{self.key_path} [{self.unit.symbol}]"


@dataclass(frozen=True, kw_only=True)
class VaryStudy:
    """A build, what is varied of it, and all that a chunk of designs needs to be matched anywhere.

    `corrected_speeds` are the knots of the maps of its chambers; there are none where the blower has a slip law.
    With `is_calibrated` sets the closed forms of the engine are those that were fitted, and no finer model moves them.
    """

    build_file: BuildFile
    variations: tuple[Variation, ...]
    engine_speed: tuple[float, ...]
    ambient: Ambient
    blower_form: str
    corrected_speeds: tuple[float, ...]
    sets: ParameterSets
    is_calibrated: bool
    limit_names: tuple[str, ...]

    @property
    def has_chambers(self) -> bool:
        """Whether the blower is one of chambers and ports."""
        return self.blower_form == CHAMBER

    @property
    def rows_a_design(self) -> int:
        """Rows of the table that one design takes: as it is taken to be and by every set, at every speed."""
        return (1 + self.sets.set_count) * len(self.engine_speed)

    @property
    def chunk_size(self) -> int:
        """Designs that are matched and stored together; it must not hang on who does the work."""
        of_points = POINTS_A_CHUNK // self.rows_a_design
        of_maps = MAPS_A_CHUNK // (1 + self.sets.set_count) if self.has_chambers else of_points
        return max(1, min(of_points, of_maps))

    @property
    def present(self) -> Floats:
        """The build as it stands, as the one row of a table of designs."""
        return np.array([[variation.present for variation in self.variations]])


@dataclass(frozen=True, kw_only=True)
class Chunk:
    """Some designs of a study, one a row, and the number of the first of them; the build as it stands is number 0."""

    study: VaryStudy
    first: int
    designs: Floats


def chunks(study: VaryStudy, designs: Floats, first: int) -> list[Chunk]:
    """Designs in the portions in which they are matched; `first` is the number of the first one."""
    size = study.chunk_size
    return [
        Chunk(study=study, first=first + start, designs=designs[start : start + size])
        for start in range(0, len(designs), size)
    ]


def grid_designs(variations: Sequence[Variation]) -> Floats:
    """Every combination of the steps of each variation, one a row, the last one changing fastest."""
    steps = [np.linspace(variation.low, variation.high, variation.steps) for variation in variations]
    return np.array(list(product(*steps)))


def latin_designs(variations: Sequence[Variation], design_count: int, generator: np.random.Generator) -> Floats:
    """So many designs of a Latin hypercube: each variation's range is filled evenly, whatever the others do."""
    shares = qmc.LatinHypercube(d=len(variations), rng=generator).random(design_count)
    low = np.array([variation.low for variation in variations])
    high = np.array([variation.high for variation in variations])
    return low + shares * (high - low)


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One design as a build, with its table and its chambers."""

    build: Build
    points: Points
    geometry: ChamberGeometry | None


def chunk_table(chunk: Chunk) -> pl.DataFrame:
    """All operating points of a chunk: design by design, in each as it is taken to be and by every set, by speed."""
    study = chunk.study
    cases = [_case(study, values) for values in chunk.designs]
    possible = [case for case in cases if isinstance(case, _Case)]
    shape = (len(cases), 1 + study.sets.set_count, len(study.engine_speed))
    numbers = {name: np.full(shape, np.nan) for name in (*SHOWN, "within_range", *_limit_columns(study))}
    outcomes = np.full(shape, IMPOSSIBLE, dtype=object)
    if possible:
        at = np.array([place for place, case in enumerate(cases) if isinstance(case, _Case)])
        found, words = _numbers(study, possible)
        outcomes[at] = words
        for name, values in found.items():
            numbers[name][at] = values
    return _as_table(chunk, numbers, outcomes, [case if isinstance(case, str) else "" for case in cases])


def _limit_columns(study: VaryStudy) -> list[str]:
    return [LIMIT_COLUMN + name for name in study.limit_names]


def _as_table(
    chunk: Chunk, numbers: dict[str, Floats], outcomes: NDArray[np.object_], reasons: list[str]
) -> pl.DataFrame:
    study, amount = chunk.study, len(chunk.designs)
    sets, speeds = 1 + study.sets.set_count, len(study.engine_speed)
    each = np.repeat(np.arange(amount), sets * speeds)
    varied = {
        variation.column: variation.unit.from_si(chunk.designs[:, place])[each]
        for place, variation in enumerate(study.variations)
    }
    return pl.DataFrame(
        {
            "design": (chunk.first + each).astype(np.uint32),
            **varied,
            "set": np.tile(np.repeat(np.arange(sets, dtype=np.uint16), speeds), amount),
            "engine_speed_rpm": np.tile(60.0 * np.asarray(study.engine_speed), amount * sets),
            **{name: values.ravel() for name, values in numbers.items()},
            "outcome": pl.Series(outcomes.ravel().tolist(), dtype=pl.String),
            "reason": pl.Series([reasons[place] for place in each], dtype=pl.String),
        }
    )


def _case(study: VaryStudy, values: Floats) -> _Case | str:
    """The design as a build, or why there is none."""
    changes = {variation.key_path: float(value) for variation, value in zip(study.variations, values, strict=True)}
    try:
        file = changed(study.build_file, changes)
        build = build_of(file)
        points = build_points(build, np.asarray(study.engine_speed), study.ambient)
        return _Case(build=build, points=points, geometry=chamber_of(file) if study.has_chambers else None)
    except FileError as wrong:
        fault = wrong.faults[0]
        return " ".join(part for part in (fault.key, fault.value, fault.problem) if part)
    except ValueError as wrong:
        return str(wrong)


def _numbers(study: VaryStudy, cases: list[_Case]) -> tuple[dict[str, Floats], NDArray[np.object_]]:
    """Every column of the result over (designs, 1 + sets, speeds), and how each search for a point ended."""
    points = np.stack([np.concatenate([case.points[np.newaxis], study.sets.points_for(case.points)]) for case in cases])
    geometries = [[_geometry(study, case, number) for number in range(1 + study.sets.set_count)] for case in cases]
    closed = _matched(study, points, geometries)
    fine = (
        closed if study.is_calibrated else _finely_matched(cases, points[:, 0], [row[0] for row in geometries], study)
    )
    numbers = _shown(_side_by_side(fine, closed), cases, study)  # as it is taken to be, the same by closed forms, sets
    for name, values in numbers.items():
        shift = values[:, 0] - values[:, 1]
        shift = np.where(np.isnan(shift) | (name == "within_range"), 0.0, shift)
        numbers[name] = np.concatenate([values[:, :1], values[:, 2:] + shift[:, np.newaxis]], axis=1)
    codes = closed["outcome"].astype(int)
    codes[:, 0] = fine["outcome"][:, 0].astype(int)
    words = np.full(codes.shape, IMPOSSIBLE, dtype=object)
    for outcome, said in OUTCOME_WORDS.items():
        words[codes == outcome] = said
    return numbers, words


def _side_by_side(fine: OperatingPoints, closed: OperatingPoints) -> OperatingPoints:
    """The designs as they are taken to be by the finer models, then all by the closed forms."""
    return OperatingPoints(
        points=np.concatenate([fine.points[:, :1], closed.points], axis=1),
        states=np.concatenate([fine.states[:, :1], closed.states], axis=1),
    )


def _geometry(study: VaryStudy, case: _Case, number: int) -> ChamberGeometry | None:
    """The chambers of a design as one set has them (the first is the design itself); nothing if they cannot be."""
    if case.geometry is None or number == 0:
        return case.geometry
    try:
        return study.sets.geometry_for(number - 1, case.geometry)
    except ValueError:
        return None


def _matched(study: VaryStudy, points: Points, geometries: list[list[ChamberGeometry | None]]) -> OperatingPoints:
    """Points of all designs and sets, (designs, 1 + sets, speeds), their engines by the closed forms."""
    if not study.has_chambers:
        return matched(points)
    result = OperatingPoints(points=points.copy(), states=np.zeros(points.shape, MATCH_STATE))
    result.states["outcome"] = NOT_RUN
    alike: dict[tuple[ChamberGeometry, int], list[tuple[int, int]]] = {}
    for place, row in enumerate(geometries):
        for number, geometry in enumerate(row):
            if geometry is not None:
                factored = number if study.sets.blower_factors else 0
                alike.setdefault((geometry, factored), []).append((place, number))
    for (geometry, factored), places in alike.items():
        at = tuple(np.array(places).T)
        part = matched_with(points[at], [_set_form(study, geometry, factored)])
        result.points[at], result.states[at] = part.points, part.states
    return result


def _finely_matched(
    cases: list[_Case], points: Points, geometries: list[ChamberGeometry | None], study: VaryStudy
) -> OperatingPoints:
    """The designs as they are taken to be, (designs, 1, speeds), their engines over the crank angle."""
    result = OperatingPoints(points=points.copy(), states=np.zeros(points.shape, MATCH_STATE))
    alike: dict[object, list[int]] = {}
    for place, (case, geometry) in enumerate(zip(cases, geometries, strict=True)):
        alike.setdefault((_engine_key(case.build), geometry), []).append(place)
    for (_, geometry), places in alike.items():  # type: ignore[misc]
        models: list[FinerModel] = [cycle_engine(cases[places[0]].build)]
        if geometry is not None:
            models.insert(0, _form(geometry, study.corrected_speeds))
        part = matched_with(points[places], models)
        result.points[places], result.states[places] = part.points, part.states
    return OperatingPoints(points=result.points[:, np.newaxis], states=result.states[:, np.newaxis])


def _engine_key(build: Build) -> tuple[object, ...]:
    """What the cycle takes of a build: builds that agree in it can be run together."""
    law, stated = build.engine, frozenset(path for path in build.stated if path.startswith("engine.volumetric"))
    size = (law.engine_displacement, law.cylinders, law.compression_ratio, law.stroke, law.friction_factor)
    return (*size, law.volumetric_efficiency_curve, stated)


def _set_form(study: VaryStudy, geometry: ChamberGeometry, factored: int) -> BlowerForm:
    """The chambers as they are, or with the factors of the set of that number."""
    form = _form(geometry, study.corrected_speeds)
    if factored == 0:
        return form
    fitted = FittedBlower(blower=cast(BlowerMap, form.blower), factors=study.sets.blower_factors[factored - 1])
    return replace(form, blower=fitted)


@lru_cache(maxsize=256)
def _form(geometry: ChamberGeometry, corrected_speeds: tuple[float, ...]) -> BlowerForm:
    made = chamber_map(geometry, np.array(corrected_speeds), MAP_RATIOS)
    return BlowerForm(name=CHAMBER, blower=made)


def _shown(operating: OperatingPoints, cases: list[_Case], study: VaryStudy) -> dict[str, Floats]:
    """Columns in their own units and shares of limits, NaN where there is no operating point."""
    known = operating.is_matched & (operating["outcome"] != NOT_RUN)
    with np.errstate(all="ignore"):  # points that were not run are all zeros
        numbers = {column.name: np.where(known, column.shown(operating), np.nan) for column in _COLUMNS}
    numbers["within_range"] = np.where(known, operating["within_range"], np.nan)
    shares = {name: np.full(known.shape, np.nan) for name in study.limit_names}
    for place, case in enumerate(cases):
        own = OperatingPoints(points=operating.points[place], states=operating.states[place])
        with np.errstate(all="ignore"):  # points that were not run are all zeros
            uses = limit_uses(case.build, own, case.build.drive.friction_coefficient)
        for use in uses:
            if use.name in shares:
                shares[use.name][place] = np.where(known[place], use.share, np.nan)
    return numbers | {LIMIT_COLUMN + name: share for name, share in shares.items()}


def known_limits(build: Build, points: Points) -> tuple[str, ...]:
    """Names of the limits that this build states and that its points can be held against."""
    uses = limit_uses(build, matched(points), build.drive.friction_coefficient)
    return tuple(use.name for use in uses if use.is_known)

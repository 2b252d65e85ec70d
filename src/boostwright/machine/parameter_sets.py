"""Several sets of a machine's uncertain numbers, carried from the build that they were found on to changed builds.

A set says how far the truth may lie from what a build is taken to be. A changed build keeps that distance: a size keeps
its ratio to the size it was taken for, an angle and a temperature keep their difference.
"""

from dataclasses import dataclass, fields, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.assumptions import drawn
from boostwright.machine.build import build_of
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_build import chamber_of, drawn_with_chambers
from boostwright.machine.fitted_blower import BlowerFactors
from boostwright.machine.match_table import MATCH_POINT
from boostwright.machine.operating_point import Ambient, build_points
from boostwright.nomenclature import WORDS
from boostwright.records.build_file import BuildFile

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]

_BY_DIFFERENCE = ("K", "rad")
_COUNTED = ("chambers_per_turn", "sealing_pitches")
_SHARES = ("volume_rounding", "dead_volume_share")


@dataclass(frozen=True, kw_only=True)
class ParameterSets:
    """Sets of what nobody has measured, at some engine speeds: tables of the match and, with chambers, geometries.

    `reference_points`, shape (speeds,), and `reference_geometry` are the build that the sets are about; `points` has
    shape (sets, speeds), and `geometries` one geometry a set, or none where the blower is known by its slip law. Sets
    that were fitted have `blower_factors` on what their chambers deliver and take.
    """

    reference_points: Points
    points: Points
    reference_geometry: ChamberGeometry | None
    geometries: tuple[ChamberGeometry, ...]
    blower_factors: tuple[BlowerFactors, ...] = ()

    @property
    def set_count(self) -> int:
        """How many sets there are."""
        return len(self.points)

    def points_for(self, points: Points) -> Points:
        """The table of a changed build, (speeds,), as each set has it, (sets, speeds)."""
        own, reference, asked = (_columns(table) for table in (self.points, self.reference_points, points))
        return np.ascontiguousarray(_carried(own, reference, asked, _COLUMN_BY_DIFFERENCE)).view(MATCH_POINT)[..., 0]

    def geometry_for(self, number: int, geometry: ChamberGeometry) -> ChamberGeometry:
        """The chambers of a changed build as one set has them.

        Raises
        ------
        ValueError
            If its ports and chambers do not follow one another in that set.
        """
        drawn_one, reference = self.geometries[number], self.reference_geometry
        changes: dict[str, float] = {}
        for word in (field.name for field in fields(ChamberGeometry) if field.name not in _COUNTED):
            own, found, asked = (
                np.asarray(getattr(noun, word), np.float64) for noun in (drawn_one, reference, geometry)
            )
            carried = max(float(_carried(own, found, asked, np.asarray(_is_by_difference(word)))), 0.0)
            changes[word] = min(carried, 1.0) if word in _SHARES else carried
        return replace(geometry, **changes)


def _is_by_difference(word: str) -> bool:
    return WORDS[word].unit in _BY_DIFFERENCE


_COLUMN_BY_DIFFERENCE = np.array([_is_by_difference(word) for word in MATCH_POINT.names or ()])


def _columns(table: Points) -> Floats:
    """The table without its names, one column more along its last axis."""
    return np.ascontiguousarray(table).view(np.float64).reshape(*table.shape, _COLUMN_BY_DIFFERENCE.size)


def _carried(own: Floats, reference: Floats, asked: Floats, by_difference: NDArray[np.bool_]) -> Floats:
    """Numbers of a set for what is asked; where the reference is nothing or without bound, by difference or anew."""
    with np.errstate(invalid="ignore", divide="ignore"):
        shifted, scaled = own + (asked - reference), own * (asked / reference)
    moved = np.where(by_difference | (reference == 0.0), shifted, scaled)
    moved = np.where(np.isfinite(moved), moved, asked)
    return np.where(asked == reference, own, moved)


def drawn_sets(
    build_file: BuildFile, engine_speed: Floats, ambient: Ambient, set_count: int, generator: np.random.Generator
) -> ParameterSets:
    """Sets of a build by its slip law, everything that the file leaves open drawn from its documented range."""
    files = [drawn(build_file, generator) for _ in range(set_count)]
    return _sets(build_file, files, engine_speed, ambient)


def drawn_chamber_sets(
    build_file: BuildFile, engine_speed: Floats, ambient: Ambient, set_count: int, generator: np.random.Generator
) -> ParameterSets:
    """The same with the chambers and ports of the blower.

    Raises
    ------
    ValueError
        If the ports and chambers of the build do not follow one another.
    """
    reference = chamber_of(build_file)
    files = [drawn_with_chambers(build_file, generator) for _ in range(set_count)]
    sets = _sets(build_file, files, engine_speed, ambient)
    return replace(sets, reference_geometry=reference, geometries=tuple(chamber_of(file) for file in files))


def _sets(build_file: BuildFile, files: list[BuildFile], engine_speed: Floats, ambient: Ambient) -> ParameterSets:
    tables = [build_points(build_of(file), engine_speed, ambient) for file in files]
    points = np.stack(tables) if tables else np.zeros((0, len(engine_speed)), MATCH_POINT)
    return ParameterSets(
        reference_points=build_points(build_of(build_file), engine_speed, ambient),
        points=points,
        reference_geometry=None,
        geometries=(),
    )

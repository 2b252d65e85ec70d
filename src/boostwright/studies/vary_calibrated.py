"""Sets of parameters that fit the pulls of a campaign, for a study of designs: several, never the best one alone."""

from pathlib import Path
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError
from boostwright.inference.calibrated_chamber import CalibratedChamber
from boostwright.machine.build import build_of
from boostwright.machine.chamber_match import without_ports
from boostwright.machine.fitted_blower import factors_of
from boostwright.machine.match_table import MATCH_POINT
from boostwright.machine.operating_point import Ambient, build_points
from boostwright.machine.parameter_sets import ParameterSets
from boostwright.records.build_file import BuildFile
from boostwright.records.campaign import Campaign
from boostwright.studies.words import speed_span_text

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]

_EDGE = 1e-6  # of a speed


def setup_of_build(campaign: Campaign, build: Path) -> str:
    """The setup of a campaign whose build file this is.

    Raises
    ------
    DataError
        If it is the build of neither setup.
    """
    for name in (campaign.baseline, campaign.candidate):
        said = campaign.setups[name].build
        if said is not None and (campaign.folder / said).resolve() == build.resolve():
            return name
    raise DataError(
        f"{build}: is the build of neither setup of {campaign.folder}, whose pulls were fitted; give the build file "
        "that the campaign names, and vary from there"
    )


def fitted_speeds(chamber: CalibratedChamber) -> Floats:
    """Engine speeds of the fit, which a study takes where nobody asks for others."""
    return np.array(chamber.points["engine_speed"][0], dtype=np.float64)


def calibrated_sets(
    chamber: CalibratedChamber, build_file: BuildFile, engine_speed: Floats, set_count: int
) -> ParameterSets:
    """So many of the draws of a fit, evenly taken, at these engine speeds.

    Raises
    ------
    DataError
        If a speed lies outside of those that were fitted.
    """
    fitted = fitted_speeds(chamber)
    if engine_speed.min() < fitted[0] * (1 - _EDGE) or engine_speed.max() > fitted[-1] * (1 + _EDGE):
        raise DataError(
            f"engine speeds {speed_span_text(engine_speed.min(), engine_speed.max())} go beyond the pulls, which were "
            f"fitted at {speed_span_text(fitted[0], fitted[-1])}; ask for --speeds inside"
        )
    taken = np.unique(np.linspace(0, chamber.draw_count - 1, min(set_count, chamber.draw_count)).round().astype(int))
    draws = without_ports(chamber.points)
    points = np.stack([_at_speeds(draws[number], engine_speed) for number in taken])
    geometries = chamber.geometries()
    return ParameterSets(
        reference_points=build_points(build_of(build_file), engine_speed, _weather(draws)),
        points=points,
        reference_geometry=chamber.drawing,
        geometries=tuple(geometries[number] for number in taken),
        blower_factors=tuple(factors_of(draws[number]) for number in taken),
    )


def _weather(draws: Points) -> Ambient:
    """The weather of the pulls, about which the draws lie."""
    words = ("ambient_pressure", "air_temperature", "humidity_ratio")
    return Ambient(**{word: float(np.median(draws[word])) for word in words})


def _at_speeds(points: Points, engine_speed: Floats) -> Points:
    """The rows of one draw, (speeds,), at other speeds between its own."""
    moved = np.zeros(engine_speed.shape, MATCH_POINT)
    for word in MATCH_POINT.names or ():
        if np.isfinite(points[word]).all():
            moved[word] = np.interp(engine_speed, points["engine_speed"], points[word])
        else:
            moved[word] = points[word][0]
    moved["engine_speed"] = engine_speed
    return moved

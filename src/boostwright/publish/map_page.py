"""The blower map as a page draws it: contours of efficiency and lines of rotor speed, over flow and pressure ratio."""

from dataclasses import dataclass

import contourpy
import numpy as np
from numpy.typing import NDArray

from boostwright.publish.what_if_page import flow_unit
from boostwright.studies.match import MatchResult
from boostwright.studies.match_map import BlowerMapGrid, blower_map_grid
from boostwright.studies.rounding import json_list
from boostwright.studies.words import number
from boostwright.units import System, Unit

LEVELS = (0.40, 0.45, 0.50, 0.55, 0.60, 0.62, 0.64, 0.66, 0.68, 0.70, 0.72, 0.75)
_SPEED_STEPS = (500, 1000, 2000, 2500, 5000, 10_000)
_MOST_SPEEDS = 7


@dataclass(frozen=True, kw_only=True)
class MapLine:
    """One line of the map with its label."""

    label: str
    volume_flow: list[float | None]
    pressure_ratio: list[float | None]


@dataclass(frozen=True, kw_only=True)
class MapPage:
    """All lines, and the ends of the axes."""

    contours: list[MapLine]
    speeds: list[MapLine]
    highest_flow: float
    highest_pressure_ratio: float


def map_page(result: MatchResult, units: System) -> MapPage:
    """Set the map around the operating line of a match."""
    grid = blower_map_grid(result)
    unit = flow_unit(units)
    flow = unit.from_si(grid.volume_flow)
    return MapPage(
        contours=_contours(grid, flow),
        speeds=_speed_lines(grid, unit),
        highest_flow=float(np.nanmax(flow)),
        highest_pressure_ratio=float(grid.pressure_ratio[-1]),
    )


def _contours(grid: BlowerMapGrid, flow: NDArray[np.float64]) -> list[MapLine]:
    ratios = np.broadcast_to(grid.pressure_ratio, flow.shape)
    known = np.isfinite(flow) & np.isfinite(grid.isentropic_efficiency)
    generator = contourpy.contour_generator(
        np.where(known, flow, 0.0), ratios, np.ma.masked_array(grid.isentropic_efficiency, ~known)
    )
    return [
        MapLine(
            label=f"{number(100.0 * level)} %",
            volume_flow=json_list(line[:, 0]),
            pressure_ratio=json_list(line[:, 1]),
        )
        for level in LEVELS
        for line in generator.lines(level)
        if isinstance(line, np.ndarray) and len(line) > 3
    ]


def _speed_lines(grid: BlowerMapGrid, unit: Unit) -> list[MapLine]:
    fastest = 60.0 * grid.rotor_speed[-1]
    step = next((step for step in _SPEED_STEPS if fastest / step <= _MOST_SPEEDS), _SPEED_STEPS[-1])
    speeds = np.arange(np.ceil(60.0 * grid.rotor_speed[0] / step) * step, fastest, step)
    return [
        MapLine(
            label=number(float(speed)),
            volume_flow=json_list(unit.from_si(grid.along_speed(float(speed) / 60.0))),
            pressure_ratio=json_list(grid.pressure_ratio),
        )
        for speed in speeds
    ]

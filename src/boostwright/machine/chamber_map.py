"""A blower by its chambers: run point by point, or once over a grid and then read as a map in all weather."""

from dataclasses import dataclass

import numpy as np
from numba import get_num_threads  # type: ignore[import-untyped]
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.blower import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    Blower,
    BlowerDelivery,
    delivery_from_table,
    operating_points,
)
from boostwright.machine.blower_map import BlowerMap, MapError, map_nodes, similar_delivery, spline_slopes
from boostwright.machine.chamber import ChamberGeometry, chamber_constants, chamber_tables
from boostwright.machine.chamber_cycle import ChamberCycle, chamber_walks

MAP_STEPS, MAP_TOLERANCE = 24, 1e-4  # volumetric efficiency within 0.1 % of 512 steps where it is above a half
POINT_STEPS, POINT_TOLERANCE = 48, 1e-6
MAP_INLET = (1e5, 300.0)  # Pa, K: where the runs of a map are made; by similarity they hold everywhere
LEAST_MAPPED_EFFICIENCY = 0.45  # below, hot leakage feeds on itself, and more than one state can be periodic


@dataclass(frozen=True, kw_only=True)
class ChamberRuns:
    """Periodic states, point by point; the fields are those of `ChamberCycle`, which says what they mean."""

    blower_volumetric_efficiency: NDArray[np.float64]
    work_ratio: NDArray[np.float64]
    heat_ratio: NDArray[np.float64]
    leakage_ratio: NDArray[np.float64]
    temperature_ratio: NDArray[np.float64]
    mass_defect: NDArray[np.float64]
    energy_defect: NDArray[np.float64]
    residual: NDArray[np.float64]
    pitches: NDArray[np.float64]
    theta: NDArray[np.float64]


def run_chambers(
    geometry: ChamberGeometry,
    inlet_pressure: ArrayLike,
    inlet_temperature: ArrayLike,
    outlet_pressure: ArrayLike,
    rotor_speed: ArrayLike,
    steps: int,
    tolerance: float,
) -> ChamberRuns:
    """The periodic states at points that broadcast against one another, with so many steps a pitch.

    Along the last axis each point starts from the states of those before it, so let it be the outlet pressure, in
    order; all others run side by side.
    """
    points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
    walks = points.T.reshape(-1, shape[-1] if shape else 1, 4)
    dealt = _dealt(len(walks))
    cycles = chamber_walks(chamber_tables(geometry, steps), chamber_constants(geometry), walks[dealt], tolerance)
    numbers = np.moveaxis(cycles[np.argsort(dealt)], -1, 0)
    return ChamberRuns(**{name: row.reshape(shape) for name, row in zip(ChamberCycle._fields, numbers, strict=True)})


def _dealt(count: int) -> NDArray[np.intp]:
    """The order in which neighbouring walks go to different cores: slow rotors take longer, and each core a block."""
    return np.argsort(np.arange(count) % get_num_threads(), kind="stable")


@dataclass(frozen=True, kw_only=True)
class ChamberBlower(Blower):
    """A blower whose every point is a run of its chambers: exact, also where walls exchange heat, and slower."""

    geometry: ChamberGeometry

    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What the chambers deliver of dry air; the four arguments broadcast against one another."""
        geometry = self.geometry
        points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
        p1, T1, p2, N = points[:, :, np.newaxis]
        runs = run_chambers(geometry, p1, T1, p2, N, POINT_STEPS, POINT_TOLERANCE)
        settled = (runs.residual <= POINT_TOLERANCE).astype(float)
        sizes = (
            float(geometry.blower_displacement),
            float(geometry.speed_limit),
            float(geometry.mechanical_power_at_limit),
            float(geometry.mechanical_heat_share),
        )
        ratios = (runs.blower_volumetric_efficiency, runs.work_ratio, runs.heat_ratio, runs.leakage_ratio, settled)
        table = [
            similar_delivery(
                p1,
                T1,
                N,
                DRY_AIR_GAS_CONSTANT,
                DRY_AIR_HEAT_CAPACITY_RATIO,
                *sizes,
                *numbers,
            )
            for p1, T1, _, N, *numbers in zip(*points, *(ratio.ravel() for ratio in ratios), strict=True)
        ]
        return delivery_from_table(np.array(table, dtype=np.float64).T, shape)


def typical_corrected_speeds(speed_limit: float) -> NDArray[np.float64]:
    """Twenty corrected speeds of a map, from 0.15 to 1.15 of the limit at 300 K, closer where leakage rules."""
    return np.linspace(0.15**0.5, 1.15**0.5, 20) ** 2 * speed_limit / np.sqrt(MAP_INLET[1])


def typical_pressure_ratios() -> NDArray[np.float64]:
    """Twelve pressure ratios of a map, 1.02 to 2.8, closer near 1, where leakage follows a square root."""
    return 1.02 + 1.78 * np.linspace(0.0, 1.0, 12) ** 2


def chamber_map(
    geometry: ChamberGeometry, corrected_speeds: NDArray[np.float64], pressure_ratios: NDArray[np.float64]
) -> BlowerMap:
    """One map of a geometry, which serves all weather by similarity.

    Raises
    ------
    ValueError
        If the walls exchange heat, which breaks the similarity.
    """
    if geometry.heat_conductance > 0.0:
        raise ValueError(
            f"heat_conductance {geometry.heat_conductance:g} W/K: with heat from the walls one map does not serve all "
            "weather; run the points with ChamberBlower, or set it to 0"
        )
    p1, T1 = MAP_INLET
    speeds = corrected_speeds[:, np.newaxis] * np.sqrt(T1)
    runs = run_chambers(geometry, p1, T1, p1 * pressure_ratios, speeds, MAP_STEPS, MAP_TOLERANCE)
    tables = np.array([runs.blower_volumetric_efficiency, runs.work_ratio, runs.heat_ratio, runs.leakage_ratio])
    return BlowerMap(
        blower_displacement=geometry.blower_displacement,
        speed_limit=geometry.speed_limit,
        mechanical_power_at_limit=geometry.mechanical_power_at_limit,
        mechanical_heat_share=geometry.mechanical_heat_share,
        corrected_speeds=corrected_speeds,
        pressure_ratios=pressure_ratios,
        pressure_ratio_range=_sound_range(runs, pressure_ratios),
        nodes=map_nodes(corrected_speeds, pressure_ratios, tables, spline_slopes),
    )


def _sound_range(runs: ChamberRuns, pressure_ratios: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lowest and highest pressure ratio of every speed, up to which the runs settled and enough gas went through."""
    sound = (runs.blower_volumetric_efficiency >= LEAST_MAPPED_EFFICIENCY) & (runs.residual <= MAP_TOLERANCE)
    reached = np.cumprod(sound, axis=1).sum(axis=1)
    highest = pressure_ratios[np.maximum(reached, 1) - 1]
    return np.array([np.full(highest.shape, pressure_ratios[0]), highest])


def chamber_map_error(geometry: ChamberGeometry, blower_map: BlowerMap) -> MapError:
    """Error at the middles of a map's cells against direct runs: of interpolation and of time steps together."""
    p1, T1 = MAP_INLET
    speeds = _middles(blower_map.corrected_speeds)[:, np.newaxis] * np.sqrt(T1)
    p2 = p1 * _middles(blower_map.pressure_ratios)
    read = blower_map.delivery(p1, T1, p2, speeds)
    run = ChamberBlower(geometry=geometry).delivery(p1, T1, p2, speeds)
    inside = (read.within_range == 1.0) & (run.within_range == 1.0)
    return MapError.of(
        blower_volumetric_efficiency=(read.blower_volumetric_efficiency / run.blower_volumetric_efficiency - 1.0)[
            inside
        ],
        gas_power=(read.gas_power / run.gas_power - 1.0)[inside],
        outlet_temperature=(read.outlet_temperature - run.outlet_temperature)[inside],
    )


def _middles(knots: NDArray[np.float64]) -> NDArray[np.float64]:
    return 0.5 * (knots[1:] + knots[:-1])

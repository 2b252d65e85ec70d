"""Invented campaigns whose blower is a ring of chambers, richer than the one that is fitted, on the synthetic engine.

Beyond what a fit can move, ramps, dead pocket, volume curve, outlet, plenum and tract differ from the defaults, tips
and mesh leak in another proportion, the walls exchange heat, and the delivery strays smoothly along rotor speed.
Everything but the blower is the truth of `benchmarks.synthetic_engine`. All data are invented.
"""

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from benchmarks.synthetic_engine import (
    TRUTH,
    SyntheticCampaign,
    nominal_points,
    smooth,
    solved,
    synthetic_truth,
)
from boostwright.inference.attribution import Cause
from boostwright.inference.calibrate import LOGARITHMIC, TYPICAL_SENSOR_ERRORS, sensor_covariance
from boostwright.machine.blower_map import BlowerMap, map_nodes, spline_slopes
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_defaults import typical_roots_geometry
from boostwright.machine.chamber_map import run_chambers

Floats = NDArray[np.float64]

CHAMBER_TRUTH = np.dtype([*((name, np.float64) for name in ("ports", "leaks", "delivery")), *TRUTH.descr])
"""A true point, with the number of the setup whose ports and whose clearances it has."""

CAUSES = (
    Cause(name="inlet", words=("inlet_area",)),
    Cause(name="ports", words=("ports", "delivery")),
    Cause(name="leakage", words=("leaks",)),
    Cause(name="belt slip", words=("slip_level", "slip_load_exponent")),
    Cause(name="drive loss", words=("mechanical_linear", "mechanical_cubic")),
    Cause(name="charge cooling", words=("coolant_start", "coolant_warming")),
    Cause(name="weather", words=("ambient_pressure", "air_temperature", "humidity_ratio")),
    Cause(name="mixture", words=("excess_air_ratio",)),
)
_SPEEDS, _RATIOS = 11, 9
_STEPS, _TOLERANCE = 48, 1e-5
_ROUNDS = 30


@dataclass(frozen=True, kw_only=True)
class ChamberCampaign:
    """A campaign with its two true geometries, and the drawing that is known of both."""

    campaign: SyntheticCampaign
    geometries: tuple[ChamberGeometry, ChamberGeometry]
    drawing: ChamberGeometry
    maps: dict[tuple[int, int], BlowerMap]

    def solved(self, points: NDArray[np.void]) -> NDArray[np.void]:
        """True states of a table of `CHAMBER_TRUTH` of any shape."""
        return _solved(points.reshape(-1), self.maps).reshape(points.shape)


def chamber_campaign(generator: np.random.Generator) -> ChamberCampaign:
    """A campaign with noise as instruments of ordinary quality would show it."""
    tables = [_with_chambers(table, side, generator) for side, table in enumerate(synthetic_truth(generator))]
    A, B = tables
    B["delivery"] = A["delivery"] * np.exp(smooth(generator, A["engine_speed"], 0.003, 20.0))
    drawing = typical_roots_geometry(float(A["blower_displacement"][0]), float(A["speed_limit"][0]))
    geometries = _true_geometries(drawing, generator)
    turned = A["engine_speed"] * A["drive_ratio"]
    maps = {
        (ports, leaks): _true_map(geometries[ports], geometries[leaks], turned, float(A["air_temperature"][0]))
        for ports, leaks in product(range(2), repeat=2)
    }
    states = _solved(np.concatenate([A, B]), maps).reshape(2, -1)
    curves = {channel: _observed(channel, states[channel], A["engine_speed"], generator) for channel in _CHANNELS}
    baseline, candidate = (nominal_points(_plain(table)) for table in tables)
    campaign = SyntheticCampaign(
        true_baseline=A, true_candidate=B, baseline=baseline, candidate=candidate, curves=curves
    )
    return ChamberCampaign(campaign=campaign, geometries=geometries, drawing=drawing, maps=maps)


_CHANNELS = tuple(TYPICAL_SENSOR_ERRORS)


def _observed(channel: str, clean: Floats, speed: Floats, generator: np.random.Generator) -> Floats:
    size = math.exp(0.3 * generator.standard_normal())
    C = sensor_covariance(TYPICAL_SENSOR_ERRORS[channel], np.asarray(speed, float)) * size**2
    noise = (np.linalg.cholesky(C) @ generator.standard_normal(len(C))).reshape(2, -1)
    return clean * np.exp(noise) if channel in LOGARITHMIC else clean + noise


def _with_chambers(table: NDArray[np.void], side: int, generator: np.random.Generator) -> NDArray[np.void]:
    """The table with the columns of the chambers, and without what they replace."""
    points = np.zeros(table.size, CHAMBER_TRUTH)
    for name in TRUTH.names or ():
        points[name] = table[name]
    points["ports"] = points["leaks"] = side
    points["delivery"] = np.exp(smooth(generator, table["engine_speed"], 0.007, 25.0))
    for name in ("leakage_area", "filling_ripple", "filling_exponent", "port_loss", "casing_temperature"):
        points[name] = 0.0
    return points


def _plain(points: NDArray[np.void]) -> NDArray[np.void]:
    table = np.zeros(points.shape, TRUTH)
    for name in TRUTH.names or ():
        table[name] = points[name]
    return table


def _true_geometries(
    drawing: ChamberGeometry, generator: np.random.Generator
) -> tuple[ChamberGeometry, ChamberGeometry]:
    g = generator

    def factor(sd: float) -> float:
        return math.exp(sd * g.standard_normal())

    def degrees(sd: float) -> float:
        return math.radians(sd * g.standard_normal())

    leakage, tips = factor(0.3), g.uniform(0.8, 1.25)
    A = replace(
        drawing,
        port_closing_angle=drawing.port_closing_angle + degrees(5.0),
        port_inertance=drawing.port_inertance * factor(0.5),
        port_effective_area=drawing.port_effective_area * factor(0.12),
        tip_leakage_area=drawing.tip_leakage_area * leakage * tips,
        mesh_leakage_area=drawing.mesh_leakage_area * leakage / tips,
        port_opening_ramp=drawing.port_opening_ramp * factor(0.2),
        port_closing_ramp=drawing.port_closing_ramp * factor(0.2),
        outlet_ramp=drawing.outlet_ramp * factor(0.2),
        outlet_effective_area=drawing.outlet_effective_area * factor(0.15),
        dead_volume_share=drawing.dead_volume_share * factor(0.4),
        volume_rounding=g.uniform(0.6, 0.95),
        fill_end_angle=drawing.fill_end_angle + degrees(4.0),
        plenum_volume=drawing.plenum_volume * factor(0.3),
        tract_effective_area=drawing.tract_effective_area * factor(0.15),
        heat_conductance=g.uniform(0.0, 2.0),
    )
    change = factor(0.2)
    B = replace(
        A,
        port_closing_angle=A.port_closing_angle + degrees(6.0),
        port_inertance=A.port_inertance * factor(0.15),
        port_effective_area=A.port_effective_area * factor(0.12),
        tip_leakage_area=A.tip_leakage_area * change,
        mesh_leakage_area=A.mesh_leakage_area * change,
    )
    return A, B


def _true_map(ports: ChamberGeometry, leaks: ChamberGeometry, turned: Floats, air_temperature: float) -> BlowerMap:
    """The map of one setup's ports and another's clearances, run where the campaign runs: walls break similarity."""
    geometry = replace(ports, tip_leakage_area=leaks.tip_leakage_area, mesh_leakage_area=leaks.mesh_leakage_area)
    p1, T1 = 0.97e5, air_temperature + 4.0
    speeds = np.linspace(0.9 * turned.min(), 1.03 * turned.max(), _SPEEDS)
    ratios = 1.05 + 2.0 * np.linspace(0.0, 1.0, _RATIOS) ** 1.5
    runs = run_chambers(geometry, p1, T1, p1 * ratios, speeds[:, None], _STEPS, _TOLERANCE)
    tables = np.array([runs.blower_volumetric_efficiency, runs.work_ratio, runs.heat_ratio, runs.leakage_ratio])
    corrected = speeds / math.sqrt(T1)
    return BlowerMap(
        blower_displacement=geometry.blower_displacement,
        speed_limit=geometry.speed_limit,
        mechanical_power_at_limit=0.0,
        mechanical_heat_share=0.0,
        corrected_speeds=corrected,
        pressure_ratios=ratios,
        pressure_ratio_range=np.array([np.full(_SPEEDS, ratios[0]), np.full(_SPEEDS, ratios[-1])]),
        nodes=map_nodes(corrected, ratios, tables, spline_slopes),
    )


def _solved(points: NDArray[np.void], maps: dict[tuple[int, int], BlowerMap]) -> NDArray[np.void]:
    """States of rows: the synthetic engine's own blower is moved until it delivers what the maps say."""
    plain = _plain(points)
    plain["filling_loss"], plain["gas_work_factor"], plain["casing_conductance"] = 0.08, 1.1, 0.0
    states = solved(plain)
    for _ in range(_ROUNDS):
        before = states["air_mass_flow"]
        _move_to_maps(points, plain, states, maps)
        states = solved(plain)
        if np.max(np.abs(states["air_mass_flow"] / before - 1)) < 1e-7:
            return states
    raise RuntimeError("a true point does not settle: choose another seed")


def _move_to_maps(
    points: NDArray[np.void], plain: NDArray[np.void], states: NDArray[np.void], maps: dict[tuple[int, int], BlowerMap]
) -> None:
    m, T2, N, p1 = (
        states[w] for w in ("air_mass_flow", "blower_outlet_temperature", "rotor_speed", "blower_inlet_pressure")
    )
    p3, p2 = states["manifold_pressure"], states["manifold_pressure"] + 1e3
    for _ in range(20):
        p2 = p3 + plain["cooler_resistance"] * m**1.85 * T2 / p2
    T1 = plain["air_temperature"] + plain["inlet_heating"] * (1.2 - 0.4 * N / plain["speed_limit"])
    for (ports, leaks), blower in maps.items():
        rows = np.flatnonzero((points["ports"] == ports) & (points["leaks"] == leaks))
        if rows.size == 0:
            continue
        said = blower.delivery(p1[rows], T1[rows], p2[rows], N[rows])
        work = blower.blower_displacement * N[rows] * (p2[rows] - p1[rows])
        plain["filling_loss"][rows] = 1.0 - said.blower_volumetric_efficiency * points["delivery"][rows]
        plain["gas_work_factor"][rows] = said.gas_power / work
        plain["casing_conductance"][rows] = said.heat_loss / (0.5 * (T1[rows] + T2[rows]))

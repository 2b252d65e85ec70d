"""A chamber map of 20 speeds by 12 pressure ratios: time, ratio to an adaptive integrator, and error.

The reference is the same blower as an ordinary differential equation in NumPy, by scipy's LSODA in the same process,
at a tolerance that gives the same error, one pitch at one point; the ratio is per pitch and point, in processor time.

    python -m benchmarks.chamber_map_speed
"""

import time

import numpy as np

from benchmarks.timing import best
from boostwright.machine.chamber import ChamberGeometry, chamber_constants, chamber_tables
from boostwright.machine.chamber_cycle import chamber_cycle, starting_ring
from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from boostwright.machine.chamber_kernel import MASS, OUTLET_TEMPERATURE, PLENUM_MASS, PORT_FLOW, PRESSURE, ChamberPoint
from boostwright.machine.chamber_map import (
    MAP_STEPS,
    MAP_TOLERANCE,
    ChamberRuns,
    chamber_map,
    chamber_map_error,
    run_chambers,
    typical_corrected_speeds,
    typical_pressure_ratios,
)
from tests.machine.chamber_reference import ReferenceRun

ROUNDS = 15
P1, T1 = 1e5, 300.0
GEOMETRIES = {
    "roots, 1.6 L": typical_roots_geometry(1.6e-3, 300.0),
    "roots, 0.5 L": typical_roots_geometry(0.5e-3, 400.0),
    "roots, 8 L": typical_roots_geometry(8e-3, 160.0),
    "screw, 1.6 L, Vi 1.3": typical_screw_geometry(1.6e-3, 300.0, 1.3),
}


def grid(geometry: ChamberGeometry, steps: int, tolerance: float) -> ChamberRuns:
    """The runs of the map of this geometry."""
    speeds = typical_corrected_speeds(geometry.speed_limit)[:, np.newaxis] * np.sqrt(T1)
    return run_chambers(geometry, P1, T1, P1 * typical_pressure_ratios(), speeds, steps, tolerance)


def integrator_time(geometry: ChamberGeometry) -> float:
    """Processor time of one pitch at one point by LSODA, from the periodic state on. [s]"""
    tables, constants = chamber_tables(geometry, 128), chamber_constants(geometry)
    point = ChamberPoint(P1, T1, 1.7 * P1, 0.6 * geometry.speed_limit)
    ring = starting_ring(tables, constants, point)
    chamber_cycle(tables, constants, point, 1e-6, ring)
    reference = ReferenceRun(
        geometry, P1, T1, point.outlet_pressure, ring.shared[OUTLET_TEMPERATURE], point.rotor_speed
    )
    shared = ring.shared[[PLENUM_MASS, 0, 2]]
    start = np.concatenate([ring.chambers[[MASS, PRESSURE, PORT_FLOW]].ravel(), shared, [0.0, 0.0]])
    started = time.process_time()
    reference.pitch(start, 1e-4)
    return time.process_time() - started


def row(name: str, geometry: ChamberGeometry) -> str:
    """One geometry's line of the table."""
    grids = typical_corrected_speeds(geometry.speed_limit), typical_pressure_ratios()
    blower_map = chamber_map(geometry, *grids)
    wall = best(lambda: chamber_map(geometry, *grids), ROUNDS, time.perf_counter)
    cpu = best(lambda: chamber_map(geometry, *grids), ROUNDS)
    runs, fine = grid(geometry, MAP_STEPS, MAP_TOLERANCE), grid(geometry, 512, 1e-7)
    faster = integrator_time(geometry) / (cpu / runs.pitches.sum())
    at_nodes = np.abs(runs.blower_volumetric_efficiency / fine.blower_volumetric_efficiency - 1.0)
    between = chamber_map_error(geometry, blower_map)
    return (
        f"| {name} | {wall * 1e3:.0f} | {cpu * 1e3:.0f} | {faster:.0f} | {np.median(at_nodes) * 100:.3f} | "
        f"{at_nodes.max() * 100:.3f} | {between.volumetric_efficiency_usual * 100:.3f} | "
        f"{between.volumetric_efficiency_largest * 100:.3f} | {between.work_largest * 100:.2f} | "
        f"{between.outlet_temperature_largest:.2f} |"
    )


def main() -> None:
    """Measure and print a table."""
    print("| geometry | wall ms | processor ms | times faster than LSODA | at nodes: VE median % | largest % ", end="")
    print("| between: VE usual % | largest % | work largest % | outlet largest K |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, geometry in GEOMETRIES.items():
        print(row(name, geometry))


if __name__ == "__main__":
    main()

"""A grid study of 100 000 full matches on two processes: speed, growth and memory: `python -m benchmarks.grid_speed`.

One operating point a design, engine over the crank angle, results kept in portions and joined to one Parquet file. The
reference is the same loop over designs with scipy's root-finding for every point, in this process: the same build, the
same closed forms, and the same cycle, which moves them until both agree. Times are processor times, since other work on
the machine stretches the clock. `--cases 10000,30000` runs other sizes.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchmarks.match_speed import scipy_match
from boostwright.machine import match_kernel
from boostwright.machine.build import build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.limits import limit_uses
from boostwright.machine.match_table import MATCH_STATE
from boostwright.machine.operating_point import OperatingPoints, build_points
from boostwright.records.build_file import build_from_document, changed
from boostwright.records.chunk_store import open_store
from boostwright.studies.match_request import ambient_from_text
from boostwright.studies.vary import Search, VaryStudy, grid_designs
from boostwright.studies.vary_request import SLIP_LAW, goal_from_text, plan_of, variation_from_text, vary_study
from boostwright.studies.vary_run import result_of, run_plan
from boostwright.studies.workers import LocalProcesses

PROCESSES = 2
SPEED = 5000.0 / 60.0
SCIPY_CASES = 150
ROUNDS = 40
AIR = ambient_from_text("100 kPa, 25 degC, 0.4")
FILE = build_from_document(
    {
        "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
        "blower": {"displacement": "1.6 L", "kind": "roots", "speed_limit": "18000 rpm"},
        "drive": {"driving_pulley": "190 mm", "driven_pulley": "72 mm"},
        "inlet": {"throttle_bore": "105 mm"},
        "cooler": {"effectiveness": 0.8, "coolant_temperature": "38 degC"},
        "limits": {"charge_temperature": "70 degC"},
    },
    "benchmark",
)


def study_of(cases: int) -> VaryStudy:
    """A grid of so many designs, to the nearest product of three: pulley, inlet and cooler."""
    along = round((cases / 20.0) ** 0.5)
    varied = (f"drive.driven_pulley=68:80:{along}", f"inlet.flow_area=40:80:{along}", "cooler.effectiveness=0.6:0.9:20")
    variations = [variation_from_text(text, FILE, Search.GRID) for text in varied]
    return vary_study(FILE, variations, np.array([SPEED]), AIR, SLIP_LAW, 0)


def run(study: VaryStudy) -> tuple[float, float, int]:
    """Wall and processor time of a study from the first design to its result, and how many it matched. [s]"""
    goal = goal_from_text("average", [], 0.05)
    plan = plan_of(study, goal, Search.GRID, 0)
    begun, before = time.perf_counter(), _processor_time()
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(Path(folder) / "grid.parquet", plan.digest, plan.title)
        with LocalProcesses(PROCESSES) as workers:
            run_plan(plan, store, workers, lambda _amount: None)
        result = result_of(study, goal, store)
    return time.perf_counter() - begun, _processor_time() - before, int(result.scores.is_possible.sum())


def _processor_time() -> float:
    parts = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(part.ru_utime + part.ru_stime for part in parts)


def scipy_time(study: VaryStudy, *, with_cycle: bool) -> float:
    """Processor time of one design of the loop by scipy. [s]"""
    designs = np.random.default_rng(3).permutation(grid_designs(study.variations))[:SCIPY_CASES]
    begun = 0.0
    for number, values in enumerate(designs):
        if number == 1:
            begun = time.process_time()  # the first has loaded the kernels
        _scipy_case(study, values, with_cycle=with_cycle)
    return (time.process_time() - begun) / (len(designs) - 1)


def _scipy_case(study: VaryStudy, values: np.ndarray, *, with_cycle: bool) -> float:
    build = build_of(changed(FILE, {v.key_path: float(x) for v, x in zip(study.variations, values, strict=True)}))
    points = build_points(build, np.array([SPEED]), AIR)
    model, operating = cycle_engine(build), OperatingPoints(points=points, states=np.zeros(1, MATCH_STATE))
    for _ in range(ROUNDS):
        states = scipy_match(operating.points)
        _complete(operating.points, states)
        operating = OperatingPoints(points=operating.points, states=states)
        if not with_cycle:
            break
        correction = model.correction(operating)
        if correction.disagreement.max() <= 1.0:
            break
        operating = OperatingPoints(points=correction.points, states=states)
    limit_uses(build, operating, build.drive.friction_coefficient)
    return float(operating["brake_power"][0])


def _complete(points: np.ndarray, states: np.ndarray) -> None:
    """What follows from a balanced point: knock, pressure, fuel and power, by our own chain."""
    for point, state in zip(points, states, strict=True):
        match_kernel._burn(point, state)


def main() -> int:
    """Measure and print a table."""
    cases = [10_000, 30_000, 100_000]
    if "--cases" in sys.argv:
        cases = [int(text) for text in sys.argv[sys.argv.index("--cases") + 1].split(",")]
    small = study_of(cases[0])
    closed, full = scipy_time(small, with_cycle=False), scipy_time(small, with_cycle=True)
    print(f"scipy root, point by point: {1e3 * full:.2f} ms a design, {1e3 * closed:.2f} ms by the closed forms alone")
    print("| designs | matched | wall s | processor s | ms a design | times scipy | peak MB here | peak MB a worker |")
    print("|--:|--:|--:|--:|--:|--:|--:|--:|", flush=True)
    for amount in cases:
        study = study_of(amount)
        designs = len(grid_designs(study.variations))
        wall, spent, possible = run(study)
        here, there = (
            resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        )
        print(
            f"| {designs} | {possible - 1} | {wall:.0f} | {spent:.0f} | {1e3 * spent / designs:.2f} | "
            f"{full / (spent / designs):.1f} | {here:.0f} | {there:.0f} |",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())

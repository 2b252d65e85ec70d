"""How fast the match is, as ratios to the same equations solved by scipy: `python -m benchmarks.match_speed`.

Times are processor times of one core, best of several runs, because other work on the machine stretches the clock.
`--budget` ends with status 1 where a figure is missed.
"""

import resource
import subprocess
import sys
import time
from typing import Any

import numpy as np
from scipy.optimize import root

from benchmarks.timing import best
from boostwright.machine import match_kernel as kernel
from boostwright.machine.build import build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.match_table import MATCH_STATE
from boostwright.machine.operating_point import ambient_air, build_points, matched, matched_with
from boostwright.records.build_file import build_from_document

POINTS, SCIPY_POINTS = 20_000, 200
BUILD = build_of(
    build_from_document(
        {
            "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
            "blower": {"displacement": "1.6 L", "kind": "roots", "speed_limit": "18000 rpm"},
            "drive": {"driving_pulley": "190 mm", "driven_pulley": "68 mm"},
            "cooler": {"effectiveness": 0.8, "coolant_temperature": "38 degC"},
        },
        "benchmark",
    )
)
CYCLE = cycle_engine(BUILD)
AIR = ambient_air(100e3, 298.15, 0.4)


def random_points(amount: int) -> Any:
    """Points over more than any build: speed, ratio, displacement, altitude, areas and leakage far apart."""
    draw = np.random.default_rng(7)
    points = build_points(BUILD, draw.uniform(1000, 8500, amount) / 60, AIR)
    points["drive_ratio"] = draw.uniform(1.0, 4.5, amount)
    points["blower_displacement"] *= draw.uniform(0.4, 1.6, amount)
    points["ambient_pressure"] = draw.uniform(60e3, 103e3, amount)
    for column, low, high in (("throttle_area", 0.1, 2.0), ("inlet_area", 0.1, 2.0), ("leakage_area", 0.1, 4.0)):
        points[column] *= draw.uniform(low, high, amount)
    return points


def scipy_match(points: Any) -> Any:
    """The same points by scipy's hybrid Powell method, on two residuals from our own compiled chain."""
    states = np.zeros(points.shape, MATCH_STATE)
    for point, state in zip(points, states, strict=True):
        kernel._start(point, state)
        scale = np.array([kernel._displaced_flow(point)] * 2)

        def residuals(x: Any, point: Any = point, state: Any = state, scale: Any = scale) -> Any:
            kernel._deliver(point, state, 0.0, x[1] * point["ambient_pressure"], x[0])
            kernel._cool(point, state)
            demand = kernel._engine_demand(point, state)
            m = state["air_mass_flow"]
            return np.array([m - state["blower_mass_flow"], m - demand]) / scale

        start = [state["throttle_coordinate"], state["blower_outlet_pressure"] / point["ambient_pressure"]]
        root(residuals, start, options={"xtol": 1e-9})
    return states


def cycle_match(amount: int) -> object:
    """So many speeds of one build with its engine over the crank angle."""
    return matched_with(build_points(BUILD, np.linspace(2000, 6000, amount) / 60, AIR), [CYCLE])


def second_process() -> tuple[float, float]:
    """Wall and processor time of a new process that reads a build and matches it, its kernels in the cache [s]."""
    code = (
        "import numpy as np\n"
        "from boostwright.machine.build import build_of\n"
        "from boostwright.machine.operating_point import ambient_air, build_points, matched\n"
        "from boostwright.records.build_file import read_build_file\n"
        "from boostwright.records.examples import example_folder\n"
        "build = build_of(read_build_file(example_folder('inlet-elbow') / 'builds' / 'cast.toml'))\n"
        "matched(build_points(build, np.linspace(2000, 6000, 40) / 60, ambient_air(1e5, 298.15, 0.4)))\n"
    )
    times: list[tuple[float, float]] = []
    for _ in range(5):
        begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", code], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        times.append((time.perf_counter() - begun, spent))
    return min(times)


def main() -> int:
    points, few = random_points(POINTS), random_points(SCIPY_POINTS)
    each = best(lambda: matched(points), 15) / POINTS
    operating = matched(points)
    by_scipy = best(lambda: scipy_match(few), 2) / SCIPY_POINTS
    found, ours = scipy_match(few), matched(few)
    agree = np.abs(found["blower_outlet_pressure"] / ours["blower_outlet_pressure"] - 1) < 1e-6
    times = {amount: best(lambda n=amount: cycle_match(n), 9) for amount in (40, 80, 160, 320)}
    wall, spent = second_process()
    solved = f"{int(operating.is_matched.sum())} of {POINTS} random points solved"
    print(f"slip-law match         {1e6 * each:.2f} us a point; {solved}")
    print(f"                       largest flow residual {np.abs(operating['flow_residual']).max():.1e}")
    print(f"scipy root, same chain {1e6 * by_scipy:.0f} us a point: {by_scipy / each:.0f} times as long;", end=" ")
    print(f"it finds {agree.sum()} of {SCIPY_POINTS}")
    shown = ", ".join(f"{amount}: {1e3 * seconds:.0f} ms" for amount, seconds in times.items())
    print(f"with the engine cycle  {shown} (growth 40 to 320: {times[320] / times[40]:.1f} for 8)")
    print(
        f"second process         {wall:.2f} s by the clock, {spent:.2f} s of processor, to the end of its first match"
    )
    missed = each > 4e-6 or not operating.is_matched.all() or times[40] > 0.060 or spent > 1.5
    return 1 if missed and "--budget" in sys.argv[1:] else 0


if __name__ == "__main__":
    sys.exit(main())

"""Solve random cycles with scipy at 1e-10 and keep them for tests: python -m benchmarks.cycle_reference [count].

Rows that the file already has are kept; the equations are those of tests/machine/cycle_reference.py.
"""

import csv
import sys
from dataclasses import fields, replace

import numpy as np

from boostwright.machine.cycle import run_cycles
from tests.machine.cycle_points import OUTCOMES, RANGES, REFERENCE, point_set, random_rows
from tests.machine.cycle_reference import periodic_reference

TITLE = "Reference solutions of the engine cycle: benchmarks/cycle_reference.py, scipy DOP853 and Radau at rtol 1e-10."


def scalar(noun):
    """The first of the cases that a noun holds."""
    values = {f.name: getattr(noun, f.name) for f in fields(noun) if f.name != "fuel"}
    return replace(noun, **{name: float(np.ravel(value)[0]) for name, value in values.items()})


def solved(row):
    points = point_set([row], {})
    engine, conditions = scalar(points.engine), scalar(points.conditions)
    outcome = periodic_reference(engine, conditions, 1e-10, 30)
    cycle = run_cycles(engine, conditions)
    reference = dict(zip(OUTCOMES, outcome[: len(OUTCOMES)], strict=True))
    print(
        row[0], *(f"{name} {float(getattr(cycle, name)) / reference[name] - 1:+.1e}" for name in OUTCOMES), flush=True
    )
    return [*row, *(repr(float(reference[name])) for name in OUTCOMES)]


def main(count):
    rows = random_rows(count)
    if not REFERENCE.exists():
        with REFERENCE.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([[TITLE], ["fuel", *RANGES, *OUTCOMES]])
    done = len(REFERENCE.read_text(encoding="utf-8").splitlines()) - 2
    for row in rows[done:]:
        line = solved(row)
        with REFERENCE.open("a", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerow(line)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 512)

"""How fast the engine cycle is, against a Cantera reactor network and scipy: `python -m benchmarks.cycle_speed`.

512 random engines and conditions go through `run_cycles`, tables and all; a few of them through the others. Times are
processor times of one core, best of several runs, because other work on the machine stretches the clock. The network
is of air alone and burns by a wall; it takes as many cycles as ours, or as many as it needs by itself to come to rest.
`--budget` ends with status 1 where a figure is missed.
"""

import math
import sys
import time

import numpy as np

from benchmarks.cycle_reference import scalar
from benchmarks.timing import best
from boostwright.machine import cycle_repeat
from boostwright.machine.cycle import COARSE_STEPS, STEPS, flat, run_cycles
from boostwright.machine.cycle_setup import charges_of, cycle_blocks
from tests.machine.cycle_cantera import EngineNetwork
from tests.machine.cycle_points import point_set, random_rows
from tests.machine.cycle_reference import periodic_reference, reference_case

CASES, OTHERS = 512, 4
DEGREE = math.pi / 180
SAMPLE = 2 * DEGREE  # at which the network is looked at; finer costs it more
AT_REST = 1e-6  # relative change of the trapped mass from cycle to cycle
CANTERA_RATIO, SCIPY_RATIO = 400, 2000


def timed(work):
    begun = time.process_time()
    result = work()
    return time.process_time() - begun, result


def cycles_taken(points):
    """Full and coarse cycles of the batch, a coarse one counted by its steps, per case."""
    engine, conditions = flat(points.engine, (CASES,)), flat(points.conditions, (CASES,))
    blocks = cycle_blocks(engine, conditions, charges_of(conditions))
    count = sum(cycle_repeat.repeat_cycle(block, COARSE_STEPS, STEPS) for block in blocks) / len(blocks)
    coarse = cycle_repeat.COARSE_CYCLES
    return count - coarse + coarse * COARSE_STEPS.sum() / STEPS.sum(), count


def network_times(engine, conditions, cycles):
    """Processor time of the network for so many cycles, and until it is at rest."""
    case, _, _ = reference_case(engine, conditions)
    network = EngineNetwork(case._replace(heat=2.4e6), 1e-6)
    total, trapped, fixed = 0.0, 0.0, math.nan
    for number in range(1, 40):
        spent, result = timed(lambda: network.cycle(SAMPLE))
        total += spent
        fixed = total if number == cycles else fixed
        if abs(result.trapped_mass / trapped - 1 if trapped else 1.0) < AT_REST and number >= cycles:
            break
        trapped = result.trapped_mass
    return fixed, total


def main(budget):
    points = point_set([["E10", *row[1:]] for row in random_rows(CASES)], {})
    ours = best(lambda: run_cycles(points.engine, points.conditions), 7) / CASES
    full, count = cycles_taken(points)
    print(f"run_cycles: {1 / ours:.0f} cases/s, {ours * 1e6:.1f} us a case; {count:.1f} cycles, the work of {full:.1f}")
    singles = [point_set([["E10", *row[1:]]], {}) for row in random_rows(CASES)[: 64 * OTHERS : 64]]
    cases = [(scalar(single.engine), scalar(single.conditions)) for single in singles]
    same, rest = np.mean([network_times(*case, round(count)) for case in cases], axis=0)
    print(f"Cantera, as many cycles: {1 / same:.2f} cases/s, ratio {same / ours:.0f}; to rest: {rest / ours:.0f}")
    periodic_reference(*cases[0], 1e-6, 30)
    scipy = np.mean([timed(lambda case=case: periodic_reference(*case, 1e-6, 30))[0] for case in cases])
    print(f"scipy at rtol 1e-6: {1 / scipy:.2f} cases/s, ratio {scipy / ours:.0f}")
    return budget and (same / ours < CANTERA_RATIO or scipy / ours < SCIPY_RATIO)


if __name__ == "__main__":
    sys.exit(main("--budget" in sys.argv))

"""Designs by an optimiser: generations of a differential evolution, then steps around the best design."""

from collections.abc import Callable, Iterable
from typing import Any, TypeAlias, cast

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import differential_evolution
from scipy.stats import qmc

from boostwright.studies.vary import VaryStudy
from boostwright.studies.vary_result import DesignScores, VaryGoal, scores_of, verdicts

Floats: TypeAlias = NDArray[np.float64]
TablesOf = Callable[[Floats], Iterable[pl.DataFrame]]

LEAST_GENERATION, DESIGNS_A_KEY = 8, 5
OVERDRAWN = 1e3  # kW that a limit overdrawn by all of itself is said to cost
COMPASS_SHARE, FIRST_STEP = 0.3, 0.12  # of the designs, of a range
NOT_POSSIBLE = 1e6  # kW


def generation_size(study: VaryStudy) -> int:
    """Designs that are matched together."""
    return max(LEAST_GENERATION, DESIGNS_A_KEY * len(study.variations))


def search_designs(
    study: VaryStudy,
    goal: VaryGoal,
    design_count: int,
    tables_of: TablesOf,
    present: DesignScores,
    generator: np.random.Generator,
) -> None:
    """Look for the best design with about so many of them; `tables_of` matches some, and keeps what it wants.

    The first generation is a Latin hypercube; the last designs are steps around the best one. What overdraws a limit
    or an allowed loss is charged for it in proportion, so that the search finds its way back. The same seed asks for
    the same designs in the same order.
    """
    low = np.array([variation.low for variation in study.variations])
    reach = np.array([variation.high for variation in study.variations]) - low
    size = generation_size(study)

    def charges(shares: Floats) -> Floats:
        designs = low + np.atleast_2d(shares.T) * reach
        scores = scores_of(study, goal, tables_of(designs))
        verdict = verdicts(goal, scores, present)
        gain = np.where(scores.is_possible, verdict.gain.value, 0.0)
        excess = np.where(np.isfinite(verdict.excess), verdict.excess * OVERDRAWN, NOT_POSSIBLE)
        return excess - gain

    keys = len(study.variations)
    for_compass = round(COMPASS_SHARE * design_count)
    start = qmc.LatinHypercube(d=keys, rng=generator).random(size)
    found = differential_evolution(
        charges,
        [(0.0, 1.0)] * keys,
        init=cast(Any, start),
        maxiter=max(1, (design_count - for_compass) // size - 1),
        mutation=(0.4, 0.9),
        recombination=0.8,
        updating="deferred",
        vectorized=True,
        polish=False,
        tol=1e-3,
        rng=generator,
    )
    _compass(charges, np.asarray(found.x), float(found.fun), max(1, for_compass // (2 * keys)))


def _compass(charges: Callable[[Floats], Floats], at: Floats, least: float, rounds: int) -> None:
    """Steps along each number from the best design, to the ends if need be, and shorter ones where none is better."""
    step = FIRST_STEP
    for _ in range(rounds):
        moves = np.vstack([np.eye(at.size), -np.eye(at.size)]) * step
        trials = np.clip(at + moves, 0.0, 1.0)
        charged = charges(trials.T)
        place = int(np.argmin(charged))
        if charged[place] < least:
            at, least = trials[place], float(charged[place])
        else:
            step *= 0.4

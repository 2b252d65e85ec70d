"""Running a study of designs: what is stored already is not done again, the rest is given to workers and stored."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright import __version__
from boostwright.machine.fitted_blower import BlowerFactors
from boostwright.records.chunk_store import ChunkStore
from boostwright.studies.vary import Chunk, Search, VaryStudy, chunks, grid_designs, latin_designs
from boostwright.studies.vary_result import (
    VaryGoal,
    VaryResult,
    columns_of,
    scores_of,
    shown_design,
    vary_result,
    verdicts,
)
from boostwright.studies.vary_search import generation_size, search_designs
from boostwright.studies.workers import Workers

Floats: TypeAlias = NDArray[np.float64]
Advance = Callable[[int], None]  # so many more designs are done

SEED = 20260413
ROWS_A_BLOCK = 200_000  # of the finished table that are in memory at one time


def study_digest(study: VaryStudy, plan: str) -> str:
    """The name of a study: another build, range, weather, set, plan of designs or version has another one."""
    sets = study.sets
    named = hashlib.sha256()
    file = study.build_file
    said = (
        __version__,
        plan,
        sorted(file.numbers.items()),
        sorted(file.words.items()),
        sorted(file.tables),
        file.volumetric_efficiency_curve,
        [(v.key_path, v.unit.symbol, v.low, v.high, v.steps, v.present) for v in study.variations],
        study.engine_speed,
        study.ambient,
        study.blower_form,
        study.corrected_speeds,
        study.is_calibrated,
        study.limit_names,
        study.chunk_size,
        sets.reference_geometry,
        sets.geometries,
        [_factors_said(factors) for factors in sets.blower_factors],
    )
    named.update(repr(said).encode("utf-8"))
    named.update(np.ascontiguousarray(sets.reference_points).tobytes())
    named.update(np.ascontiguousarray(sets.points).tobytes())
    return named.hexdigest()


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A study with the way in which its designs are chosen; `digest` is its name in the store of its results.

    An optimiser's designs hang on its goal and on how many it may ask for; on a grid any goal may be asked afterwards.
    """

    study: VaryStudy
    goal: VaryGoal
    search: Search
    design_count: int

    @property
    def digest(self) -> str:
        """The name of the study with this plan."""
        chosen = (self.search.value, self.design_count, self.goal if self.search is Search.OPTIMISE else "", SEED)
        return study_digest(self.study, repr(chosen))

    @property
    def title(self) -> str:
        """What a person reads of it where its portions are kept."""
        varied = ", ".join(variation.key_path for variation in self.study.variations)
        return f"{self.search.value} over {varied} of {self.study.build_file.name}"

    @property
    def most_designs(self) -> int:
        """Designs that are matched at most, the build as it stands among them."""
        least = 3 * generation_size(self.study) if self.search is Search.OPTIMISE else 1
        return 1 + max(least, self.design_count)

    @property
    def chunk_count(self) -> int:
        """Portions that can be worked on side by side."""
        together = generation_size(self.study) if self.search is Search.OPTIMISE else self.design_count
        return max(1, -(-together // self.study.chunk_size))


def _factors_said(factors: BlowerFactors) -> list[object]:
    return [np.asarray(getattr(factors, field.name)).tolist() for field in fields(factors)]


def run_plan(plan: Plan, store: ChunkStore, workers: Workers, advance: Advance) -> None:
    """Match what the plan asks for, and leave one finished file of it."""
    study, generator = plan.study, np.random.default_rng(SEED)
    if plan.search is Search.OPTIMISE:
        run_search(study, plan.goal, plan.design_count, store, workers, advance, generator)
    elif plan.search is Search.LATIN:
        run_designs(study, latin_designs(study.variations, plan.design_count, generator), store, workers, advance)
    else:
        run_designs(study, grid_designs(study.variations), store, workers, advance)


def run_designs(study: VaryStudy, designs: Floats, store: ChunkStore, workers: Workers, advance: Advance) -> None:
    """Match these designs and the build as it stands, and leave one finished file of them."""
    work = [*chunks(study, study.present, 0), *chunks(study, designs, 1)]
    _do(work, store, workers, advance)
    store.finish(chunk.first for chunk in work)


def run_search(
    study: VaryStudy,
    goal: VaryGoal,
    design_count: int,
    store: ChunkStore,
    workers: Workers,
    advance: Advance,
    generator: np.random.Generator,
) -> None:
    """Let the optimiser choose about so many designs; after an interruption it asks for the same ones again."""
    done: list[Chunk] = []

    def tables_of(designs: Floats) -> list[pl.DataFrame]:
        last = done[-1] if done else None
        work = chunks(study, designs, 0 if last is None else last.first + len(last.designs))
        _do(work, store, workers, advance)
        done.extend(work)
        return [store.read(chunk.first) for chunk in work]

    present = scores_of(study, goal, tables_of(study.present))
    search_designs(study, goal, design_count, tables_of, present, generator)
    store.finish(chunk.first for chunk in done)


def _do(work: list[Chunk], store: ChunkStore, workers: Workers, advance: Advance) -> None:
    known = store.known()
    amounts = {chunk.first: len(chunk.designs) for chunk in work}
    if had := sum(amounts[first] for first in known & set(amounts)):
        advance(had)
    for number, data in workers.results([chunk for chunk in work if chunk.first not in known]):
        store.save(number, data)
        advance(amounts[number])


def result_of(study: VaryStudy, goal: VaryGoal, store: ChunkStore) -> VaryResult:
    """What the finished file says for a goal; another goal may be asked of the same file."""
    rows = max(1, ROWS_A_BLOCK // study.rows_a_design) * study.rows_a_design
    scores = scores_of(study, goal, store.blocks(columns_of(study), rows))
    row = shown_design(verdicts(goal, scores, scores))
    wanted = [0] if row is None else [0, int(scores.numbers[row])]
    curves = pl.concat(
        block.filter(pl.col("design").is_in(wanted)) for block in store.blocks(["design", "brake_power_kw"], rows)
    )
    return vary_result(study, goal, scores, curves)

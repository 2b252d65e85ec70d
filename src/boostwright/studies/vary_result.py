"""What a study of designs says: which is best for the goal, by how much, how surely, and inside which limits."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import stdtrit

from boostwright.inference.posterior_draws import SPREAD_FACTOR
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.vary import LIMIT_COLUMN, VaryStudy
from boostwright.studies.words import NO_BREAK, count, joined, number, signed_plus_minus, speed_span_text, speed_text
from boostwright.units import printed_symbol

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]

CONFIDENCE = 0.95
LISTED = 10  # designs in a table
_POWER = "brake_power_kw"


@dataclass(frozen=True, kw_only=True)
class AllowedLoss:
    """What may be lost at one engine speed against the build as it stands: a share of its power, and so much more."""

    engine_speed: float
    share: float
    power: float


@dataclass(frozen=True, kw_only=True)
class VaryGoal:
    """What is wanted: power at a speed, or on average where none is named; losses allowed; chance of a limit borne."""

    objective_speed: float | None
    allowed_losses: tuple[AllowedLoss, ...]
    risk: float


@dataclass(frozen=True, kw_only=True)
class DesignScores:
    """Designs against a goal, one a row; what differs from set to set has the sets along its second axis.

    The first row is the build as it stands. `objective` [kW] and `losses` (designs, allowed losses, 1 + sets) [kW]
    hold in their first place what the design is taken to be. `used` (designs, limits) is how much of each limit is used
    in all but the share of sets that may exceed it, and `chances` in what share of sets it is exceeded.
    """

    numbers: NDArray[np.int64]
    designs: Floats
    objective: Floats
    losses: Floats
    used: Floats
    chances: Floats
    is_covered: Flags
    reasons: tuple[str, ...]

    @property
    def is_possible(self) -> Flags:
        """Whether there is an operating point at every speed in every set."""
        return np.asarray(np.isfinite(self.objective).all(axis=1))


def scores_of(study: VaryStudy, goal: VaryGoal, tables: Iterable[pl.DataFrame]) -> DesignScores:
    """Scores of tables of whole designs, one table after another: only one of them need be in memory."""
    parts = [_scores(study, goal, table) for table in tables]

    def along(name: str) -> Any:
        return np.concatenate([getattr(part, name) for part in parts])

    return DesignScores(
        **{
            name: along(name) for name in ("numbers", "designs", "objective", "losses", "used", "chances", "is_covered")
        },
        reasons=tuple(reason for part in parts for reason in part.reasons),
    )


def columns_of(study: VaryStudy) -> list[str]:
    """The columns that scores are made of."""
    varied = [variation.column for variation in study.variations]
    limits = [LIMIT_COLUMN + name for name in study.limit_names]
    return ["design", *varied, _POWER, "within_range", *limits, "reason"]


def _scores(study: VaryStudy, goal: VaryGoal, table: pl.DataFrame) -> DesignScores:
    shape = (-1, 1 + study.sets.set_count, len(study.engine_speed))

    def cube(name: str) -> Floats:
        return table[name].to_numpy().astype(np.float64).reshape(shape)

    first = table.gather_every(study.rows_a_design)
    power, speeds = cube(_POWER), np.asarray(study.engine_speed)
    places = [int(np.argmin(np.abs(speeds - loss.engine_speed))) for loss in goal.allowed_losses]
    largest = [_largest(cube(LIMIT_COLUMN + name)) for name in study.limit_names]
    over = np.array([_drawn(share) for share in largest]).reshape(len(largest), len(power), -1)
    uses = np.array([_quantile(share, 1.0 - goal.risk) for share in over]).reshape(len(largest), len(power))
    return DesignScores(
        numbers=first["design"].to_numpy().astype(np.int64),
        designs=np.stack(
            [variation.unit.to_si(first[variation.column].to_numpy()) for variation in study.variations], axis=1
        ),
        objective=np.einsum("dsk,k->ds", power, objective_weights(study, goal)),
        losses=np.stack([power[:, :, place] for place in places], axis=1)
        if places
        else np.zeros((len(power), 0, shape[1])),
        used=uses.T,
        chances=_shares_over(over).T,
        is_covered=np.asarray((cube("within_range") >= 1.0).all(axis=(1, 2))),
        reasons=tuple(first["reason"].to_list()),
    )


def _shares_over(shares: Floats) -> Floats:
    """Share of the sets, along the last axis, that lie over the limit; unknown where none is known."""
    known = (~np.isnan(shares)).sum(axis=-1)
    return np.divide((shares > 1.0).sum(axis=-1), known, out=np.full(known.shape, np.nan), where=known > 0)


def objective_weights(study: VaryStudy, goal: VaryGoal) -> Floats:
    """What the power at each speed counts for: all at one speed, or evenly over the range."""
    speeds = np.asarray(study.engine_speed)
    if goal.objective_speed is not None:
        chosen = np.zeros(speeds.size)
        chosen[int(np.argmin(np.abs(speeds - goal.objective_speed)))] = 1.0
        return chosen
    if speeds.size == 1:
        return np.ones(1)
    steps = np.diff(speeds)
    return (np.append(steps, 0.0) + np.insert(steps, 0, 0.0)) / (2.0 * (speeds[-1] - speeds[0]))


def _largest(shares: Floats) -> Floats:
    """Largest over the speeds; NaN where nothing was matched."""
    return np.where(np.isnan(shares).all(axis=2), np.nan, np.nanmax(np.nan_to_num(shares, nan=-np.inf), axis=2))


def _drawn(shares: Floats) -> Floats:
    """What the sets say, or, where none is carried, what the design is taken to be."""
    return shares[:, 1:] if shares.shape[1] > 1 else shares


def _quantile(shares: Floats, level: float) -> Floats:
    known = ~np.isnan(shares).any(axis=1)
    found = np.full(len(shares), np.nan)
    if known.any():
        found[known] = np.quantile(np.minimum(shares[known], 1e6), level, axis=1)
    return found


@dataclass(frozen=True, kw_only=True)
class Ranged:
    """A mean over the sets with the 95 % range of one more set like them."""

    value: Floats
    lower: Floats
    upper: Floats


def ranged(draws: Floats, spread_factor: float = 1.0) -> Ranged:
    """Mean and range over the last axis, by Student's t of so few sets; without sets there is no range.

    `spread_factor` is by how much wider the truth spreads than the draws do.
    """
    amount = draws.shape[-1]
    value = draws.mean(axis=-1)
    if amount < 2:
        return Ranged(value=value, lower=np.full(value.shape, np.nan), upper=np.full(value.shape, np.nan))
    few = spread_factor * stdtrit(amount - 1, 0.5 + CONFIDENCE / 2.0)
    reach = few * draws.std(axis=-1, ddof=1) * np.sqrt(1.0 + 1.0 / amount)
    return Ranged(value=value, lower=value - reach, upper=value + reach)


@dataclass(frozen=True, kw_only=True)
class Verdicts:
    """Designs held against a goal, one a row: what each gains, and whether it keeps to what was asked.

    `gain` [kW] is against the build as it stands, set by set.
    """

    gain: Ranged
    level: Ranged
    is_allowed: Flags
    excess: Floats


def verdicts(goal: VaryGoal, scores: DesignScores, present: DesignScores, spread_factor: float = 1.0) -> Verdicts:
    """Gain over the build as it stands, the first row of `present`, and whether limits and allowed losses are kept.

    `excess` is by how much limits and losses are overdrawn, as shares; nothing where they are kept.
    """
    objective, standing = _drawn(scores.objective), _drawn(present.objective)[0]
    lost = _excess_loss(goal, scores, present)
    over = np.maximum(np.nan_to_num(scores.used, nan=np.inf) - 1.0, 0.0)
    excess = over.sum(axis=1) + lost.sum(axis=1)
    return Verdicts(
        gain=ranged(objective - standing, spread_factor),
        level=ranged(objective, spread_factor),
        is_allowed=scores.is_possible & (excess <= 0.0),
        excess=np.where(scores.is_possible, excess, np.inf),
    )


def _excess_loss(goal: VaryGoal, scores: DesignScores, present: DesignScores) -> Floats:
    """How much more than allowed is lost on average over the sets, as a share of the power as it stands."""
    excess = np.zeros((len(scores.designs), len(goal.allowed_losses)))
    for place, allowed in enumerate(goal.allowed_losses):
        standing = (
            float(present.losses[0, place, 1:].mean())
            if present.losses.shape[2] > 1
            else float(present.losses[0, place, 0])
        )
        now = scores.losses[:, place, 1:] if scores.losses.shape[2] > 1 else scores.losses[:, place]
        loss = standing - now.mean(axis=1)
        room = allowed.share * standing + allowed.power / 1e3
        excess[:, place] = np.nan_to_num(np.maximum(loss - room, 0.0) / standing, nan=np.inf)
    return excess


@dataclass(frozen=True, kw_only=True)
class VaryResult:
    """A study of designs: all of them against the goal, the best one, and its curve beside that of the build.

    `best` is its row, or nothing where no design keeps to what was asked; then `nearest` is the one that comes nearest.
    `not_worse` counts the other allowed designs of which the sets do not show that they gain less than the best.
    """

    study: VaryStudy
    goal: VaryGoal
    scores: DesignScores
    verdicts: Verdicts
    best: int | None
    nearest: int | None
    not_worse: int
    present_power: Ranged
    shown_power: Ranged
    shown_gain: Ranged
    headline: str
    warnings: tuple[str, ...]

    @property
    def shown(self) -> int | None:
        """The row whose curve is shown: the best one, or the nearest."""
        return self.nearest if self.best is None else self.best

    def as_json(self) -> dict[str, object]:
        """The result as JSON; each key carries its unit."""
        return _as_json(self)


def vary_result(study: VaryStudy, goal: VaryGoal, scores: DesignScores, curves: pl.DataFrame) -> VaryResult:
    """The result of scored designs; `curves` holds the build as it stands and the shown design."""
    spread = SPREAD_FACTOR if study.is_calibrated else 1.0
    verdict = verdicts(goal, scores, scores, spread)
    best, nearest = best_design(verdict), _nearest(verdict)
    shown = nearest if best is None else best
    present, chosen = (_curve(study, curves, scores, row) for row in (0, shown or 0))
    return VaryResult(
        study=study,
        goal=goal,
        scores=scores,
        verdicts=verdict,
        best=best,
        nearest=nearest,
        not_worse=0 if best is None else _not_worse(scores, verdict, best, spread),
        present_power=ranged(present, spread),
        shown_power=ranged(chosen, spread),
        shown_gain=ranged(chosen - present, spread),
        headline=_headline(study, goal, scores, verdict, best, nearest),
        warnings=tuple(_warnings(study, goal, scores, verdict, shown)),
    )


def best_design(verdict: Verdicts) -> int | None:
    """The row of the allowed design with the most gain; the build as it stands, row 0, is not one of them."""
    gain = np.where(verdict.is_allowed, verdict.gain.value, -np.inf)
    gain[0] = -np.inf
    best = int(np.argmax(gain))
    return best if np.isfinite(gain[best]) else None


def _nearest(verdict: Verdicts) -> int | None:
    """The row of the possible design that overdraws limits and losses least."""
    excess = verdict.excess.copy()
    excess[0] = np.inf
    nearest = int(np.argmin(excess))
    return nearest if np.isfinite(excess[nearest]) else None


def shown_design(verdict: Verdicts) -> int | None:
    """The row whose curve is worth showing."""
    best = best_design(verdict)
    return _nearest(verdict) if best is None else best


def _not_worse(scores: DesignScores, verdict: Verdicts, best: int, spread_factor: float) -> int:
    objective = _drawn(scores.objective)
    behind = ranged(objective[best] - objective, spread_factor)
    close = verdict.is_allowed & ~(behind.lower > 0.0)
    close[[0, best]] = False
    return int(close.sum())


def _curve(study: VaryStudy, curves: pl.DataFrame, scores: DesignScores, row: int) -> Floats:
    """Power of one design over speed, (speeds, sets). [kW]"""
    own = curves.filter(pl.col("design") == int(scores.numbers[row]))[_POWER].to_numpy()
    return _drawn(own.reshape(1, 1 + study.sets.set_count, -1))[0].T


def design_text(study: VaryStudy, values: Floats) -> str:
    """A design as a person says it: every varied key with its value and unit."""
    said = [
        f"{v.key_path} {float(v.unit.from_si(value)):.4g}{NO_BREAK}{printed_symbol(v.unit)}".replace(
            f"{NO_BREAK}°", "°"
        ).rstrip()
        for v, value in zip(study.variations, values, strict=True)
    ]
    return joined(said)


def objective_text(study: VaryStudy, goal: VaryGoal) -> str:
    """What was asked for, as a person says it."""
    if goal.objective_speed is not None:
        return f"power at {speed_text(goal.objective_speed)} rev/min"
    return f"power averaged over {speed_span_text(study.engine_speed[0], study.engine_speed[-1])}"


def sets_text(study: VaryStudy) -> str:
    """What the range is the range of."""
    sets = count(study.sets.set_count, "set")
    if study.is_calibrated:
        return f"{sets} of parameters that fit the pulls"
    return f"{sets} of what nobody has measured, drawn from their documented ranges"


def gain_text(gain: Ranged, row: int) -> str:
    """A gain with its range, in kW."""
    half = float(gain.upper[row] - gain.value[row])
    return signed_plus_minus(float(gain.value[row]), half, "kW")


def _headline(
    study: VaryStudy, goal: VaryGoal, scores: DesignScores, verdict: Verdicts, best: int | None, nearest: int | None
) -> str:
    amount = count(len(scores.designs) - 1, "design")
    if best is None:
        if nearest is None:
            first = next((reason for reason in scores.reasons[1:] if reason), "there is no operating point")
            return f"None of {amount} is possible: {first}."
        kept = f"None of {amount} keeps all limits and losses as asked; {_overdrawn(study, goal, scores, nearest)}."
        return f"{kept} Nearest comes {design_text(study, scores.designs[nearest])}."
    return (
        f"Best of {amount}: {design_text(study, scores.designs[best])}, {gain_text(verdict.gain, best)} of "
        f"{objective_text(study, goal)} against the build as it stands."
    )


def _overdrawn(study: VaryStudy, goal: VaryGoal, scores: DesignScores, row: int) -> str:
    """What the nearest design overdraws."""
    said = [
        f"{name} is exceeded in {number(100.0 * chance)} % of the sets"
        for name, use, chance in zip(study.limit_names, scores.used[row], scores.chances[row], strict=True)
        if not use <= 1.0
    ]
    lost = _excess_loss(goal, scores, scores)[row]
    said += [
        f"more is lost at {speed_text(loss.engine_speed)} rev/min than allowed"
        for loss, excess in zip(goal.allowed_losses, lost, strict=True)
        if excess > 0.0
    ]
    return f"in the nearest {joined(said)}" if said else "none is possible at all speeds"


def _warnings(
    study: VaryStudy, goal: VaryGoal, scores: DesignScores, verdict: Verdicts, shown: int | None
) -> Iterable[str]:
    impossible = ~scores.is_possible[1:]
    if impossible.any():
        reason = next((said for said in scores.reasons[1:] if said), "no operating point at some speed in some set")
        yield f"{count(int(impossible.sum()), 'design is', 'designs are')} not possible: {reason}."
    if verdict.is_allowed.size and not verdict.is_allowed[0]:
        yield f"The build as it stands does not keep to what was asked: {_overdrawn(study, goal, scores, 0)}."
    if shown is not None and not scores.is_covered[shown]:
        yield "The design shown runs outside what its blower form or map knows at some speed, in some set."
    if shown is not None and (ends := _at_ends(study, scores.designs[shown])):
        yield f"The design shown lies at an end of what was varied: {joined(ends)}."
    if study.has_chambers and not study.is_calibrated:
        yield (
            "The inertia of the inlet port is known to a factor of two either way until it is calibrated on the "
            "existing casting: sign and shape of a gain are firmer than its size."
        )
    yield "What the model itself leaves out is not in the ranges."


def _at_ends(study: VaryStudy, values: Floats) -> list[str]:
    near = 1e-3
    return [
        v.key_path
        for v, value in zip(study.variations, values, strict=True)
        if min(value - v.low, v.high - value) <= near * (v.high - v.low)
    ]


def _as_json(result: VaryResult) -> dict[str, object]:
    study, scores, verdict = result.study, result.scores, result.verdicts
    allowed = np.where(verdict.is_allowed, verdict.gain.value, -np.inf)
    order = [int(row) for row in np.argsort(-allowed, kind="stable") if np.isfinite(allowed[row]) and row > 0]
    return {
        "headline": result.headline,
        "objective": objective_text(study, result.goal),
        "unit": "kW",
        "risk": result.goal.risk,
        "confidence": CONFIDENCE,
        "blower_form": study.blower_form,
        "sets": study.sets.set_count,
        "sets_from": "calibrated on pulls" if study.is_calibrated else "documented ranges",
        "designs": len(scores.designs) - 1,
        "designs_possible": int(scores.is_possible[1:].sum()),
        "designs_allowed": int(verdict.is_allowed[1:].sum()),
        "not_worse_than_best": result.not_worse,
        "varied": [
            {
                "key": v.key_path,
                "unit": v.unit.symbol,
                "low": json_number(float(v.unit.from_si(v.low))),
                "high": json_number(float(v.unit.from_si(v.high))),
                "present": json_number(float(v.unit.from_si(v.present))),
            }
            for v in study.variations
        ],
        "present": _design_json(result, 0),
        "best": None if result.best is None else _design_json(result, result.best),
        "nearest": None if result.best is not None or result.nearest is None else _design_json(result, result.nearest),
        "best_designs": [_design_json(result, row) for row in order[:LISTED]],
        "curve": {
            "engine_speed_rpm": json_list(60.0 * np.asarray(study.engine_speed)),
            **_ranged_json("present_power_kw", result.present_power),
            **_ranged_json("power_kw", result.shown_power),
            **_ranged_json("gain_kw", result.shown_gain),
        },
        "warnings": list(result.warnings),
    }


def _ranged_json(name: str, band: Ranged) -> dict[str, object]:
    parts = ((name, band.value), (f"{name}_lower", band.lower), (f"{name}_upper", band.upper))
    return {key: json_list(values) for key, values in parts}


def _design_json(result: VaryResult, row: int) -> dict[str, object]:
    study, scores, verdict = result.study, result.scores, result.verdicts
    used, chances = scores.used[row], scores.chances[row]
    gain, level = verdict.gain, verdict.level
    return {
        "design": int(scores.numbers[row]),
        "values": {
            v.key_path: json_number(float(v.unit.from_si(x)))
            for v, x in zip(study.variations, scores.designs[row], strict=True)
        },
        "power_kw": json_number(float(level.value[row])),
        "power_kw_lower": json_number(float(level.lower[row])),
        "power_kw_upper": json_number(float(level.upper[row])),
        "gain_kw": json_number(float(gain.value[row])),
        "gain_kw_lower": json_number(float(gain.lower[row])),
        "gain_kw_upper": json_number(float(gain.upper[row])),
        "is_allowed": bool(verdict.is_allowed[row]),
        "limits": [
            {
                "name": name,
                "used_percent": json_number(100.0 * float(use)),
                "chance_of_exceeding": json_number(float(chance)),
            }
            for name, use, chance in zip(study.limit_names, used, chances, strict=True)
        ],
    }


def shown_rows(result: VaryResult, amount: int) -> Sequence[int]:
    """Rows of the allowed designs with the most gain, the best first; without any, those that overdraw least."""
    verdict = result.verdicts
    allowed = np.flatnonzero(verdict.is_allowed[1:]) + 1
    if allowed.size:
        return [int(row) for row in allowed[np.argsort(-verdict.gain.value[allowed], kind="stable")][:amount]]
    possible = np.flatnonzero(np.isfinite(verdict.excess[1:])) + 1
    return [int(row) for row in possible[np.argsort(verdict.excess[possible], kind="stable")][:amount]]

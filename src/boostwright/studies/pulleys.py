"""Which pulley: boost, power and what gives first on each, and the largest ratio whose risk is still accepted.

Every pulley is tried on the same draws, at a reference and at a hot or high place. The chance of a pulley is that of
breaking any known limit at any of the speeds in either place; what nobody has stated is in no chance, and is said.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.build import Build
from boostwright.machine.operating_point import Ambient, OperatingPoints
from boostwright.studies.drawn_operation import DrawnOperation
from boostwright.studies.limit_curves import (
    CONFIDENCE,
    Estimate,
    LimitCurve,
    binding,
    first_crossing,
    limit_curves,
    not_known,
    worst_of_all,
)
from boostwright.studies.rounding import json_number
from boostwright.studies.words import joined, number, plus_minus, speed_text

Floats: TypeAlias = NDArray[np.float64]
OperationOf: TypeAlias = Callable[[Build, Ambient], DrawnOperation]

HOT_AIR = "95 kPa, 38 degC, 0.3"  # where nobody has said: a summer day at 500 m
RISK = 0.05
WORDS_OF = {"boost": ("boost", "kPa", 1e3), "brake_power": ("power", "kW", 1e3)}
_REFERENCE, _HOT, _BOTH = "reference", "hot", "both"
_WHERE = {_REFERENCE: "at the reference", _HOT: "in the hot place", _BOTH: "in both places alike"}


@dataclass(frozen=True, kw_only=True)
class PulleyTarget:
    """What is wanted at the target speed: `boost` or `brake_power`, in SI."""

    word: str
    value: float

    def __post_init__(self) -> None:
        if self.word not in WORDS_OF:
            raise ValueError(f"{self.word} is no target: ask for {' or '.join(WORDS_OF)}")

    @property
    def text(self) -> str:
        """The target with its unit."""
        word, unit, scale = WORDS_OF[self.word]
        return f"{self.value / scale:g} {unit} of {word}"


@dataclass(frozen=True, kw_only=True)
class PulleyQuestion:
    """What is asked of the pulleys: figures at one engine speed, two places, the risk that is accepted."""

    target_speed: float
    reference: Ambient
    hot: Ambient
    risk: float = RISK
    target: PulleyTarget | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.risk < 1.0:
            raise ValueError(f"risk {self.risk:g} must lie between 0 and 1: write 0.05 for one in twenty")


@dataclass(frozen=True, kw_only=True)
class Pulley:
    """One pulley that can be had: what it is called, and the build with it."""

    label: str
    build: Build

    @property
    def drive_ratio(self) -> float:
        """Turns of the blower's drive shaft per turn of the crank, nothing slipping."""
        return self.build.drive.drive_ratio


@dataclass(frozen=True, kw_only=True)
class PulleyPlace:
    """One pulley in one place: figures at the target speed, limits over all speeds, chance of breaking any of them."""

    boost: Estimate
    brake_power: Estimate
    rotor_speed: Estimate
    limits: tuple[LimitCurve, ...]
    worst: Floats
    unmatched: float

    @property
    def chance(self) -> float:
        """Share of the draws that break any known limit here."""
        return float(np.mean(self.worst > 1.0))

    @property
    def first_limit(self) -> LimitCurve | None:
        """The limit that is reached at the lowest speed, or if none is, the one that binds."""
        known = [curve for curve in self.limits if curve.is_known]
        reached = [curve for curve in known if math.isfinite(curve.reached_by_value)]
        if reached:
            return min(reached, key=lambda curve: (curve.reached_by_value, -curve.greatest.value))
        return binding(known)


@dataclass(frozen=True, kw_only=True)
class PulleyRow:
    """One pulley in both places."""

    pulley: Pulley
    reference: PulleyPlace
    hot: PulleyPlace

    @property
    def worst(self) -> Floats:
        """Greatest share of any known limit in either place, draw by draw."""
        return np.maximum(self.reference.worst, self.hot.worst)

    @property
    def chance(self) -> float:
        """Share of the draws that break any known limit in either place."""
        return float(np.mean(self.worst > 1.0))


@dataclass(frozen=True, kw_only=True)
class PulleyChart:
    """The pulleys by rising ratio, the one that is chosen, and why no larger ratio is.

    `largest_ratio` is where the risk is used up, between the pulleys: NaN if already the smallest ratio takes more, or
    if the largest one takes less.
    """

    question: PulleyQuestion
    rows: tuple[PulleyRow, ...]
    largest_ratio: float
    chosen: PulleyRow | None
    binding: LimitCurve | None
    binding_place: str
    sentence: str
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The chart as JSON; each key carries its unit."""
        target = self.question.target
        return {
            "engine_speed_rpm": json_number(60.0 * self.question.target_speed),
            "confidence": CONFIDENCE,
            "risk_percent": json_number(100.0 * self.question.risk),
            "target": None if target is None else _target_json(target),
            "reference": _air_json(self.question.reference),
            "hot": _air_json(self.question.hot),
            "pulleys": [self._row_json(row) for row in self.rows],
            "largest_drive_ratio": json_number(self.largest_ratio),
            "chosen_pulley": None if self.chosen is None else self.chosen.pulley.label,
            "binding_limit": None if self.binding is None else {"name": self.binding.name, "place": self.binding_place},
            "not_known": [{"name": curve.name, "needs": list(curve.needs)} for curve in self.unknown],
            "sentence": self.sentence,
            "warnings": list(self.warnings),
        }

    @property
    def unknown(self) -> tuple[LimitCurve, ...]:
        """The limits that nobody has stated."""
        return not_known(self.rows[0].reference.limits)

    def _row_json(self, row: PulleyRow) -> dict[str, Any]:
        driven = row.pulley.build.drive.driven_pulley
        return {
            "pulley": row.pulley.label,
            "driven_pulley_mm": None if driven is None else json_number(1e3 * driven),
            "drive_ratio": json_number(row.pulley.drive_ratio),
            "chance_percent": json_number(100.0 * row.chance),
            "within_risk": row.chance <= self.question.risk,
            _REFERENCE: _place_json(row.reference),
            _HOT: _place_json(row.hot),
        }


def pulley_chart(pulleys: Sequence[Pulley], operation_of: OperationOf, question: PulleyQuestion) -> PulleyChart:
    """Try every pulley in both places, and choose.

    Parameters
    ----------
    pulleys : sequence of Pulley
        Pulleys that can be had, in any order.
    operation_of : callable
        Makes a build work in the air of a place: drawn from its file (`DrawnBuild.operation`), or from a calibrated
        campaign (`operation_of_draws`). The draws must be the same ones in every call.
    question : PulleyQuestion
        Target speed, places, risk, and what is wanted.
    """
    rows = tuple(
        PulleyRow(
            pulley=pulley,
            reference=pulley_place(pulley.build, operation_of(pulley.build, question.reference), question.target_speed),
            hot=pulley_place(pulley.build, operation_of(pulley.build, question.hot), question.target_speed),
        )
        for pulley in sorted(pulleys, key=lambda pulley: pulley.drive_ratio)
    )
    chosen, wanted = _chosen(rows, question), _nearest(rows, question)
    first, place = _binding(rows, question)
    ratio = largest_ratio(rows, question.risk)
    return PulleyChart(
        question=question,
        rows=rows,
        largest_ratio=ratio,
        chosen=chosen,
        binding=first,
        binding_place=place,
        sentence=_sentence(rows, question, chosen, wanted, (first, place)),
        warnings=tuple(_warnings(rows)),
    )


def pulley_place(build: Build, operation: DrawnOperation, target_speed: float) -> PulleyPlace:
    """Figures and limits of one pulley in one place."""
    curves = limit_curves(build, operation)

    def at_target(values_of: Callable[[OperatingPoints], Floats]) -> Estimate:
        value = _at(operation.central, values_of, target_speed)
        draws = operation.spread(_at(operation.draws, values_of, target_speed))
        lower, upper = np.nanquantile(draws, [(1.0 - CONFIDENCE) / 2.0, (1.0 + CONFIDENCE) / 2.0])
        return Estimate(value=float(value), lower=float(lower), upper=float(upper))

    return PulleyPlace(
        boost=at_target(lambda operating: operating.boost),
        brake_power=at_target(lambda operating: operating["brake_power"]),
        rotor_speed=at_target(lambda operating: operating["rotor_speed"]),
        limits=curves,
        worst=worst_of_all(curves, operation),
        unmatched=float(np.mean(~operation.draws.is_matched.all(axis=1))),
    )


def _at(operating: OperatingPoints, values_of: Callable[[OperatingPoints], Floats], target_speed: float) -> Floats:
    """Values at the target speed, on the straight line between the speeds beside it."""
    speeds = np.atleast_2d(operating["engine_speed"])[0]
    if not speeds[0] <= target_speed <= speeds[-1]:
        span = f"{60 * speeds[0]:.0f} to {60 * speeds[-1]:.0f}"
        raise ValueError(f"target speed {60 * target_speed:.0f} rpm is outside the speeds matched, {span} rpm")
    values = values_of(operating)
    after = min(max(int(np.searchsorted(speeds, target_speed)), 1), speeds.size - 1)
    if speeds.size == 1:
        return values[..., 0]
    way = (target_speed - speeds[after - 1]) / (speeds[after] - speeds[after - 1])
    return (1.0 - way) * values[..., after - 1] + way * values[..., after]


def largest_ratio(rows: Sequence[PulleyRow], risk: float) -> float:
    """The ratio at which the share of draws that break a limit reaches the risk; NaN if it is not between the rows.

    Notes
    -----
    Each draw breaks its first limit at a ratio of its own, on the straight line between two pulleys; the answer is the
    quantile of these ratios at the risk.
    """
    ratios = np.array([row.pulley.drive_ratio for row in rows])
    worst = np.stack([row.worst for row in rows], axis=1)
    own = np.where(worst[:, 0] > 1.0, -np.inf, first_crossing(worst, ratios))
    found = float(np.quantile(own, risk, method="lower"))
    return found if math.isfinite(found) else math.nan


def _nearest(rows: Sequence[PulleyRow], question: PulleyQuestion) -> PulleyRow | None:
    """The pulley that comes nearest to the target at the reference, whatever it risks."""
    target = question.target
    if target is None:
        return None
    return min(rows, key=lambda row: abs(getattr(row.reference, target.word).value - target.value))


def _chosen(rows: Sequence[PulleyRow], question: PulleyQuestion) -> PulleyRow | None:
    """Of the pulleys within the risk the one nearest to the target, or without one, the largest ratio."""
    within = [row for row in rows if row.chance <= question.risk]
    if not within:
        return None
    return within[-1] if question.target is None else _nearest(within, question)


def _binding(rows: Sequence[PulleyRow], question: PulleyQuestion) -> tuple[LimitCurve | None, str]:
    """What keeps the next larger ratio out, and where; if nothing does, what comes nearest at the largest ratio."""
    row = next((row for row in rows if row.chance > question.risk), rows[-1])
    found = [(binding(place.limits), name) for place, name in ((row.reference, _REFERENCE), (row.hot, _HOT))]
    known = [(curve, name) for curve, name in found if curve is not None]
    if not known:
        return None, _REFERENCE
    first, place = max(known, key=lambda pair: (pair[0].chance, pair[0].greatest.upper))
    alike = [curve for curve, _ in known if curve.name == first.name and curve.chance == first.chance > 0.0]
    return first, _BOTH if len(alike) == 2 else place


def _sentence(
    rows: Sequence[PulleyRow],
    question: PulleyQuestion,
    chosen: PulleyRow | None,
    wanted: PulleyRow | None,
    bound: tuple[LimitCurve | None, str],
) -> str:
    """The answer: which pulley, what it gives, and what keeps a smaller one out."""
    risk = f"{100.0 * question.risk:g} %"
    curve, place = bound
    reason = "" if curve is None else f" {curve.name[0].upper()}{curve.name[1:]} binds, {_WHERE[place]}."
    if chosen is None:
        broken = f"already {_called(rows[0])} breaks one in {_chance(rows[0].chance)} of the draws"
        return f"None of these pulleys keeps the known limits at a risk of {risk}: {broken}.{reason}"
    gives = _gives(chosen, question.target_speed)
    if wanted is not None and question.target is not None:
        broken = f"a known limit is broken in {_chance(wanted.chance)} of the draws"
        if chosen is wanted:
            missed = _missed(chosen.reference, question.target)
            return f"For {question.target.text}: {_called(chosen)}, {gives}; {broken}.{missed}"
        instead = f"at a risk of {risk} {_called(chosen)} is the most: {gives}"
        return f"For {question.target.text} it takes {_called(wanted)}, and {broken}; {instead}.{reason}"
    if chosen is rows[-1]:
        return (
            f"Up to {_called(chosen)}, the largest ratio asked, the known limits are kept at a risk of {risk}: {gives}."
        )
    return f"{_called(chosen)} is the most at a risk of {risk}: {gives}.{reason}"


def _missed(place: PulleyPlace, target: PulleyTarget) -> str:
    """Said where even the nearest pulley misses the target by more than its own range."""
    reached: Estimate = getattr(place, target.word)
    is_reached = reached.lower <= target.value <= reached.upper
    return "" if is_reached else " No pulley asked comes nearer to the target."


def _called(row: PulleyRow) -> str:
    ratio = f"{row.pulley.drive_ratio:.3f}"
    return f"ratio {ratio}" if row.pulley.label == ratio else f"{row.pulley.label} (ratio {ratio})"


def _gives(row: PulleyRow, target_speed: float) -> str:
    boost, power = row.reference.boost, row.reference.brake_power
    parts = [
        plus_minus(estimate.value / 1e3, estimate.half_width / 1e3, unit)
        for estimate, unit in ((boost, "kPa"), (power, "kW"))
    ]
    return f"{parts[0]} of boost and {parts[1]} at {speed_text(target_speed)} rev/min"


def _chance(chance: float) -> str:
    percent = 100.0 * chance
    return "less than 1 %" if 0.0 < percent < 1.0 else "none" if percent == 0.0 else f"{number(percent)} %"


def _warnings(rows: Sequence[PulleyRow]) -> list[str]:
    said: list[str] = []
    if unknown := [curve.name for curve in not_known(rows[0].reference.limits)]:
        said.append(f"Not known, and in no chance: {joined(unknown)}.")
    lost = [row for row in rows if max(row.reference.unmatched, row.hot.unmatched) > 0.0]
    if lost:
        share = max(max(row.reference.unmatched, row.hot.unmatched) for row in lost)
        said.append(
            f"With {joined([row.pulley.label for row in lost])} up to {_chance(share)} of the draws have no operating "
            "point at some speed; they count as breaking every limit."
        )
    said += [text for text in rows[0].pulley.build.cautions if all(text in row.pulley.build.cautions for row in rows)]
    return said


def _place_json(place: PulleyPlace) -> dict[str, Any]:
    first = place.first_limit
    return {
        **place.boost.as_json("boost", "kpa", 1e3),
        **place.brake_power.as_json("brake_power", "kw", 1e3),
        **place.rotor_speed.as_json("rotor_speed", "rpm", 1.0 / 60.0),
        "chance_percent": json_number(100.0 * place.chance),
        "first_limit": None if first is None else _first_json(first),
        "limits": [curve.as_json() for curve in place.limits],
    }


def _first_json(curve: LimitCurve) -> dict[str, Any]:
    is_reached = math.isfinite(curve.reached_by_value)
    speed = curve.first_speed
    return {
        "name": curve.name,
        "reached": is_reached,
        **(speed.as_json("engine_speed", "rpm", 1.0 / 60.0) if is_reached else {}),
        "chance_percent": json_number(100.0 * curve.chance),
    }


def _target_json(target: PulleyTarget) -> dict[str, Any]:
    key = {"boost": "boost_kpa", "brake_power": "brake_power_kw"}[target.word]
    return {key: json_number(target.value / WORDS_OF[target.word][2])}


def _air_json(ambient: Ambient) -> dict[str, Any]:
    return {
        "pressure_kpa": json_number(ambient.ambient_pressure / 1e3),
        "temperature_degC": json_number(ambient.air_temperature - 273.15),
        "humidity_ratio": json_number(ambient.humidity_ratio),
    }

"""What a person types to ask for a pulley: `68 mm, 2.75 in` or ratios, `80 kPa` of boost, the risk that is accepted."""

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import Ambient, BlowerForm
from boostwright.records.build_file import BuildFile
from boostwright.records.build_keys import KEYS
from boostwright.studies.drawn_operation import drawn_build, with_pulley, with_ratio
from boostwright.studies.match import SEED
from boostwright.studies.pulleys import (
    RISK,
    Pulley,
    PulleyChart,
    PulleyQuestion,
    PulleyTarget,
    largest_ratio,
    pulley_chart,
)
from boostwright.units import UnitError, parse_quantity

Floats: TypeAlias = NDArray[np.float64]

DRAW_COUNT = 400  # a chance of 5 % is then known to about 2 %
MOST_PULLEYS = 24
_SCAN = np.linspace(0.6, 1.6, 11)  # of the build's own ratio, where no pulleys are named
_AROUND = 5  # whole millimetres shown on each side of the answer
_RATIO_STEP = 0.05
_LIMITS = {key.path: key for key in KEYS if key.path in ("drive.driven_pulley", "drive.ratio")}


@dataclass(frozen=True, kw_only=True)
class PulleyAsk:
    """What was typed, understood: pulleys by label (none: whole millimetres around the answer), and the question.

    `pulleys` are effective diameters [m] or ratios, by `is_ratio`.
    """

    pulleys: tuple[tuple[str, float], ...]
    is_ratio: bool
    question: PulleyQuestion


def pulleys_from_text(text: str) -> tuple[tuple[tuple[str, float], ...], bool]:
    """Pulleys with their labels, and whether they are ratios: `68 mm, 70 mm`, `2.75 in, 3 in` or `2.4, 2.6`.

    Raises
    ------
    UnitError
        If one is neither a diameter nor a ratio, is impossible, or the two are mixed.
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not 0 < len(parts) <= MOST_PULLEYS:
        remedy = f'write up to {MOST_PULLEYS}, such as "68 mm, 70 mm", "2.75 in, 3 in", or ratios "2.4, 2.6"'
        raise UnitError(f'"{text}"', f"names {len(parts)} pulleys", remedy)
    found = dict(_one(part) for part in parts)
    are_ratios = {_is_ratio(part) for part in parts}
    if len(are_ratios) > 1:
        raise UnitError(f'"{text}"', "mixes diameters and ratios", "give all as diameters or all as ratios")
    return tuple(found.items()), are_ratios == {True}


def _is_ratio(part: str) -> bool:
    return all(letter in "0123456789." for letter in part)


def _one(part: str) -> tuple[str, float]:
    if _is_ratio(part):
        path, value = "drive.ratio", parse_quantity(part, dimension="fraction")
        label = f"{value:.3f}"
    else:
        path, value = "drive.driven_pulley", parse_quantity(part, dimension="length")
        label = " ".join(part.split())
    key = _LIMITS[path]
    if not key.low <= value <= key.high:
        remedy = f'a diameter needs its unit: "{part} mm"' if _is_ratio(part) and value > key.high else key.remedy
        raise UnitError(f'"{part}"', f"is not possible: {key.phrase}", remedy)
    return label, value


def risk_from_text(text: str) -> float:
    """The risk that is accepted, as a share or in percent.

    Raises
    ------
    UnitError
        If it is none, or not between 0 and 1.
    """
    risk = parse_quantity(text, dimension="fraction")
    if not 0.0 < risk < 1.0:
        raise UnitError(f'"{text}"', "is no risk between 0 and 1", 'write 0.05, or "5 %", for one in twenty')
    return risk


def target_from_texts(boost: str | None, power: str | None) -> PulleyTarget | None:
    """What is wanted: boost (above the surroundings) or brake power; at most one of them.

    Raises
    ------
    UnitError
        If both are given, or one is not a positive quantity.
    """
    if boost is not None and power is not None:
        raise UnitError(f'"{boost}" and "{power}"', "are two targets for one pulley", "ask for boost or for power")
    for text, word, dimension in ((boost, "boost", "gauge_pressure"), (power, "brake_power", "power")):
        if text is not None:
            value = parse_quantity(text, dimension=dimension)
            if not value > 0.0:
                raise UnitError(f'"{text}"', "is not positive", 'write what is wanted, such as "80 kPa" or "250 kW"')
            return PulleyTarget(word=word, value=value)
    return None


def target_speed_from_text(text: str | None, engine_speed: Floats) -> float:
    """Engine speed at which figures are read: what was typed, or the highest of the speeds.

    Raises
    ------
    UnitError
        If it lies outside the speeds that are matched.
    """
    low, high = float(engine_speed[0]), float(engine_speed[-1])
    if text is None:
        return high
    speed = parse_quantity(text, dimension="speed")
    if not low <= speed <= high:
        span = f"{60 * low:.0f} to {60 * high:.0f} rpm"
        raise UnitError(f'"{text}"', f"is outside the speeds that are matched, {span}", "ask within, or widen --speeds")
    return speed


def answered(
    build_file: BuildFile, engine_speed: Floats, ask: PulleyAsk, blower: BlowerForm | None = None
) -> PulleyChart:
    """The chart that answers what was typed; without named pulleys, whole millimetres (or ratios) around the answer.

    Raises
    ------
    DataError
        If diameters are asked of a build that does not say what turns on the crank.
    """
    generator = np.random.default_rng(SEED)
    operation = drawn_build(build_file, engine_speed, DRAW_COUNT, generator, blower).operation
    if ask.pulleys:
        made = [_pulley(build_file, label, value, is_ratio=ask.is_ratio) for label, value in ask.pulleys]
        return pulley_chart(made, operation, ask.question)
    own = build_of(build_file).drive.drive_ratio
    scan = [_ratio_pulley(build_file, own * factor) for factor in _SCAN]
    coarse = pulley_chart(scan, operation, ask.question)
    return pulley_chart(_around(build_file, _middle(coarse, own)), operation, ask.question)


def _middle(coarse: PulleyChart, own: float) -> float:
    """The ratio around which pulleys are shown: where the target is met or the risk used up, whichever comes first.

    Where no ratio keeps the risk, that is no place to look: then it is the target, or the build as it stands.
    """
    ratios = np.array([row.pulley.drive_ratio for row in coarse.rows])
    risk = largest_ratio(coarse.rows, coarse.question.risk)
    if math.isnan(risk):
        risk = float(ratios[-1])
    if (target := coarse.question.target) is None:
        return own if coarse.chosen is None else risk
    values = np.array([getattr(row.reference, target.word).value for row in coarse.rows])
    rising = np.maximum.accumulate(np.nan_to_num(values, nan=-np.inf))
    return min(risk, float(np.interp(target.value, rising, ratios)))


def _around(build_file: BuildFile, ratio: float) -> list[Pulley]:
    """Pulleys of whole millimetres about a ratio; for a build without pulleys, ratios."""
    steps = np.arange(-_AROUND, _AROUND + 1)
    if "drive.driving_pulley" not in build_file.numbers:
        middle = round(ratio / _RATIO_STEP)
        return [_ratio_pulley(build_file, _RATIO_STEP * (middle + step)) for step in steps if middle + step > 1]
    driven = with_ratio(build_file, ratio).numbers["drive.driven_pulley"]
    key = _LIMITS["drive.driven_pulley"]
    diameters = np.unique(np.clip(math.ceil(1e3 * driven - 1e-9) + steps, 1e3 * key.low, 1e3 * key.high))
    return [_pulley(build_file, f"{mm:.0f} mm", mm / 1e3, is_ratio=False) for mm in diameters]


def _ratio_pulley(build_file: BuildFile, ratio: float) -> Pulley:
    return _pulley(build_file, f"{ratio:.3f}", float(ratio), is_ratio=True)


def _pulley(build_file: BuildFile, label: str, value: float, *, is_ratio: bool) -> Pulley:
    try:
        turned = with_ratio(build_file, value) if is_ratio else with_pulley(build_file, value)
    except ValueError as wrong:
        problem, _, remedy = str(wrong).partition(": ")
        place = Fault(file=build_file.name, value=label, problem=problem, remedy=remedy)
        raise DataError(str(place)) from wrong
    return Pulley(label=label, build=build_of(turned))


def ask_of(
    pulleys: str | None,
    target: PulleyTarget | None,
    risk: str | None,
    target_speed: float,
    places: tuple[Ambient, Ambient],
) -> PulleyAsk:
    """What was typed, as one question; `places` are the reference and the hot or high one."""
    named, is_ratio = ((), False) if pulleys is None else pulleys_from_text(pulleys)
    question = PulleyQuestion(
        target_speed=target_speed,
        reference=places[0],
        hot=places[1],
        risk=RISK if risk is None else risk_from_text(risk),
        target=target,
    )
    return PulleyAsk(pulleys=named, is_ratio=is_ratio, question=question)

"""What may be claimed: one sentence with the lower end of an interval that allows for how its number was picked.

An average over the declared range was fixed before the pulls, so its own interval serves. A peak, a speed, or a best
pull is picked after looking at the curve: their numbers come from the band that holds the whole curve at once, which is
right whatever was picked. A best pull is no better known than the setup it belongs to: its claim is the setup's, from
all its pulls, and the readings of the two pulls are given as readings.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from boostwright.errors import DataError, Fault
from boostwright.studies.compare_result import CompareResult, Curves, Interval
from boostwright.studies.language import ENGLISH, Language
from boostwright.studies.words import number, speed_span_text
from boostwright.units import printed_symbol

CLAIMED = ("power", "torque")


class ClaimKind(StrEnum):
    """What a claim speaks about."""

    AVERAGE = "average"
    PEAK = "peak"
    LARGEST = "largest"
    AT_SPEED = "at-speed"
    BEST_PULL = "best-pull"


@dataclass(frozen=True, kw_only=True)
class ClaimRequest:
    """The claim that is asked for; only a claim at a speed has an engine speed. [1/s]"""

    kind: ClaimKind = ClaimKind.AVERAGE
    engine_speed: float = 0.0

    def __str__(self) -> str:
        return f"{self.kind} {60.0 * self.engine_speed:.0f}" if self.kind is ClaimKind.AT_SPEED else self.kind.value


AVERAGE = ClaimRequest()


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A sentence that the evidence supports, or, if it is not allowed, one that says so."""

    sentence: str
    is_allowed: bool


def claim_request(text: str) -> ClaimRequest:
    """The claim that a person asked for: `average`, `peak`, `largest`, `best-pull` or `at-speed 4500`.

    Raises
    ------
    DataError
        If it is none of these, or the speed is not a number of rev/min.
    """
    said, _, rest = text.strip().partition(" ")
    remedy = "choose average, peak, largest, best-pull, or a speed in rev/min such as: at-speed 4500"
    if said not in list(ClaimKind) or (said != ClaimKind.AT_SPEED and rest):
        raise DataError(str(Fault(key="--claim", value=f'"{text}"', problem="is not a kind of claim", remedy=remedy)))
    if said != ClaimKind.AT_SPEED:
        return ClaimRequest(kind=ClaimKind(said))
    try:
        return ClaimRequest(kind=ClaimKind.AT_SPEED, engine_speed=float(rest) / 60.0)
    except ValueError as wrong:
        problem = "does not name its speed"
        raise DataError(str(Fault(key="--claim", value=f'"{text}"', problem=problem, remedy=remedy))) from wrong


def refuse_what_no_pulls_join(result: CompareResult) -> None:
    """Refuse a claim across days or stands that no pulls bridge.

    Raises
    ------
    DataError
        If the setups never share a session, which is one day on one stand.
    """
    if result.verdict == "not comparable":
        fault = Fault(
            key="pulls",
            value=f"{result.candidate} over {result.baseline}",
            problem=f"cannot be claimed: {result.grade_reason}",
            remedy="pull both setups in one session on one stand, or add pulls of one setup on the other's day",
        )
        raise DataError(str(fault))


def claimed_gain(result: CompareResult, request: ClaimRequest) -> Interval:
    """The gain that a claim rests on, with an interval that allows for how its speed or its pull was picked.

    Raises
    ------
    DataError
        If the claim is about a speed at which nothing was measured.
    """
    if request.kind is ClaimKind.AVERAGE:
        return result.average
    if request.kind is ClaimKind.AT_SPEED:
        return _gain_at(result, request.engine_speed)
    return largest_gain(result.curves) if request.kind is ClaimKind.LARGEST else result.peak_gain


def largest_gain(curves: Curves) -> Interval:
    """The largest gain at any speed, from the band, and so right whichever speed looks best in these pulls."""
    return Interval(
        value=float(np.max(curves.gain)),
        lower=float(np.max(curves.lower)),
        upper=float(np.max(curves.upper)),
        relative_value=float(np.max(curves.relative_gain)),
        relative_lower=float(np.max(curves.relative_lower)),
        relative_upper=float(np.max(curves.relative_upper)),
    )


def claim_of(result: CompareResult, request: ClaimRequest = AVERAGE, language: Language = ENGLISH) -> Claim:
    """The claim that a result allows; its number is the lower end of the interval, rounded down."""
    if result.quantity not in CLAIMED:
        sentence = language.say("claim.not_about", quantity=language.quantity(result.quantity))
        return Claim(sentence=sentence, is_allowed=False)
    if result.grade != "publishable":
        words = {"grade": language.phrase(result.grade), "reason": language.phrase(result.grade_reason)}
        return Claim(sentence=language.say("claim.not_graded", **words), is_allowed=False)
    gain, words = claimed_gain(result, request), _words(result, request, language)
    least = math.floor(1000.0 * gain.relative_lower) / 10.0
    key = request.kind.replace("-", "_")
    if not least > 0.0:
        size = language.signed_plus_minus(100.0 * gain.relative_value, 100.0 * gain.relative_half_width, "%")
        return Claim(sentence=language.say(f"no_claim.{key}", size=size, **words), is_allowed=False)
    return Claim(
        sentence=language.say(f"claim.{key}", least=f"{language.number(least, 1)}\u00a0%", **words), is_allowed=True
    )


def _words(result: CompareResult, request: ClaimRequest, language: Language) -> dict[str, str]:
    """What the sentences of claims have places for."""
    words = {
        "baseline": result.baseline,
        "candidate": result.candidate,
        "quantity": language.quantity(result.quantity),
        "span": language.speed_span(result.range_from, result.range_to),
        "confidence": language.percent(result.confidence),
        "speed": language.speed(request.engine_speed),
    }
    return words | (_readings(result, language) if request.kind is ClaimKind.BEST_PULL else {})


def _readings(result: CompareResult, language: Language) -> dict[str, str]:
    """The highest reading of any used pull of each setup, and out of how many pulls it is the highest."""
    found: dict[str, str] = {}
    for place, setup in (("baseline", result.baseline), ("candidate", result.candidate)):
        own = [pull.values for pull in result.pulls if pull.used and pull.setup == setup]
        best = float(result.unit.from_si(np.nanmax(np.array(own))))
        found[f"best_{place}"] = f"{language.number(best)}\u00a0{printed_symbol(result.unit)}"
        found[f"{place}_pulls"] = str(len(own))
    return found


def _gain_at(result: CompareResult, engine_speed: float) -> Interval:
    curves = result.curves
    first, last = float(curves.engine_speed[0]), float(curves.engine_speed[-1])
    if not first <= engine_speed <= last:
        problem = "lies outside the speeds that were measured in the declared range"
        remedy = f"choose one within {speed_span_text(first, last)}"
        value = f"{number(60.0 * engine_speed)} rev/min"
        raise DataError(str(Fault(key="--claim", value=value, problem=problem, remedy=remedy)))
    value, lower, upper, relative_value, relative_lower, relative_upper = (
        float(np.interp(engine_speed, curves.engine_speed, edge))
        for edge in (
            curves.gain,
            curves.lower,
            curves.upper,
            curves.relative_gain,
            curves.relative_lower,
            curves.relative_upper,
        )
    )
    return Interval(
        value=value,
        lower=lower,
        upper=upper,
        relative_value=relative_value,
        relative_lower=relative_lower,
        relative_upper=relative_upper,
    )

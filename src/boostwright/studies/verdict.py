"""What the band allows to be said: stretches of speed, the verdict, its grade and the sentence."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boostwright.studies.compare_result import Curves, Evidence, Interval, Stretch
from boostwright.studies.language import ENGLISH, Language
from boostwright.units import Unit

GAIN, LOSS, OPEN = "gain shown", "loss shown", "open"
_STATE_KEYS = {GAIN: "verdict.gain_at", LOSS: "verdict.loss_at", OPEN: "verdict.open_at"}
_WHOLE_KEYS = {GAIN: "verdict.whole_gain", LOSS: "verdict.whole_loss"}


def stretches(
    engine_speed: NDArray[np.float64],
    lower: NDArray[np.float64],
    upper: NDArray[np.float64],
    speed_range: tuple[float, float],
) -> tuple[Stretch, ...]:
    """Split the declared range where an edge of the band crosses zero; the outer stretches reach to its ends."""
    states = np.where(lower > 0, 1, np.where(upper < 0, -1, 0))
    changes = np.flatnonzero(np.diff(states))
    borders = [_border(engine_speed, lower, upper, states, int(i)) for i in changes]
    ends = [speed_range[0], *borders, speed_range[1]]
    names = {1: GAIN, -1: LOSS, 0: OPEN}
    kinds = [names[int(state)] for state in (states[0], *states[changes + 1])]
    return tuple(
        Stretch(from_speed=start, to_speed=end, state=kind)
        for start, end, kind in zip(ends[:-1], ends[1:], kinds, strict=True)
    )


def _border(
    speed: NDArray[np.float64],
    lower: NDArray[np.float64],
    upper: NDArray[np.float64],
    states: NDArray[np.int_],
    i: int,
) -> float:
    """Where, between bin i and the next, the edge that leaves zero crosses it."""
    sign = states[i] if states[i] else states[i + 1]
    edge = lower if sign > 0 else upper
    share = edge[i] / (edge[i] - edge[i + 1])
    return float(speed[i] + share * (speed[i + 1] - speed[i]))


def verdict(parts: Sequence[Stretch], evidence: Evidence) -> str:
    """One of the five outcomes of a comparison."""
    states = {part.state for part in parts}
    if not evidence.share_a_day:
        return "not comparable"
    if states >= {GAIN, LOSS}:
        return "gain and loss shown"
    if GAIN in states:
        return GAIN
    return LOSS if LOSS in states else "not shown"


def grade(evidence: Evidence) -> tuple[str, str]:
    """The grade of the evidence, and why it is not higher."""
    fewest = min(evidence.baseline_pulls, evidence.candidate_pulls)
    if not evidence.share_a_day:
        return "unsupported", "the setups never share a day and a stand, so a day's difference may be all there is"
    if fewest < 2 and not evidence.has_archive:
        return (
            "unsupported",
            "with one pull of a setup the interval rests on an assumed repeatability, not on these pulls",
        )
    if fewest < 2:
        return "indicative", "with one pull of a setup the interval rests on the stand's archive, not on these pulls"
    if evidence.installations < 3:
        return (
            "indicative",
            "each setup was installed only once, so drift and re-installation cannot be seen apart from the gain",
        )
    if evidence.corrected_outside_range:
        return "indicative", "the weather lay outside the permitted range of the correction rule"
    if evidence.fit_warnings:
        return "indicative", evidence.fit_warnings[0]
    return "publishable", ""


def _where(parts: Sequence[Stretch], state: str, language: Language) -> str:
    spans = language.joined([language.speed_span(p.from_speed, p.to_speed) for p in parts if p.state == state])
    return language.say(_STATE_KEYS[state], spans=spans)


def _largest(curves: Curves) -> tuple[float, float]:
    """Largest gain and largest loss that the band leaves possible at any speed."""
    return max(float(np.max(curves.relative_upper)), 0.0), max(-float(np.min(curves.relative_lower)), 0.0)


def _curve_words(parts: Sequence[Stretch], curves: Curves, language: Language) -> str:
    """What the band shows over the range."""
    states = {part.state for part in parts}
    if states in ({GAIN}, {LOSS}):
        return language.say(_WHOLE_KEYS[next(iter(states))])
    if states == {OPEN}:
        return bounds_words(curves, language)
    return "; ".join(_where(parts, state, language) for state in (GAIN, LOSS, OPEN) if state in states)


def bounds_words(curves: Curves, language: Language = ENGLISH) -> str:
    """How large a gain and a loss the band leaves possible at any speed."""
    gain, loss = (language.percent(size, 1) for size in _largest(curves))
    return language.say("verdict.bounds", gain=gain, loss=loss)


def headline(parts: Sequence[Stretch], curves: Curves, evidence: Evidence, language: Language = ENGLISH) -> str:
    """The verdict in one line, for the top of a figure; a grade below publishable is said in it."""
    level, _ = grade(evidence)
    states = {part.state for part in parts}
    if not evidence.share_a_day:
        return language.say("verdict.headline_not_comparable")
    if states == {OPEN}:
        said = language.say("verdict.stays_within", half=language.percent(max(_largest(curves)), 1))
    elif states in ({GAIN}, {LOSS}):
        said = language.say(_WHOLE_KEYS[next(iter(states))])
    else:
        shown = [_where(parts, state, language) for state in (GAIN, LOSS) if state in states]
        said = ", ".join([*shown, language.say("verdict.open_elsewhere")] if OPEN in states else shown)
    said = said[0].upper() + said[1:]
    return f"{said}." if level == "publishable" else f"{said} ({language.phrase(level)})."


def _average_words(average: Interval, names: tuple[str, str, str], unit: Unit, language: Language) -> str:
    """What the average over the range shows: more, less, or no difference."""
    baseline, candidate, quantity = names
    half, relative_half = average.half_width / unit.scale, 100 * average.relative_half_width
    symbol = unit.symbol.replace("*", "\u00b7")
    if average.lower <= 0 <= average.upper:
        key = "verdict.no_difference"
    else:
        key = "verdict.more" if average.value > 0 else "verdict.less"
    return language.say(
        key,
        baseline=baseline,
        candidate=candidate,
        quantity=language.phrase(quantity),
        size=language.signed_plus_minus(average.value / unit.scale, half, symbol),
        percent=language.signed_plus_minus(100 * average.relative_value, relative_half, "%"),
    )


def sentence(
    *,
    parts: Sequence[Stretch],
    average: Interval,
    curves: Curves,
    speed_range: tuple[float, float],
    names: tuple[str, str, str],
    unit: Unit,
    evidence: Evidence,
    language: Language = ENGLISH,
) -> str:
    """The result as a sentence that may be quoted, with what its grade obliges to be said."""
    baseline, candidate, quantity = names
    said = {"baseline": baseline, "candidate": candidate}
    if not evidence.share_a_day:
        return language.say("verdict.not_comparable", quantity=language.phrase(quantity), **said)
    result = language.say(
        "verdict.over",
        span=language.speed_span(*speed_range),
        average=_average_words(average, names, unit, language),
        curve=_curve_words(parts, curves, language),
        baseline_pulls=language.pulls(evidence.baseline_pulls),
        candidate_pulls=str(evidence.candidate_pulls),
        **said,
    )
    level, reason = (language.phrase(words) for words in grade(evidence))
    return result if level == language.phrase("publishable") else f"{result} {level[0].upper()}{level[1:]}: {reason}."

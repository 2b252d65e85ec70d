"""What the band allows to be said: stretches of speed, the verdict, its grade and the sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.studies.compare_result import Curves, Interval, Stretch
from boostwright.studies.words import (
    NO_BREAK,
    count,
    joined,
    number,
    signed_plus_minus,
    speed_span_text,
)
from boostwright.units import Unit

GAIN, LOSS, OPEN = "gain shown", "loss shown", "open"


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What the grade is judged by: how the pulls used were made."""

    baseline_pulls: int
    candidate_pulls: int
    installations: int
    share_a_day: bool
    has_archive: bool
    corrected_outside_range: bool
    fit_warnings: tuple[str, ...]


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


def _where(parts: Sequence[Stretch], state: str) -> str:
    spans = [speed_span_text(part.from_speed, part.to_speed) for part in parts if part.state == state]
    return joined(spans)


def _largest(curves: Curves) -> tuple[float, float]:
    """Largest gain and largest loss that the band leaves possible at any speed."""
    return max(float(np.max(curves.relative_upper)), 0.0), max(-float(np.min(curves.relative_lower)), 0.0)


def _curve_words(parts: Sequence[Stretch], curves: Curves) -> str:
    """What the band shows over the range."""
    states = {part.state for part in parts}
    if states == {GAIN}:
        return "gain shown over the whole range"
    if states == {LOSS}:
        return "loss shown over the whole range"
    if states == {OPEN}:
        gain, loss = (number(100 * size, 1) for size in _largest(curves))
        return f"no gain larger than {gain}{NO_BREAK}% and no loss larger than {loss}{NO_BREAK}% at any speed"
    said = [f"{state} at {_where(parts, state)}" for state in (GAIN, LOSS) if state in states]
    return "; ".join([*said, f"open at {_where(parts, OPEN)}"] if OPEN in states else said)


def headline(parts: Sequence[Stretch], curves: Curves, evidence: Evidence) -> str:
    """The verdict in one line, for the top of a figure; a grade below publishable is said in it."""
    level, _ = grade(evidence)
    states = {part.state for part in parts}
    if not evidence.share_a_day:
        return "Not comparable: the setups share no day on one stand."
    if states == {OPEN}:
        half = number(100 * max(_largest(curves)), 1)
        said = f"No difference is shown; the band stays within ±{NO_BREAK}{half}{NO_BREAK}%"
    elif states in ({GAIN}, {LOSS}):
        said = f"{next(iter(states)).capitalize()} over the whole range"
    else:
        shown = [f"{state} at {_where(parts, state)}" for state in (GAIN, LOSS) if state in states]
        said = ", ".join([*shown, "open elsewhere"] if OPEN in states else shown)
        said = said[0].upper() + said[1:]
    return f"{said}." if level == "publishable" else f"{said} ({level})."


def _average_words(average: Interval, names: tuple[str, str, str], unit: Unit) -> str:
    """What the average over the range shows: more, less, or no difference."""
    baseline, candidate, quantity = names
    amount = (average.value / unit.scale, average.half_width / unit.scale, unit.symbol.replace("*", "\u00b7"))
    percent = (100 * average.relative_value, 100 * average.relative_half_width, "%")
    if average.lower <= 0 <= average.upper:
        return (
            f"no difference in average {quantity} between {candidate} and {baseline} is shown: "
            f"{signed_plus_minus(*percent)}"
        )
    more = "more" if average.value > 0 else "less"
    size = signed_plus_minus(*amount)
    return f"{candidate} gives {more} {quantity} than {baseline} on average, {size} ({signed_plus_minus(*percent)})"


def sentence(
    *,
    parts: Sequence[Stretch],
    average: Interval,
    curves: Curves,
    speed_range: tuple[float, float],
    names: tuple[str, str, str],
    unit: Unit,
    evidence: Evidence,
) -> str:
    """The result as a sentence that may be quoted, with what its grade obliges to be said."""
    baseline, candidate, quantity = names
    if not evidence.share_a_day:
        return (
            f"{candidate} and {baseline} cannot be compared in {quantity}: they share no day on one stand, and no "
            "bridging pull joins the days; run both setups on one day."
        )
    said = (
        f"Over {speed_span_text(*speed_range)} {_average_words(average, names, unit)}; {_curve_words(parts, curves)}."
    )
    level, reason = grade(evidence)
    pulls = f"{count(evidence.baseline_pulls, 'pull')} of {baseline}, {evidence.candidate_pulls} of {candidate}"
    closing = f" {pulls}, 95{NO_BREAK}% confidence."
    return said + closing + ("" if level == "publishable" else f" {level.capitalize()}: {reason}.")

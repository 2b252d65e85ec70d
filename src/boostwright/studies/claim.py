"""What may be claimed: one sentence with the lower end of the average gain, or the reason why there is none."""

import math
from dataclasses import dataclass

from boostwright.studies.compare_result import CompareResult
from boostwright.studies.words import NO_BREAK, number, quantity_words, signed_plus_minus, speed_span_text

CLAIMED = ("power", "torque")


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A sentence that the evidence supports, or, if it is not allowed, one that says so."""

    sentence: str
    is_allowed: bool


def claim_of(result: CompareResult) -> Claim:
    """The claim over the declared range; its number is the lower end of the interval, rounded down."""
    if result.quantity not in CLAIMED:
        sentence = f"A claim speaks about {' or '.join(CLAIMED)}, not about {quantity_words(result.quantity)}."
        return Claim(sentence=sentence, is_allowed=False)
    if result.grade != "publishable":
        return Claim(sentence=f"No claim: the evidence is {result.grade}; {result.grade_reason}.", is_allowed=False)
    average, span = result.average, speed_span_text(result.range_from, result.range_to)
    least = math.floor(1000.0 * average.relative_lower) / 10.0
    if not least > 0.0:
        size = signed_plus_minus(100.0 * average.relative_value, 100.0 * average.relative_half_width, "%")
        return Claim(sentence=f"No gain may be claimed over {span}: {size}.", is_allowed=False)
    return Claim(
        sentence=f"With {result.candidate} this engine gave at least {number(least, 1)}{NO_BREAK}% more "
        f"{quantity_words(result.quantity)} than with {result.baseline}, averaged over {span}, "
        f"at {number(100.0 * result.confidence)}{NO_BREAK}% confidence.",
        is_allowed=True,
    )

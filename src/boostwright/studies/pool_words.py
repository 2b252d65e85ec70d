"""The sentences of a pool, made from its numbers."""

from collections.abc import Sequence

from boostwright.inference.gain_summary import Interval
from boostwright.studies.pool_result import PooledCampaign
from boostwright.studies.verdict import GAIN, LOSS
from boostwright.studies.words import (
    NO_BREAK,
    count,
    decimals_for,
    number,
    quantity_words,
    signed,
    speed_span_text,
)


def verdict(mean: Interval) -> str:
    """What the mean gain shows: a gain, a loss, or neither."""
    if mean.lower > 0:
        return GAIN
    return LOSS if mean.upper < 0 else "not shown"


def gain_text(gain: Interval) -> str:
    """A gain with its half-width, in percent."""
    return percent_text(gain.estimate, (gain.upper - gain.lower) / 2)


def percent_text(relative_value: float, half_width: float) -> str:
    """A fraction with its half-width in percent; a tenth is always told, so that campaigns can be set side by side."""
    places = max(1, decimals_for(100 * half_width))
    return NO_BREAK.join((signed(100 * relative_value, places), "±", number(100 * half_width, places), "%"))


def headline(mean: Interval, campaigns: int) -> str:
    """The verdict in one line, for the top of a figure."""
    shown = {GAIN: "Gain shown", LOSS: "Loss shown"}.get(verdict(mean), "No difference is shown")
    return f"{shown} over {count(campaigns, 'campaign')} together: {gain_text(mean)} on average."


def sentence(
    campaigns: Sequence[PooledCampaign],
    mean: Interval,
    next_engine: Interval | None,
    between_sd: Interval,
    speed_range: tuple[float, float],
    quantity: str,
) -> str:
    """The mean, the spread between engines and the next engine, as a sentence that may be quoted."""
    first, over = campaigns[0], speed_span_text(*speed_range)
    same = all((one.baseline, one.candidate) == (first.baseline, first.candidate) for one in campaigns)
    baseline, candidate = (first.baseline, first.candidate) if same else ("the baseline", "the candidate")
    what, many = quantity_words(quantity), count(len(campaigns), "campaign")
    if verdict(mean) == "not shown":
        said = (
            f"no difference in average {what} between {candidate} and {baseline} is shown in {many}: {gain_text(mean)}"
        )
    else:
        more = "more" if verdict(mean) == GAIN else "less"
        said = f"{candidate} gives {more} {what} than {baseline} on average over {many}, {gain_text(mean)}"
    return f"Over {over} {said}. {_spread_words(between_sd)} {_next_words(next_engine)}"


def _spread_words(between_sd: Interval) -> str:
    places = max(1, min(2, decimals_for(50 * (between_sd.upper - between_sd.lower))))
    middle, low, high = (number(100 * x, places) for x in (between_sd.estimate, between_sd.lower, between_sd.upper))
    return (
        f"From engine to engine the gain differs by a standard deviation of {middle}{NO_BREAK}% "
        f"({low} to {high}{NO_BREAK}%)."
    )


def _next_words(next_engine: Interval | None) -> str:
    if next_engine is None:
        return "What a next engine would gain cannot be known from two."
    places = max(1, decimals_for(50 * (next_engine.upper - next_engine.lower)))
    low, high = signed(100 * next_engine.lower, places), signed(100 * next_engine.upper, places)
    return (
        f"The next engine like these would gain between {low} and {high}{NO_BREAK}%, "
        f"at {number(100 * next_engine.confidence)}{NO_BREAK}% confidence."
    )

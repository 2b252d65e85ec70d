"""A run card as a page shows it: the next pull, what would settle the question, and a card to run by."""

import math
from collections import Counter
from dataclasses import dataclass

from boostwright.publish.plan_terminal import next_words, one_setup_words, reach_words, settlement_words
from boostwright.studies.plan import PlanQuestion
from boostwright.studies.run_card_result import FurtherPulls, Outlook, RunCard
from boostwright.studies.words import NO_BREAK, joined, number, speed_span_text


@dataclass(frozen=True, kw_only=True)
class PlanRow:
    """One order of further pulls, as printed and as drawn."""

    order: str
    takes: str
    changes_of_setup: int
    half_width: str
    detectable_gain: str
    is_chosen: bool
    duration_h: float
    half_width_percent: float


@dataclass(frozen=True, kw_only=True)
class RunStep:
    """One line of the run card."""

    name: str
    words: str


@dataclass(frozen=True, kw_only=True)
class PlanPage:
    """A run card with its words; `steps` are those of the order that the page suggests, the next pull at least.

    `half_width_percent` is what the average gain is known to now, and none before both setups were pulled.
    """

    headline: str
    answer: str
    so_far: str
    notes: list[str]
    gain_percent: float
    pull_min: float
    change_min: float
    hours_left: float | None
    half_width_percent: float | None
    rows: list[PlanRow]
    takes: str
    steps: list[RunStep]


def plan_page(card: RunCard, question: PlanQuestion) -> PlanPage:
    """Set a run card for a page."""
    order, duration = _chosen(card)
    worth = f"{number(100.0 * card.worthwhile_gain, 1)}{NO_BREAK}%"
    known = card.average
    return PlanPage(
        headline=next_words(card),
        answer=f"{_spaced(order)}, {_time(duration)}" if order else "Nothing in the time left",
        so_far=_so_far(card),
        notes=[
            *([f"A claim still needs {joined(list(card.lacking))}."] if card.lacking else []),
            *([reach_words(card)] if card.reach else []),
            f"To show a gain of {worth}, if it is there: {settlement_words(card.to_show, card)}",
            f"To exclude a gain of {worth}, if there is none: {settlement_words(card.to_exclude, card)}",
        ],
        gain_percent=round(100.0 * card.worthwhile_gain, 2),
        pull_min=round(question.pull_time / 60.0, 2),
        change_min=round(question.change_time / 60.0, 2),
        hours_left=None if card.time_left is None else round(card.time_left / 3600.0, 2),
        half_width_percent=None if known is None else round(100.0 * known.relative_half_width, 4),
        rows=[_row(row, order) for row in card.orders if math.isfinite(row.half_width)],
        takes=_time(duration) if order else "",
        steps=_steps(order, card, question.speed_range),
    )


def _chosen(card: RunCard) -> tuple[str, float]:
    """The order that is suggested: what the time left allows, else what would show the gain, else the next pull."""
    if card.reach is not None:
        return card.reach.pulls.order, card.reach.pulls.duration
    if card.to_show.outlook in (Outlook.TODAY, Outlook.FURTHER_DAYS) and card.to_show.days == 1:
        return card.to_show.order, card.to_show.duration
    return ("", 0.0) if card.advised is None else (card.advised.order, card.advised.duration)


def _so_far(card: RunCard) -> str:
    if card.average is None:
        return one_setup_words(card)
    half = f"±{NO_BREAK}{number(100.0 * card.average.relative_half_width, 1)}{NO_BREAK}%"
    return f"Made so far: {card.made}, the average known to {half}; in brackets what was left out."


def _row(row: FurtherPulls, chosen: str) -> PlanRow:
    return PlanRow(
        order=_spaced(row.order),
        takes=_time(row.duration),
        changes_of_setup=row.changes_of_setup,
        half_width=number(100.0 * row.half_width, 2),
        detectable_gain=number(100.0 * row.detectable_gain, 1),
        is_chosen=row.order == chosen,
        duration_h=round(row.duration / 3600.0, 4),
        half_width_percent=round(100.0 * row.half_width, 4),
    )


def _spaced(order: str) -> str:
    return NO_BREAK.join(order)


def _time(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return NO_BREAK.join([*([f"{hours}{NO_BREAK}h"] if hours else []), f"{minutes}{NO_BREAK}min"])


def _steps(order: str, card: RunCard, speed_range: tuple[float, float]) -> list[RunStep]:
    """The pulls of an order, numbered on from those that were made; what must be alike is said first."""
    alike = (
        f"belt tension and fluids as in the test, sweep {speed_span_text(*speed_range)}; "
        "before each pull barometer, air, humidity, soak"
    )
    made = Counter(letter for letter in card.made if letter in "AB")
    steps = [RunStep(name="All", words=alike)]
    before = next((letter for letter in reversed(card.made) if letter in "AB"), "")
    for letter in order:
        made[letter] += 1
        name = card.setup_of(letter)
        done = f"{name} again, nothing touched" if letter == before else f"fit {name}, pull"
        steps.append(RunStep(name=f"{letter}{made[letter]}", words=done))
        before = letter
    return steps if order else []

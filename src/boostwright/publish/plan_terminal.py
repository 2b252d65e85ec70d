"""A plan and a run card as they are printed in the terminal."""

from collections.abc import Iterator, Sequence

from rich.console import Console

from boostwright.publish.terminal import plain_table, say
from boostwright.studies.plan import PlanResult
from boostwright.studies.run_card import MOST_DAYS
from boostwright.studies.run_card_result import FurtherPulls, Outlook, RunCard, Settlement
from boostwright.studies.words import NO_BREAK, count, joined, number, quantity_words, speed_span_text


def print_plan(result: PlanResult, console: Console) -> None:
    """Print what the orders would show, and what the numbers rest on."""
    question = result.question
    say(
        console,
        f"Orders of pulls for a gain averaged over {speed_span_text(*question.speed_range)}, quickest first",
        "bold",
    )
    console.print()
    table = plain_table(
        "hours", "pulls", "changes", "gain it would\nshow, %", "interval\n± %", "order (A baseline, B candidate)"
    )
    for planned in result.orders:
        table.add_row(
            number(planned.duration / 3600, 1),
            str(len(planned.order)),
            str(planned.changes_of_setup),
            number(100 * planned.detectable_gain, 1),
            number(100 * planned.half_width, 1),
            " ".join(planned.order),
        )
    console.print(table)
    console.print()
    say(
        console,
        f"“Would show”: a true gain of that size is shown with {100 * question.probability:.0f} % probability at "
        f"{100 * question.confidence:.0f} % confidence. Orders that another one beats in both time and sharpness are "
        "left out. The sizes of drift and scatter are population figures, not those of your stand. A claim needs two "
        "pulls of each setup and three installations or more.",
        "dim",
    )


def print_run_card(card: RunCard, console: Console) -> None:
    """Print where the question stands, the next pull, what the time left allows, and what would settle it."""
    say(console, next_words(card), "bold")
    say(console, f"Done: {card.made} (A {card.baseline}, B {card.candidate}; in brackets what was left out).")
    say(console, card.sentence or one_setup_words(card))
    if card.lacking:
        say(console, f"A claim still needs {joined(list(card.lacking))}.")
    console.print()
    table = plain_table("min", "gain it would\nshow, %", "interval\n± %", "narrower,\n% an hour", "next pull")
    for step in card.steps:
        table.add_row(
            number(step.duration / 60),
            _percent(step.detectable_gain),
            _percent(step.half_width),
            number(100 * 3600 * step.sharpening, 1) if card.average else "",
            f"{card.setup_of(step.order)}, {'after a change of setup' if step.changes_of_setup else 'as it stands'}",
        )
    console.print(table)
    console.print()
    if card.orders:
        heading = "if the session goes on" if card.time_left is None else _left(card)
        table = plain_table("hours", "pulls", "gain it would\nshow, %", "interval\n± %", f"order {heading}")
        for row in _worth_printing(card.orders):
            table.add_row(
                number(row.duration / 3600, 1),
                str(len(row.order)),
                _percent(row.detectable_gain),
                _percent(row.half_width),
                " ".join(row.order),
            )
        console.print(table)
        console.print()
    if reach := reach_words(card):
        say(console, reach)
    worth = f"{number(100 * card.worthwhile_gain, 1)}{NO_BREAK}%"
    say(console, f"To show a gain of {worth}, if it is there: {settlement_words(card.to_show, card)}")
    say(console, f"To exclude a gain of {worth}, if there is none: {settlement_words(card.to_exclude, card)}")
    console.print()
    say(
        console,
        f"All of it is about the average of {quantity_words(card.quantity)} over the range, with "
        f"{100 * card.probability:.0f} % probability at {100 * card.confidence:.0f} % confidence. The sizes of drift "
        f"and scatter are {'what the pulls so far make likely' if card.average else 'assumed, not your stand’s'}.",
        "dim",
    )


def next_words(card: RunCard) -> str:
    """The next pull in a sentence."""
    advised = card.advised
    if advised is None:
        return f"Next: no pull that fits {_left(card)} would tell more."
    how = "after a change of setup" if advised.changes_of_setup else "as it stands"
    took = f"{number(advised.duration / 60)}{NO_BREAK}min"
    return f"Next: a pull of {card.setup_of(advised.order)}, {how} ({took})."


def one_setup_words(card: RunCard) -> str:
    """What is known as long as one setup alone was pulled."""
    made = card.baseline if "A" in card.made else card.candidate
    return f"Only {made} has been pulled, so nothing is known of the gain yet."


def _left(card: RunCard) -> str:
    return f"in the {number((card.time_left or 0.0) / 3600, 1)}{NO_BREAK}hours left"


def _percent(value: float) -> str:
    return number(100 * value, 1) if value != float("inf") else "–"


def reach_words(card: RunCard) -> str:
    """How probable each verdict is at the end of the time left."""
    reach = card.reach
    if reach is None:
        return "" if card.time_left else 'While the session runs, say what is left of it: --hours-left "2 h".'
    half = f"±{NO_BREAK}{number(100 * reach.pulls.half_width, 1)}{NO_BREAK}%"
    chances = [
        f"{said} with {_chance(share)}"
        for said, share in (
            ("a gain is shown", reach.gain_shown),
            ("a loss", reach.loss_shown),
            ("neither", reach.neither),
        )
    ]
    return (
        f"The sharpest {_left(card)}: {' '.join(reach.pulls.order)}, to {half}. As things stand, {', '.join(chances)} "
        f"probability; a gain of {number(100 * card.worthwhile_gain, 1)}{NO_BREAK}% is excluded with "
        f"{_chance(reach.excluded)}."
    )


def _chance(share: float) -> str:
    if share > 0.99:
        return f"over 99{NO_BREAK}%"
    return f"under 1{NO_BREAK}%" if share < 0.01 else f"{number(100 * share)}{NO_BREAK}%"


def _worth_printing(orders: Sequence[FurtherPulls]) -> Iterator[FurtherPulls]:
    """Orders that narrow the interval by a twentieth or more over the one printed before them."""
    narrowest = float("inf")
    for row in orders:
        if row.half_width <= 0.95 * narrowest:
            narrowest = row.half_width
            yield row


def settlement_words(found: Settlement, card: RunCard) -> str:
    """What would answer a question, in a sentence."""
    if found.outlook is Outlook.SETTLED:
        return "that is so already."
    if found.outlook is Outlook.CONTRADICTED:
        return "the pulls so far speak against that."
    if found.outlook is Outlook.OUT_OF_REACH:
        return f"out of reach even with {MOST_DAYS} further days; the stand scatters too much for so small a gain."
    pulls, order = count(found.pulls, "further pull"), " ".join(found.order)
    half = f"±{NO_BREAK}{number(100 * found.half_width, 1)}{NO_BREAK}%"
    if found.outlook is Outlook.TODAY:
        when = _left(card)
    else:
        when = "on a further day" if found.days == 1 else f"on each of {found.days} further days"
    return f"{pulls}, {order} {when}, {number(found.duration / 3600, 1)}{NO_BREAK}hours in all, to {half}."

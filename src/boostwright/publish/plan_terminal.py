"""A plan as it is printed in the terminal."""

from rich.console import Console

from boostwright.publish.terminal import plain_table, say
from boostwright.studies.plan import PlanResult
from boostwright.studies.words import number, speed_span_text


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

"""A plan as a page shows it: the order that answers soonest, the others beside it, and a card to run it by."""

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from boostwright.studies.claim import claim_of
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.plan import PlannedOrder, PlanResult
from boostwright.studies.words import NO_BREAK, count, number, speed_span_text

_FEWEST_PULLS = 2  # of each setup, and
_FEWEST_CHANGES = 2  # of setup, before a claim is publishable
_USUAL_AIM = 0.02  # where nothing has been compared yet
_LEAST_AIM = 0.002


@dataclass(frozen=True, kw_only=True)
class PlanRow:
    """One order of pulls, as printed and as drawn."""

    order: str
    takes: str
    changes_of_setup: int
    half_width: str
    detectable_gain: str
    carries_claim: bool
    is_suggested: bool
    duration_h: float
    detectable_gain_percent: float


@dataclass(frozen=True, kw_only=True)
class RunStep:
    """One line of the run card."""

    name: str
    words: str


@dataclass(frozen=True, kw_only=True)
class PlanPage:
    """A plan with its words; the run card is that of the suggested order, and empty if none is enough."""

    headline: str
    answer: str
    so_far: str
    aim_percent: float
    pull_min: float
    change_min: float
    rows: list[PlanRow]
    takes: str
    steps: list[RunStep]


def plan_page(
    result: PlanResult, baseline: str, candidate: str, compared: CompareResult | None, aim: float | None
) -> PlanPage:
    """Set a plan for a page.

    Parameters
    ----------
    result : PlanResult
        The orders.
    baseline, candidate : str
        What the setups are called.
    compared : CompareResult or None
        What the pulls made so far have shown.
    aim : float or None
        Gain that should be shown, relative; else the one that the pulls have found. [-]
    """
    wanted = _aim(compared) if aim is None else aim
    chosen = next((order for order in result.orders if order.detectable_gain <= wanted and _carries_claim(order)), None)
    made = Counter(pull.setup for pull in compared.pulls) if compared else Counter[str]()
    return PlanPage(
        headline=_headline(result, chosen, wanted, compared),
        answer=f"{_spaced(chosen.order)}, {_time(chosen.duration)}" if chosen else "No order is enough",
        so_far=_so_far(compared),
        aim_percent=round(100.0 * wanted, 2),
        pull_min=round(result.question.pull_time / 60.0, 2),
        change_min=round(result.question.change_time / 60.0, 2),
        rows=[_row(order, chosen) for order in result.orders],
        takes=_time(chosen.duration) if chosen else "",
        steps=_steps(chosen, {"A": baseline, "B": candidate}, made, result.question.speed_range) if chosen else [],
    )


def _aim(compared: CompareResult | None) -> float:
    if compared is None:
        return _USUAL_AIM
    return max(round(abs(compared.average.relative_value), 3), _LEAST_AIM)


def _carries_claim(order: PlannedOrder) -> bool:
    """Whether its evidence could be publishable."""
    fewest = min(order.order.count(setup) for setup in "AB")
    return fewest >= _FEWEST_PULLS and order.changes_of_setup >= _FEWEST_CHANGES


def _headline(result: PlanResult, chosen: PlannedOrder | None, wanted: float, compared: CompareResult | None) -> str:
    stands = "These pulls carry a claim. " if compared and claim_of(compared).is_allowed else ""
    size = f"{number(100.0 * wanted, 1)}{NO_BREAK}%"
    if chosen is not None:
        probability = f"{number(100.0 * result.question.probability)}{NO_BREAK}%"
        again = "again " if compared else ""
        order = f"{_spaced(chosen.order)} in {_time(chosen.duration)}"
        return f"{stands}To show a gain of {size} {again}with {probability} probability, run {order}."
    sharpest = min(result.orders, key=lambda order: order.detectable_gain)
    least = f"{number(100.0 * sharpest.detectable_gain, 1)}{NO_BREAK}%"
    return (
        f"{stands}Eight pulls would not surely show a gain of {size}: the sharpest order, {_spaced(sharpest.order)} in "
        f"{_time(sharpest.duration)}, shows {least}."
    )


def _so_far(compared: CompareResult | None) -> str:
    if compared is None:
        return ""
    used = [pull for pull in compared.pulls if pull.used]
    half = f"±{NO_BREAK}{number(100.0 * compared.average.relative_half_width, 1)}{NO_BREAK}%"
    changes = sum(before.setup != after.setup for before, after in pairwise(used))
    return f"Made so far: {count(len(used), 'pull')}, {count(changes, 'change')} of setup, average known to {half}."


def _row(order: PlannedOrder, chosen: PlannedOrder | None) -> PlanRow:
    return PlanRow(
        order=_spaced(order.order),
        takes=_time(order.duration),
        changes_of_setup=order.changes_of_setup,
        half_width=number(100.0 * order.half_width, 1),
        detectable_gain=number(100.0 * order.detectable_gain, 1),
        carries_claim=_carries_claim(order),
        is_suggested=order is chosen,
        duration_h=round(order.duration / 3600.0, 4),
        detectable_gain_percent=round(100.0 * order.detectable_gain, 4),
    )


def _spaced(order: str) -> str:
    return NO_BREAK.join(order)


def _time(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return NO_BREAK.join([*([f"{hours}{NO_BREAK}h"] if hours else []), f"{minutes}{NO_BREAK}min"])


def _steps(
    order: PlannedOrder, names: dict[str, str], made: Counter[str], speed_range: tuple[float, float]
) -> list[RunStep]:
    """The pulls of an order, numbered on from those that were made; what must be alike is said first."""
    span = speed_span_text(*speed_range)
    alike = f"belt tension and fluids as in the test, sweep {span}; before each pull barometer, air, humidity, soak"
    steps = [RunStep(name="All", words=alike)]
    before = ""
    for letter in order.order:
        name = names[letter]
        made[name] += 1
        done = f"{name} again, nothing touched" if letter == before else f"fit {name}, pull"
        steps.append(RunStep(name=f"{letter}{made[name]}", words=done))
        before = letter
    return steps

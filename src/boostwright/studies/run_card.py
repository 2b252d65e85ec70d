"""During and after a session: which pull helps most now, what can still be shown today, and what would settle it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from scipy.special import stdtr, stdtrit

from boostwright.errors import DataError, Fault
from boostwright.inference.disturbances import Disturbances, Floats, RunOrder
from boostwright.inference.gain_budget import likely_disturbances
from boostwright.inference.run_order import (
    EFFECTIVE_DEGREES_OF_FREEDOM,
    StandNow,
    continued_order,
    order_with_days,
    repeated_order,
    rest_of_average,
    standard_uncertainty,
    timed_order,
)
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.compare import (
    RELATIVE,
    Question,
    compare_setups,
    gain_posterior,
    run_order,
)
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.plan import PlanQuestion, prior_disturbances, sharper_than_quicker, speeds_of
from boostwright.studies.run_card_result import FurtherPulls, Outlook, Reach, RunCard, Settlement
from boostwright.studies.words import count, quantity_words

MOST_FURTHER = 7
"""Pulls that are looked ahead in one session."""

MOST_DAYS = 5
FEWEST_PULLS, FEWEST_INSTALLATIONS = 2, 3  # of each setup, and of all: what a publishable grade asks for
_DAY = "ABBA"  # of which further days are made when one of seven pulls does not settle the question


@dataclass(frozen=True, kw_only=True)
class RunCardQuestion:
    """What pulls and changes take, how long the session still lasts, and which average gain matters.

    Without `time_left` the session may be over: what would settle the question is then laid out on further days.
    """

    plan: PlanQuestion
    worthwhile_gain: float
    time_left: float | None = None

    def __post_init__(self) -> None:
        if not self.worthwhile_gain > 0:
            raise ValueError(f"worthwhile_gain is {self.worthwhile_gain:g}: it is above zero, such as 0.01 for 1 %")
        if self.time_left is not None and not self.time_left > 0:
            raise ValueError(f"time_left is {self.time_left:g} s: it is above zero; leave it out after the session")


@dataclass(frozen=True, kw_only=True)
class _State:
    """What is known now; `uncertainty`, to which `scale` takes the closed form, is infinite until both were pulled."""

    order: RunOrder
    now: StandNow
    likely: Disturbances
    rest: Floats
    gain: float
    uncertainty: float
    scale: float


def run_card(pulls: Sequence[ReducedPull], question: Question, asked: RunCardQuestion) -> RunCard:
    """Lay out what follows the pulls made so far.

    Raises
    ------
    DataError
        If no pull of either setup is there, or both setups were pulled and cannot be compared.

    Notes
    -----
    The comparison of the pulls made gives the estimate, its interval and the likely sizes of the disturbances. Of an
    order with further pulls the closed form gives the uncertainty; it is scaled so that it is the comparison's own for
    the pulls made. The later estimate is then the present one, moved by a normal step whose variance is the difference
    of the two variances: best linear unbiased estimates have no other choice.
    """
    involved = [pull for pull in pulls if pull.setup in (question.baseline, question.candidate)]
    if not involved:
        remedy = "add them to campaign.toml, or plan without it: boostwright plan --range FROM:TO"
        raise DataError(str(Fault(key="pulls", problem="hold none of the two setups that are compared", remedy=remedy)))
    both = len({pull.setup for pull in involved}) == 2
    result = compare_setups(pulls, question) if both else None
    used = involved if result is None else _used(involved, result)
    state = _state(pulls, used, question, asked, result)
    further = [_in_this_session(letters, state, asked) for letters in _letters(1, MOST_FURTHER)]
    finite = [row for row in further if np.isfinite(row.half_width)]
    in_time = [row for row in finite if asked.time_left is None or row.duration <= asked.time_left]
    programmes = _programmes(state, asked, in_time)
    steps = tuple(row for row in further if len(row.order) == 1)
    average = None if result is None else result.average
    settled, contradicted = Settlement(outlook=Outlook.SETTLED), Settlement(outlook=Outlook.CONTRADICTED)
    is_shown = average is not None and average.relative_lower > 0
    is_excluded = average is not None and average.relative_upper < asked.worthwhile_gain
    return RunCard(
        title=question.title,
        quantity=question.quantity,
        baseline=question.baseline,
        candidate=question.candidate,
        confidence=question.confidence,
        probability=asked.plan.probability,
        worthwhile_gain=asked.worthwhile_gain,
        made=_made(involved, used, question),
        sentence=None if result is None else result.sentence,
        grade=None if result is None else result.grade,
        average=average,
        detectable_gain=_detectable(state.uncertainty, asked),
        steps=steps,
        advised=_advised(steps, in_time, asked),
        orders=tuple(sharper_than_quicker(in_time)),
        time_left=asked.time_left,
        reach=_reach(in_time, state, asked) if asked.time_left is not None else None,
        to_show=settled if is_shown else contradicted if is_excluded else _settlement(state, asked, programmes, _shows),
        to_exclude=settled
        if is_excluded
        else contradicted
        if is_shown
        else _settlement(state, asked, programmes, _excludes),
        lacking=tuple(_lacking(used, question)),
    )


def _used(involved: Sequence[ReducedPull], result: CompareResult) -> list[ReducedPull]:
    kept = {row.file for row in result.pulls if row.used}
    return [pull for pull in involved if pull.file in kept]


def _state(
    pulls: Sequence[ReducedPull],
    used: Sequence[ReducedPull],
    question: Question,
    asked: RunCardQuestion,
    result: CompareResult | None,
) -> _State:
    order, speed = run_order(used, question), speeds_of(question.speed_range)
    now = _stand_now(pulls, used, order, question)
    if result is None:
        if question.channel not in RELATIVE:
            problem = "cannot be planned before both setups were pulled: its scatter is not known in advance"
            remedy = "plan by power, or pull both"
            raise DataError(str(Fault(value=quantity_words(question.quantity), problem=problem, remedy=remedy)))
        likely = prior_disturbances(asked.plan.priors)
        return _State(
            order=order,
            now=now,
            likely=likely,
            rest=rest_of_average(speed, likely),
            gain=0.0,
            uncertainty=float("inf"),
            scale=1.0,
        )
    likely = likely_disturbances(gain_posterior(used, question))
    rest = rest_of_average(speed, likely)
    uncertainty = result.average.relative_half_width / _quantile(0.5 * (1 + question.confidence))
    return _State(
        order=order,
        now=now,
        likely=likely,
        rest=rest,
        gain=result.average.relative_value,
        uncertainty=uncertainty,
        scale=uncertainty / standard_uncertainty(order, likely, rest),
    )


def _stand_now(
    pulls: Sequence[ReducedPull], used: Sequence[ReducedPull], order: RunOrder, question: Question
) -> StandNow:
    """After the last pull of all, though it be left out or of a third setup: it took its time all the same."""
    last = pulls[-1]
    letters = {question.baseline: "A", question.candidate: "B"}
    here = [i for i, pull in enumerate(used) if pull.session == last.session]
    same = [i for i in here if used[i].installation == last.installation]
    newest = int(order.installation.max()) + 1
    return StandNow(
        installed=letters.get(last.setup, ""),
        session=int(order.session[here[-1]]) if here else int(order.session.max()) + 1,
        installation=int(order.installation[same[-1]]) if same else newest,
        elapsed=last.elapsed,
    )


def _letters(fewest: int, most: int) -> Iterator[str]:
    for pulls in range(fewest, most + 1):
        yield from ("".join(letters) for letters in product("AB", repeat=pulls))


def _in_this_session(letters: str, state: _State, asked: RunCardQuestion) -> FurtherPulls:
    """What the orders would bring; the time runs from the end of the last pull to the end of the last further one."""
    pull, change = asked.plan.pull_time, asked.plan.pull_time + asked.plan.change_time
    order = continued_order(state.order, state.now, letters, pull, change)
    duration = float(order.elapsed[-1]) - state.now.elapsed
    uncertainty = _uncertainty(order, state)
    half_width = uncertainty * _quantile(0.5 * (1 + asked.plan.confidence))
    narrower = _half_width(state, asked) - half_width
    return FurtherPulls(
        order=letters,
        changes_of_setup=sum(a != b for a, b in pairwise([state.now.installed, *letters])),
        duration=duration,
        half_width=half_width,
        detectable_gain=_detectable(uncertainty, asked),
        sharpening=narrower / duration if np.isfinite(narrower) else 0.0,
    )


def _uncertainty(order: RunOrder, state: _State) -> float:
    if order.is_candidate.all() or not order.is_candidate.any():
        return float("inf")
    return state.scale * standard_uncertainty(order, state.likely, state.rest)


def _half_width(state: _State, asked: RunCardQuestion) -> float:
    return state.uncertainty * _quantile(0.5 * (1 + asked.plan.confidence))


def _detectable(uncertainty: float, asked: RunCardQuestion) -> float:
    return uncertainty * (_quantile(0.5 * (1 + asked.plan.confidence)) + _quantile(asked.plan.probability))


def _quantile(probability: float) -> float:
    return float(stdtrit(EFFECTIVE_DEGREES_OF_FREEDOM, probability))


def _advised(
    steps: Sequence[FurtherPulls], in_time: Sequence[FurtherPulls], asked: RunCardQuestion
) -> FurtherPulls | None:
    """The first pull of the sharpest order that fits the time left; without a time, what sharpens most per minute.

    Nothing if the time left allows no order that says anything.
    """
    if asked.time_left is None:
        return max((step for step in steps if np.isfinite(step.half_width)), key=_sharpening)
    best = min(in_time, key=_sharpness, default=None)
    return None if best is None else next(step for step in steps if step.order == best.order[0])


def _sharpness(row: FurtherPulls) -> tuple[float, float]:
    return row.half_width, row.duration


def _sharpening(row: FurtherPulls) -> float:
    return row.sharpening


def _reach(in_time: Sequence[FurtherPulls], state: _State, asked: RunCardQuestion) -> Reach | None:
    """How probable each verdict is after the sharpest order; the later estimate moves from the present one."""
    best = min(in_time, key=_sharpness, default=None)
    if best is None or not np.isfinite(state.uncertainty):
        return None
    half_width = best.half_width
    later = half_width / _quantile(0.5 * (1 + asked.plan.confidence))
    step = np.sqrt(max(state.uncertainty**2 - later**2, 1e-12 * later**2))

    def beyond(distance: float) -> float:
        return float(stdtr(EFFECTIVE_DEGREES_OF_FREEDOM, distance / step))

    return Reach(
        pulls=best,
        gain_shown=beyond(state.gain - half_width),
        loss_shown=beyond(-state.gain - half_width),
        excluded=beyond(asked.worthwhile_gain - half_width - state.gain),
    )


def _shows(state: _State, asked: RunCardQuestion, later: float) -> bool:
    """Whether a true gain of the size that matters would be shown, with the probability asked for."""
    mean, sd = _later_estimate(state, asked.worthwhile_gain, later)
    return mean - _quantile(asked.plan.probability) * sd >= later * _quantile(0.5 * (1 + asked.plan.confidence))


def _excludes(state: _State, asked: RunCardQuestion, later: float) -> bool:
    """Whether, if there is no gain at all, one of the size that matters would be excluded."""
    mean, sd = _later_estimate(state, 0.0, later)
    upper = mean + _quantile(asked.plan.probability) * sd + later * _quantile(0.5 * (1 + asked.plan.confidence))
    return upper <= asked.worthwhile_gain


def _later_estimate(state: _State, true_gain: float, later: float) -> tuple[float, float]:
    """Mean and standard deviation of the later estimate, given the present one and the true gain.

    Its covariance with the present one is its own variance, as of any best linear unbiased estimate with a worse one.
    """
    kept = (later / state.uncertainty) ** 2
    return true_gain + kept * (state.gain - true_gain), later * float(np.sqrt(max(1.0 - kept, 0.0)))


def _settlement(
    state: _State,
    asked: RunCardQuestion,
    programmes: Sequence[Settlement],
    settles: Callable[[_State, RunCardQuestion, float], bool],
) -> Settlement:
    """The first of the programmes that is enough."""
    wide = _quantile(0.5 * (1 + asked.plan.confidence))
    enough = (programme for programme in programmes if settles(state, asked, programme.half_width / wide))
    return next(enough, Settlement(outlook=Outlook.OUT_OF_REACH))


def _programmes(state: _State, asked: RunCardQuestion, in_time: Sequence[FurtherPulls]) -> list[Settlement]:
    """What may settle a question: what is left of the session, then one further day, then several of them.

    Within each the fewest pulls come first, and of as many the quickest.
    """
    today = [
        Settlement(outlook=Outlook.TODAY, order=row.order, days=1, duration=row.duration, half_width=row.half_width)
        for row in in_time
        if asked.time_left is not None
    ]
    one_day = [_on_further_days(letters, 1, state, asked) for letters in _day_orders()]
    more_days = [_on_further_days(_DAY, days, state, asked) for days in range(2, MOST_DAYS + 1)]
    return [*sorted(today, key=_effort), *sorted(one_day, key=_effort), *more_days]


def _day_orders() -> Iterator[str]:
    """Orders of a day with both setups, so that the difference between days drops out."""
    yield from (letters for letters in _letters(2, MOST_FURTHER) if letters[0] == "A" and "B" in letters)


def _on_further_days(letters: str, days: int, state: _State, asked: RunCardQuestion) -> Settlement:
    pull, change = asked.plan.pull_time, asked.plan.pull_time + asked.plan.change_time
    day = timed_order(letters, pull, change)
    order = order_with_days(state.order, repeated_order(day, days))
    return Settlement(
        outlook=Outlook.FURTHER_DAYS,
        order=letters,
        days=days,
        duration=days * (float(day.elapsed[-1]) + pull),
        half_width=_uncertainty(order, state) * _quantile(0.5 * (1 + asked.plan.confidence)),
    )


def _effort(programme: Settlement) -> tuple[int, float, float]:
    return programme.pulls, programme.duration, programme.half_width


def _made(involved: Sequence[ReducedPull], used: Sequence[ReducedPull], question: Question) -> str:
    kept = {pull.file for pull in used}
    letters = [("B" if pull.setup == question.candidate else "A", pull.file in kept) for pull in involved]
    return " ".join(letter if is_used else f"({letter})" for letter, is_used in letters)


def _lacking(used: Sequence[ReducedPull], question: Question) -> Iterator[str]:
    """What a claim still needs beside sharpness."""
    for setup in (question.baseline, question.candidate):
        made = sum(pull.setup == setup for pull in used)
        if made < FEWEST_PULLS:
            yield f"{count(FEWEST_PULLS - made, 'pull')} of {setup}"
    installations = len({(pull.session, pull.installation) for pull in used})
    if installations < FEWEST_INSTALLATIONS:
        yield count(FEWEST_INSTALLATIONS - installations, "installation")

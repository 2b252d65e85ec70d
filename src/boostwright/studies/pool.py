"""What do several campaigns say together, and what would the next engine gain? One answer by random effects."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from scipy.special import ndtri

from boostwright.errors import DataError, Fault
from boostwright.inference.disturbances import Floats
from boostwright.inference.gain_summary import Interval
from boostwright.inference.meta_analysis import (
    FEWEST_TO_PREDICT,
    RandomEffects,
    fitted_interval,
    heterogeneity,
    mean_of,
    next_study_interval,
    random_effects,
    trend_of,
    without_one,
)
from boostwright.records.campaign import Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies import pool_words
from boostwright.studies.compare import compare_setups, question_of, reduced_pulls
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.pool_result import PooledCampaign, PoolResult, Trend
from boostwright.studies.words import joined, quantity_words, speed_span_text
from boostwright.units import display_unit

TRENDS = {"air-flow": "air_mass_flow", "boost": "boost"}
"""What a trend may be asked over: the level of the baseline, averaged over the speed range."""

FEWEST_FOR_A_TREND = 3
_USUAL_FOR_A_TREND = 10  # campaigns a moderator: a rule of thumb of meta-analysis, from memory
_LINE_POINTS = 41
_DIMENSION = {"air_mass_flow": "mass_flow", "boost": "gauge_pressure"}
_MEAN = np.ones(1)


@dataclass(frozen=True, kw_only=True)
class PoolQuestion:
    """What is asked of all campaigns alike.

    Without a speed range it is the one that all declared ranges share; a trend is asked over one of `TRENDS`, or over
    nothing.
    """

    quantity: str = "power"
    speed_range: tuple[float, float] | None = None
    trend: str | None = None
    confidence: float = 0.95


@dataclass(frozen=True, kw_only=True)
class _Compared:
    """A campaign, its pulls over the common range, and what they say by themselves."""

    campaign: Campaign
    name: str
    pulls: tuple[ReducedPull, ...]
    result: CompareResult


def pool_campaigns(
    campaigns: Sequence[Campaign], question: PoolQuestion, progress: Callable[[str], None] | None = None
) -> PoolResult:
    """Compare every campaign over the common range, and pool their gains.

    Raises
    ------
    DataError
        If there are fewer than two campaigns, they share no speed range, mix correction rules, hold the same pulls, or
        one of them compares nothing; for a trend, if there are fewer than three or one lacks the channel.
    """
    _refuse_too_few(campaigns, question)
    _refuse_mixed_rules(campaigns)
    speed_range = _common_range(campaigns, question.speed_range)
    names = _names(campaigns)
    compared = [
        _compared(campaign, name, speed_range, question, progress)
        for campaign, name in zip(campaigns, names, strict=True)
    ]
    _refuse_the_same_pull_twice(compared)
    _refuse_what_compares_nothing(compared)
    effects = np.array([one.result.average.relative_value for one in compared])
    errors = np.array([_standard_error(one.result) for one in compared])
    moderator = None if question.trend is None else _moderator(compared, TRENDS[question.trend])
    return _pooled(compared, question, speed_range, effects, errors, moderator)


def _pooled(
    compared: Sequence[_Compared],
    question: PoolQuestion,
    speed_range: tuple[float, float],
    effects: Floats,
    errors: Floats,
    moderator: Floats | None,
) -> PoolResult:
    studies = mean_of(effects, errors)
    fit = random_effects(studies)
    mean = fitted_interval(fit, _MEAN, question.confidence)
    can_predict = effects.size >= FEWEST_TO_PREDICT
    next_engine = next_study_interval(studies, fit, _MEAN, question.confidence) if can_predict else None
    apart = heterogeneity(studies, fit, question.confidence)
    without = without_one(studies) if effects.size > 2 else (None,) * effects.size
    rows = tuple(
        _row(one, fit, i, errors[i], without[i], None if moderator is None else float(moderator[i]), question)
        for i, one in enumerate(compared)
    )
    trend = None if moderator is None else _trend(effects, errors, moderator, compared[0].campaign, question)
    verdict = pool_words.verdict(mean)
    return PoolResult(
        quantity=question.quantity,
        confidence=question.confidence,
        correction=compared[0].result.correction,
        range_from=speed_range[0],
        range_to=speed_range[1],
        campaigns=rows,
        mean=mean,
        degrees_of_freedom=fit.degrees_of_freedom,
        next_engine=next_engine,
        heterogeneity=apart,
        trend=trend,
        verdict=verdict,
        headline=pool_words.headline(mean, len(rows)),
        sentence=pool_words.sentence(rows, mean, next_engine, apart.between_sd, speed_range, question.quantity),
        warnings=tuple(_warnings(rows, verdict, trend)),
    )


def _refuse_too_few(campaigns: Sequence[Campaign], question: PoolQuestion) -> None:
    least = 2 if question.trend is None else FEWEST_FOR_A_TREND
    if len(campaigns) < least:
        what = "a pool" if question.trend is None else "a trend"
        remedy = (
            "compare a single one with: boostwright compare CAMPAIGN" if len(campaigns) < 2 else "leave --trend out"
        )
        raise DataError(
            str(
                Fault(
                    value=f"{len(campaigns)}",
                    problem=f"is too few campaigns for {what}: {least} at least",
                    remedy=remedy,
                )
            )
        )
    if question.trend is not None and question.trend not in TRENDS:
        remedy = f"choose {' or '.join(TRENDS)}"
        raise DataError(
            str(Fault(key="--trend", value=f'"{question.trend}"', problem="is no trend that we draw", remedy=remedy))
        )


def _refuse_mixed_rules(campaigns: Sequence[Campaign]) -> None:
    rules = {campaign.correction: str(campaign.folder) for campaign in reversed(campaigns)}
    if len(rules) > 1:
        said = ", ".join(f"{folder} by {rule}" for rule, folder in sorted(rules.items()))
        problem = f"differs ({said}): gains under different rules are not one quantity"
        remedy = "set one correction in every campaign.toml"
        raise DataError(str(Fault(key="correction", problem=problem, remedy=remedy)))


def _common_range(campaigns: Sequence[Campaign], asked: tuple[float, float] | None) -> tuple[float, float]:
    """The range asked for, which every campaign must have declared, or all that they share."""
    low = max(campaign.speed_range[0] for campaign in campaigns)
    high = min(campaign.speed_range[1] for campaign in campaigns)
    declared = ", ".join(f"{campaign.folder} {speed_span_text(*campaign.speed_range)}" for campaign in campaigns)
    if not low < high:
        problem = f"share no engine speed ({declared})"
        raise DataError(
            str(
                Fault(value="the declared ranges", problem=problem, remedy="pool engines that share one, or scale none")
            )
        )
    if asked is None:
        return low, high
    if not (low <= asked[0] * (1 + 1e-9) and asked[1] <= high * (1 + 1e-9)):
        problem = f"reaches beyond what every campaign declared ({declared})"
        remedy = f"ask within {speed_span_text(low, high)}"
        raise DataError(str(Fault(key="--range", value=speed_span_text(*asked), problem=problem, remedy=remedy)))
    return asked


def _names(campaigns: Sequence[Campaign]) -> list[str]:
    """The folders' names, with the folder above them where two are alike."""
    paths = [campaign.folder.resolve() for campaign in campaigns]
    short = [path.name for path in paths]
    return [f"{path.parent.name}/{path.name}" if short.count(path.name) > 1 else path.name for path in paths]


def _compared(
    campaign: Campaign,
    name: str,
    speed_range: tuple[float, float],
    question: PoolQuestion,
    progress: Callable[[str], None] | None,
) -> _Compared:
    if progress is not None:
        progress(f"Comparing {name}")
    asked = replace(campaign, speed_range=speed_range)
    pulls = reduced_pulls(asked)
    try:
        result = compare_setups(pulls, replace(question_of(asked, question.quantity), confidence=question.confidence))
    except DataError as wrong:
        raise DataError(f"{campaign.folder}: {wrong}") from wrong
    return _Compared(campaign=campaign, name=name, pulls=pulls, result=result)


def _refuse_the_same_pull_twice(compared: Sequence[_Compared]) -> None:
    """The same log in two campaigns would count twice; over the same range it has the same values to the last bit."""
    seen: dict[bytes, str] = {}
    for one in compared:
        for pull in one.pulls:
            place = f"{one.campaign.folder}/{pull.file}"
            content = b"".join(values.tobytes() for _, values in sorted(pull.values.items()))
            if content in seen:
                remedy = "leave one of the campaigns out: a pull may count once"
                raise DataError(str(Fault(file=place, problem=f"is the same pull as {seen[content]}", remedy=remedy)))
            seen[content] = place


def _refuse_what_compares_nothing(compared: Sequence[_Compared]) -> None:
    for one in compared:
        if one.result.verdict == "not comparable":
            problem = f"compares nothing: {one.result.grade_reason}"
            raise DataError(str(Fault(file=str(one.campaign.folder), problem=problem, remedy="leave it out")))


def _standard_error(result: CompareResult) -> float:
    """From the interval as it is printed, so that its tails, which are heavier than a normal's, count in."""
    return result.average.relative_half_width / float(ndtri(0.5 * (1.0 + result.confidence)))


def _moderator(compared: Sequence[_Compared], quantity: str) -> Floats:
    return np.array([_baseline_level(one, quantity) for one in compared])


def _baseline_level(one: _Compared, quantity: str) -> float:
    """Mean over the range and the baseline's used pulls, in SI; boost is counted from the pull's own barometer."""
    used = {row.file for row in one.result.pulls if row.used and row.setup == one.result.baseline}
    channel = "manifold_pressure" if quantity == "boost" else quantity
    levels: list[float] = []
    for pull in one.pulls:
        if pull.file not in used:
            continue
        place = f"{one.campaign.folder}/{pull.file}"
        if channel not in pull.values:
            problem = f"has no {quantity_words(channel)}, which the trend is asked over"
            raise DataError(str(Fault(file=place, problem=problem, remedy="log it, or leave --trend out")))
        if quantity == "boost" and pull.weather is None:
            problem = "has no barometer, from which boost is counted"
            raise DataError(str(Fault(file=place, problem=problem, remedy="give the pull its weather")))
        surroundings = pull.weather.barometer if quantity == "boost" and pull.weather else 0.0
        levels.append(float(np.nanmean(pull.values[channel])) - surroundings)
    return float(np.mean(levels))


def _row(
    one: _Compared,
    fit: RandomEffects,
    place: int,
    error: float,
    without: RandomEffects | None,
    moderator: float | None,
    question: PoolQuestion,
) -> PooledCampaign:
    result = one.result
    return PooledCampaign(
        name=one.name,
        title=result.title,
        baseline=result.baseline,
        candidate=result.candidate,
        stand=one.campaign.stand.name,
        sessions=tuple(dict.fromkeys(entry.session for entry in one.campaign.pulls)),
        pulls=sum(row.used for row in result.pulls),
        gain=Interval(
            estimate=result.average.relative_value,
            lower=result.average.relative_lower,
            upper=result.average.relative_upper,
            confidence=question.confidence,
        ),
        standard_error=error,
        share=float(fit.weights[place]),
        grade=result.grade,
        grade_reason=result.grade_reason,
        others_mean=None if without is None else fitted_interval(without, _MEAN, question.confidence),
        others_between_sd=None if without is None else float(np.sqrt(without.between_variance)),
        moderator=moderator,
    )


def _trend(effects: Floats, errors: Floats, moderator: Floats, first: Campaign, question: PoolQuestion) -> Trend:
    """The line about the middle of the levels, so that neither its numbers nor its units matter to the fit."""
    if np.ptp(moderator) <= 1e-6 * np.max(np.abs(moderator)):
        problem = "is the same in every campaign, so no line can be drawn over it"
        raise DataError(
            str(Fault(key="--trend", value=f"{question.trend}", problem=problem, remedy="leave --trend out"))
        )
    middle = float(moderator.mean())
    studies = trend_of(effects, errors, moderator - middle)
    fit = random_effects(studies)
    grid = np.linspace(moderator.min(), moderator.max(), _LINE_POINTS)
    places = np.column_stack([np.ones(grid.size), grid - middle])
    line = [fitted_interval(fit, place, question.confidence) for place in places]
    following = (
        [next_study_interval(studies, fit, place, question.confidence) for place in places] if effects.size > 3 else []
    )
    quantity = TRENDS[str(question.trend)]
    return Trend(
        quantity=quantity,
        unit=display_unit(_DIMENSION[quantity], first.units),
        slope=fitted_interval(fit, np.array([0.0, 1.0]), question.confidence),
        between_sd=heterogeneity(studies, fit, question.confidence).between_sd,
        moderator=grid,
        line=np.array([one.estimate for one in line]),
        line_lower=np.array([one.lower for one in line]),
        line_upper=np.array([one.upper for one in line]),
        next_lower=np.array([one.lower for one in following]),
        next_upper=np.array([one.upper for one in following]),
    )


def _warnings(rows: Sequence[PooledCampaign], verdict: str, trend: Trend | None) -> Iterator[str]:
    if len(rows) < FEWEST_TO_PREDICT:
        yield (
            "with two campaigns the gain of a next engine cannot be known: nothing tells how far engines differ; "
            "three are the least"
        )
    for setup in ("baseline", "candidate"):
        called = list(dict.fromkeys(getattr(row, setup) for row in rows))
        if len(called) > 1:
            yield f"the {setup} is called {joined(called)}: pool only what is the same change"
    for one, other in combinations(rows, 2):
        yield from _shared(one, other)
    if unnamed := [row.name for row in rows if not row.stand]:
        yield f"{joined(unnamed)} {'name' if len(unnamed) > 1 else 'names'} no stand, so a shared one would not be seen"
    for row in rows:
        if row.grade != "publishable":
            yield f"{row.name} is {row.grade} by itself: {row.grade_reason}"
    yield from _turning(rows, verdict)
    if trend is not None and len(rows) < _USUAL_FOR_A_TREND:
        yield (
            f"{len(rows)} campaigns are few for a trend: engines that differ in {quantity_words(trend.quantity)} "
            "differ in more than that; ten are the usual least (common practice, no source)"
        )


def _turning(rows: Sequence[PooledCampaign], verdict: str) -> Iterator[str]:
    """Which campaigns decide the answer alone."""
    others = {row.name: pool_words.verdict(row.others_mean) for row in rows if row.others_mean is not None}
    for other in dict.fromkeys(others.values()):
        if other != verdict:
            names = [name for name, found in others.items() if found == other]
            which = f"without {names[0]}" if len(names) == 1 else f"without any single one of {joined(names)}"
            yield f"{which} the answer would be “{other}” instead of “{verdict}”"


def _shared(one: PooledCampaign, other: PooledCampaign) -> Iterator[str]:
    """What two campaigns share is no independent evidence, though the pool counts it as such."""
    if one.stand and one.stand == other.stand:
        days = [day for day in one.sessions if day in other.sessions]
        when = f" on the same day ({joined(days)})" if days else ""
        yield (
            f"{one.name} and {other.name} were pulled on the same stand, {one.stand}{when}: what it did to both is "
            "counted as if it were independent, so the intervals may be too narrow for other stands"
        )

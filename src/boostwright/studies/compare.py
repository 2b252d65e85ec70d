"""Did the candidate gain over the baseline, where, how sure? From reduced pulls to one frozen result."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from boostwright.errors import DataError, Fault
from boostwright.inference.disturbances import (
    DisturbancePriors,
    Floats,
    Repeatability,
    RunOrder,
    priors_at_the_inlet,
    priors_of_quantity,
    priors_on_linear_scale,
)
from boostwright.inference.fault_screen import ScreenedPull, screen_pulls
from boostwright.inference.gain_budget import UNKNOWN_SIZES, uncertainty_budget
from boostwright.inference.gain_curve import GainPosterior, fit_gain_curve
from boostwright.inference.gain_model import GainData
from boostwright.inference.gain_summary import (
    GainBand,
    crossovers,
    pairwise_confidence,
    range_average,
    simultaneous_band,
)
from boostwright.records.campaign import Campaign
from boostwright.records.pull import read_pulls
from boostwright.reduction.atmosphere import correction_rule
from boostwright.reduction.bins import LOGARITHMIC_QUANTITIES
from boostwright.reduction.claim import boosted_engine_warnings, one_correction_rule
from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReducedPull, ReductionSettings
from boostwright.studies import verdict
from boostwright.studies.compare_result import (
    CompareResult,
    Crossover,
    Curves,
    Evidence,
    Interval,
    Peak,
    PullRow,
)
from boostwright.studies.sensitivity import sensitivity_of
from boostwright.studies.words import quantity_words
from boostwright.units import System, Unit, display_unit

_ARCHIVED = ("power", "torque")

RELATIVE = LOGARITHMIC_QUANTITIES | {"rotor_speed"}
"""Quantities compared by ratio; any other is compared by difference."""

COMPANIONS = ("power", "torque", "manifold_pressure")

_DIMENSION = {
    "power": "power",
    "torque": "torque",
    "boost": "gauge_pressure",
    "manifold_pressure": "pressure",
    "blower_inlet_pressure": "pressure",
    "air_mass_flow": "mass_flow",
    "fuel_mass_flow": "mass_flow",
    "rotor_speed": "speed",
    "ignition_advance": "angle",
    "air_temperature": "temperature",
    "blower_outlet_temperature": "temperature",
    "charge_temperature": "temperature",
    "coolant_temperature": "temperature",
}
_SEED = 20260101
_SOURCE_WORDS = {
    "pull_level_sd": "level of the single pull",
    "installation_sd": "re-installation of the setup",
    "random_drift": "random drift over the session",
    "linear_drift_sd": "steady drift over the session",
    "soak_sensitivity_sd": "heat soak before the pull",
    "session_sd": "difference between days",
    "shape_sd": "bend of the pull's curve",
    "ripple_sd": "ripple within the pull",
    "noise_sd": "noise",
    "speed_axis_sd": "error of the speed signal",
    UNKNOWN_SIZES: "sizes of these disturbances not known",
}


@dataclass(frozen=True, kw_only=True)
class ArchiveEvidence:
    """What an archive gives a comparison: its stand's scatter, unless today's pulls contradict it, and words."""

    repeatability: Repeatability | None
    sentence: str


NO_ARCHIVE = ArchiveEvidence(repeatability=None, sentence="")


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked of the pulls: which setups, which quantity, over which declared range, how surely."""

    title: str
    baseline: str
    candidate: str
    quantity: str
    speed_range: tuple[float, float]
    units: System
    confidence: float = 0.95
    archive: ArchiveEvidence = NO_ARCHIVE

    @property
    def channel(self) -> str:
        """The logged quantity that answers: boost is manifold pressure, compared as absolute pressure."""
        return "manifold_pressure" if self.quantity == "boost" else self.quantity

    @property
    def unit(self) -> Unit:
        """The unit that the reader wants."""
        return unit_of(self.quantity, self.units)


def unit_of(quantity: str, units: System) -> Unit:
    """The unit that a reader of these units wants a quantity in."""
    return display_unit(_DIMENSION.get(quantity, "fraction"), units)


def question_of(campaign: Campaign, quantity: str, archive: ArchiveEvidence = NO_ARCHIVE) -> Question:
    """What a campaign asks of one quantity; an archive knows the scatter of torque and power alone."""
    return Question(
        title=campaign.title,
        baseline=campaign.baseline,
        candidate=campaign.candidate,
        quantity=quantity,
        speed_range=campaign.speed_range,
        units=campaign.units,
        archive=archive if quantity in _ARCHIVED else NO_ARCHIVE,
    )


def reduced_pulls(campaign: Campaign, progress: Callable[[str], None] | None = None) -> tuple[ReducedPull, ...]:
    """Read and reduce every pull of a campaign, in the order they were made."""
    settings = reduction_settings(campaign)
    return tuple(reduce_pull(raw, settings) for raw in read_pulls(campaign, progress))


def reduction_settings(campaign: Campaign) -> ReductionSettings:
    """How the pulls of a campaign are reduced."""
    return ReductionSettings(
        speed_range=campaign.speed_range,
        rule=correction_rule(campaign.correction),
        rotating_inertia=campaign.stand.rotating_inertia,
    )


def compare_setups(pulls: Sequence[ReducedPull], question: Question) -> CompareResult:
    """Compare candidate and baseline in one quantity; same pulls and question, same result, digit for digit.

    Raises
    ------
    DataError
        If a setup has no pull, a pull lacks the quantity, or the pulls mix correction rules.
    """
    involved = [pull for pull in pulls if pull.setup in (question.baseline, question.candidate)]
    _refuse_what_cannot_be_compared(involved, question)
    screened = screen_pulls(involved)
    used = [row.pull for row in screened if row.used]
    posterior = gain_posterior(used, question)
    band = simultaneous_band(posterior, question.confidence)
    curves = _curves(posterior, band, used, question)
    average = _average(posterior, curves, question)
    evidence = _evidence(used, question, posterior)
    parts = verdict.stretches(curves.engine_speed, curves.lower, curves.upper, question.speed_range)
    return CompareResult(
        title=question.title,
        quantity=question.quantity,
        unit=question.unit,
        baseline=question.baseline,
        candidate=question.candidate,
        confidence=question.confidence,
        correction=one_correction_rule(involved),
        curves=curves,
        range_from=question.speed_range[0],
        range_to=question.speed_range[1],
        average=average,
        baseline_peak=_peak(curves.baseline, question.baseline, curves, used),
        candidate_peak=_peak(curves.candidate, question.candidate, curves, used),
        peak_gain=_peak_gain(curves),
        crossovers=_crossovers(posterior, band),
        stretches=parts,
        uncertainty_shares=_uncertainty_shares(posterior),
        without_dropping=_without_dropping(involved, used, question),
        evidence=evidence,
        verdict=verdict.verdict(parts, evidence),
        grade=verdict.grade(evidence)[0],
        grade_reason=verdict.grade(evidence)[1],
        headline=verdict.headline(parts, curves, evidence),
        sentence=verdict.sentence(
            parts=parts,
            average=average,
            curves=curves,
            speed_range=question.speed_range,
            names=(question.baseline, question.candidate, quantity_words(question.quantity)),
            unit=question.unit,
            evidence=evidence,
        ),
        pulls=tuple(_pull_row(row, question) for row in screened),
        warnings=(*_warnings(screened, posterior), *filter(None, [question.archive.sentence])),
        sensitivity=sensitivity_of(
            posterior,
            curves,
            list(dict.fromkeys(pull.session for pull in used)),
            question.confidence,
            by_ratio=question.channel in RELATIVE,
        ),
    )


def compare_pairs(
    pulls: Sequence[ReducedPull], campaign: Campaign, quantity: str, archive: ArchiveEvidence = NO_ARCHIVE
) -> list[CompareResult]:
    """Compare every pair of the campaign's tested setups, the pair that it names first.

    Each is asked at the level that keeps the stated confidence for all pairs together.
    """
    tested = dict.fromkeys([campaign.baseline, campaign.candidate, *(pull.setup for pull in pulls)])
    first = question_of(campaign, quantity, archive)
    pairs = list(combinations(tested, 2))
    level = pairwise_confidence(first.confidence, len(tested))
    return [compare_setups(pulls, replace(first, baseline=a, candidate=b, confidence=level)) for a, b in pairs]


def compare_companions(
    pulls: Sequence[ReducedPull], campaign: Campaign, quantity: str, archive: ArchiveEvidence = NO_ARCHIVE
) -> list[CompareResult]:
    """What else a report of one quantity shows: power and torque, and manifold pressure where every pull has it."""
    involved = [pull for pull in pulls if pull.setup in (campaign.baseline, campaign.candidate)]
    return [
        compare_setups(pulls, question_of(campaign, other, archive))
        for other in COMPANIONS
        if other != quantity and all(other in pull.values for pull in involved)
    ]


def _refuse_what_cannot_be_compared(pulls: Sequence[ReducedPull], question: Question) -> None:
    refuse_setups_without_pulls(pulls, (question.baseline, question.candidate))
    lacking = [pull for pull in pulls if question.channel not in pull.values]
    if lacking:
        carried = set.intersection(*(set(pull.values) for pull in pulls))
        fault = Fault(
            file=lacking[0].file,
            value=quantity_words(question.channel),
            problem="is not logged",
            remedy=f"compare a quantity that every pull carries: {', '.join(sorted(carried))}",
        )
        raise DataError(str(fault))
    one_correction_rule(pulls)


def refuse_setups_without_pulls(pulls: Sequence[ReducedPull], setups: Sequence[str]) -> None:
    """Refuse pulls among which one of the setups has none."""
    for setup in setups:
        if not any(pull.setup == setup for pull in pulls):
            problem = "has no pull, and a gain needs at least one of each setup"
            raise DataError(
                str(Fault(value=f'setup "{setup}"', problem=problem, remedy="add its pulls to campaign.toml"))
            )


def _values(pulls: Sequence[ReducedPull], question: Question) -> Floats:
    return np.array([pull.values[question.channel] for pull in pulls])


def gain_posterior(pulls: Sequence[ReducedPull], question: Question) -> GainPosterior:
    """Fit the gain curve: of the logarithm for what is compared by ratio, else of the value itself."""
    values = _values(pulls, question)
    priors = priors_of_quantity(DisturbancePriors(repeatability=question.archive.repeatability), question.channel)
    if question.channel == "blower_inlet_pressure" and all(pull.weather is not None for pull in pulls):
        priors = priors_at_the_inlet(priors, _depression_share(values, _surroundings(pulls)))
    if question.channel in RELATIVE:
        values = np.log(values)
    else:
        priors = priors_on_linear_scale(priors, float(np.nanmean(np.abs(values))))
    data = GainData(
        engine_speed=pulls[0].engine_speed,
        values=values,
        counts=np.array([pull.counts for pull in pulls]),
        order=run_order(pulls, question),
    )
    return fit_gain_curve(data, priors, np.random.default_rng(_SEED))


def _depression_share(inlet_pressures: Floats, barometer: float) -> float:
    """Greatest mean depression of any bin over the pressure left there; pressures (pulls, bins)."""
    filled = np.isfinite(inlet_pressures).any(axis=0)
    mean = np.nanmean(inlet_pressures[:, filled], axis=0)
    return float(np.max(np.maximum(barometer - mean, 0.0) / mean))


def run_order(pulls: Sequence[ReducedPull], question: Question) -> RunOrder:
    """When and how the pulls were made."""
    sessions = list(dict.fromkeys(pull.session for pull in pulls))
    installations = list(dict.fromkeys((pull.session, pull.installation) for pull in pulls))
    soaks = [pull.soak for pull in pulls if pull.soak is not None]
    return RunOrder(
        is_candidate=np.array([pull.setup == question.candidate for pull in pulls]),
        session=np.array([sessions.index(pull.session) for pull in pulls]),
        installation=np.array([installations.index((pull.session, pull.installation)) for pull in pulls]),
        elapsed=np.array([pull.elapsed for pull in pulls]),
        soak=np.array(soaks) if len(soaks) == len(pulls) else None,
    )


def _evidence(pulls: Sequence[ReducedPull], question: Question, posterior: GainPosterior) -> Evidence:
    baseline = [pull for pull in pulls if pull.setup == question.baseline]
    candidate = [pull for pull in pulls if pull.setup == question.candidate]
    return Evidence(
        baseline_pulls=len(baseline),
        candidate_pulls=len(candidate),
        installations=len({(pull.session, pull.installation) for pull in pulls}),
        share_a_day=bool({pull.session for pull in baseline} & {pull.session for pull in candidate}),
        has_archive=question.archive.repeatability is not None,
        corrected_outside_range=any(pull.outside_range for pull in pulls),
        fit_warnings=posterior.warnings,
    )


def _curves(posterior: GainPosterior, band: GainBand, pulls: Sequence[ReducedPull], question: Question) -> Curves:
    """Both curves and the gain in the quantity's own unit, and the gain relative to the baseline."""
    baseline = posterior.baseline
    if question.channel in RELATIVE:
        level = np.exp(baseline)
        gain, lower, upper = (level * np.expm1(edge) for edge in (posterior.gain, band.lower, band.upper))
    else:
        level, gain, lower, upper = baseline, posterior.gain, band.lower, band.upper
    shown = level - _surroundings(pulls) if question.quantity == "boost" else level
    return Curves(
        engine_speed=posterior.engine_speed,
        baseline=shown,
        candidate=shown + gain,
        gain=gain,
        lower=lower,
        upper=upper,
        relative_gain=gain / shown,
        relative_lower=lower / shown,
        relative_upper=upper / shown,
    )


def _surroundings(pulls: Sequence[ReducedPull]) -> float:
    """The mean barometer of the pulls, above which boost is counted. [Pa]"""
    known = [pull.weather.barometer for pull in pulls if pull.weather is not None]
    if not known:
        remedy = "give the pulls a barometer, or compare manifold_pressure"
        raise DataError(
            str(Fault(key="barometer", problem="is given for no pull, and boost is counted from it", remedy=remedy))
        )
    return float(np.mean(known))


def _average(posterior: GainPosterior, curves: Curves, question: Question) -> Interval:
    """The gain averaged over the bins of the declared range: uniform in speed, fixed before looking at the curve."""
    level = float(np.mean(curves.baseline))
    draws = posterior.gain_draws
    if question.channel in RELATIVE:
        draws = np.exp(posterior.baseline) * np.expm1(draws)
    average = range_average(curves.gain, draws, question.confidence)
    return _interval(average.estimate, average.lower, average.upper, level)


def _interval(value: float, lower: float, upper: float, base: float) -> Interval:
    return Interval(
        value=value,
        lower=lower,
        upper=upper,
        relative_value=value / base,
        relative_lower=lower / base,
        relative_upper=upper / base,
    )


def _peak(curve: Floats, setup: str, curves: Curves, pulls: Sequence[ReducedPull]) -> Peak:
    """The highest value of a mean curve, with the mean manifold pressure and rotor speed of the setup's pulls there."""
    place = int(np.argmax(curve))
    own = [pull for pull in pulls if pull.setup == setup]

    def there(quantity: str) -> float | None:
        logged = [pull.values[quantity][place] for pull in own if quantity in pull.values]
        known = [value for value in logged if np.isfinite(value)]
        return float(np.mean(known)) if known else None

    return Peak(
        value=float(curve[place]),
        engine_speed=float(curves.engine_speed[place]),
        manifold_pressure=there("manifold_pressure"),
        rotor_speed=there("rotor_speed"),
    )


def _peak_gain(curves: Curves) -> Interval:
    """Difference of the two peaks; its interval holds whatever speeds were picked, since the band holds at all.

    The baseline is taken as it is estimated. That costs nothing: in the four examples the interval from joint draws of
    baseline and gain lies inside this one and is 0.74 to 0.77 of its width.
    """
    top = float(np.max(curves.baseline))
    value, lower, upper = (
        float(np.max(curves.baseline + edge)) - top for edge in (curves.gain, curves.lower, curves.upper)
    )
    return _interval(value, lower, upper, top)


def _pull_row(row: ScreenedPull, question: Question) -> PullRow:
    pull = row.pull
    values = pull.values[question.channel]
    if question.quantity == "boost" and pull.weather is not None:
        values = values - pull.weather.barometer
    return PullRow(
        file=pull.file,
        setup=pull.setup,
        used=row.used,
        fault=row.fault.sentence if row.fault else None,
        correction_factor=pull.correction_factor,
        corrected_outside_range=bool(pull.outside_range),
        masked=tuple(pull.masked.items()),
        sweep_rate=pull.sweep_rate,
        values=values,
    )


def _without_dropping(
    involved: Sequence[ReducedPull], used: Sequence[ReducedPull], question: Question
) -> Interval | None:
    """The average gain with every pull in it, if some were left out."""
    if len(involved) == len(used):
        return None
    posterior = gain_posterior(involved, question)
    band = simultaneous_band(posterior, question.confidence)
    return _average(posterior, _curves(posterior, band, involved, question), question)


def _uncertainty_shares(posterior: GainPosterior) -> tuple[tuple[str, float], ...]:
    """What the uncertainty of the average gain is made of, largest first, down to a hundredth of it."""
    parts = uncertainty_budget(posterior, np.ones(posterior.engine_speed.size)).contributions
    return tuple((_SOURCE_WORDS[part.name], part.share) for part in parts if part.share >= 0.01)


def _warnings(screened: Sequence[ScreenedPull], posterior: GainPosterior) -> tuple[str, ...]:
    pulls = [row.pull for row in screened]
    outside = (f"{pull.file}: {text}" for pull in pulls for text in pull.outside_range)
    kept = (f"{row.pull.file} is used although {row.fault.sentence}" for row in screened if row.fault and row.used)
    return (*posterior.warnings, *boosted_engine_warnings(pulls), *outside, *kept)


def _crossovers(posterior: GainPosterior, band: GainBand) -> tuple[Crossover, ...]:
    return tuple(
        Crossover(
            engine_speed=found.engine_speed.estimate,
            lower=found.engine_speed.lower,
            upper=found.engine_speed.upper,
            direction="loss to gain" if found.sign_after > 0 else "gain to loss",
        )
        for found in crossovers(posterior, band)
    )

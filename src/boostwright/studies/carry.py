"""What does the tested change do on another engine, pulley, altitude or fuel, and how sure is that?"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault, FitError
from boostwright.inference.calibrate import Calibration, calibrate
from boostwright.inference.posterior_draws import (
    PosteriorDraws,
    Sampler,
    central_interval,
    randomised_maximum_likelihood,
)
from boostwright.inference.priors import Points, Scope
from boostwright.inference.transfer import (
    GAIN_SPREAD,
    LEVEL_SPREAD,
    BaselineData,
    CarriedSpace,
    JointSampler,
    calibrate_jointly,
    carried_space,
    joint_draws,
)
from boostwright.machine.operating_point import OperatingPoints, matched
from boostwright.records.campaign import Campaign
from boostwright.studies.carry_result import (
    GAINS,
    LEVELS,
    CarriedBuild,
    CarryResult,
    Distance,
    Reach,
)
from boostwright.studies.carry_target import (
    CarrySource,
    CarryTarget,
    kept_scopes,
    left_behind,
    target_knowledge,
    target_points,
)
from boostwright.studies.carry_words import build_words, left_behind_note
from boostwright.studies.explain_data import campaign_data, setup_build
from boostwright.studies.explain_result import Band
from boostwright.studies.explain_words import fit_account, warnings_of
from boostwright.studies.what_if import FAR_PRESSURE, FAR_RATIO, FAR_TEMPERATURE
from boostwright.studies.words import count, number

Floats: TypeAlias = NDArray[np.float64]

DRAW_COUNT = 200
CONFIDENCE = 0.95
SEED = 20260601
SMALLEST_SHARE = 0.95  # of the draws must have an operating point at every speed before anything is said of a build
_AS_TESTED = 0.01  # of rotor speed and pressure ratio, which belt and weather change as much from pull to pull


def carry_source(campaign: Campaign) -> CarrySource:
    """Everything of a campaign that its change can be carried from."""
    return CarrySource(
        data=campaign_data(campaign),
        baseline=campaign.baseline,
        candidate=campaign.candidate,
        baseline_build=setup_build(campaign, campaign.baseline),
        candidate_build=setup_build(campaign, campaign.candidate),
    )


def carry(
    tested: CarrySource,
    targets: Sequence[CarryTarget],
    pulls_there: BaselineData | None = None,
    sampler: Sampler = randomised_maximum_likelihood,
    joint_sampler: JointSampler = joint_draws,
) -> CarryResult:
    """Carry a tested change to other builds; the same data give the same result, digit for digit.

    Parameters
    ----------
    tested : CarrySource
        The test: measured curves of both setups and their builds.
    targets : sequence of CarryTarget
        The builds, each in its weather and at its engine speeds.
    pulls_there : BaselineData
        Curves of the baseline on the one build that is carried to; both engines are then fitted together.
    sampler : callable
        How the unknowns are drawn where there is no pull on the other engine.
    joint_sampler : callable
        How they are drawn where there is one.

    Raises
    ------
    DataError
        If there are pulls of a baseline and not exactly one build.
    FitError
        If a build has no operating point.
    """
    if pulls_there is not None and len(targets) != 1:
        problem = f"was pulled on one build, and {count(len(targets), 'build')} are asked for"
        raise DataError(str(Fault(value="the baseline", problem=problem, remedy="carry to that build alone")))
    calibration = calibrate(tested.data)
    draws = sampler(calibration, DRAW_COUNT, np.random.default_rng(SEED))
    conditions = _tested_conditions(calibration, draws)
    if pulls_there is None:
        elsewhere = [_drawn_afresh(tested, target, draws) for target in targets]
    else:
        joint = calibrate_jointly(calibration, pulls_there)
        _, vectors = joint_sampler(joint, DRAW_COUNT, np.random.default_rng(SEED + 1))
        elsewhere = [_fitted_there(tested, targets[0], vectors, pulls_there)]
    builds = [_carried_build(tested, target, of, conditions) for target, of in zip(targets, elsewhere, strict=True)]
    return CarryResult(
        baseline=tested.baseline,
        candidate=tested.candidate,
        confidence=CONFIDENCE,
        engine_speed=tested.data.engine_speed,
        tested_gain=_tested_gain(draws, tested),
        builds=tuple(builds),
        warnings=warnings_of(fit_account(calibration)),
    )


@dataclass(frozen=True, kw_only=True)
class _Elsewhere:
    """The blower's unknowns on another build: the space, and draws of its vectors."""

    space: CarriedSpace
    vectors: Floats
    has_baseline: bool


def _drawn_afresh(tested: CarrySource, target: CarryTarget, draws: PosteriorDraws) -> _Elsewhere:
    """The tested blower on a build that nobody pulled; the engine of each build is drawn with the same numbers."""
    baseline, candidate = target_points(tested, target)
    space = carried_space(tested.data, baseline, candidate, target_knowledge(target), kept_scopes(tested, target))
    vectors = space.vectors(draws.vectors, np.random.default_rng(SEED + 1))
    return _Elsewhere(space=space, vectors=vectors, has_baseline=False)


def _fitted_there(tested: CarrySource, target: CarryTarget, vectors: Floats, pulls_there: BaselineData) -> _Elsewhere:
    """The tested blower on a build whose baseline was pulled, with the mixture that it was pulled with."""
    baseline, candidate = target_points(tested, target)
    there = pulls_there.points
    if "excess_air_ratio" in pulls_there.known.logged:
        for points in (baseline, candidate):
            points["excess_air_ratio"] = np.interp(
                points["engine_speed"], there["engine_speed"], there["excess_air_ratio"]
            )
    space = carried_space(tested.data, baseline, candidate, pulls_there.known, speed_span=pulls_there.speed_span)
    return _Elsewhere(space=space, vectors=vectors, has_baseline=True)


@dataclass(frozen=True, kw_only=True)
class _TestedConditions:
    """Ranges of what the blower saw in the test."""

    rotor_speed: tuple[float, float]
    pressure_ratio: tuple[float, float]


def _tested_conditions(calibration: Calibration, draws: PosteriorDraws) -> _TestedConditions:
    operating = matched(calibration.predictor.space.points(draws.vectors))
    turned, ratio = (np.median(values, axis=0) for values in (operating["rotor_speed"], operating.pressure_ratio))
    return _TestedConditions(
        rotor_speed=(float(turned.min()), float(turned.max())), pressure_ratio=(float(ratio.min()), float(ratio.max()))
    )


def _carried_build(
    tested: CarrySource, target: CarryTarget, elsewhere: _Elsewhere, conditions: _TestedConditions
) -> CarriedBuild:
    A, B = _matched_there(target, elsewhere)
    gains = {quantity.name: carried_band(_gain(quantity.name, A, B), GAIN_SPREAD) for quantity in GAINS}
    levels = [{q.name: carried_band(_level(q.name, setup), LEVEL_SPREAD) for q in LEVELS} for setup in (A, B)]
    distance, title = _distance(tested, target, conditions, A, B), PurePath(target.build.name).stem
    power = levels[0]["brake_power"]
    parts = left_behind(tested)
    build = CarriedBuild(
        build=title,
        ambient=target.ambient,
        engine_speed=target.engine_speed,
        rotor_speed=np.median(A["rotor_speed"], axis=0),
        pressure_ratio=np.median(A.pressure_ratio, axis=0),
        gains=gains,
        baseline=levels[0],
        candidate=levels[1],
        power_known_to=power.half_width / power.mean,
        distance=distance,
        has_baseline=elsewhere.has_baseline,
        is_tested_engine=Scope.ENGINE in kept_scopes(tested, target),
        sentence="",  # made of the rest, below
        notes=(left_behind_note(parts),) if parts else (),
    )
    sentence, far = build_words(build, (tested.baseline, tested.candidate), "metric")
    return replace(build, sentence=sentence, distance=replace(build.distance, sentence=far))


def _matched_there(target: CarryTarget, elsewhere: _Elsewhere) -> tuple[OperatingPoints, OperatingPoints]:
    """Both setups on the build, (draws, speeds); draws without an operating point are left out if they are few."""
    points: Points = elsewhere.space.space.points(elsewhere.vectors)
    n = target.engine_speed.size
    setups = [matched(points[:, :n]), matched(points[:, n:])]
    sound = np.all([setup.is_matched.all(axis=1) for setup in setups], axis=0)
    if np.mean(sound) < SMALLEST_SHARE:
        share = number(100 * (1 - float(np.mean(sound))))
        problem = f"has no operating point in {share} % of what is possible"
        remedy = "check its drive and sizes, or ask for other speeds"
        raise FitError(str(Fault(file=target.build.name, problem=problem, remedy=remedy)))
    rows = np.flatnonzero(sound)
    a, b = (setup.at(rows) for setup in setups)
    return a, b


def _gain(name: str, A: OperatingPoints, B: OperatingPoints) -> Floats:
    if name.endswith("_relative"):
        word = name.removesuffix("_relative")
        return B[word] / A[word] - 1.0
    return _level(name, B) - _level(name, A)


def _level(name: str, setup: OperatingPoints) -> Floats:
    return setup.boost if name == "boost" else setup[name]


def carried_band(draws: Floats, spread_factor: float) -> Band:
    """Median of draws, (draws, speeds), with intervals spread about it, at each speed and for the mean over speeds."""
    values = np.median(draws, axis=0)
    ends = [values + spread_factor * (end - values) for end in central_interval(draws, CONFIDENCE)]
    means = draws.mean(axis=1)
    mean = float(np.median(means))
    mean_ends = [mean + spread_factor * (float(end) - mean) for end in central_interval(means, CONFIDENCE)]
    return Band(
        values=values, lower=ends[0], upper=ends[1], mean=mean, mean_lower=mean_ends[0], mean_upper=mean_ends[1]
    )


def _tested_gain(draws: PosteriorDraws, tested: CarrySource) -> Band:
    """The measured gain in power as a share of the baseline's; its interval is that of the observations."""
    data = tested.data
    torque = data.channels.index("torque")
    observed = draws.observations.reshape(-1, *data.observations.shape)[:, torque]
    shares, values = np.exp(observed[:, 1] - observed[:, 0]) - 1.0, data.observations[torque]
    return carried_band(shares + (np.exp(values[1] - values[0]) - 1.0 - np.median(shares, axis=0)), 1.0)


def _distance(
    tested: CarrySource, target: CarryTarget, conditions: _TestedConditions, A: OperatingPoints, B: OperatingPoints
) -> Distance:
    turned = _furthest(A["rotor_speed"], B["rotor_speed"], conditions.rotor_speed)
    ratio = _furthest(A.pressure_ratio, B.pressure_ratio, conditions.pressure_ratio)
    thinner = target.ambient.ambient_pressure - tested.ambient.ambient_pressure
    warmer = target.ambient.air_temperature - tested.ambient.air_temperature
    fuels = tested.baseline_build.fuel_system.fuel.name, target.build.fuel_system.fuel.name
    other_air = abs(thinner) > FAR_PRESSURE or abs(warmer) > FAR_TEMPERATURE or fuels[0] != fuels[1]
    beyond = np.maximum(np.abs(turned), np.abs(ratio))
    reach = tuple(Reach.FAR if other_air else _reach(float(share)) for share in beyond)
    return Distance(
        rotor_speed=turned,
        pressure_ratio=ratio,
        ambient_pressure=thinner,
        air_temperature=warmer,
        tested_fuel=fuels[0],
        fuel=fuels[1] if fuels[0] != fuels[1] else None,
        reach=reach,
        sentence="",
    )


def _furthest(of_baseline: Floats, of_candidate: Floats, tested: tuple[float, float]) -> Floats:
    """How far the medians lie beyond the tested range, as a share of its nearer end; the further setup counts."""
    low, high = tested
    middles = np.median([of_baseline, of_candidate], axis=1)
    beyond = np.where(middles > high, middles / high - 1.0, np.where(middles < low, middles / low - 1.0, 0.0))
    return np.take_along_axis(beyond, np.abs(beyond).argmax(axis=0)[None], axis=0)[0]


def _reach(share_beyond: float) -> Reach:
    if share_beyond > FAR_RATIO:
        return Reach.FAR
    return Reach.OUTSIDE if share_beyond > _AS_TESTED else Reach.TESTED

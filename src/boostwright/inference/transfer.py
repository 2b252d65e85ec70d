"""What is known of a blower on one engine, carried to another: unknowns kept or drawn afresh by what they belong to.

A blower travels with its casting; engine, cooler and drive of the other build are drawn from their priors. Where a pull
of the baseline on the other engine exists, both engines are fitted together, with one set of blower unknowns. Fitting
them one after the other fails in the tail: what the first leaves of inlet area and filling lies along a curved valley,
and a normal summary of it loses the valley.
"""

from collections.abc import Callable, Set
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.calibrate import (
    LARGEST_STEP,
    TYPICAL_FREEDOM,
    Calibration,
    CalibrationData,
    Predictor,
    observed_scale,
    scaled_errors,
)
from boostwright.inference.nonlinear_fit import QUICK, NonlinearFit, Parameter, nonlinear_fit, standard_normal_prior
from boostwright.inference.posterior_draws import (
    CHAIN_COUNT,
    CHAIN_STEPS,
    CHAIN_WARM_UP,
    PosteriorDraws,
    chord_minimised,
    crank_nicolson,
)
from boostwright.inference.priors import (
    NOTHING_KNOWN,
    UNKNOWNS,
    Contrast,
    Influence,
    Known,
    ParameterSpace,
    Points,
    Scope,
    SpeedShape,
    Unknown,
    parameter_space,
)
from boostwright.machine.operating_point import matched

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
JointSampler: TypeAlias = Callable[
    ["JointCalibration", int, np.random.Generator], tuple[PosteriorDraws, NDArray[np.float64]]
]

TESTED_ENGINE = frozenset({Scope.ENGINE, Scope.COOLER, Scope.DRIVE})
"""Kept beside the blower where the other build is the tested engine itself, with another pulley or in other air."""

GAIN_SPREAD = 1.05
"""What intervals of carried gains are spread by about their median, from synthetic campaigns of another engine."""

LEVEL_SPREAD = 1.15
"""The same for what is said of one setup alone, such as absolute boost or power."""

OTHER_ENGINE: frozenset[Scope] = frozenset()

# Of a session in name; but an engine keeps its mixture, and its coolant but for what differs from day to day.
_OF_THE_ENGINE = ("excess_air_ratio", "coolant_temperature", "coolant_temperature warming")
_WORDS_OF = {scope: frozenset(u.word for u in UNKNOWNS if u.scope is scope) for scope in Scope}
_FURTHEST = 1.5  # spans beyond the middle up to which a slope along speed is continued


@dataclass(frozen=True, kw_only=True)
class CarriedSpace:
    """The unknowns of a tested blower on another build: the same vector, acting on the other build's points.

    `kept` says which members are those of the test, `drawn` which the other build has of its own. The others are
    differences between setups that are alike there: weather, coolant, belt and mixture of one day. `day_to_day` is how
    much, in prior standard deviations, a kept member changes from the days of the test to another.
    """

    space: ParameterSpace
    kept: Flags
    drawn: Flags
    day_to_day: Floats

    def vectors(self, tested: Floats, generator: np.random.Generator) -> Floats:
        """Vectors for the other build: what is kept from these draws of the test, the rest drawn from its prior."""
        fresh = generator.standard_normal(tested.shape)
        return np.where(self.kept, tested + self.day_to_day * fresh, np.where(self.drawn, fresh, 0.0))

    def joined(self, tested: Floats, own: Floats) -> Floats:
        """Vectors for the other build from draws of the test, and from its own unknowns, (draws, drawn members)."""
        vectors = np.where(self.kept, tested, 0.0)
        vectors[:, self.drawn] = own
        return vectors


def carried_space(
    tested: CalibrationData,
    baseline: Points,
    candidate: Points,
    known: Known = NOTHING_KNOWN,
    scopes: Set[Scope] = OTHER_ENGINE,
    speed_span: tuple[float, float] | None = None,
) -> CarriedSpace:
    """The unknowns of two tested setups on another build.

    Parameters
    ----------
    tested : CalibrationData
        The test that the blower comes from.
    baseline, candidate : ndarray of records, shape (speeds,)
        Nominal points of the two setups on the other build.
    known : Known
        What somebody has looked at on the other build.
    scopes : set of Scope
        What is the tested one beside the blower: `TESTED_ENGINE` or `OTHER_ENGINE`.
    speed_span : tuple of float
        Speeds over which the other engine's curves are laid out; its own points' where it is not given.
    """
    carried = frozenset({Scope.BLOWER, *scopes})
    if Scope.ENGINE in scopes:
        speed_span = float(tested.engine_speed.min()), float(tested.engine_speed.max())
    space = parameter_space(baseline, candidate, _joint_knowledge(tested.known, known, carried), speed_span)
    space = replace(space, influences=_along_rotor_speed(space, tested))
    is_difference = np.array([name.endswith(" difference") for name in space.names])  # curves are of the blower alone
    is_kept = np.array([scope in carried for scope in space.scopes])
    if Scope.ENGINE in scopes:
        is_kept |= np.array([name in _OF_THE_ENGINE for name in space.names])
    of_blower = np.array([scope is Scope.BLOWER for scope in space.scopes])
    alike = is_difference & ~of_blower
    return CarriedSpace(
        space=space, kept=is_kept & ~alike, drawn=~is_kept & ~alike, day_to_day=_day_to_day(space.unknowns, len(alike))
    )


def _day_to_day(unknowns: tuple[Unknown, ...], size: int) -> Floats:
    """How much the start of the coolant differs between days: what two setups were allowed to differ in."""
    changes = np.zeros(size)
    sds = {u.contrast: u.sd for u in unknowns if u.word == "coolant_temperature" and u.shape is SpeedShape.LEVEL}
    of_coolant = [u.name == "coolant_temperature" for u in unknowns]
    changes[: len(unknowns)][of_coolant] = sds[Contrast.DIFFERENCE] / sds[Contrast.COMMON]
    return changes


def _joint_knowledge(tested: Known, other: Known, carried: Set[Scope]) -> Known:
    """Of what is carried, what the test knew; of the rest, what is known of the other build."""
    words = frozenset[str]().union(*(_WORDS_OF[scope] for scope in carried))
    if Scope.ENGINE in carried:
        words |= frozenset(_OF_THE_ENGINE)
    return Known(
        stated=(tested.stated & words) | (other.stated - words), logged=(tested.logged & words) | (other.logged - words)
    )


def _along_rotor_speed(space: ParameterSpace, tested: CalibrationData) -> tuple[Influence, ...]:
    """Influences whose slopes of the blower's unknowns run along rotor speed, as far as the test's did."""
    nominal = space.nominal
    low, high = (f(_turned(tested.baseline)) for f in (np.min, np.max))
    z = np.clip((_turned(nominal) - low) / max(high - low, 1e-9) - 0.5, -_FURTHEST, _FURTHEST)
    sides = np.repeat([-0.5, 0.5], nominal.size // 2)
    influences = {influence.word: influence for influence in space.influences}
    for i, unknown in enumerate(space.unknowns):
        if unknown.scope is Scope.BLOWER and unknown.shape is SpeedShape.SLOPE:
            influence = influences[unknown.word]
            basis = influence.basis.copy()
            pattern = z * (sides if unknown.contrast is Contrast.DIFFERENCE else 1.0)
            basis[:, influence.members == i] = unknown.sd * pattern[:, None]
            influences[unknown.word] = replace(influence, basis=basis)
    return tuple(influences.values())


def _turned(points: Points) -> Floats:
    """Rotor speed without slip."""
    return np.asarray(points["engine_speed"] * points["drive_ratio"] * points["internal_step"], float)


@dataclass(frozen=True, kw_only=True)
class BaselineData:
    """Curves of the baseline setup on another engine.

    `points` are its nominal points; `observations` (channels, speeds) are logarithms where the channel is, and
    `covariance` is that of the flattened observations.
    """

    points: Points
    channels: tuple[str, ...]
    observations: Floats
    covariance: Floats
    known: Known = NOTHING_KNOWN
    degrees_of_freedom: float = TYPICAL_FREEDOM

    @property
    def speed_span(self) -> tuple[float, float]:
        """Lowest and highest engine speed."""
        speeds = self.points["engine_speed"]
        return float(speeds.min()), float(speeds.max())


class JointPredictor:
    """What the chain predicts of two engines with one blower: the test's data, then those of the other's baseline.

    A vector holds the unknowns of the test, then those that the other engine has of its own.
    """

    def __init__(self, tested: Predictor, other: BaselineData) -> None:
        """Lay out the unknowns of the other engine beside those of the test."""
        self.tested, self.other = tested, other
        # the candidate was not pulled there: its points are carried along and not looked at
        self.carried = carried_space(tested.data, other.points, other.points, other.known, speed_span=other.speed_span)
        self.whitening: Floats = np.asarray(np.linalg.inv(np.linalg.cholesky(other.covariance)), float)

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.tested.space.size + int(self.carried.drawn.sum())

    def split(self, vectors: Floats) -> tuple[Floats, Floats]:
        """Vectors of the test, and the same blowers' on the other engine."""
        tested, own = np.split(vectors, [self.tested.space.size], axis=1)
        return tested, self.carried.joined(tested, own)

    def residuals(self, vectors: Floats, observations: Floats, other_observations: Floats) -> Floats:
        """Whitened differences of predictions and observations of the test, then of the other engine."""
        tested, other = self.split(vectors)
        states = matched(self.carried.space.points(other)[:, : self.other.points.size])
        predicted = np.hstack([observed_scale(channel, states[channel]) for channel in self.other.channels])
        return np.hstack([
            (self.tested.predictions(tested) - observations) @ self.tested.whitening.T,
            (predicted - other_observations) @ self.whitening.T,
        ])  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class JointCalibration:
    """The most probable unknowns of two engines with one blower."""

    predictor: JointPredictor
    fit: NonlinearFit

    @property
    def misfit(self) -> float:
        """Sum of squares of residuals and unknowns over the number of observations: near 1 when the model serves."""
        z, r = self.fit.estimates, self.fit.residuals
        return float((r @ r + z @ z) / r.size)


def calibrate_jointly(tested: Calibration, other: BaselineData) -> JointCalibration:
    """Fit a tested engine and another one with the same blower to the curves of both at once.

    Notes
    -----
    As in the calibration of one engine, the size of each channel's errors on the other engine is rescaled by what a
    first fit leaves.
    """
    own = np.zeros(JointPredictor(tested.predictor, other).size - tested.predictor.space.size)
    first = _fitted(tested.predictor, other, np.concatenate([tested.fit.estimates, own]))
    return _fitted(tested.predictor, _rescaled(first), first.fit.estimates)


def _fitted(tested: Predictor, other: BaselineData, start: Floats) -> JointCalibration:
    predictor = JointPredictor(tested, other)
    observed = tested.data.observations.ravel(), other.observations.ravel()
    parameters = [Parameter(name=f"z{i}", start=z, largest_step=LARGEST_STEP) for i, z in enumerate(start)]
    fit = nonlinear_fit(
        lambda vectors: predictor.residuals(vectors, *observed),
        parameters,
        standard_normal_prior(len(start)),
        QUICK,
    )
    return JointCalibration(predictor=predictor, fit=fit)


def _rescaled(joint: JointCalibration) -> BaselineData:
    other = joint.predictor.other
    rows = slice(len(joint.fit.residuals) - other.observations.size, None)
    J = joint.fit.jacobian[rows]
    leverage = np.einsum("ij,jk,ik->i", J, joint.fit.covariance, J)
    each = scaled_errors(joint.fit.residuals[rows], leverage, len(other.channels), other.degrees_of_freedom)
    return replace(other, covariance=other.covariance * np.outer(each, each))


def joint_draws(
    joint: JointCalibration, draw_count: int, generator: np.random.Generator
) -> tuple[PosteriorDraws, Floats]:
    """Draws of the test's unknowns, and of those of the same blower on the other engine, by randomised fits to both.

    Notes
    -----
    More steps of each fit do not help: on 26 synthetic campaigns carried to methanol at 1600 m, 5, 10 and 40 steps had
    the same errors (gain 0.7 and 1.3 %, boost 0.6 and 1.4 to 1.5 kPa; median and 95th percentile), and unspread 95 %
    intervals of the gain held 93, 95 and 95 %.
    """
    vectors, observations = _refitted(joint, draw_count, generator)
    tested, carried = joint.predictor.split(vectors)
    return PosteriorDraws(vectors=tested, observations=observations), carried


def _refitted(joint: JointCalibration, draw_count: int, generator: np.random.Generator) -> tuple[Floats, Floats]:
    """Joint vectors fitted to perturbed observations and prior means, and the perturbed observations of the test."""
    predictor = joint.predictor
    data, other = predictor.tested.data, predictor.other
    observations = _perturbed(data.observations, data.covariance, draw_count, generator)
    others = _perturbed(other.observations, other.covariance, draw_count, generator)
    prior_mean = generator.standard_normal((draw_count, predictor.size))
    start = np.broadcast_to(joint.fit.estimates, prior_mean.shape)
    vectors = chord_minimised(
        lambda z: predictor.residuals(z, observations, others), prior_mean, start, joint.fit.jacobian
    )
    return vectors, observations


def joint_chain_draws(
    joint: JointCalibration, draw_count: int, generator: np.random.Generator
) -> tuple[PosteriorDraws, Floats]:
    """The same by Markov chains started from randomised fits: slower, and free of their approximation.

    The observations that go with the draws are those of the test as measured.
    """
    predictor = joint.predictor
    observed = predictor.tested.data.observations.ravel(), predictor.other.observations.ravel()
    start = _refitted(joint, CHAIN_COUNT, generator)[0]
    chain = crank_nicolson(lambda z: predictor.residuals(z, *observed), joint.fit, start, CHAIN_STEPS, generator)
    late = chain.vectors[:, CHAIN_WARM_UP:].reshape(-1, predictor.size)
    tested, carried = predictor.split(late[generator.choice(len(late), draw_count, replace=False)])
    same = np.broadcast_to(observed[0], (draw_count, observed[0].size))
    return PosteriorDraws(vectors=tested, observations=same), carried


def _perturbed(observations: Floats, covariance: Floats, draw_count: int, generator: np.random.Generator) -> Floats:
    root = np.linalg.cholesky(covariance)
    return observations.ravel() + generator.standard_normal((draw_count, len(root))) @ root.T

"""Which pulls are faulty: by what they show themselves, and by torque that they lose against the others of their setup.

What the screen of torque costs and finds, measured on simulated campaigns of two setups whose disturbances were drawn
anew each time from the population priors (6000 campaigns for the alarms, 1000 for each fault in one pull of 2+2, 500 of
3+3; standard errors 0.2, 1.6 and 2.2 points):

    share of campaigns, %                2+2 pulls       3+3 pulls
    a sound pull is flagged                 0.7             2.2
    found: fault of size, %             2    3    5      2    3    5
      fades over the upper 1200 rpm     3   19   69      9   42   79
      is cut over the upper 1000 rpm   22   58   89     45   79   94
      is dented over 300 rpm            8   43   77     30   69   93

Belt slip below some 3 % can therefore not be told by torque: log rotor speed, which shows 1 %.
"""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.disturbances import (
    DisturbancePriors,
    Disturbances,
    median_disturbances,
    pull_covariance,
)
from boostwright.reduction.stages import PullFault, ReducedPull

Floats = NDArray[np.float64]

POPULATION_PRIORS = DisturbancePriors()

_THRESHOLD = 4.0  # standard errors; what it costs and finds is measured in the tests
_FEWEST_BINS = 8
_FREE_LEVEL = 0.1  # sd of the level, so wide that the screen looks at shape alone: level is what setups are compared by
_DENT_BINS = (1, 2, 4)
_ROTOR_LAG = 0.01
_LAGGING_BINS = 3  # fewer may be a pickup that missed or doubled teeth, in this pull or in the best
_OWN_KINDS = frozenset({"belt slip", "misfire", "lift", "part throttle"})  # a frozen sensor's rows are masked already


@dataclass(frozen=True, kw_only=True)
class ScreenedPull:
    """A pull, whether the comparison uses it, and the fault it was flagged for."""

    pull: ReducedPull
    used: bool
    fault: PullFault | None


@dataclass(frozen=True, kw_only=True)
class _Shape:
    """A way to lose torque: the share of the loss in each bin, and the bins between which it acts."""

    kind: str
    loss: Floats
    first: int
    stop: int


@dataclass(frozen=True, kw_only=True)
class _Suspicion:
    """What one pull says against the others: its strongest loss in standard errors, and how ill the whole pull fits."""

    pull: int
    shape: _Shape
    loss: float
    t: float
    misfit: float


def screen_pulls(
    pulls: Sequence[ReducedPull], priors: DisturbancePriors = POPULATION_PRIORS
) -> tuple[ScreenedPull, ...]:
    """Flag the faulty pulls, each against the others of its setup; a flagged pull is left out if another one is left.

    A fault that all pulls of a setup show belongs to the setup: it is shown, and leaves none of them out.
    """
    shared = _shared_kinds(pulls)
    telling = _lagging_rotors(pulls) | _largest_faults(pulls, [_OWN_KINDS - kinds for kinds in shared])
    telling |= _torque_losses(pulls, telling, median_disturbances(priors))
    faults = _largest_faults(pulls, [_OWN_KINDS & kinds for kinds in shared]) | telling
    left_out = _left_out(pulls, telling)
    return tuple(ScreenedPull(pull=pull, used=i not in left_out, fault=faults.get(i)) for i, pull in enumerate(pulls))


def _shared_kinds(pulls: Sequence[ReducedPull]) -> list[frozenset[str]]:
    """For each pull, the kinds of fault that all pulls of its setup show; none where it is the only one."""
    kinds = [frozenset(fault.kind for fault in pull.faults) for pull in pulls]
    shared = [frozenset[str]() for _ in pulls]
    for members in _setups(pulls, ()):
        for i in members if len(members) > 1 else ():
            shared[i] = frozenset.intersection(*(kinds[j] for j in members))
    return shared


def _largest_faults(pulls: Sequence[ReducedPull], kinds: Sequence[frozenset[str]]) -> dict[int, PullFault]:
    faults = {i: [fault for fault in pull.faults if fault.kind in kinds[i]] for i, pull in enumerate(pulls)}
    return {i: max(own, key=lambda fault: fault.size) for i, own in faults.items() if own}


def _lagging_rotors(pulls: Sequence[ReducedPull]) -> dict[int, PullFault]:
    """Pulls whose rotor turns more slowly for its engine speed than in the best pull of the setup."""
    faults: dict[int, PullFault] = {}
    for members in _setups(pulls, ()):
        if len(members) == 1 or not all("rotor_speed" in pulls[i].values for i in members):
            continue
        ratio = np.array([pulls[i].values["rotor_speed"] / pulls[i].engine_speed for i in members])
        known = np.isfinite(ratio)
        best = np.where(known, ratio, 0.0).max(axis=0)
        lag = np.where(known, 1 - ratio / np.where(best > 0, best, 1.0), 0.0)
        for i, behind in zip(members, lag, strict=True):
            if np.sum(behind > _ROTOR_LAG) >= _LAGGING_BINS:
                faults[i] = _rotor_fault(pulls[i].engine_speed, behind)
    return faults


def _torque_losses(
    pulls: Sequence[ReducedPull], known: Mapping[int, PullFault], disturbances: Disturbances
) -> dict[int, PullFault]:
    """Flag the pull with the strongest loss, set it aside, and look again until no loss stands out."""
    found: dict[int, PullFault] = {}
    if not pulls or not all("torque" in pull.values for pull in pulls):
        return found
    level = np.log(np.array([pull.values["torque"] for pull in pulls]))
    within = pull_covariance(pulls[0].engine_speed, disturbances) + _FREE_LEVEL**2
    shapes = _shapes(level.shape[1])
    while suspicions := _suspicions(level, _setups(pulls, {*known, *found}), within, shapes):
        worst = max(suspicions, key=lambda suspicion: suspicion.t)
        # a stand rougher than the priors is rough in most pulls; one faulty pull does not move the median
        rough = max(1.0, float(np.median([suspicion.misfit for suspicion in suspicions])))
        if worst.t < _THRESHOLD * np.sqrt(rough):
            break
        found[worst.pull] = _torque_fault(pulls[worst.pull].engine_speed, worst)
    return found


def _suspicions(
    level: Floats, setups: Sequence[Sequence[int]], within: Floats, shapes: Sequence[_Shape]
) -> list[_Suspicion]:
    known = np.isfinite(level)
    rivals = [(i, [j for j in members if j != i]) for members in setups for i in members]
    return [
        _suspicion(i, level, others, within, shapes)
        for i, others in rivals
        if np.sum(known[i] & known[others].any(axis=0)) >= _FEWEST_BINS
    ]


def _suspicion(pull: int, level: Floats, others: Sequence[int], within: Floats, shapes: Sequence[_Shape]) -> _Suspicion:
    """The loss that fits best, by generalised least squares on what the pull lacks against the others' mean."""
    have = np.isfinite(level[others])
    good = np.isfinite(level[pull]) & have.any(axis=0)
    share = have[:, good] / have[:, good].sum(axis=0)
    lacking = np.sum(share * np.where(have, level[others], 0.0)[:, good], axis=0) - level[pull, good]
    # by a small inverse: a threaded triangular solver costs a hundred times more where the cores are busy
    whitening = np.linalg.inv(np.linalg.cholesky(within[np.ix_(good, good)] * (1 + share.T @ share)))
    white = whitening @ lacking
    losses = whitening @ np.array([shape.loss[good] for shape in shapes]).T
    weight = np.sum(losses**2, axis=0)
    t = np.divide(white @ losses, np.sqrt(weight), out=np.zeros_like(weight), where=weight > 0)
    best = int(np.argmax(t))
    loss = float(-np.expm1(-t[best] / np.sqrt(weight[best])))
    return _Suspicion(pull=pull, shape=shapes[best], loss=loss, t=float(t[best]), misfit=float(np.mean(white**2)))


def _shapes(bins: int) -> list[_Shape]:
    """Torque that fades from some bin on, is cut from some bin on, or is dented over one, two or four bins."""
    k = np.arange(bins, dtype=np.float64)
    return [
        *(
            _Shape(kind="fading torque", first=a, stop=bins, loss=((k - a) / (bins - 1 - a)).clip(0))
            for a in range(1, bins - 2)
        ),
        *(_Shape(kind="torque cut", first=a, stop=bins, loss=np.where(k >= a, 1.0, 0.0)) for a in range(2, bins - 1)),
        *(
            _Shape(kind="torque dent", first=a, stop=a + width, loss=np.where((k >= a) & (k < a + width), 1.0, 0.0))
            for width in _DENT_BINS
            for a in range(bins - width + 1)
        ),
    ]


def _torque_fault(engine_speed: Floats, suspicion: _Suspicion) -> PullFault:
    low, high = _span(engine_speed, suspicion.shape.first, suspicion.shape.stop)
    sentence = (
        f"its torque falls up to {suspicion.loss:.1%} short of the setup's other pulls "
        f"from {low * 60:.0f} to {high * 60:.0f} rpm ({suspicion.t:.1f} standard errors)"
    )
    return PullFault(kind=suspicion.shape.kind, from_speed=low, to_speed=high, size=suspicion.loss, sentence=sentence)


def _rotor_fault(engine_speed: Floats, lag: Floats) -> PullFault:
    behind = np.flatnonzero(lag > _ROTOR_LAG)
    low, high = _span(engine_speed, int(behind[0]), int(behind[-1]) + 1)
    size = float(lag.max())
    sentence = (
        f"its rotor falls behind the setup's best pull by up to {size:.1%} from {low * 60:.0f} to {high * 60:.0f} rpm"
    )
    return PullFault(kind="belt slip", from_speed=low, to_speed=high, size=size, sentence=sentence)


def _span(engine_speed: Floats, first: int, stop: int) -> tuple[float, float]:
    half = (engine_speed[1] - engine_speed[0]) / 2
    return float(engine_speed[first] - half), float(engine_speed[stop - 1] + half)


def _left_out(pulls: Sequence[ReducedPull], faults: Mapping[int, PullFault]) -> set[int]:
    """The flagged pulls, largest fault first, but for the last one that a setup has."""
    left_out: set[int] = set()
    for members in _setups(pulls, ()):
        flagged = sorted((i for i in members if i in faults), key=lambda i: faults[i].size, reverse=True)
        left_out |= set(flagged[: len(members) - 1])
    return left_out


def _setups(pulls: Sequence[ReducedPull], set_aside: Container[int]) -> list[list[int]]:
    """Places of the pulls of each setup, but for those set aside."""
    members: dict[str, list[int]] = {}
    for i, pull in enumerate(pulls):
        if i not in set_aside:
            members.setdefault(pull.setup, []).append(i)
    return list(members.values())

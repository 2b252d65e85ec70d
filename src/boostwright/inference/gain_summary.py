"""What may be said of a gain curve: its band, its average, where it changes sign; all on the scale that was fitted."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import comb

import numpy as np

from boostwright.inference.disturbances import Floats
from boostwright.inference.gain_curve import GainPosterior


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A best value and the interval that holds the true one with the confidence stated."""

    estimate: float
    lower: float
    upper: float
    confidence: float


@dataclass(frozen=True, kw_only=True)
class GainBand:
    """A gain curve with a simultaneous band: it holds the true curve at all speeds at once with the confidence stated.

    `critical_value` is how many standard deviations the band reaches from the estimate.
    """

    engine_speed: Floats
    estimate: Floats
    sd: Floats
    lower: Floats
    upper: Floats
    critical_value: float
    confidence: float


@dataclass(frozen=True, kw_only=True)
class ShownRange:
    """A range of engine speed over which the whole band lies above zero (sign 1) or below (sign -1)."""

    from_speed: float
    to_speed: float
    sign: int


@dataclass(frozen=True, kw_only=True)
class Crossover:
    """A change of sign that the band shows: the speed of it, its interval, and the speeds that surely enclose it."""

    engine_speed: Interval
    last_before: float
    first_after: float
    sign_after: int


def normalised_weights(posterior: GainPosterior, weights: Floats) -> Floats:
    """Weights of the bins, scaled to sum to one."""
    bins = posterior.engine_speed.size
    if weights.shape != (bins,) or not np.all(weights >= 0) or not np.sum(weights) > 0:
        raise ValueError(f"weights {weights} must be {bins} numbers, one a bin, none negative and not all zero")
    return weights / weights.sum()


def pairwise_confidence(confidence: float, setup_count: int) -> float:
    """Confidence for each pair of setups so that the statements on all pairs hold together with `confidence`.

    Notes
    -----
    Bonferroni's inequality: with m pairs each may fail with 1/m of the probability.
    """
    if setup_count < 2:
        raise ValueError(f"setup_count is {setup_count}: a pair needs two setups")
    return 1.0 - (1.0 - confidence) / comb(setup_count, 2)


def simultaneous_band(posterior: GainPosterior, confidence: float) -> GainBand:
    """The gain curve with its simultaneous band.

    Notes
    -----
    The critical value is the quantile over draws of the largest deviation, in standard deviations, at any speed [1]_.

    References
    ----------
    .. [1] T. Krivobokova, T. Kneib, G. Claeskens, Simultaneous confidence bands for penalized spline estimators,
       J. Am. Stat. Assoc. 105, 2010, 852-863.
    """
    sd = np.sqrt(np.diag(posterior.gain_covariance))
    return _band(posterior.engine_speed, posterior.gain, sd, posterior.gain_draws, confidence)


def shape_band(posterior: GainPosterior, weights: Floats, confidence: float) -> GainBand:
    """Where the candidate gains more or less than on its own average, with a simultaneous band.

    The level of a pull drops out, so with one pull of each setup this is known much better than the gain itself.
    """
    w = normalised_weights(posterior, weights)
    centred = np.eye(w.size) - np.outer(np.ones(w.size), w)
    sd = np.sqrt(np.diag(centred @ posterior.gain_covariance @ centred.T))
    return _band(posterior.engine_speed, centred @ posterior.gain, sd, posterior.gain_draws @ centred.T, confidence)


def range_average(curve: Floats, draws: Floats, confidence: float) -> Interval:
    """Average of a curve (bins,) over the declared range, even in speed, with the interval that its draws give.

    `draws` (draws, bins) are of the same curve on the same scale.
    """
    lower, upper = _central(draws.mean(axis=1), confidence)
    return Interval(estimate=float(curve.mean()), lower=lower, upper=upper, confidence=confidence)


def shown_ranges(band: GainBand) -> tuple[ShownRange, ...]:
    """The ranges of engine speed in which the band leaves zero, in order of speed."""
    sign = (band.lower > 0).astype(int) - (band.upper < 0).astype(int)
    starts = np.flatnonzero(np.diff(sign, prepend=2))  # 2 is no sign, so the first run starts too
    ends = np.r_[starts[1:], sign.size] - 1
    return tuple(
        ShownRange(from_speed=float(band.engine_speed[i]), to_speed=float(band.engine_speed[j]), sign=int(sign[i]))
        for i, j in zip(starts, ends, strict=True)
        if sign[i] != 0
    )


def crossovers(posterior: GainPosterior, band: GainBand) -> tuple[Crossover, ...]:
    """Every change of sign that the band shows: strictly below zero on one side and strictly above on the other.

    Empty where no sign change is shown, which does not mean that there is none.
    """
    shown = shown_ranges(band)
    return tuple(
        _crossover(posterior, before, after, band.confidence)
        for before, after in pairwise(shown)
        if before.sign != after.sign
    )


def _band(speed: Floats, estimate: Floats, sd: Floats, draws: Floats, confidence: float) -> GainBand:
    critical = float(np.quantile(np.max(np.abs(draws - estimate) / sd, axis=1), confidence))
    return GainBand(
        engine_speed=speed,
        estimate=estimate,
        sd=sd,
        lower=estimate - critical * sd,
        upper=estimate + critical * sd,
        critical_value=critical,
        confidence=confidence,
    )


def _crossover(posterior: GainPosterior, before: ShownRange, after: ShownRange, confidence: float) -> Crossover:
    """Interval of the root over the draws that change sign exactly once between the two ranges."""
    speed = posterior.engine_speed
    between = (speed >= before.to_speed) & (speed <= after.from_speed)
    roots = [*_single_roots(speed[between], posterior.gain_draws[:, between])] or [before.to_speed, after.from_speed]
    lower, upper = _central(np.array(roots), confidence)
    found = Interval(estimate=float(np.median(roots)), lower=lower, upper=upper, confidence=confidence)
    return Crossover(
        engine_speed=found, last_before=before.to_speed, first_after=after.from_speed, sign_after=after.sign
    )


def _single_roots(speed: Floats, curves: Floats) -> Iterator[float]:
    for curve in curves:
        changes = np.flatnonzero(np.signbit(curve[:-1]) != np.signbit(curve[1:]))
        if changes.size == 1:
            i = int(changes[0])
            yield speed[i] + (speed[i + 1] - speed[i]) * curve[i] / (curve[i] - curve[i + 1])


def _central(draws: Floats, confidence: float) -> tuple[float, float]:
    tail = 0.5 * (1.0 - confidence)
    lower, upper = np.quantile(draws, [tail, 1.0 - tail])
    return float(lower), float(upper)

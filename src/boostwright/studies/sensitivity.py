"""What the average gain would be without its drift terms, and what the pulls say of drift, heat soak and shape."""

from collections.abc import Sequence

import numpy as np

from boostwright.inference.disturbances import Floats
from boostwright.inference.gain_budget import drift_interval, gain_draws_without_drift, soak_sensitivity_interval
from boostwright.inference.gain_curve import GainPosterior
from boostwright.inference.gain_summary import Interval, range_average, shape_band, shown_ranges
from boostwright.studies.compare_result import Curves, Sensitivity, SessionDrift, Stretch

_SEED = 20260101
_SHAPE = {1: "above its average", -1: "below its average"}


def sensitivity_of(
    posterior: GainPosterior, curves: Curves, sessions: Sequence[str], confidence: float, *, by_ratio: bool
) -> Sensitivity:
    """Everything as a fraction of the mean baseline; `sessions` are named in the order of the posterior's."""
    level = float(np.mean(curves.baseline))
    unit = 1.0 if by_ratio else level
    soak = posterior.model.order.soak
    return Sensitivity(
        without_drift=_average(posterior, level, confidence, by_ratio=by_ratio),
        drift=tuple(
            SessionDrift(session=name, interval=_over(drift_interval(posterior, number, confidence), unit))
            for number, name in enumerate(sessions)
        ),
        soak=None if soak is None else _over(soak_sensitivity_interval(posterior, confidence), unit),
        shape=_shape(posterior, confidence),
    )


def _average(posterior: GainPosterior, level: float, confidence: float, *, by_ratio: bool) -> Interval:
    draws = gain_draws_without_drift(posterior, np.random.default_rng(_SEED))
    gains: Floats = np.exp(posterior.baseline) * np.expm1(draws) if by_ratio else draws
    return _over(range_average(gains.mean(axis=0), gains, confidence), level)


def _over(interval: Interval, unit: float) -> Interval:
    return Interval(
        estimate=interval.estimate / unit,
        lower=interval.lower / unit,
        upper=interval.upper / unit,
        confidence=interval.confidence,
    )


def _shape(posterior: GainPosterior, confidence: float) -> tuple[Stretch, ...]:
    """Where the candidate gains more or less than on its own average: the level of the pulls drops out of that."""
    even = np.ones(posterior.engine_speed.size)
    return tuple(
        Stretch(from_speed=part.from_speed, to_speed=part.to_speed, state=_SHAPE[part.sign])
        for part in shown_ranges(shape_band(posterior, even, confidence))
    )

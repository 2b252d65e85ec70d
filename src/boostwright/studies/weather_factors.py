"""How far the standards' weather corrections over-correct this engine: their factors beside the calibrated chain's."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.chain_form import SLIP_LAW_FORM, ChainForm
from boostwright.inference.posterior_draws import spread_interval
from boostwright.inference.priors import Points
from boostwright.physics.moist_air import VAPOUR_TO_AIR_MOLAR_MASS
from boostwright.reduction.atmosphere import CORRECTION_RULES, NO_CORRECTION, CorrectionRule, correction_factor
from boostwright.studies.explain_result import Estimate, WeatherFactor

Floats: TypeAlias = NDArray[np.float64]


def weather_factors(points: Points, confidence: float, form: ChainForm = SLIP_LAW_FORM) -> tuple[WeatherFactor, ...]:
    """Each rule's factor for power in the weather of the points, (draws, speeds), and what the chain says instead.

    The chain's factor is brake power at the rule's reference air over that in the weather of the pulls, at the same
    humidity, in the mean over speed. What it holds of the engine is what the draws hold.
    """
    power = form.matched(points)["brake_power"].mean(axis=1)
    rules = [rule for rule in CORRECTION_RULES.values() if rule is not NO_CORRECTION]
    return tuple(_factor(rule, points, power, confidence, form) for rule in rules)


def _factor(rule: CorrectionRule, points: Points, power: Floats, confidence: float, form: ChainForm) -> WeatherFactor:
    reference = points.copy()
    reference["air_temperature"] = rule.reference_temperature
    reference["ambient_pressure"] = rule.reference_pressure / _counted_share(rule, points)
    chain = form.matched(reference)["brake_power"].mean(axis=1) / power
    counted = points["ambient_pressure"] * _counted_share(rule, points)
    standard = correction_factor(rule, float(np.mean(counted)), float(np.mean(points["air_temperature"])))
    return WeatherFactor(
        correction_rule=rule.name,
        standard=standard,
        chain=_estimate(chain, confidence),
        excess=_estimate(standard / chain - 1, confidence),
    )


def _counted_share(rule: CorrectionRule, points: Points) -> Floats:
    """Share of the ambient pressure that the rule counts: all of it, or that of the dry air."""
    dry = 1 / (1 + points["humidity_ratio"] / VAPOUR_TO_AIR_MOLAR_MASS)
    return np.ones(points.shape) if rule.counts_vapour else np.asarray(dry, float)


def _estimate(draws: Floats, confidence: float) -> Estimate:
    lower, upper = spread_interval(draws, confidence)
    return Estimate(value=float(np.mean(draws)), lower=float(lower), upper=float(upper))

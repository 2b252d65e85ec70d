"""Where the uncertainty of an average gain comes from, and what the pulls say of each disturbance."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from boostwright.inference.disturbances import (
    Disturbances,
    Floats,
    disturbances_from,
    level_covariance,
    only,
    session_time,
)
from boostwright.inference.gain_curve import GainPosterior
from boostwright.inference.gain_model import GainEstimate, GainModel, bin_covariance, gain_estimate, level_evidence
from boostwright.inference.gain_summary import Interval, normalised_weights

UNKNOWN_SIZES = "unknown sizes"
"""The part of the uncertainty that comes from not knowing how large the disturbances are."""

_BETWEEN_PULLS = (
    "pull_level_sd",
    "installation_sd",
    "random_drift",
    "linear_drift_sd",
    "soak_sensitivity_sd",
    "session_sd",
)
_WITHIN_PULLS = ("shape_sd", "ripple_sd", "noise_sd", "speed_axis_sd")
_REPRESENTATIVES = 64  # equally likely draws of the sizes; shares are told to a percent, not to a digit
_DRAWS_EACH = 25  # curves for each of them


@dataclass(frozen=True, kw_only=True)
class Contribution:
    """The share of one disturbance, named by its size, in the squared uncertainty of an average gain."""

    name: str
    share: float


@dataclass(frozen=True, kw_only=True)
class UncertaintyBudget:
    """Standard uncertainty of an average gain, and what it is made of, largest first; the shares sum to one."""

    standard_uncertainty: float
    contributions: tuple[Contribution, ...]


def likely_disturbances(posterior: GainPosterior) -> Disturbances:
    """Equally likely sizes, picked from the weighted draws."""
    places = (np.arange(_REPRESENTATIVES) + 0.5) / _REPRESENTATIVES
    picked = np.minimum(np.searchsorted(np.cumsum(posterior.weights), places), posterior.weights.size - 1)
    return disturbances_from(posterior.log_parameters[picked], posterior.priors)


def uncertainty_budget(posterior: GainPosterior, weights: Floats) -> UncertaintyBudget:
    """Split the uncertainty of the average gain over its sources.

    Notes
    -----
    For disturbances of given size the estimate is a weighted sum of all values, and the variance of that sum is the sum
    over the disturbances. The average over likely sizes is reported; how much the estimate moves between them is the
    part named `UNKNOWN_SIZES`.
    """
    w = normalised_weights(posterior, weights)
    disturbances = likely_disturbances(posterior)
    estimate = gain_estimate(posterior.model, disturbances)
    functional = np.r_[np.zeros(posterior.model.common_basis.shape[1]), w @ posterior.model.gain_basis]
    variances = _variances(posterior, disturbances, _data_weights(posterior, disturbances, estimate, functional))
    variances[UNKNOWN_SIZES] = float(np.var(estimate.coefficients @ functional))
    total = sum(variances.values())
    ranked = sorted(variances.items(), key=lambda item: -item[1])
    return UncertaintyBudget(
        standard_uncertainty=float(np.sqrt(w @ posterior.gain_covariance @ w)),
        contributions=tuple(Contribution(name=name, share=variance / total) for name, variance in ranked),
    )


def gain_draws_without_drift(posterior: GainPosterior, generator: np.random.Generator) -> Floats:
    """Equally likely gain curves, one a row, as if neither drift nor heat soak had been allowed for.

    The other disturbances keep the sizes that are likely with them, so that what changes is the answer to drift alone.
    """
    model = _without_soak_effect(posterior)
    sizes = replace(
        likely_disturbances(posterior),
        random_drift=np.zeros(_REPRESENTATIVES),
        linear_drift_sd=0.0,
        soak_sensitivity_sd=0.0,
    )
    estimate = gain_estimate(model, sizes)
    root = np.linalg.cholesky(np.linalg.inv(estimate.information))
    z = generator.standard_normal((_REPRESENTATIVES, _DRAWS_EACH, estimate.coefficients.shape[1]))
    draws = estimate.coefficients[:, None] + z @ np.swapaxes(root, -1, -2)
    p = model.common_basis.shape[1]
    return np.asarray(draws[..., p:] @ model.gain_basis.T, np.float64).reshape(-1, model.engine_speed.size)


def soak_sensitivity_interval(posterior: GainPosterior, confidence: float) -> Interval:
    """What the pulls and its prior say of the change of level by heat soak. [1/K]"""
    soak = posterior.model.order.soak
    if soak is None:
        raise ValueError("no soak temperature was given: its effect cannot be told apart; log it before each pull")
    effect = _level_effect(posterior, soak - soak.mean(), posterior.priors.soak_sensitivity_sd, confidence)
    expected = posterior.priors.soak_sensitivity  # was taken off the values beforehand
    return Interval(
        estimate=expected + effect.estimate,
        lower=expected + effect.lower,
        upper=expected + effect.upper,
        confidence=confidence,
    )


def drift_interval(posterior: GainPosterior, session: int, confidence: float) -> Interval:
    """What the pulls and its prior say of the steady drift of the level within one session. [1/s]"""
    order = posterior.model.order
    if session not in order.session:
        raise ValueError(f"session {session} holds no pull: the sessions are {np.unique(order.session).tolist()}")
    time = np.where(order.session == session, session_time(order), 0.0)
    return _level_effect(posterior, time, posterior.priors.linear_drift_sd, confidence)


def _without_soak_effect(posterior: GainPosterior) -> GainModel:
    """The model with the expected effect of soak, which was taken off the values, put back."""
    model, soak = posterior.model, posterior.model.order.soak
    if soak is None:
        return model
    present = np.isfinite(model.noise_patterns)[model.pattern]
    effect = posterior.priors.soak_sensitivity * (soak - soak.mean())
    return replace(model, residuals=model.residuals + np.where(present, effect[:, None], 0.0))


def _data_weights(
    posterior: GainPosterior, disturbances: Disturbances, estimate: GainEstimate, functional: Floats
) -> Floats:
    """Weight of every value in the estimate of `functional` of the coefficients, (lanes, pulls, bins).

    The weights c solve V c = X v with v the functional in the metric of the information. A pull's part of V c is R c
    plus, at every bin, what D makes of the sums of the weights of the pulls; the sums are solved for first.
    """
    model = posterior.model
    v = np.linalg.solve(estimate.information, functional)
    p = model.common_basis.shape[1]
    present = np.isfinite(model.noise_patterns)[model.pattern].astype(np.float64)
    gain = model.design_scale[:, -1:] * (v[:, p:] @ model.gain_basis.T)[:, None]
    curves = present * ((v[:, :p] @ model.common_basis.T)[:, None] + gain)
    R = bin_covariance(model, disturbances)[..., model.pattern, :, :]
    ones = np.broadcast_to(present, curves.shape)
    by_curve, by_level = np.moveaxis(np.linalg.solve(R, np.stack([curves, ones], axis=-1)), -1, 0)
    D = level_covariance(model.order, disturbances)
    damped = np.eye(present.shape[0]) + by_level.sum(-1)[..., None] * D
    sums = np.linalg.solve(damped, by_curve.sum(-1)[..., None])
    return np.asarray(by_curve - by_level * (D @ sums), np.float64)


def _variances(posterior: GainPosterior, disturbances: Disturbances, data_weights: Floats) -> dict[str, float]:
    model, sums = posterior.model, data_weights.sum(-1)
    variances: dict[str, float] = {}
    for name in _BETWEEN_PULLS:
        D = level_covariance(model.order, only(disturbances, name))
        variances[name] = float(((sums[:, None] @ D)[:, 0] * sums).sum(-1).mean())
    for name in _WITHIN_PULLS:
        R = bin_covariance(model, only(disturbances, name))[..., model.pattern, :, :]
        variances[name] = float(((data_weights[..., None, :] @ R)[..., 0, :] * data_weights).sum((-1, -2)).mean())
    return variances


def _level_effect(posterior: GainPosterior, regressor: Floats, prior_sd: float, confidence: float) -> Interval:
    """Coefficient of a regressor (pulls,) of the levels that is normal about zero beforehand, over likely sizes."""
    evidence = level_evidence(posterior.model, likely_disturbances(posterior))
    means = prior_sd**2 * (evidence.level_signal @ regressor)
    variances = prior_sd**2 - prior_sd**4 * (evidence.level_precision @ regressor @ regressor)
    return _normal_interval(float(means.mean()), float(variances.mean() + means.var()), confidence)


def _normal_interval(mean: float, variance: float, confidence: float) -> Interval:
    reach = float(ndtri(0.5 * (1.0 + confidence)) * np.sqrt(variance))
    return Interval(estimate=mean, lower=mean - reach, upper=mean + reach, confidence=confidence)

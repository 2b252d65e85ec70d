"""The gain curve of a candidate setup over its baseline, with all that is uncertain about the disturbances integrated.

Nothing of the gain itself is smoothed or shrunk: its spline is not penalised, only the disturbances have priors. A
penalised gain curve looks sharper and loses the top of a narrow gain.
"""

from dataclasses import dataclass

import numpy as np

from boostwright.inference.disturbances import FITTED, DisturbancePriors, Floats, disturbances_from
from boostwright.inference.gain_model import GainData, GainModel, gain_estimate, gain_model
from boostwright.inference.importance import (
    ProposedDraws,
    effective_draws,
    importance_weights,
    proposal_at_mode,
    proposed_draws,
)
from boostwright.inference.prior_density import archive_probability, log_prior_density, single_normal_priors

IMPORTANCE_DRAWS = 320
CURVE_DRAWS = 1600
FEWEST_EFFECTIVE_DRAWS = 20.0
LEAST_ARCHIVE_PROBABILITY = 0.2

_RIPPLE, _NOISE = FITTED.index("ripple_sd"), FITTED.index("noise_sd")


@dataclass(frozen=True, kw_only=True)
class GainPosterior:
    """What the pulls say of the gain curve, on the scale of the values that were fitted.

    `baseline`, `gain` and `gain_covariance` are means and covariance at the bins; `baseline_draws` and `gain_draws`
    are equally likely pairs of curves, one a row. `log_parameters` are weighted draws of the logarithms of the
    disturbances, in the order of FITTED.
    """

    engine_speed: Floats
    baseline: Floats
    gain: Floats
    gain_covariance: Floats
    baseline_draws: Floats
    gain_draws: Floats
    log_parameters: Floats
    weights: Floats
    model: GainModel
    priors: DisturbancePriors
    archive_probability: float
    warnings: tuple[str, ...]


def fit_gain_curve(data: GainData, priors: DisturbancePriors, generator: np.random.Generator) -> GainPosterior:
    """Fit the gain curve; the same data, priors and generator state give the same answer.

    Parameters
    ----------
    data : GainData
        Pulls of two setups in common speed bins.
    priors : DisturbancePriors
        What is known of the disturbances, on the scale of the data.
    generator : numpy.random.Generator
        Source of the draws.

    Notes
    -----
    For given disturbances the model is a linear mixed model (functional random effects, [1]_), solved exactly. Their
    sizes are integrated over their restricted likelihood times their priors, by importance sampling: with few pulls a
    plugged-in size makes an interval too narrow; the mixture over sizes gives it the wider tails that it should have.

    References
    ----------
    .. [1] W. Guo, Functional mixed effects models, Biometrics 58, 2002 (from memory).
    """
    model = gain_model(data, priors.soak_sensitivity)
    one_mode_priors = single_normal_priors(priors)

    def log_posterior(coordinates: Floats) -> Floats:
        log_parameters = _log_parameters(coordinates)
        estimate = gain_estimate(model, disturbances_from(log_parameters, priors))
        return estimate.log_likelihood + log_prior_density(log_parameters, one_mode_priors)

    start = _coordinates(np.log([getattr(one_mode_priors, name).median for name in FITTED]))
    proposed = proposed_draws(proposal_at_mode(log_posterior, start), IMPORTANCE_DRAWS, generator)
    return _posterior(model, priors, proposed, generator)


def _coordinates(log_parameters: Floats) -> Floats:
    """The logarithms with ripple and noise replaced by their joint size and their ratio.

    Pulls tell the joint size well and the ratio hardly. Along the curved ridge of the two logarithms one campaign of
    twenty was left with 26 effective draws of 480; along these coordinates it is left with 78 of 320. The change keeps
    volumes, so densities carry over as they are.
    """
    coordinates, ripple, noise = log_parameters.copy(), log_parameters[..., _RIPPLE], log_parameters[..., _NOISE]
    coordinates[..., _RIPPLE] = 0.5 * np.logaddexp(2 * ripple, 2 * noise)
    coordinates[..., _NOISE] = ripple - noise
    return coordinates


def _log_parameters(coordinates: Floats) -> Floats:
    """The inverse of `_coordinates`."""
    log_parameters, joint, ratio = coordinates.copy(), coordinates[..., _RIPPLE], coordinates[..., _NOISE]
    noise = joint - 0.5 * np.logaddexp(0.0, 2 * ratio)
    log_parameters[..., _RIPPLE] = noise + ratio
    log_parameters[..., _NOISE] = noise
    return log_parameters


def _posterior(
    model: GainModel, priors: DisturbancePriors, proposed: ProposedDraws, generator: np.random.Generator
) -> GainPosterior:
    log_parameters = _log_parameters(proposed.draws)
    estimate = gain_estimate(model, disturbances_from(log_parameters, priors))
    log_density = estimate.log_likelihood + log_prior_density(log_parameters, priors)
    weights = importance_weights(log_density - proposed.log_density)
    covariance = np.asarray(np.linalg.inv(estimate.information), np.float64)
    draws = _coefficient_draws(estimate.coefficients, covariance, weights, generator)
    mean = weights @ estimate.coefficients
    apart = estimate.coefficients - mean
    total = np.tensordot(weights, covariance, axes=1) + (weights * apart.T) @ apart
    p = model.common_basis.shape[1]
    baseline_basis = np.hstack([model.common_basis, -0.5 * model.gain_basis])
    probability = float(weights @ archive_probability(log_parameters, priors))
    return GainPosterior(
        engine_speed=model.engine_speed,
        baseline=model.first_curve + baseline_basis @ mean,
        gain=model.gain_basis @ mean[p:],
        gain_covariance=model.gain_basis @ total[p:, p:] @ model.gain_basis.T,
        baseline_draws=model.first_curve + draws @ baseline_basis.T,
        gain_draws=draws[:, p:] @ model.gain_basis.T,
        log_parameters=log_parameters,
        weights=weights,
        model=model,
        priors=priors,
        archive_probability=probability,
        warnings=_warnings(effective_draws(weights), probability),
    )


def _coefficient_draws(
    coefficients: Floats, covariance: Floats, weights: Floats, generator: np.random.Generator
) -> Floats:
    """Equally likely draws from the weighted mixture of normals; each component is picked as often as it weighs."""
    places = (np.arange(CURVE_DRAWS) + generator.random()) / CURVE_DRAWS
    picked = np.minimum(np.searchsorted(np.cumsum(weights), places), weights.size - 1)
    used, component = np.unique(picked, return_inverse=True)
    root = np.linalg.cholesky(covariance[used])
    z = generator.standard_normal((CURVE_DRAWS, coefficients.shape[1], 1))
    return coefficients[picked] + (root[component] @ z)[..., 0]


def _warnings(effective: float, probability: float) -> tuple[str, ...]:
    said: list[str] = []
    if effective < FEWEST_EFFECTIVE_DRAWS:
        said.append(
            f"the sizes of the disturbances rest on only {effective:.0f} effective draws, so the intervals are rough: "
            "look for a pull unlike the others, or add pulls"
        )
    if probability < LEAST_ARCHIVE_PROBABILITY:
        said.append(
            f"these pulls scatter unlike the stand's archive, which holds today with probability {probability:.2f}; "
            "the intervals follow the pulls: look for what is different today"
        )
    return tuple(said)

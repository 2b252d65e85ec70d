"""Weighted draws from a smooth density with one mode, whose values come in batches.

A multivariate t with the density's mode and curvature proposes the draws; the ratio of the densities weighs them.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from boostwright.inference.disturbances import Floats

BatchDensity = Callable[[Floats], Floats]  # (lanes, parameters) to the logarithm of the density, (lanes,)

LARGEST_WEIGHT = 0.15

_TAIL = 7.0  # degrees of freedom of the proposal: heavier tails than the density, so that no weight runs away
_GRADIENT_STEP = 1e-4
_HESSIAN_STEP = 0.02
_FIRST_VARIANCE = 0.25  # of logarithms known to a factor of 1.6
_MOST_STEPS = 60
_SMALL_GAIN = 2e-3  # twice the gain that a full step promises: the proposal need not sit nearer to the mode
_SHORTENINGS = np.array([1.0, 0.5, 0.2, 0.05])
_LEAST_CURVATURE = 0.5  # of a logarithm; flatter or negative curvature would send draws anywhere


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """A multivariate t: its mode, and a root of its scale matrix."""

    mode: Floats
    root: Floats


@dataclass(frozen=True, kw_only=True)
class ProposedDraws:
    """Draws (draws, parameters) and the logarithm of the density that proposed them, up to a constant."""

    draws: Floats
    log_density: Floats


def proposal_at_mode(log_density: BatchDensity, start: Floats) -> Proposal:
    """A multivariate t at the density's mode, with the curvature it has there."""
    mode = _mode(log_density, start)
    curvature, axes = np.linalg.eigh(-_hessian(log_density, mode))
    return Proposal(mode=mode, root=axes / np.sqrt(np.maximum(curvature, _LEAST_CURVATURE)))


def proposed_draws(proposal: Proposal, draw_count: int, generator: np.random.Generator) -> ProposedDraws:
    """Draws from the proposal."""
    n = proposal.mode.size
    z = generator.standard_normal((draw_count, n))
    z /= np.sqrt(generator.chisquare(_TAIL, (draw_count, 1)) / _TAIL)
    log_density = -0.5 * (_TAIL + n) * np.log1p((z**2).sum(1) / _TAIL)
    return ProposedDraws(draws=proposal.mode + z @ proposal.root.T, log_density=log_density)


def importance_weights(log_ratio: Floats) -> Floats:
    """Weights that sum to one, from logarithms of density over proposal; no single draw may rule the answer."""
    ratio = np.exp(log_ratio - log_ratio.max())
    capped = np.minimum(ratio / ratio.sum(), LARGEST_WEIGHT)
    return capped / capped.sum()


def effective_draws(weights: Floats) -> float:
    """The number of equally weighted draws that would be worth as much."""
    return float(1.0 / np.sum(weights**2))


def _mode(log_density: BatchDensity, start: Floats) -> Floats:
    """Climb to the mode by BFGS steps, none longer than one unit: far out a covariance is no longer one in numbers."""
    x, inverse = start, _FIRST_VARIANCE * np.eye(start.size)
    value, slope = _value_and_slope(log_density, x)
    for _ in range(_MOST_STEPS):
        step = inverse @ slope
        if slope @ step < _SMALL_GAIN:
            break
        tried = x + _SHORTENINGS[:, None] * step / max(1.0, float(np.abs(step).max()))
        best = tried[np.argmax(log_density(tried))]
        best_value, best_slope = _value_and_slope(log_density, best)
        if best_value <= value:
            break
        inverse = _updated_inverse(inverse, best - x, slope - best_slope)
        x, value, slope = best, best_value, best_slope
    return x


def _value_and_slope(log_density: BatchDensity, x: Floats) -> tuple[float, Floats]:
    n, h = x.size, _GRADIENT_STEP
    values = log_density(x + h * np.vstack([np.zeros(n), np.eye(n), -np.eye(n)]))
    return float(values[0]), (values[1 : n + 1] - values[n + 1 :]) / (2 * h)


def _updated_inverse(inverse: Floats, moved: Floats, bent: Floats) -> Floats:
    """BFGS update of the inverse of the negative Hessian; left alone where the density is not concave."""
    along = moved @ bent
    if along <= 1e-10:
        return inverse
    project = np.eye(moved.size) - np.outer(moved, bent) / along
    return project @ inverse @ project.T + np.outer(moved, moved) / along


def _hessian(log_density: BatchDensity, at: Floats) -> Floats:
    i, j = np.triu_indices(at.size)
    e = _HESSIAN_STEP * np.eye(at.size)
    corners = np.concatenate([at + e[i] + e[j], at + e[i] - e[j], at - e[i] + e[j], at - e[i] - e[j]])
    value = log_density(corners).reshape(4, -1)
    hessian = np.zeros((at.size, at.size))
    hessian[i, j] = hessian[j, i] = (value[0] - value[1] - value[2] + value[3]) / (4 * _HESSIAN_STEP**2)
    return hessian

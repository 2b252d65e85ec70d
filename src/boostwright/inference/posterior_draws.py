"""Draws of the machine's unknowns given the data, by an optimiser and, to check it, by a Markov chain.

Gaussian draws around the fit must not be pushed through the chain: torque and boost fix combinations of unknowns along
curved valleys, which such draws leave. They made the interval of the gain in air flow three times too wide.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.calibrate import Calibration
from boostwright.inference.nonlinear_fit import BatchResiduals, NonlinearFit

Floats: TypeAlias = NDArray[np.float64]
Sampler: TypeAlias = Callable[[Calibration, int, np.random.Generator], "PosteriorDraws"]

CHORD_STEPS = 10
CHAIN_STEP = 0.3
CHAIN_COUNT = 60
CHAIN_STEPS = 400
CHAIN_WARM_UP = 10  # kept steps, a hundred in all: the start is near the posterior already
SPREAD_FACTOR = (
    1.15  # with it the intervals of synthetic campaigns of another, richer engine hold the truth as they say
)


@dataclass(frozen=True, kw_only=True)
class PosteriorDraws:
    """Draws of the unknowns, (draws, unknowns), each with the observations it was fitted to, (draws, observations)."""

    vectors: Floats
    observations: Floats


@dataclass(frozen=True, kw_only=True)
class ChainDraws:
    """Draws of a Markov chain, (chains, kept steps, unknowns), and the share of steps that were accepted."""

    vectors: Floats
    acceptance: float


def randomised_maximum_likelihood(
    calibration: Calibration, draw_count: int, generator: np.random.Generator
) -> PosteriorDraws:
    """Draws by fitting again: each to its own perturbed data and its own perturbed prior mean.

    Notes
    -----
    All draws start from the fit and take chord steps with its curvature, in one batch; a step that does not lower the
    draw's own sum of squares is halved. Exact for a linear model.

    References
    ----------
    .. [1] P. K. Kitanidis, Quasi-linear geostatistical theory for inversing, Water Resources Research 31, 1995
       (from memory).
    .. [2] D. S. Oliver, N. He, A. C. Reynolds, Conditioning permeability fields to pressure data, European Conference
       on the Mathematics of Oil Recovery, 1996 (from memory).
    """
    predictor, fit = calibration.predictor, calibration.fit
    root = np.linalg.cholesky(predictor.data.covariance)
    noise = generator.standard_normal((draw_count, len(root))) @ root.T
    observations = predictor.data.observations.ravel() + noise
    prior_mean = generator.standard_normal((draw_count, len(fit.estimates)))
    start = np.broadcast_to(fit.estimates, prior_mean.shape)
    vectors = chord_minimised(predictor.residuals(observations), prior_mean, start, fit.jacobian)
    return PosteriorDraws(vectors=vectors, observations=observations)


def chord_minimised(residuals: BatchResiduals, prior_mean: Floats, start: Floats, jacobian: Floats) -> Floats:
    """Vectors nearer to the minimum of |residuals|^2 + |vector - prior mean|^2, one for each row."""
    inverse = np.linalg.inv(jacobian.T @ jacobian + np.eye(jacobian.shape[1]))
    at, r = start.copy(), residuals(start)
    cost = _cost(r, at - prior_mean)
    length = np.ones((len(at), 1))
    for _ in range(CHORD_STEPS):
        trial = at - length * ((r @ jacobian + at - prior_mean) @ inverse)
        trial_residuals = residuals(trial)
        trial_cost = _cost(trial_residuals, trial - prior_mean)
        better = (trial_cost < cost)[:, None]
        at, r = np.where(better, trial, at), np.where(better, trial_residuals, r)
        cost, length = np.minimum(trial_cost, cost), np.where(better, length, length / 2)
    return at


def _cost(residuals: Floats, from_prior: Floats) -> Floats:
    """Sums of squares of each row, infinite where the chain has no solution."""
    squares = np.sum(residuals**2, axis=1) + np.sum(from_prior**2, axis=1)
    return np.nan_to_num(squares, nan=np.inf, posinf=np.inf)


def chain_draws(calibration: Calibration, draw_count: int, generator: np.random.Generator) -> PosteriorDraws:
    """Draws of the late steps of preconditioned chains: slower than refitted draws, and free of their approximation.

    Notes
    -----
    The observations that go with a draw are those that would have led to it: moved as its predictions are, and with the
    part of the noise that the fit does not follow. For a linear model they are distributed as those of refitted draws.
    """
    predictor, fit = calibration.predictor, calibration.fit
    start = randomised_maximum_likelihood(calibration, CHAIN_COUNT, generator)
    late = preconditioned_chain(calibration, start, CHAIN_STEPS, generator).vectors[:, CHAIN_WARM_UP:]
    every = late.reshape(-1, late.shape[2])
    vectors = every[generator.choice(len(every), draw_count, replace=False)]
    moved = predictor.predictions(vectors) - predictor.predictions(fit.estimates[None])
    noise = _unfollowed_noise(fit.jacobian, draw_count, generator) @ np.linalg.cholesky(predictor.data.covariance).T
    return PosteriorDraws(vectors=vectors, observations=predictor.data.observations.ravel() + moved + noise)


def _unfollowed_noise(jacobian: Floats, draw_count: int, generator: np.random.Generator) -> Floats:
    """Draws of covariance I - J (J'J + I)^-1 J' = (I + JJ')^-1: what a fit with a unit prior leaves of unit noise."""
    variances, directions = np.linalg.eigh(np.eye(len(jacobian)) + jacobian @ jacobian.T)
    return generator.standard_normal((draw_count, len(jacobian))) / np.sqrt(variances) @ directions.T


def preconditioned_chain(
    calibration: Calibration, draws: PosteriorDraws, step_count: int, generator: np.random.Generator
) -> ChainDraws:
    """Draws by a preconditioned Crank-Nicolson chain, started from other draws: slower, and right without a factor.

    Notes
    -----
    The reference of the proposals is the Gaussian of the fit's curvature, so that along well-known directions the
    steps are short; every tenth step is kept.

    References
    ----------
    .. [1] S. L. Cotter, G. O. Roberts, A. M. Stuart, D. White, MCMC methods for functions: modifying old algorithms to
       make them faster, Statistical Science 28(3), 2013 (from memory).
    """
    predictor = calibration.predictor
    residuals = predictor.residuals(predictor.data.observations.ravel())
    return crank_nicolson(residuals, calibration.fit, draws.vectors[:CHAIN_COUNT], step_count, generator)


def crank_nicolson(
    residuals: BatchResiduals, fit: NonlinearFit, start: Floats, step_count: int, generator: np.random.Generator
) -> ChainDraws:
    """The same for any whitened residuals with a standard normal prior, one chain for each row of `start`."""
    to_unit = np.linalg.cholesky(fit.jacobian.T @ fit.jacobian + np.eye(len(fit.estimates))).T
    from_unit = np.linalg.inv(to_unit)
    x = (start - fit.estimates) @ to_unit.T
    excess = _excess(residuals, fit.estimates + x @ from_unit.T, x)
    kept: list[Floats] = []
    accepted = 0.0
    for step in range(step_count):
        trial = np.sqrt(1 - CHAIN_STEP**2) * x + CHAIN_STEP * generator.standard_normal(x.shape)
        trial_excess = _excess(residuals, fit.estimates + trial @ from_unit.T, trial)
        moves = np.log(generator.random(len(x))) < excess - trial_excess
        x, excess = np.where(moves[:, None], trial, x), np.where(moves, trial_excess, excess)
        accepted += float(np.mean(moves)) / step_count
        if step % 10 == 9:
            kept.append(fit.estimates + x @ from_unit.T)
    return ChainDraws(vectors=np.stack(kept, axis=1), acceptance=accepted)


def _excess(residuals: BatchResiduals, vectors: Floats, units: Floats) -> Floats:
    """Negative logarithm of the posterior over the Gaussian reference, for each row."""
    return 0.5 * (_cost(residuals(vectors), vectors) - np.sum(units**2, axis=1))


def central_interval(draws: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Central interval of draws along their first axis."""
    lower, upper = np.quantile(draws, [0.5 - confidence / 2, 0.5 + confidence / 2], axis=0)
    return np.asarray(lower, float), np.asarray(upper, float)


def spread_interval(draws: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Central interval of draws by randomised maximum likelihood, spread about their median by the measured factor."""
    middle = np.median(draws, axis=0)
    lower, upper = central_interval(draws, confidence)
    return middle + SPREAD_FACTOR * (lower - middle), middle + SPREAD_FACTOR * (upper - middle)

"""How well an order of pulls would show a gain, before any pull is made."""

import numpy as np
from scipy.stats import t as student

from boostwright.inference.disturbances import (
    Disturbances,
    Flags,
    Floats,
    RunOrder,
    level_covariance,
    pull_covariance,
)

EFFECTIVE_DEGREES_OF_FREEDOM = 12.0
"""Tails of the average gain's interval with two to four pulls of each setup, the priors counted in."""


def timed_order(letters: str, between_pulls: float, change_of_setup: float) -> RunOrder:
    """An order such as "ABBA" in one session; A is the baseline, B the candidate.

    Parameters
    ----------
    letters : str
        The setups in the order in which they are pulled.
    between_pulls : float
        Time from one pull to the next of the same installation. [s]
    change_of_setup : float
        Time from one pull to the next when the setup is changed between them. [s]
    """
    if not letters or set(letters) - {"A", "B"}:
        raise ValueError(f'order "{letters}": write A for a pull of the baseline and B for the candidate, as in "ABBA"')
    is_candidate = np.array([letter == "B" for letter in letters])
    changed = np.r_[False, is_candidate[1:] != is_candidate[:-1]]
    gaps = np.where(changed, change_of_setup, between_pulls)
    return RunOrder(
        is_candidate=is_candidate,
        session=np.zeros(len(letters), dtype=np.int64),
        installation=np.cumsum(changed),
        elapsed=np.cumsum(gaps) - gaps[0],
    )


def repeated_order(order: RunOrder, sessions: int) -> RunOrder:
    """The same order run anew in each of several sessions, with setups installed anew."""
    pulls = order.session.size
    number = np.repeat(np.arange(sessions), pulls)
    sessions_apart, installations_apart = np.ptp(order.session) + 1, np.ptp(order.installation) + 1
    return RunOrder(
        is_candidate=np.tile(order.is_candidate, sessions),
        session=np.tile(order.session, sessions) + number * sessions_apart,
        installation=np.tile(order.installation, sessions) + number * installations_apart,
        elapsed=np.tile(order.elapsed, sessions),
        soak=None if order.soak is None else np.tile(order.soak, sessions),
    )


def average_level_covariance(engine_speed: Floats, order: RunOrder, disturbances: Disturbances) -> Floats:
    """Covariance of the pulls' range averages, (..., pulls, pulls): their levels, and what is left of the rest."""
    within = pull_covariance(engine_speed, disturbances).mean(axis=(-2, -1))
    return level_covariance(order, disturbances) + within[..., None, None] * np.eye(order.is_candidate.size)


def gain_weights(covariance: Floats, is_candidate: Flags) -> Floats:
    """Weight of each pull in the best linear unbiased estimate of a gain that is the same at all speeds, (..., pulls).

    Notes
    -----
    Generalised least squares of y = level + gain x. A steady drift of unknown size in the covariance gives the
    drift-eliminating sequences of metrology their weights: -1/2, 1, -1/2 for A B A [1]_.

    References
    ----------
    .. [1] A. C. Aitken, On least squares and linear combination of observations, Proc. R. Soc. Edinburgh 55, 1936
       (from memory).
    """
    Z = np.column_stack([np.ones(is_candidate.size), is_candidate])
    VZ = np.linalg.solve(covariance, Z)
    return np.asarray(np.linalg.solve(Z.T @ VZ, np.swapaxes(VZ, -1, -2))[..., 1, :], np.float64)


def gain_variance(engine_speed: Floats, order: RunOrder, disturbances: Disturbances) -> Floats:
    """Squared standard uncertainty of the average gain that the order would give, for disturbances of known size.

    Shape (...) of the disturbances: one number for one set of sizes, an array for many candidates at once.
    """
    covariance = average_level_covariance(engine_speed, order, disturbances)
    weights = gain_weights(covariance, order.is_candidate)
    return np.asarray(np.einsum("...i,...ij,...j", weights, covariance, weights))


def detectable_gain(
    engine_speed: Floats, order: RunOrder, disturbances: Disturbances, probability: float, confidence: float
) -> float:
    """Average gain that the order would show with that probability, at the two-sided confidence stated."""
    quantiles = student.ppf([0.5 * (1.0 + confidence), probability], EFFECTIVE_DEGREES_OF_FREEDOM)
    return float(np.sqrt(gain_variance(engine_speed, order, disturbances)) * quantiles.sum())

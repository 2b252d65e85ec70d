"""What a stand's earlier pulls say about its scatter, and whether today's pulls agree with them."""

from typing import TypeAlias

import numpy as np
from scipy.special import gammainc

from boostwright.inference.disturbances import Floats, Indices, Repeatability
from boostwright.inference.prior_density import archive_prior

IMPROBABLE = 0.02
"""Below this probability of today's scatter the archive's figure is not used."""

_HERMITE_NODES = 40

Scatter: TypeAlias = tuple[float, int]


def pooled_scatter(levels: Floats, blocks: Indices) -> Scatter:
    """Variance of levels within blocks, and its degrees of freedom; no degree of freedom, no variance (zero).

    Parameters
    ----------
    levels : ndarray, shape (pulls,)
        Mean level of each pull: the logarithm of its corrected torque, averaged over the declared range.
    blocks : ndarray, shape (pulls,)
        Number of the block: pulls of one setup in one installation, between which only repeatability acts.
    """
    members = [levels[blocks == block] for block in np.unique(blocks)]
    degrees_of_freedom = sum(level.size - 1 for level in members)
    squares = sum(float(np.sum((level - level.mean()) ** 2)) for level in members)
    return (squares / degrees_of_freedom if degrees_of_freedom else 0.0), degrees_of_freedom


def pooled_repeatability(levels: Floats, blocks: Indices) -> Repeatability | None:
    """The archive figure from the levels of a stand's earlier pulls; nothing if no block holds two pulls.

    Parameters are those of `pooled_scatter`.
    """
    variance, degrees_of_freedom = pooled_scatter(levels, blocks)
    if not variance > 0:
        return None
    return Repeatability(pull_level_sd=float(np.sqrt(variance)), degrees_of_freedom=float(degrees_of_freedom))


def conflict_probability(levels: Floats, blocks: Indices, repeatability: Repeatability) -> float:
    """Two-sided probability, if the archive holds, of a scatter as unlike it as that of today's pulls.

    The variance within today's blocks is chi-squared about that of the stand, which is itself known from finite degrees
    of freedom and changes between sessions. One if today's pulls hold no degree of freedom: they cannot disagree.
    """
    variance, degrees_of_freedom = pooled_scatter(levels, blocks)
    if not degrees_of_freedom:
        return 1.0
    prior = archive_prior(repeatability)
    nodes, weights = np.polynomial.hermite_e.hermegauss(_HERMITE_NODES)
    sd = prior.median * np.exp(prior.log_sd * nodes)
    below = gammainc(degrees_of_freedom / 2, degrees_of_freedom * variance / (2 * sd**2))
    lower_tail = float(weights @ below / weights.sum())
    return float(min(1.0, 2 * min(lower_tail, 1 - lower_tail)))

"""Weighted draws against densities whose moments are known."""

import numpy as np
import pytest
from scipy.special import digamma, polygamma

from boostwright.inference.importance import (
    LARGEST_WEIGHT,
    effective_draws,
    importance_weights,
    proposal_at_mode,
    proposed_draws,
)


def test_the_proposal_has_the_mode_and_curvature_of_a_normal_density():
    mean, root = np.array([1.0, -2.0, 0.5]), np.array([[0.6, 0.0, 0.0], [0.3, 0.4, 0.0], [-0.2, 0.1, 0.5]])
    precision = np.linalg.inv(root @ root.T)

    proposal = proposal_at_mode(lambda x: -0.5 * np.einsum("li,ij,lj->l", x - mean, precision, x - mean), np.zeros(3))

    np.testing.assert_allclose(proposal.mode, mean, atol=0.01)  # the search ends a hundredth of a sd away
    np.testing.assert_allclose(proposal.root @ proposal.root.T, root @ root.T, rtol=1e-5)


def test_weighted_draws_of_a_skewed_density_have_its_moments():
    """ln of a gamma variable of shape 2: mean digamma(2), variance trigamma(2); skewed like the log of a small sd."""

    def log_density(x):
        return (2.0 * x - np.exp(x)).sum(-1)

    proposed = proposed_draws(proposal_at_mode(log_density, np.zeros(4)), 20_000, np.random.default_rng(3))
    weights = importance_weights(log_density(proposed.draws) - proposed.log_density)

    effective = effective_draws(weights)
    mean = weights @ proposed.draws
    sd = np.sqrt(polygamma(1, 2.0))
    assert effective > 0.4 * weights.size
    np.testing.assert_allclose(mean, digamma(2.0), atol=4 * sd / np.sqrt(effective))
    np.testing.assert_allclose(weights @ (proposed.draws - mean) ** 2, sd**2, rtol=4 * 1.8 / np.sqrt(effective))


def test_a_direction_without_curvature_does_not_send_draws_anywhere():
    proposal = proposal_at_mode(lambda x: -0.5 * x[:, 0] ** 2, np.array([0.3, 0.0]))
    np.testing.assert_allclose(np.sort(np.linalg.svd(proposal.root)[1]), [1.0, np.sqrt(2)], rtol=1e-5)


def test_one_draw_cannot_rule_the_answer():
    weights = importance_weights(np.r_[np.log(50.0), np.zeros(50)])
    equal = importance_weights(np.full(40, -700.0))
    assert weights.sum() == pytest.approx(1.0)
    assert weights[0] == pytest.approx(LARGEST_WEIGHT / (LARGEST_WEIGHT + 0.5))  # of a half that it would have had
    assert effective_draws(equal) == pytest.approx(40)

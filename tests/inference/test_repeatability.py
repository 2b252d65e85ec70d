"""Scatter of a stand from its earlier pulls: estimated where it is known, contradicted at the nominal rate."""

import numpy as np
import pytest
from scipy.stats import binom

from boostwright.inference.disturbances import Repeatability
from boostwright.inference.prior_density import archive_prior
from boostwright.inference.repeatability import (
    IMPROBABLE,
    conflict_probability,
    pooled_repeatability,
    pooled_scatter,
)

BLOCKS = np.repeat(np.arange(3), 2)


def test_pooled_scatter_is_the_within_group_mean_square_of_an_analysis_of_variance():
    """Coagulation times of four diets, 112 on 20: Box, Hunter, Hunter, Statistics for Experimenters (from memory)."""
    diets = ([62, 60, 63, 59], [63, 67, 71, 64, 65, 66], [68, 66, 71, 67, 68, 68], [56, 62, 60, 61, 63, 64, 63, 59])
    levels = np.concatenate([np.array(diet, float) for diet in diets])
    blocks = np.repeat(np.arange(4), [len(diet) for diet in diets])

    variance, degrees_of_freedom = pooled_scatter(levels, blocks)

    assert (variance * degrees_of_freedom, degrees_of_freedom) == (pytest.approx(112.0), 20)


def test_single_pulls_say_nothing_of_repeatability():
    assert pooled_repeatability(np.array([6.1, 6.2]), np.array([0, 1])) is None
    assert conflict_probability(np.array([6.1, 6.2]), np.array([0, 1]), figure(0.005)) == 1.0


def figure(sd: float) -> Repeatability:
    return Repeatability(pull_level_sd=sd, degrees_of_freedom=20.0)


def test_a_true_archive_is_contradicted_as_rarely_as_said():
    """2000 sessions of three pairs, each with the stand's own change; 99.9 % limits of the binomial at 2 %."""
    generator, prior = np.random.default_rng(3), archive_prior(figure(0.005))
    sizes = prior.median * np.exp(prior.log_sd * generator.standard_normal(2000))
    levels = sizes[:, None] * generator.standard_normal((2000, 6))

    rejected = sum(conflict_probability(today, BLOCKS, figure(0.005)) < IMPROBABLE for today in levels)

    assert binom.ppf(0.0005, 2000, IMPROBABLE) <= rejected <= binom.ppf(0.9995, 2000, IMPROBABLE)


@pytest.mark.parametrize("ratio", [0.05, 6.0])
def test_scatter_far_above_or_below_the_archive_contradicts_it(ratio):
    levels = ratio * 0.005 * np.array([1.0, -1.0] * 3) / np.sqrt(2)

    assert conflict_probability(levels, BLOCKS, figure(0.005)) < IMPROBABLE

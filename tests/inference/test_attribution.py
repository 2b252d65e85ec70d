"""Attribution: sums, symmetry, exactness for pairs, and causes that can be checked by hand."""

from itertools import combinations
from math import factorial

import numpy as np
import pytest

from boostwright.inference.attribution import CAUSES, Cause, cause_shares, gain_paths
from boostwright.machine.match_table import MATCH_POINT
from boostwright.machine.operating_point import matched
from tests.inference.setups import baseline_points

TOY = np.dtype([(name, float) for name in "abc"])
TOY_CAUSES = tuple(Cause(name=name, words=(name,)) for name in "abc")


def toy(values):
    table = np.zeros((1, 1), TOY)
    for name, value in values.items():
        table[name] = value
    return table


def shapley(function, low, high):
    """Shapley values from their definition, over all subsets."""
    names = list(low)
    total = dict.fromkeys(names, 0.0)
    for name in names:
        others = [other for other in names if other != name]
        for size in range(len(others) + 1):
            weight = factorial(size) * factorial(len(names) - size - 1) / factorial(len(names))
            for subset in combinations(others, size):
                without = {n: high[n] if n in subset else low[n] for n in names}
                total[name] += weight * (function(without | {name: high[name]}) - function(without))
    return total


def pairwise(v):
    return 2 * v["a"] + v["a"] * v["b"] + v["b"] ** 2 * v["c"] + 5 * v["c"]


def test_interactions_of_pairs_are_split_as_shapley_does():
    low, high = dict(a=1.0, b=2.0, c=0.5), dict(a=1.5, b=1.0, c=3.0)
    split = cause_shares(toy(low), toy(high), TOY_CAUSES, pairwise)
    expected = shapley(pairwise, low, high)
    np.testing.assert_allclose(split.shares[:, 0, 0], [expected[name] for name in "abc"], rtol=1e-12)
    assert split.interaction[0, 0] == pytest.approx(0.0, abs=1e-12)


def test_an_interaction_of_three_stays_in_its_own_term_and_the_sum_holds():
    def product(v):
        return v["a"] * v["b"] * v["c"]

    low, high = dict(a=1.0, b=1.0, c=1.0), dict(a=2.0, b=3.0, c=4.0)
    split = cause_shares(toy(low), toy(high), TOY_CAUSES, product)
    assert split.interaction[0, 0] != pytest.approx(0.0, abs=0.1)
    assert split.shares.sum() + split.interaction.sum() == pytest.approx(24 - 1, rel=1e-12)


def test_exchanging_the_setups_changes_only_the_signs():
    low, high = dict(a=1.0, b=2.0, c=0.5), dict(a=1.5, b=1.0, c=3.0)
    there, back = (cause_shares(toy(x), toy(y), TOY_CAUSES, pairwise).shares for x, y in ((low, high), (high, low)))
    np.testing.assert_allclose(there, -back, rtol=1e-12)


def test_causes_that_differ_nowhere_are_left_out():
    low, high = dict(a=1.0, b=2.0, c=0.5), dict(a=1.0, b=1.0, c=0.5)
    assert [cause.name for cause in cause_shares(toy(low), toy(high), TOY_CAUSES, pairwise).causes] == ["b"]


def brake_power(points):
    return matched(points)["brake_power"]


def test_weather_alone_is_all_weather():
    baseline = baseline_points()[None]
    candidate = baseline.copy()
    candidate["ambient_pressure"] -= 1000.0
    candidate["air_temperature"] += 8.0
    split = cause_shares(baseline, candidate, CAUSES, brake_power)
    assert [cause.name for cause in split.causes] == ["weather"]
    np.testing.assert_allclose(split.shares[0], brake_power(candidate) - brake_power(baseline), rtol=1e-9)
    assert np.all(split.shares < 0)  # thinner and warmer air costs power


def test_shares_and_interaction_sum_to_the_change_whatever_changes():
    baseline = baseline_points()[None]
    candidate = baseline.copy()
    for word in ("inlet_area", "filling_loss", "leakage_area", "coolant_temperature", "excess_air_ratio", "belt_slip"):
        candidate[word] *= 1.05
    split = cause_shares(baseline, candidate, CAUSES, brake_power)
    total = split.shares.sum(axis=0) + split.interaction
    np.testing.assert_allclose(total, brake_power(candidate) - brake_power(baseline), rtol=1e-9, atol=1e-6)
    assert np.abs(split.interaction).max() < 0.02 * np.abs(split.shares).sum(axis=0).max()


def test_every_column_of_the_match_but_engine_speed_is_moved_by_one_cause():
    words = [word for cause in CAUSES for word in cause.words]
    assert sorted([*words, "engine_speed"]) == sorted(MATCH_POINT.names)


def test_air_splits_into_pressure_temperature_and_efficiency_exactly():
    points = baseline_points()[None]
    other = points.copy()
    other["inlet_area"] *= 1.4
    other["coolant_temperature"] += 6.0
    baseline, candidate = matched(points).states, matched(other).states
    paths = gain_paths(baseline, candidate)
    parts = paths.manifold_pressure + paths.charge_temperature + paths.engine_volumetric_efficiency
    np.testing.assert_allclose(parts, np.log(candidate["air_mass_flow"] / baseline["air_mass_flow"]), rtol=1e-12)


def test_power_splits_into_indicated_pumping_friction_and_drive():
    points = baseline_points()[None]
    other = points.copy()
    other["inlet_area"] *= 1.4
    baseline, candidate = matched(points).states, matched(other).states
    paths = gain_paths(baseline, candidate)
    parts = paths.indicated_power + paths.pumping_power + paths.friction_power + paths.blower_drive_power
    np.testing.assert_allclose(parts, candidate["brake_power"] - baseline["brake_power"], rtol=1e-9)
    assert np.all(paths.blower_drive_power != 0)

"""The standards' factors beside the chain's own."""

import numpy as np
import pytest

from boostwright.machine.operating_point import matched
from boostwright.reduction.atmosphere import CORRECTION_RULES
from boostwright.studies.weather_factors import weather_factors
from tests.inference.setups import baseline_points


def points_at(pressure, temperature, humidity_ratio=0.0):
    points = np.tile(baseline_points(), (4, 1))
    points["ambient_pressure"], points["air_temperature"] = pressure, temperature
    points["humidity_ratio"] = humidity_ratio
    return points


def by_rule(points):
    return {row.correction_rule: row for row in weather_factors(points, 0.95)}


@pytest.mark.parametrize("name", [name for name in CORRECTION_RULES if name != "none"])
def test_at_its_own_reference_air_a_rule_and_the_chain_both_change_nothing(name):
    rule = CORRECTION_RULES[name]
    row = by_rule(points_at(rule.reference_pressure, rule.reference_temperature))[name]
    assert row.standard == pytest.approx(1.0, abs=1e-12)
    assert row.chain.value == pytest.approx(1.0, abs=1e-9)
    assert row.excess.value == pytest.approx(0.0, abs=1e-9)


def test_the_chain_restates_power_at_the_dry_pressure_of_the_rule():
    """With 12 g/kg of vapour, 99 kPa of dry air are 99 (1 + 0.012/0.621945) kPa in all."""
    points = points_at(96e3, 305.0, 0.012)
    there = points.copy()
    there["ambient_pressure"], there["air_temperature"] = 99e3 * (1 + 0.012 / 0.621945), 298.15
    expected = matched(there)["brake_power"].mean() / matched(points)["brake_power"].mean()
    assert by_rule(points)["sae-j1349"].chain.value == pytest.approx(expected, rel=1e-9)


def test_thin_warm_air_makes_every_factor_exceed_one():
    for row in by_rule(points_at(95e3, 308.0)).values():
        assert row.standard > 1
        assert row.chain.value > 1


def test_excess_is_the_ratio_of_both_factors():
    row = by_rule(points_at(95e3, 308.0))["iso-1585"]
    assert row.excess.value == pytest.approx(row.standard / row.chain.value - 1, abs=1e-9)

"""A map with the factors of a fit: they do what they say, and the account of energy still closes."""

from dataclasses import fields

import numpy as np
import pytest

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT, DRY_AIR_HEAT_CAPACITY_RATIO, BlowerDelivery
from boostwright.machine.chamber_defaults import typical_roots_geometry
from boostwright.machine.chamber_map import chamber_map
from boostwright.machine.fitted_blower import BlowerFactors, FittedBlower

MAP = chamber_map(typical_roots_geometry(1.6e-3, 300.0), np.linspace(5.0, 18.0, 6), np.linspace(1.05, 2.4, 6))
POINT = (95e3, 300.0, 160e3, np.array([120.0, 200.0, 280.0]))
CP = DRY_AIR_GAS_CONSTANT * DRY_AIR_HEAT_CAPACITY_RATIO / (DRY_AIR_HEAT_CAPACITY_RATIO - 1.0)


def fitted(delivery=(1.0, 1.0), work=1.0, heat=0.0):
    ones = np.ones(2)
    factors = BlowerFactors(
        rotor_speed=np.array([120.0, 280.0]),
        delivery_factor=np.array(delivery),
        gas_work_factor=work * ones,
        heat_loss_share=heat * ones,
        mechanical_power_at_limit=MAP.mechanical_power_at_limit,
        mechanical_heat_share=MAP.mechanical_heat_share,
    )
    return FittedBlower(blower=MAP, factors=factors)


def test_without_factors_it_is_the_map():
    plain, same = MAP.delivery(*POINT), fitted().delivery(*POINT)
    for field in fields(BlowerDelivery):
        assert getattr(same, field.name) == pytest.approx(getattr(plain, field.name), rel=1e-9, abs=1e-6)


def test_factors_go_by_rotor_speed_and_hold_beyond_the_last():
    point = (*POINT[:3], np.array([100.0, 120.0, 200.0, 280.0, 300.0]))
    ratio = fitted((0.96, 1.04)).delivery(*point).mass_flow / MAP.delivery(*point).mass_flow
    assert ratio == pytest.approx([0.96, 0.96, 1.0, 1.04, 1.04])


def test_work_that_the_casing_gives_away_does_not_heat_the_gas():
    hot, cool = fitted(work=1.1).delivery(*POINT), fitted(work=1.1, heat=0.1).delivery(*POINT)
    assert hot.gas_power == pytest.approx(1.1 * MAP.delivery(*POINT).gas_power)
    given = hot.mass_flow * CP * (hot.outlet_temperature - cool.outlet_temperature)
    assert given == pytest.approx(0.1 * hot.gas_power)
    for delivery in (hot, cool):
        rise = delivery.mass_flow * CP * (delivery.outlet_temperature - POINT[1])
        assert delivery.shaft_power == pytest.approx(rise + delivery.heat_loss)

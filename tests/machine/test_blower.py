"""The slip-law blower: energy, continuity, size, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.machine.blower import (
    SLIP_LAW_DEFAULTS,
    SlipLawBlower,
    slip_law_leakage_flow,
    typical_slip_law_blower,
)

compiling = settings(deadline=None)  # the first example may wait for the compiler
R, G = 287.05, 1.4
CP = R * G / (G - 1)
OURS = typical_slip_law_blower(1.6e-3, 300.0, 1.0)
WITHOUT_LOSS = replace(
    OURS,
    filling_loss=0.0,
    leakage_area=0.0,
    gas_work_factor=1.0,
    mechanical_power_at_limit=0.0,
    heat_loss_share=0.0,
    mechanical_heat_share=0.0,
)

pressures = st.floats(6e4, 1.1e5)
ratios = st.floats(1.02, 2.6)
speeds = st.floats(80.0, 330.0)
temperatures = st.floats(250.0, 330.0)


@compiling
@given(p1=pressures, pr=ratios, N=speeds, T1=temperatures, Vi=st.floats(1.0, 1.5))
def test_without_walls_and_friction_the_gas_takes_up_all_of_the_gas_power(p1, pr, N, T1, Vi):
    blower = replace(OURS, internal_volume_ratio=Vi, heat_loss_share=0.0, mechanical_power_at_limit=0.0)
    d = blower.delivery(p1, T1, pr * p1, N)
    rise = d.mass_flow * CP * (d.outlet_temperature - T1)
    assert rise == pytest.approx(float(d.gas_power), rel=1e-11, abs=1e-9)
    assert d.shaft_power == d.gas_power


@compiling
@given(p1=pressures, pr=ratios, N=speeds, T1=temperatures)
def test_heat_lost_is_a_share_of_the_gas_power_and_the_rest_of_the_friction(p1, pr, N, T1):
    d = OURS.delivery(p1, T1, pr * p1, N)
    lost = OURS.heat_loss_share * d.gas_power + (1 - OURS.mechanical_heat_share) * d.mechanical_power
    assert d.heat_loss == pytest.approx(float(lost), rel=1e-9)
    assert d.shaft_power == pytest.approx(float(d.gas_power + d.mechanical_power), rel=1e-14)


def test_roots_gas_power_without_loss_is_displacement_times_pressure_rise():
    d = WITHOUT_LOSS.delivery(1e5, 300.0, [1.2e5, 2e5], 250.0)
    assert d.gas_power == pytest.approx(1.6e-3 * 250.0 * np.array([0.2e5, 1e5]), rel=1e-13)
    assert d.blower_volumetric_efficiency == pytest.approx(1.0, rel=1e-14)


def test_flow_and_power_pass_smoothly_through_no_pressure_rise():
    p2 = 1e5 * np.linspace(0.98, 1.02, 401)
    d = OURS.delivery(1e5, 300.0, p2, 150.0)
    slope = np.diff(d.mass_flow) / np.diff(p2)
    assert np.all(slope < 0)  # raising back pressure never raises flow
    assert np.abs(np.diff(slope)).max() < 0.07 * np.abs(slope).max()  # no step of the slope between neighbours
    assert d.gas_power[0] < 0.0 < d.gas_power[-1]
    assert d.mass_flow[200] == pytest.approx(1e5 / R / 300 * 1.6e-3 * 150 * np.exp(-0.06 * 0.25), rel=1e-12)


def test_leakage_is_odd_in_the_pressure_rise_and_the_root_of_it_far_out():
    assert slip_law_leakage_flow(1.2, -3e3, 4e-5) == -slip_law_leakage_flow(1.2, 3e3, 4e-5)
    assert slip_law_leakage_flow(1.2, 5e4, 4e-5) == pytest.approx(4e-5 * np.sqrt(2 * 1.2 * 5e4), rel=1e-3)


@pytest.mark.parametrize("displacement", [0.5e-3, 1.6e-3, 4e-3, 10e-3])
def test_a_typical_blower_near_its_limit_fills_as_the_trade_knows_it(displacement):
    """0.85 to 0.95 of the displacement at ordinary boost: common practice, no source."""
    limit = 300.0 * (1.6e-3 / displacement) ** (1 / 3)  # the same tip speed
    blower = typical_slip_law_blower(displacement, limit, 1.0)
    efficiency = blower.delivery(1e5, 300.0, [1.5e5, 1.8e5], limit).blower_volumetric_efficiency
    assert np.all((efficiency > 0.85) & (efficiency < 0.95))


def test_arguments_broadcast_and_the_answer_keeps_their_shape():
    d = OURS.delivery(1e5, 300.0, [[1.3e5], [1.6e5]], [100.0, 200.0, 300.0])
    assert d.mass_flow.shape == (2, 3)
    assert d.mass_flow[1, 2] == OURS.delivery(1e5, 300.0, 1.6e5, 300.0).mass_flow


def test_a_blower_that_leaks_all_it_carries_says_that_it_is_out_of_its_range():
    d = OURS.delivery(1e5, 300.0, 1.8e5, [3.0, 150.0])
    assert d.within_range.tolist() == [0.0, 1.0]
    assert np.all(np.isfinite(d.outlet_temperature))
    assert d.shaft_power == pytest.approx(d.mass_flow * CP * (d.outlet_temperature - 300.0) + d.heat_loss, rel=1e-12)


def test_gauge_pressure_is_refused_with_its_place():
    with pytest.raises(
        ValueError, match=r"inlet pressure -2000 at \(1,\) is not a positive number of Pa absolute: give"
    ):
        OURS.delivery([1e5, -2e3], 300.0, 1.5e5, 200.0)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("blower_displacement", 0.0, "blower_displacement 0 must be positive"),
        ("leakage_area", -1e-6, "leakage_area -1e-06 must not be negative"),
        ("heat_loss_share", 1.2, "heat_loss_share 1.2 must be a share from 0 to 1"),
        ("internal_volume_ratio", 0.9, r"internal_volume_ratio 0.9 must be 1 \(roots\) or more \(screw\)"),
    ],
)
def test_impossible_blowers_are_refused(field, value, words):
    with pytest.raises(ValueError, match=words):
        replace(OURS, **{field: value})


def test_every_free_number_of_the_law_has_a_default_with_a_range_and_a_source():
    given_by_the_user = {"blower_displacement", "speed_limit", "internal_volume_ratio"}
    words = {default.word for default in SLIP_LAW_DEFAULTS}
    assert words | given_by_the_user == set(SlipLawBlower.__dataclass_fields__)
    assert all(default.source and default.scaling and default.low < default.high for default in SLIP_LAW_DEFAULTS)

"""The operating point: conservation through the chain, its limits, and that it is always found or says why not."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT as R
from boostwright.machine.blower import DRY_AIR_HEAT_CAPACITY_RATIO as K
from boostwright.machine.match_table import MATCH_POINT, MATCH_STATE, MatchOutcome
from boostwright.machine.operating_point import BlowerForm, ambient_air, build_points, matched, matched_with
from boostwright.physics.gases import constant_property_gas
from boostwright.physics.restriction import restriction_mass_flow
from tests.machine.builds import DRY_AIR, SPEEDS, build, match_of

CP = R * K / (K - 1.0)
AIR = constant_property_gas(K, R)
LOSSLESS = {  # a blower and an engine of which nothing but their displacements is left
    "leakage_area": 0.0,
    "filling_loss": 0.0,
    "throttle_area": 10.0,
    "inlet_area": 10.0,
    "cooler_area": 10.0,
    "inlet_heating": 0.0,
    "belt_slip": 0.0,
    "cooler_transfer_units": 60.0,
    "cooler_transfer_exponent": 0.0,
    "coolant_temperature": 320.0,
    "evaporated_share": 0.0,
    "engine_volumetric_efficiency": 1.0,
    "intake_temperature_exponent": 0.0,
    "compression_ratio": 1e9,
}


def random_points(amount):
    """Points over more than any build: speed, ratio, size, altitude, areas and leakage far apart."""
    draw = np.random.default_rng(7)
    points = build_points(build(), np.full(amount, 60.0), DRY_AIR)
    points["engine_speed"] = draw.uniform(1000, 8500, amount) / 60
    points["drive_ratio"] = draw.uniform(1.0, 4.5, amount)
    points["blower_displacement"] *= draw.uniform(0.4, 1.6, amount)
    points["ambient_pressure"] = draw.uniform(60e3, 103e3, amount)
    points["throttle_area"] *= draw.uniform(0.1, 2.0, amount)
    points["inlet_area"] *= draw.uniform(0.1, 2.0, amount)
    points["leakage_area"] *= draw.uniform(0.1, 4.0, amount)
    return points


def test_twenty_thousand_random_points_all_agree_to_one_part_in_a_thousand_million():
    operating = matched(random_points(20_000))
    assert operating.is_matched.all()
    assert np.abs(operating["flow_residual"]).max() < 1e-9
    ratio = operating["manifold_pressure"] / operating["ambient_pressure"]
    assert ratio.min() < 0.6  # the draw reaches from engines that pull a vacuum through their blower ...
    assert ratio.max() > 4.0  # ... to ones that are blown far above any use


def test_the_same_mass_flows_through_throttle_inlet_blower_cooler_and_engine():
    six = build()
    o = match_of(six, leakage_area=20e-6)
    m, p0, T0 = o["air_mass_flow"], DRY_AIR.ambient_pressure, DRY_AIR.air_temperature
    through_throttle = restriction_mass_flow(p0, T0, o["throttle_outlet_pressure"], T0, six.inlet.throttle_area, AIR)
    mean_density = (o["throttle_outlet_pressure"] + o["blower_inlet_pressure"]) / 2 / (R * T0)
    loss = o["throttle_outlet_pressure"] - o["blower_inlet_pressure"]
    through_inlet = six.inlet.inlet_area * np.sqrt(2 * mean_density * loss)
    state = (o["blower_inlet_pressure"], o["blower_inlet_temperature"], o["blower_outlet_pressure"], o["rotor_speed"])
    delivered = replace(six.blower, leakage_area=20e-6).delivery(*state).mass_flow
    cooler_loss = o["blower_outlet_pressure"] - o["manifold_pressure"]
    cooler_density = (o["blower_outlet_pressure"] + o["manifold_pressure"]) / (
        R * (o["blower_outlet_temperature"] + o["charge_temperature"])
    )
    through_cooler = six.cooler.cooler_area * np.sqrt(2 * cooler_density * cooler_loss)
    for flow in (through_throttle, through_inlet, delivered, through_cooler, o["blower_mass_flow"]):
        np.testing.assert_allclose(flow, m, rtol=1e-8)  # differences of pressures lose some of the match's 1e-9


def test_energy_over_the_blower_closes():
    o = match_of(build(), heat_loss_share=0.0, mechanical_power_at_limit=0.0)
    rise = o["blower_outlet_temperature"] - o["blower_inlet_temperature"]
    np.testing.assert_allclose(o["air_mass_flow"] * CP * rise, o["gas_power"], rtol=1e-9)
    np.testing.assert_allclose(o["shaft_power"], o["gas_power"], rtol=1e-12)


def test_the_cooler_takes_no_more_heat_than_its_effectiveness_says():
    o = match_of(build())
    cooled = o["blower_outlet_temperature"] - o["charge_temperature"]
    possible = o["blower_outlet_temperature"] - 311.15
    np.testing.assert_allclose(cooled / possible, o["cooler_effectiveness"], rtol=1e-12)
    as_stated = match_of(build(), cooler_transfer_exponent=0.0)["cooler_effectiveness"]
    np.testing.assert_allclose(as_stated, 0.8, rtol=1e-12)


def test_powers_add_up_and_torque_is_power_over_angular_speed():
    o = match_of(build())
    total = o["indicated_power"] + o["pumping_power"] - o["friction_power"] - o["blower_drive_power"]
    np.testing.assert_allclose(o["brake_power"], total, rtol=1e-12)
    np.testing.assert_allclose(o["torque"] * 2 * np.pi * o["engine_speed"], o["brake_power"], rtol=1e-12)
    np.testing.assert_allclose(o["blower_drive_power"] * 0.97, o["shaft_power"], rtol=1e-12)


def test_without_losses_the_manifold_pressure_is_the_ratio_of_displacements():
    six = build()
    o = match_of(six, **LOSSLESS)
    ratio = 2 * six.drive.drive_ratio * 1.6e-3 / 4.2e-3
    np.testing.assert_allclose(o["manifold_pressure"] / 100e3, ratio * 320.0 / 298.15, rtol=1e-6)  # areas of 10 m2


def test_a_closed_throttle_passes_its_choked_flow_and_no_more():
    o = match_of(build(), throttle_area=1e-6)
    choked = 0.684731 * 1e-6 * 100e3 / np.sqrt(R * 298.15)  # Psi of a sonic throat, gamma 1.4
    np.testing.assert_allclose(o["air_mass_flow"], choked, rtol=1e-5)
    assert (o["outcome"] == MatchOutcome.THROTTLE_CHOKED).all()
    assert (o["brake_power"] < 0.0).all()
    assert (match_of(build(), throttle_area=4e-3)["outcome"] == MatchOutcome.MATCHED).all()


def test_the_air_of_a_fixed_ratio_blower_follows_the_density_of_the_inlet():
    alike = {"cooler_transfer_exponent": 0.0, "mechanical_power_at_limit": 0.0}  # all else is in proportion to density
    low = match_of(build(), ambient=ambient_air(100e3, 298.15, 0.0), **alike)
    high = match_of(build(), ambient=ambient_air(70e3, 298.15, 0.0), **alike)
    np.testing.assert_allclose(
        high["air_mass_flow"] / low["air_mass_flow"], 0.7, rtol=3e-5
    )  # the leakage law is rounded below 2 kPa
    np.testing.assert_allclose(high.pressure_ratio, low.pressure_ratio, rtol=3e-5)
    np.testing.assert_allclose(high["shaft_power"], 0.7 * low["shaft_power"], rtol=1e-4)


def test_humid_air_is_lighter_and_its_vapour_burns_nothing():
    dry, humid = match_of(build()), match_of(build(), ambient=ambient_air(100e3, 298.15, 1.0))
    lighter = humid["air_mass_flow"] / dry["air_mass_flow"]
    assert np.all((lighter > 0.985) & (lighter < 0.995))  # vapour of 3.2 kPa takes 1.2 % of the density
    burned = (humid["air_mass_flow"] / (1 + humid["humidity_ratio"])) / dry["air_mass_flow"]
    np.testing.assert_allclose(humid["indicated_power"] / dry["indicated_power"], burned, rtol=2e-3)


def test_the_inlet_of_a_screw_is_that_of_a_roots_type_and_its_drive_takes_less_at_high_ratio():
    roots = match_of(build())
    screw = match_of(build(blower={"kind": "screw", "internal_volume_ratio": 1.3}))
    assert (screw["gas_power"] < 0.93 * roots["gas_power"]).all()
    np.testing.assert_allclose(screw["filled_volume_flow"], roots["filled_volume_flow"], rtol=1e-12)
    assert (screw["blower_outlet_temperature"] < roots["blower_outlet_temperature"]).all()


@settings(max_examples=40, deadline=None)
@given(
    column=st.sampled_from(("leakage_area", "filling_loss", "inlet_heating", "belt_slip")),
    factor=st.floats(1.05, 3.0),
    speed=st.floats(25.0, 100.0),
)
def test_what_takes_from_the_blower_never_adds_air(column, factor, speed):
    six = build()
    base = build_points(six, np.array([speed]), DRY_AIR)
    worse = base.copy()
    worse[column] *= factor
    assert matched(worse)["air_mass_flow"] < matched(base)["air_mass_flow"]


@settings(max_examples=40, deadline=None)
@given(factor=st.floats(0.2, 0.95), speed=st.floats(25.0, 100.0))
def test_a_narrower_inlet_never_adds_boost(factor, speed):
    six = build()
    base = build_points(six, np.array([speed]), DRY_AIR)
    for column in ("throttle_area", "inlet_area"):
        narrower = base.copy()
        narrower[column] *= factor
        assert matched(narrower)["manifold_pressure"] < matched(base)["manifold_pressure"]


def test_a_bypass_holds_the_cap_and_its_flow_and_heat_close():
    cap, six = 150e3, build(bypass={"area": "12 cm^2"})
    o = match_of(six, manifold_pressure_cap=cap)
    assert (o["outcome"] == MatchOutcome.MATCHED).all()
    np.testing.assert_allclose(o["manifold_pressure"], cap, rtol=1e-8)
    assert (np.diff(o["bypass_opening"]) > 0.0).all()  # more speed, more to return
    back = restriction_mass_flow(
        o["manifold_pressure"],
        o["charge_temperature"],
        o["blower_inlet_pressure"],
        o["blower_inlet_temperature"],
        o["bypass_opening"] * 12e-4,
        AIR,
    )
    np.testing.assert_allclose(back, o["bypass_flow"], rtol=1e-6)
    np.testing.assert_allclose(o["blower_mass_flow"] - o["air_mass_flow"], o["bypass_flow"], rtol=1e-12)
    mixed = (o["air_mass_flow"] * 302.15 + o["bypass_flow"] * o["charge_temperature"]) / o["blower_mass_flow"]
    np.testing.assert_allclose(o["blower_inlet_temperature"], mixed, rtol=1e-8)  # 4 K of inlet heating


@pytest.mark.parametrize("cap", [130e3, 150e3, 170e3])
def test_a_bypass_holds_the_cap_at_every_speed_and_not_only_at_round_ones(cap):
    points = build_points(build(bypass={"area": "12 cm^2"}), np.arange(1500.0, 6000.0, 3.0) / 60.0, DRY_AIR)
    points["manifold_pressure_cap"] = cap
    o = matched(points)
    assert (o["outcome"] == MatchOutcome.MATCHED).all()
    held = o["bypass_flow"] > 0.0
    assert held.sum() > 0.5 * held.size
    np.testing.assert_allclose(o["manifold_pressure"][held], cap, rtol=2e-8)


def test_without_a_bypass_a_cap_is_passed_and_said():
    o = match_of(build(), manifold_pressure_cap=150e3)
    assert (o["outcome"] == MatchOutcome.ABOVE_CAP).all()
    np.testing.assert_allclose(o["manifold_pressure"], match_of(build())["manifold_pressure"], rtol=1e-9)


def test_an_open_bypass_takes_boost_at_part_load():
    shut = match_of(build(bypass={"area": "12 cm^2"}))
    half = match_of(build(bypass={"area": "12 cm^2", "opening": 0.5}))
    assert (half.boost < 0.7 * shut.boost).all()
    assert (half["blower_inlet_temperature"] > shut["blower_inlet_temperature"]).all()


def test_a_blower_too_large_for_any_pressure_needs_a_bypass():
    o = match_of(build(), leakage_area=0.0, blower_displacement=40e-3)
    assert (o["outcome"] == MatchOutcome.BYPASS_NEEDED).all()
    assert not o.is_matched.any()


def test_an_inlet_that_carries_more_than_its_area_passes_is_said_to_be_choked():
    o = match_of(build(), inlet_area=0.4e-3)
    assert (o["outcome"][-5:] == MatchOutcome.INLET_CHOKED).all()
    assert (match_of(build(), inlet_area=4e-3)["outcome"] == MatchOutcome.MATCHED).all()


def test_an_engine_that_draws_past_its_slow_blower_is_said_to_have_reverse_flow():
    o = match_of(build(bypass={"area": "12 cm^2", "opening": 1.0}), drive_ratio=0.3)
    assert (o["outcome"] == MatchOutcome.REVERSE_FLOW).all()
    assert (o["air_mass_flow"] > o["blower_mass_flow"]).all()
    np.testing.assert_allclose(o["blower_inlet_temperature"], 302.15, rtol=1e-12)  # nothing comes back to warm it


def test_a_general_root_finder_finds_the_same_point():
    """scipy's Brent method on the same chain, written out with the array forms, at one speed."""
    six, N = build(), 75.0
    o = match_of(six, np.array([N]))
    T1, cooler, engine, fuel = 302.15, six.cooler, six.engine, six.fuel_system
    rotor = six.drive.drive_ratio * N * (1 - six.drive.belt_slip)

    def loss(p, T, m, A):
        return np.sqrt(p * p - m * m * R * T / A**2)

    def inlet(p):
        m = float(restriction_mass_flow(100e3, 298.15, p, 298.15, six.inlet.throttle_area, AIR))
        return m, loss(p, 298.15, m, six.inlet.inlet_area)

    def fed(p2):
        def excess(p):
            m, p1 = inlet(p)
            return m - float(six.blower.delivery(p1, T1, p2, rotor).mass_flow)

        p = brentq(excess, 90e3, 100e3 - 1.0, xtol=1e-9, rtol=1e-14)
        m, p1 = inlet(p)
        return m, six.blower.delivery(p1, T1, p2, rotor)

    def unbalanced(p2):
        m, delivery = fed(p2)
        T2 = float(delivery.outlet_temperature)
        eps = 1 - np.exp(-cooler.cooler_transfer_units * (cooler.cooler_reference_flow / m) ** 0.43)
        T3 = T2 - eps * (T2 - cooler.coolant_temperature)
        p3 = loss(p2, (T2 + T3) / 2, m, cooler.cooler_area)
        f = 1 / (0.86 * fuel.stoichiometric_air_fuel_ratio)
        p_e = np.sqrt(100e3**2 + (m * (1 + f)) ** 2 * R * 1150.0 / engine.exhaust_area**2)
        T_p = T3 - 0.24 * fuel.latent_heat * f / (CP + 2200.0 * f)
        residual = (9.5 - (p_e / p3) ** (1 / 1.3)) / 8.5
        vapour = 1 + 0.24 * f * 28.97e-3 / fuel.fuel_molar_mass
        VE = float(engine.volumetric_efficiency(N)) * residual * (T_p / 320.0) ** 0.35 / vapour
        return m - VE * p3 * 4.2e-3 * N / 2 / (R * T_p)

    p2 = brentq(unbalanced, 120e3, 300e3, rtol=1e-13)
    assert o["blower_outlet_pressure"][0] == pytest.approx(p2, rel=1e-8)


def test_two_turns_of_the_pulley_are_one_of_a_rotor_geared_up_by_two():
    geared = match_of(build(drive={"ratio": 1.35, "driving_pulley": None, "driven_pulley": None, "internal_step": 2.0}))
    direct = match_of(build(drive={"ratio": 2.7, "driving_pulley": None, "driven_pulley": None}))
    np.testing.assert_allclose(geared["rotor_speed"], direct["rotor_speed"], rtol=1e-12)
    np.testing.assert_allclose(geared["air_mass_flow"] < 0.75 * direct["air_mass_flow"], True)  # volume per SHAFT turn


def test_the_spark_is_retarded_until_the_knock_index_is_back_at_its_limit():
    free = match_of(build())
    held = match_of(build(), knock_index_limit=3.0)
    knocking = free["knock_index"] > 3.0
    assert 0 < knocking.sum() < SPEEDS.size
    np.testing.assert_allclose(
        np.degrees(held["spark_retard"])[knocking], np.log(free["knock_index"][knocking] / 3.0) / 0.07
    )
    assert (held["indicated_power"][knocking] < free["indicated_power"][knocking]).all()
    np.testing.assert_array_equal(held["brake_power"][~knocking], free["brake_power"][~knocking])


CALIBRATED = (
    "engine_volumetric_efficiency",
    "indicated_efficiency_factor",
    "friction_factor",
    "exhaust_area",
    "intake_temperature_exponent",
    "evaporated_share",
    "efficiency_temperature_slope",
    "excess_air_ratio",
    "cooler_transfer_units",
    "cooler_transfer_exponent",
    "cooler_area",
    "coolant_temperature",
    "belt_slip",
    "ambient_pressure",
    "air_temperature",
    "mechanical_power_at_limit",
    "gas_work_factor",
    "heat_loss_share",
    "inlet_heating",
    "inlet_area",
    "throttle_area",
    "filling_loss",
    "leakage_area",
    "delivery_factor",
)


@pytest.mark.parametrize("column", CALIBRATED)
def test_derivatives_in_batch_lanes_are_smooth(column):
    """Central differences of two step sizes agree to a hundred-thousandth: the search leaves no steps in the answer."""

    def derivative(step):
        points = build_points(build(), np.tile(SPEEDS, (2, 1)), DRY_AIR)
        points[column][0] *= 1.0 - step
        points[column][1] *= 1.0 + step
        o = matched(points)
        return (np.log(o["torque"][1]) - np.log(o["torque"][0])) / (2 * step), (
            np.log(o["manifold_pressure"][1]) - np.log(o["manifold_pressure"][0])
        ) / (2 * step)

    for wide, narrow in zip(derivative(2e-4), derivative(1e-4), strict=True):
        np.testing.assert_allclose(wide, narrow, rtol=1e-5, atol=1e-5)


def test_a_finer_blower_that_is_the_slip_law_changes_nothing():
    six = build()
    points = build_points(six, SPEEDS, ambient_air(97e3, 303.0, 0.6))
    finer = matched_with(points, [BlowerForm(name="the same", blower=six.blower)])
    for word in ("manifold_pressure", "shaft_power", "blower_outlet_temperature"):
        np.testing.assert_allclose(finer[word], matched(points)[word], rtol=1e-9)


def test_a_finer_blower_replaces_the_slip_law_where_they_differ():
    six = build()
    better = replace(six.blower, leakage_area=0.3 * six.blower.leakage_area, gas_work_factor=0.95, filling_loss=0.0)
    ambient = ambient_air(97e3, 303.0, 0.6)
    points = build_points(six, SPEEDS, ambient)
    finer = matched_with(points, [BlowerForm(name="better", blower=better)])
    straight = matched(build_points(replace(six, blower=better), SPEEDS, ambient))
    assert finer.is_matched.all()
    for word in ("manifold_pressure", "shaft_power", "torque"):
        np.testing.assert_allclose(finer[word], straight[word], rtol=1e-6)
    np.testing.assert_allclose(finer["leakage_flow"], straight["leakage_flow"], rtol=3e-6)  # as the round before had it
    np.testing.assert_allclose(finer["blower_outlet_temperature"], straight["blower_outlet_temperature"], rtol=1e-6)


def test_points_of_many_builds_and_speeds_keep_their_shape():
    tables = np.stack([build_points(build(), SPEEDS, DRY_AIR), build_points(build(), SPEEDS, DRY_AIR)])
    tables["leakage_area"][1] *= 2
    o = matched(tables)
    assert o["torque"].shape == (2, SPEEDS.size)
    np.testing.assert_array_equal(o["torque"][0], match_of(build())["torque"])
    assert (o["torque"][1] < o["torque"][0]).all()


def test_a_speed_that_is_not_positive_is_refused():
    with pytest.raises(ValueError, match="engine speed 0 1/s must be positive"):
        build_points(build(), np.array([0.0, 50.0]), DRY_AIR)


def test_every_column_of_a_point_is_set_by_a_build():
    points = build_points(build(), SPEEDS, ambient_air(97e3, 303.0, 0.6))
    zero = {name for name in MATCH_POINT.names if not np.any(points[name])}
    assert zero == {
        "upstream_evaporation",
        "bypass_area",
        "bypass_opening",
        "spark_retard",
        "added_outlet_temperature",
        "added_shaft_power",
    }
    assert all(np.isfinite(match_of(build())[name]).all() for name in MATCH_STATE.names)

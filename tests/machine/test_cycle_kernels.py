"""Pieces of the cycle kernels against the library, the physics they are made from, and one another."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle import flat
from boostwright.machine.cycle_closed import COMBUSTION, _course
from boostwright.machine.cycle_gas import (
    cylinder_space,
    flow_terms,
    mixture,
    temperature_from_enthalpy,
    valve_area,
    wall_heat,
)
from boostwright.machine.cycle_math import exponential, logarithm, root, sine_cosine
from boostwright.machine.cycle_setup import charges_of, cycle_blocks
from boostwright.physics.combustion import burned_fraction
from boostwright.physics.crank import cylinder_volume, cylinder_volume_slope
from boostwright.physics.restriction import critical_pressure_ratio, flow_function
from boostwright.physics.valve import valve_effective_area, valve_lift
from boostwright.physics.wall_heat import wall_heat_transfer_coefficient
from boostwright.physics.working_gas import burned_gas, moist_air_gas, released_heat_share, unburned_charge
from tests.machine.cycle_points import point_set, random_rows


@given(st.floats(-700.0, 700.0))
def test_exponential_is_that_of_the_library(number):
    assert exponential(number) == pytest.approx(math.exp(number), rel=2e-10)


@given(st.floats(1e-300, 1e300))
def test_logarithm_is_that_of_the_library(number):
    assert logarithm(number) == pytest.approx(math.log(number), rel=1e-14, abs=2e-11)


@given(st.floats(-13.0, 13.0))
def test_sine_and_cosine_are_those_of_the_library(angle):
    assert sine_cosine(angle) == pytest.approx((math.sin(angle), math.cos(angle)), abs=1e-12)


def test_root_is_total():
    assert (root(4.0), root(0.0), root(-4.0)) == (2.0, 0.0, 2.0)


@pytest.mark.parametrize("heat_capacity_ratio", [1.22, 1.26, 1.3, 1.35, 1.4, 1.42])
def test_fitted_flow_is_that_of_the_exact_law(heat_capacity_ratio):
    """The stated residual is 1.2e-6 of Psi; the exact law is softened near equal pressures, hence from 0.5 % on."""
    critical = float(critical_pressure_ratio(heat_capacity_ratio))
    terms = flow_terms(heat_capacity_ratio)
    y = 1 - np.linspace(critical, 0.995, 200)

    psi = np.sqrt(y * (terms.t0 + y * (terms.t1 + y * (terms.t2 + y * (terms.t3 + y * terms.t4)))))

    np.testing.assert_allclose(psi, flow_function(1 - y, heat_capacity_ratio), rtol=2.5e-6)
    assert terms.limit == pytest.approx(1 - critical, abs=2e-7)


@pytest.fixture(scope="module")
def points():
    """Sixteen random cases of one fuel, with the charges and the block made from them."""
    chosen = point_set([["E85", *row[1:]] for row in random_rows(16)], {})
    engine, conditions = flat(chosen.engine, (16,)), flat(chosen.conditions, (16,))
    charges = charges_of(conditions)
    return engine, conditions, charges, cycle_blocks(engine, conditions, charges)[0]


def test_charges_are_mixed_as_single_gases_are(points):
    _, conditions, charges, _ = points
    fuel = conditions.fuel
    for lane, (ratio, humidity) in enumerate(zip(conditions.excess_air_ratio, conditions.humidity_ratio, strict=True)):
        for column, gas in (
            (charges.air, moist_air_gas(humidity)),
            (charges.fresh, unburned_charge(fuel, ratio, humidity)),
            (charges.burned, burned_gas(fuel, ratio, humidity)),
        ):
            rise = float(gas.enthalpy(400.0) - gas.enthalpy(298.15))
            assert column.gas_constant[lane] == pytest.approx(gas.specific_gas_constant, rel=1e-12)
            assert column.enthalpy(np.full(16, 400.0))[lane] == pytest.approx(rise, rel=1e-9)
            assert column.heat_capacity(np.full(16, 400.0))[lane] == pytest.approx(
                float(gas.heat_capacity(400.0)), rel=1e-12
            )
        share = released_heat_share(fuel, ratio)  # of dry air; the humidity shifts CO against H2 a little
        heat = charges.fuel_share[lane] * share * (fuel.lower_heating_value + fuel.latent_heat)
        assert charges.heat_of_burning[lane] == pytest.approx(heat, rel=2e-3)


def test_volume_and_valve_areas_in_a_block_are_those_of_physics(points):
    engine, conditions, _, block = points
    rod, turn = engine.rod_ratio * engine.stroke, 2 * np.pi * conditions.engine_speed
    angle = 6.6
    lift = valve_lift(angle, engine.intake_opening, engine.intake_closing, engine.intake_valve_lift)
    throat = np.pi / 4 * engine.intake_valve_diameter**2 * engine.valve_throat_ratio
    area = valve_effective_area(
        lift, engine.intake_valve_diameter, throat, engine.intake_valve_count, engine.intake_discharge_coefficient
    )

    spaces = [cylinder_space(block, lane, angle) for lane in range(at.LANES)]
    areas = [valve_area(block, lane, at.INTAKE, angle) for lane in range(at.LANES)]

    V = cylinder_volume(angle, engine.bore, engine.stroke, rod, engine.compression_ratio)
    np.testing.assert_allclose([space.volume for space in spaces], V, rtol=1e-13)
    slope = cylinder_volume_slope(angle, engine.bore, engine.stroke, rod)
    np.testing.assert_allclose([space.volume_slope for space in spaces], slope, rtol=1e-12)
    np.testing.assert_allclose(areas, area / turn, rtol=1e-12)


def test_burn_curve_and_wall_heat_in_a_block_are_those_of_physics(points):
    engine, conditions, _, block = points
    begin, step = block[at.EVENTS + at.LANES : at.EVENTS + 2 * at.LANES], 1e-5
    angle, per_duration = begin + 0.4, block[at.PER_BURN_DURATION : at.PER_BURN_DURATION + at.LANES]
    a, m = engine.burn_completeness, engine.burn_form_factor
    burned, later, earlier = (
        burned_fraction((angle + shift - begin) * per_duration, a, m) / burned_fraction(1.0, a, m)
        for shift in (0.0, step, -step)
    )
    p, T, w, V = 3e6, 1400.0, 40.0, 3e-4
    bore, turn = engine.bore, 2 * np.pi * conditions.engine_speed
    h = engine.wall_heat_factor * wall_heat_transfer_coefficient(p, T, w, bore)
    area = np.pi / 4 * bore**2
    heat = area * (2 * T - engine.piston_temperature - engine.head_temperature)
    heat = heat + 4 * V / bore * (T - engine.liner_temperature)

    courses = [_course(block, lane, angle[lane], COMBUSTION) for lane in range(at.LANES)]
    walls = [wall_heat(block, lane, p, T, w, V) for lane in range(at.LANES)]

    np.testing.assert_allclose([course.burned for course in courses], burned, rtol=1e-9)
    np.testing.assert_allclose([course.burned_slope for course in courses], (later - earlier) / (2 * step), rtol=1e-6)
    np.testing.assert_allclose(walls, h * heat / turn, rtol=1e-9)


@pytest.mark.parametrize("temperature", [320.0, 700.0, 990.0, 1010.0, 1600.0, 2800.0])
@pytest.mark.parametrize("error", [-60.0, 5.0, 60.0])
def test_temperature_is_found_from_energy_and_from_enthalpy(points, temperature, error):
    """One third-order step leaves 0.04 K of 60, also across the joint of the polynomials at 1000 K."""
    _, conditions, _, block = points
    share = 0.3
    fresh = unburned_charge(conditions.fuel, conditions.excess_air_ratio[0], conditions.humidity_ratio[0])
    burned = burned_gas(conditions.fuel, conditions.excess_air_ratio[0], conditions.humidity_ratio[0])
    h_fresh, h_burned = (float(gas.enthalpy(temperature) - gas.enthalpy(298.15)) for gas in (fresh, burned))
    R = (1 - share) * fresh.specific_gas_constant + share * burned.specific_gas_constant
    h = (1 - share) * h_fresh + share * h_burned

    gas = mixture(block, 0, h - R * temperature, share, temperature + error)

    assert gas.temperature == pytest.approx(temperature, abs=0.05)
    assert gas.specific_gas_constant == pytest.approx(R, rel=1e-12)
    assert gas.fresh_energy == pytest.approx(h_fresh - fresh.specific_gas_constant * temperature, abs=80.0)  # 0.1 K
    assert temperature_from_enthalpy(block, 0, h, share, temperature + 5 * error) == pytest.approx(
        temperature, abs=0.01
    )

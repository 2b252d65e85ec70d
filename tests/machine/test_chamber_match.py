"""The match with chambers whose ports differ from row to row."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT
from boostwright.machine.chamber_defaults import typical_roots_geometry
from boostwright.machine.chamber_map import ChamberBlower
from boostwright.machine.chamber_match import chamber_matched, chamber_points, without_ports
from boostwright.machine.chamber_response import chamber_response, port_range
from boostwright.machine.match_table import MatchOutcome
from boostwright.machine.operating_point import BlowerForm, matched_with
from tests.inference.setups import baseline_points

REACH = np.array([1.0, 0.3, 0.6])


@pytest.fixture(scope="module")
def setup():
    points = baseline_points()
    points["heat_loss_share"] = 0.0
    drawing = typical_roots_geometry(float(points["blower_displacement"][0]), float(points["speed_limit"][0]))
    x = points["engine_speed"] * points["drive_ratio"] / np.sqrt(300.0)
    speeds, ratios = np.linspace(0.93 * x.min(), 1.05 * x.max(), 4), np.linspace(1.5, 2.7, 3)
    return (
        drawing,
        chamber_points(points, drawing, 0),
        chamber_response(drawing, port_range(drawing, np.radians(15), REACH), speeds, ratios),
    )


def test_points_of_the_drawing_are_those_of_the_chambers_themselves(setup):
    """Every point run directly by `ChamberBlower`: what the polynomial and the map miss is below 0.4 % of flow."""
    drawing, points, response = setup
    ours = chamber_matched(points, [response])
    theirs = matched_with(without_ports(points), [BlowerForm(name="chambers", blower=ChamberBlower(geometry=drawing))])
    assert np.all(ours["outcome"] == MatchOutcome.MATCHED)
    for word in ("air_mass_flow", "manifold_pressure", "shaft_power", "blower_outlet_temperature"):
        np.testing.assert_allclose(ours[word], theirs[word], rtol=4e-3, err_msg=word)
    np.testing.assert_allclose(ours["leakage_flow"], theirs["leakage_flow"], rtol=0.05)


def test_mass_and_energy_close_with_the_factors_of_a_draw(setup):
    """m cp (T2 - T1) is the gas power less the casing's share, plus what the mechanical loss heats."""
    _, points, response = setup
    points = points.copy()
    points["heat_loss_share"], points["gas_work_factor"], points["delivery_factor"] = 0.08, 1.04, 0.97
    at = chamber_matched(points, [response])
    cp = 3.5 * DRY_AIR_GAS_CONSTANT
    T1 = at["blower_inlet_temperature"] * at["specific_gas_constant"] / DRY_AIR_GAS_CONSTANT
    T2 = at["blower_outlet_temperature"] * at["specific_gas_constant"] / DRY_AIR_GAS_CONSTANT
    heat = 0.92 * at["gas_power"] + at["mechanical_heat_share"] * at["mechanical_power"]
    np.testing.assert_allclose(at["blower_mass_flow"] * cp * (T2 - T1), heat, rtol=1e-5)
    np.testing.assert_allclose(at["gas_power"] + at["mechanical_power"], at["shaft_power"], rtol=1e-6)


def test_a_delivery_factor_multiplies_what_the_chambers_deliver(setup):
    """One per cent more delivered raises pressure too, and so leakage: the air gains 0.7 to 1 %."""
    _, points, response = setup
    more = points.copy()
    more["delivery_factor"] = 1.01
    gain = chamber_matched(more, [response])["air_mass_flow"] / chamber_matched(points, [response])["air_mass_flow"]
    assert np.all((gain > 1.006) & (gain < 1.0101))


def test_more_leakage_takes_air_and_most_of_it_at_low_speed(setup):
    _, points, response = setup
    leaky = points.copy()
    leaky["leakage_area"] *= 1.4
    lost = (
        1 - chamber_matched(leaky, [response])["air_mass_flow"] / chamber_matched(points, [response])["air_mass_flow"]
    )
    assert np.all(lost > 0)
    assert lost[0] > 1.5 * lost[-1]


def test_rows_of_two_drawings_keep_to_their_own(setup):
    """The second drawing has clearances of a third of the first's, run at few speeds: more air at the lowest speed."""
    drawing, points, response = setup
    third = {word: getattr(drawing, word) / 3 for word in ("tip_leakage_area", "mesh_leakage_area")}
    tight, few = replace(drawing, **third), (response.corrected_speeds[::3], response.pressure_ratios[::2])
    other = chamber_response(tight, port_range(tight, 0.1, REACH / 2), *few)
    second = chamber_points(without_ports(points), tight, 1)
    both = chamber_matched(np.concatenate([points, second]), [response, other])
    n = points.size
    np.testing.assert_array_equal(both["air_mass_flow"][:n], chamber_matched(points, [response])["air_mass_flow"])
    assert both["air_mass_flow"][n] > 1.02 * both["air_mass_flow"][0]


def test_an_internal_step_makes_the_rotors_carry_the_displacement_of_a_shaft_turn(setup):
    """Half the ratio with a step of two: the rotors turn as before and carry as much, so nothing changes."""
    _, points, response = setup
    geared = points.copy()
    geared["internal_step"], geared["drive_ratio"] = 2.0, points["drive_ratio"] / 2
    geared["blower_displacement"] = 2 * points["blower_displacement"]
    at, plain = chamber_matched(geared, [response]), chamber_matched(points, [response])
    np.testing.assert_allclose(at["air_mass_flow"], plain["air_mass_flow"], rtol=1e-8)

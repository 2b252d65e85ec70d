"""The chambers of a build: what the file says is taken, the rest is as documented, and draws stay possible."""

import math
from dataclasses import fields

import numpy as np
import pytest

from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_build import (
    CHAMBER_KEYS,
    chamber_assumptions,
    chamber_of,
    drawn_with_chambers,
    states_ports,
)
from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from tests.machine.builds import build_file

SCREW = {"kind": "screw", "internal_volume_ratio": 1.3}


def test_a_build_without_ports_has_the_documented_ones():
    assert chamber_of(build_file()) == typical_roots_geometry(1.6e-3, 300.0)
    assert chamber_of(build_file(blower=SCREW)) == typical_screw_geometry(1.6e-3, 300.0, 1.3)


def test_what_the_file_states_of_ports_is_taken_in_its_unit_and_no_longer_assumed():
    inlet = {
        "port_closing_angle": "215 deg",
        "port_area": "18 cm2",
        "effective_area": "70 cm2",
        "port_inertance": "30 1/m",
    }
    stated = build_file(inlet=inlet, blower={"chambers": 6})
    geometry = chamber_of(stated)
    assert geometry.port_closing_angle == pytest.approx(math.radians(215.0), rel=1e-12)
    assert geometry.port_effective_area == pytest.approx(18e-4, rel=1e-12)
    assert geometry.tract_effective_area == pytest.approx(70e-4, rel=1e-12)
    assert (geometry.port_inertance, geometry.chambers_per_turn) == (30.0, 6)
    assumed = {assumption.key_path for assumption in chamber_assumptions(stated)}
    assert set(CHAMBER_KEYS.values()) - assumed == {*(f"inlet.{key}" for key in inlet), "blower.chambers"}
    assert states_ports(stated)
    assert not states_ports(build_file())


def test_every_word_of_the_geometry_has_a_key_but_for_those_of_the_build_and_the_walls():
    elsewhere = {"blower_displacement", "speed_limit", "internal_volume_ratio", "mechanical_power_at_limit"}
    elsewhere |= {"mechanical_heat_share", "heat_conductance", "wall_temperature_share"}
    assert {field.name for field in fields(ChamberGeometry)} - set(CHAMBER_KEYS) == elsewhere


def test_a_stated_leakage_is_shared_between_tips_and_mesh_as_the_defaults_share_it():
    usual, tight = chamber_of(build_file()), chamber_of(build_file(blower={"leakage_area": "20 mm2"}))
    assert tight.tip_leakage_area / tight.mesh_leakage_area == pytest.approx(28.0 / 20.0)
    assert tight.tip_leakage_area < 0.5 * usual.tip_leakage_area


def test_a_step_inside_the_blower_makes_the_displacement_that_of_a_turn_of_the_rotor():
    assert chamber_of(
        build_file(blower={"displacement": "1.6 L", "speed_limit": "36000 rpm"}, drive={"internal_step": 2.0})
    ).blower_displacement == pytest.approx(0.8e-3)


@pytest.mark.parametrize("blower", [{}, SCREW], ids=["roots", "screw"])
def test_draws_spread_over_the_documented_range_and_are_always_possible(blower):
    generator, bare = np.random.default_rng(3), build_file(blower=blower)
    draws = [chamber_of(drawn_with_chambers(bare, generator)) for _ in range(60)]
    inertances = np.array([draw.port_inertance for draw in draws])
    assumed = next(a for a in chamber_assumptions(bare) if a.key_path == "inlet.port_inertance")
    inside = np.mean((inertances >= assumed.low) & (inertances <= assumed.high))
    assert 0.85 < inside <= 1.0  # 95 % of 60, give or take three standard deviations
    assert inertances.std() > 0.15 * (assumed.high - assumed.low)
    assert {draw.chambers_per_turn for draw in draws} == {chamber_of(bare).chambers_per_turn}


def test_what_is_stated_is_not_drawn():
    stated = build_file(inlet={"port_closing_angle": "205 deg"})
    drawn = drawn_with_chambers(stated, np.random.default_rng(3))
    assert drawn.numbers["inlet.port_closing_angle"] == stated.numbers["inlet.port_closing_angle"]
    assert drawn.numbers["inlet.port_area"] != chamber_of(stated).port_effective_area


def test_ports_that_cannot_be_are_refused_with_their_angles():
    late = build_file(inlet={"port_closing_angle": "262 deg"})
    with pytest.raises(ValueError, match=r"port_closing_angle 262\.0 deg must come before outlet_opening_angle 250\.0"):
        chamber_of(late)
    with pytest.raises(ValueError, match="must come before outlet_opening_angle"):
        drawn_with_chambers(build_file(inlet={"port_closing_angle": "400 deg"}), np.random.default_rng(3))

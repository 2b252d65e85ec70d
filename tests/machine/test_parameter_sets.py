"""Sets of uncertain numbers: they keep their distance from the build when the build is changed."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.build import build_of
from boostwright.machine.chamber_build import chamber_of
from boostwright.machine.operating_point import build_points
from boostwright.machine.parameter_sets import drawn_chamber_sets, drawn_sets
from tests.machine.builds import DRY_AIR, build_file

SPEEDS = np.array([40.0, 80.0])


@pytest.fixture(scope="module")
def sets():
    return drawn_chamber_sets(build_file(), SPEEDS, DRY_AIR, 6, np.random.default_rng(2))


def points_of(**changes):
    return build_points(build_of(build_file(**changes)), SPEEDS, DRY_AIR)


def test_the_build_that_the_sets_are_about_gets_the_sets_themselves(sets):
    assert np.array_equal(sets.points_for(points_of()), sets.points)
    geometry = chamber_of(build_file())
    assert [sets.geometry_for(number, geometry) for number in range(6)] == list(sets.geometries)


def test_a_size_keeps_its_ratio_and_a_temperature_its_difference(sets):
    changed = points_of(inlet={"flow_area": "40 cm2"}, cooler={"effectiveness": 0.8, "coolant_temperature": "58 degC"})
    carried = sets.points_for(changed)
    ratio = carried["inlet_area"] / sets.points["inlet_area"]
    assert ratio == pytest.approx(np.broadcast_to(changed["inlet_area"] / points_of()["inlet_area"], (6, 2)))
    assert carried["coolant_temperature"] - sets.points["coolant_temperature"] == pytest.approx(20.0)
    assert np.array_equal(carried["exhaust_area"], sets.points["exhaust_area"])


def test_a_closing_angle_is_shifted_and_a_port_area_scaled(sets):
    geometry = chamber_of(build_file())
    later = replace(
        geometry,
        port_closing_angle=geometry.port_closing_angle + 0.2,
        port_effective_area=1.5 * geometry.port_effective_area,
    )
    for number, own in enumerate(sets.geometries):
        carried = sets.geometry_for(number, later)
        assert carried.port_closing_angle - own.port_closing_angle == pytest.approx(0.2)
        assert carried.port_effective_area / own.port_effective_area == pytest.approx(1.5)
        assert carried.port_inertance == own.port_inertance


def test_a_set_in_which_the_ports_cannot_be_says_so(sets):
    geometry = chamber_of(build_file())
    nearly = replace(geometry, port_closing_angle=geometry.outlet_opening_angle - 0.01)
    with pytest.raises(ValueError, match="must come before"):
        [sets.geometry_for(number, nearly) for number in range(6)]


def test_a_study_may_carry_no_set_at_all():
    none = drawn_sets(build_file(), SPEEDS, DRY_AIR, 0, np.random.default_rng(2))
    assert none.points_for(points_of()).shape == (0, 2)


def test_what_has_no_bound_or_is_nothing_is_taken_as_asked():
    slip_law = drawn_sets(build_file(), SPEEDS, DRY_AIR, 3, np.random.default_rng(2))
    changed = points_of(bypass={"area": "5 cm2", "manifold_pressure_cap": "180 kPa"})
    carried = slip_law.points_for(changed)
    assert np.all(carried["manifold_pressure_cap"] == 180e3)
    assert np.all(carried["bypass_area"] == changed["bypass_area"])
    assert np.isfinite(carried["manifold_pressure_cap"]).all()

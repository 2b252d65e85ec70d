"""The geometry of the chambers: volumes, port areas, tables, defaults, refusals."""

from dataclasses import fields, replace

import numpy as np
import pytest

from boostwright.machine.chamber import ChamberGeometry, chamber_constants, chamber_tables
from boostwright.machine.chamber_defaults import CHAMBER_DEFAULTS, typical_roots_geometry, typical_screw_geometry

DEGREE = np.pi / 180
ROOTS = typical_roots_geometry(1.6e-3, 300.0)
SCREW = typical_screw_geometry(1.6e-3, 300.0, 1.3)


@pytest.mark.parametrize("geometry", [ROOTS, SCREW], ids=["roots", "screw"])
def test_a_chamber_grows_from_its_dead_pocket_by_the_swept_volume_and_back(geometry):
    dead = geometry.dead_volume_share * geometry.swept_volume
    begin, full, sealed, end = geometry.volume(
        np.array([0.0, geometry.fill_end_angle, geometry.compression_start_angle, geometry.discharge_end_angle])
    )
    assert begin == pytest.approx(dead, rel=1e-12)
    assert full == pytest.approx(dead + geometry.blower_displacement / geometry.chambers_per_turn, rel=1e-12)
    assert sealed == full
    assert end == pytest.approx(dead, rel=1e-12)


def test_a_roots_outlet_opens_where_the_volume_begins_to_fall():
    assert ROOTS.outlet_opening_angle == ROOTS.compression_start_angle
    assert replace(ROOTS, outlet_opening_advance=0.1).outlet_opening_angle == ROOTS.compression_start_angle - 0.1


def test_a_screw_outlet_opens_at_its_built_in_volume_ratio():
    full = SCREW.volume(SCREW.fill_end_angle)
    assert full / SCREW.volume(SCREW.outlet_opening_angle) == pytest.approx(1.3, rel=1e-9)
    assert SCREW.outlet_area(SCREW.outlet_opening_angle - 1e-6) == 0.0
    assert SCREW.outlet_area(SCREW.outlet_opening_angle + 0.01) > 0.0


def test_the_inlet_port_is_open_between_its_ramps_and_shut_from_its_closing_angle_on():
    closing = ROOTS.port_closing_angle
    assert ROOTS.port_area(90 * DEGREE) == ROOTS.port_effective_area
    assert ROOTS.port_area(closing - ROOTS.port_closing_ramp / 2) == pytest.approx(ROOTS.port_effective_area / 2)
    assert ROOTS.port_area(closing) == 0.0


def test_tables_join_at_the_ends_of_the_pitch_and_sum_the_areas_that_pass():
    coarse, fine = chamber_tables(ROOTS, 8), chamber_tables(ROOTS, 512)
    assert coarse.volume[-1, :-1] == pytest.approx(coarse.volume[0, 1:], rel=1e-12)
    assert coarse.inlet_area.shape == (8, ROOTS.chambers_alive)
    assert coarse.inlet_area.mean() == pytest.approx(fine.inlet_area.mean(), rel=1e-4)
    assert coarse.outlet_area.mean() == pytest.approx(fine.outlet_area.mean(), rel=1e-4)


def test_a_port_that_closes_within_a_step_is_still_open_in_it():
    step = 45 * DEGREE / 8
    just_into_a_step = replace(ROOTS, port_closing_angle=36 * step + 0.1 * step, port_closing_ramp=2 * step)
    assert chamber_tables(just_into_a_step, 8).inlet_area.T.ravel()[36] > 0.0


def test_chambers_alive_reach_to_the_end_of_discharge():
    assert ROOTS.chambers_alive == 10  # 440 deg in pitches of 45
    assert SCREW.chambers_alive == 8  # 690 in pitches of 90
    assert replace(SCREW, discharge_end_angle=720 * DEGREE).chambers_alive == 8


@pytest.mark.parametrize(("kind", "geometry"), [("roots", ROOTS), ("screw", SCREW)])
def test_every_number_but_size_has_a_default_with_a_range_and_a_source(kind, geometry):
    given = {"blower_displacement", "speed_limit", "internal_volume_ratio"}
    words = [default.word for default in CHAMBER_DEFAULTS[kind]]
    assert sorted([*words, *given]) == sorted(field.name for field in fields(ChamberGeometry))
    assert all(default.source and default.scaling for default in CHAMBER_DEFAULTS[kind])
    assert geometry.chambers_per_turn == next(d.value for d in CHAMBER_DEFAULTS[kind] if d.word == "chambers_per_turn")


def test_a_larger_blower_of_the_same_tip_speed_is_the_same_blower_larger():
    """Eight times the volume at half the speed: lengths double, areas grow fourfold, inertance halves."""
    large = typical_roots_geometry(8 * 1.6e-3, 150.0)
    assert large.port_effective_area == pytest.approx(4 * ROOTS.port_effective_area)
    assert large.tip_leakage_area == pytest.approx(4 * ROOTS.tip_leakage_area)
    assert large.tract_length == pytest.approx(2 * ROOTS.tract_length)
    assert large.port_inertance == pytest.approx(ROOTS.port_inertance / 2)


def test_whole_numbers_reach_the_kernels_as_the_type_they_are_compiled_for():
    constants = chamber_constants(replace(ROOTS, tip_leakage_area=0, heat_conductance=1))
    assert isinstance(constants.tip_leakage_area, float)
    assert isinstance(constants.heat_conductance, float)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"port_effective_area": 0.0}, "port_effective_area 0 must be positive"),
        ({"mesh_leakage_area": -1e-6}, "mesh_leakage_area -1e-06 must not be negative"),
        ({"internal_volume_ratio": 0.9}, r"internal_volume_ratio 0.9 must be 1 \(roots\) or more \(screw\)"),
        ({"volume_rounding": 1.5}, "volume_rounding 1.5 is a share: it lies between 0 and 1"),
        (
            {"port_closing_angle": 260 * DEGREE},
            "port_closing_angle 260.0 deg must come before outlet_opening_angle 250.0 deg",
        ),
        (
            {"discharge_end_angle": 240 * DEGREE},
            "compression_start_angle 250.0 deg must come before discharge_end_angle 240.0 deg",
        ),
    ],
)
def test_impossible_geometries_are_refused_with_value_and_place(changes, words):
    with pytest.raises(ValueError, match=words):
        replace(ROOTS, **changes)

"""The chamber form behind the common interface, and the map that is made of it."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from boostwright.machine.chamber_map import (
    ChamberBlower,
    chamber_map,
    chamber_map_error,
    run_chambers,
    typical_corrected_speeds,
    typical_pressure_ratios,
)

R, G = 287.05, 1.4
CP = R * G / (G - 1)
ROOTS = typical_roots_geometry(1.6e-3, 300.0)
MAP = chamber_map(ROOTS, typical_corrected_speeds(300.0), typical_pressure_ratios())


def test_the_nodes_of_the_map_are_within_a_thousandth_of_512_steps():
    """Every second speed; measured over all of them: 0.06 % at most, 0.01 % in the middle."""
    speeds = MAP.corrected_speeds[::2, np.newaxis] * np.sqrt(300.0)
    fine = run_chambers(ROOTS, 1e5, 300.0, 1e5 * MAP.pressure_ratios, speeds, 512, 1e-6)
    error = MAP.nodes[0, ::2, :, 0] / fine.blower_volumetric_efficiency - 1
    assert np.abs(error).max() < 1e-3
    assert np.median(np.abs(error)) < 2e-4


def test_between_its_nodes_the_map_is_near_direct_runs():
    """Interpolation and time steps together; measured 0.08 % of efficiency, 0.12 % of work, 0.1 K."""
    error = chamber_map_error(ROOTS, MAP)
    assert error.volumetric_efficiency_largest < 1.5e-3
    assert error.work_largest < 3e-3
    assert error.outlet_temperature_largest < 0.3


@pytest.mark.parametrize("blower", [MAP, ChamberBlower(geometry=ROOTS)], ids=["map", "chambers"])
def test_either_form_closes_its_energy_account(blower):
    d = blower.delivery(0.95e5, 290.0, [1.3e5, 1.9e5], 210.0)
    rise = d.mass_flow * CP * (d.outlet_temperature - 290.0)
    assert rise == pytest.approx(d.gas_power + ROOTS.mechanical_heat_share * d.mechanical_power, rel=1e-9)
    assert d.shaft_power == pytest.approx(rise + d.heat_loss, rel=1e-12)
    assert d.mechanical_power == pytest.approx(ROOTS.mechanical_power_at_limit * (210 / 300) ** 2, rel=1e-12)


def test_one_map_serves_all_weather():
    cold, hot = (0.7e5, 265.0), (1.02e5, 320.0)
    for p1, T1 in (cold, hot):
        read = MAP.delivery(p1, T1, 1.63 * p1, 190.0)
        run = ChamberBlower(geometry=ROOTS).delivery(p1, T1, 1.63 * p1, 190.0)
        assert read.mass_flow == pytest.approx(float(run.mass_flow), rel=5e-4)
        assert read.outlet_temperature == pytest.approx(float(run.outlet_temperature), abs=0.1)


def test_points_come_back_in_their_shape_and_place():
    p2 = np.array([[[1.4e5], [1.8e5]]])
    grid = ChamberBlower(geometry=ROOTS).delivery(1e5, 300.0, p2, [150.0, 250.0])
    alone = ChamberBlower(geometry=ROOTS).delivery(1e5, 300.0, 1.8e5, 150.0)
    assert grid.mass_flow.shape == (1, 2, 2)
    assert grid.mass_flow[0, 1, 0] == pytest.approx(float(alone.mass_flow), rel=1e-12)


def test_walking_along_the_pressure_ratio_changes_nothing_but_the_time():
    p2 = 1e5 * typical_pressure_ratios()
    walked, alone = (run_chambers(ROOTS, 1e5, 300.0, ratios, 150.0, 24, 1e-9) for ratios in (p2, p2[:, np.newaxis]))
    assert walked.blower_volumetric_efficiency == pytest.approx(alone.blower_volumetric_efficiency.ravel(), abs=1e-7)
    walked, alone = (run_chambers(ROOTS, 1e5, 300.0, ratios, 150.0, 24, 1e-4) for ratios in (p2, p2[:, np.newaxis]))
    assert walked.pitches.sum() < 0.5 * alone.pitches.sum()


def test_a_blower_that_leaks_too_much_has_no_map_where_it_does():
    leaking = replace(ROOTS, tip_leakage_area=3 * ROOTS.tip_leakage_area, mesh_leakage_area=3 * ROOTS.mesh_leakage_area)
    blower_map = chamber_map(leaking, typical_corrected_speeds(300.0), typical_pressure_ratios())
    highest = blower_map.pressure_ratio_range[1]
    assert highest[0] < 2.0 < 2.79 < highest[-1]
    assert np.all(np.diff(highest) >= 0.0)
    at_the_end = blower_map.delivery(1e5, 300.0, 1e5 * highest, MAP.corrected_speeds * np.sqrt(300.0))
    assert np.all(at_the_end.blower_volumetric_efficiency > 0.449)
    assert np.all(at_the_end.within_range == 1.0)
    above = blower_map.delivery(1e5, 300.0, (highest[0] + 0.05) * 1e5, MAP.corrected_speeds[0] * np.sqrt(300.0))
    assert above.within_range == 0.0


def test_a_screw_needs_less_work_than_a_roots_type_at_its_pressure_ratio():
    screw = ChamberBlower(geometry=typical_screw_geometry(1.6e-3, 300.0, 1.3))
    a, b = (blower.delivery(1e5, 300.0, 1.5e5, 150.0) for blower in (screw, ChamberBlower(geometry=ROOTS)))
    assert a.gas_power / a.mass_flow < 0.92 * b.gas_power / b.mass_flow


def test_leakage_counts_what_passes_the_mesh_and_what_passes_tips_into_chambers_that_still_fill():
    def delivered(tips: float, mesh: float):
        geometry = replace(ROOTS, tip_leakage_area=tips, mesh_leakage_area=mesh)
        return ChamberBlower(geometry=geometry).delivery(1e5, 300.0, 1.6e5, 120.0)

    tight, tips, mesh, both = delivered(0, 0), delivered(25e-6, 0), delivered(0, 25e-6), delivered(25e-6, 25e-6)
    assert tight.leakage_flow == 0.0
    assert min(tips.leakage_flow, mesh.leakage_flow) > 0.005 * tight.mass_flow
    assert both.leakage_flow == pytest.approx(float(tips.leakage_flow + mesh.leakage_flow), rel=0.1)
    assert both.mass_flow < min(tips.mass_flow, mesh.mass_flow) < tight.mass_flow


def test_walls_that_exchange_heat_have_no_map_but_can_be_run():
    hot = replace(ROOTS, heat_conductance=2.0)
    with pytest.raises(
        ValueError, match="heat_conductance 2 W/K: with heat from the walls one map does not serve all wea"
    ):
        chamber_map(hot, typical_corrected_speeds(300.0), typical_pressure_ratios())
    with_heat = ChamberBlower(geometry=hot).delivery(1e5, 300.0, 1.8e5, 150.0)
    without = ChamberBlower(geometry=ROOTS).delivery(1e5, 300.0, 1.8e5, 150.0)
    assert with_heat.heat_loss != pytest.approx(float(without.heat_loss), rel=1e-3)


def test_the_hotter_the_walls_the_less_heat_leaves_and_the_less_is_delivered():
    walls = [replace(ROOTS, heat_conductance=2.0, wall_temperature_share=share) for share in (0.1, 0.9)]
    cool, hot = (ChamberBlower(geometry=geometry).delivery(1e5, 300.0, 1.8e5, 150.0) for geometry in walls)
    assert hot.heat_loss < cool.heat_loss - 30.0  # of 23 kW
    assert hot.outlet_temperature > cool.outlet_temperature
    assert hot.mass_flow < cool.mass_flow

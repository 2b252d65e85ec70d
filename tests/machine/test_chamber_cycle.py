"""The periodic chamber model against an adaptive integrator, in its limits, and as something to differentiate."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.chamber import chamber_constants, chamber_tables
from boostwright.machine.chamber_cycle import chamber_cycle, starting_ring
from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from boostwright.machine.chamber_kernel import MASS, OUTLET_TEMPERATURE, PLENUM_MASS, PORT_FLOW, PRESSURE, ChamberPoint
from boostwright.machine.chamber_map import run_chambers
from tests.machine.chamber_reference import ReferenceRun

G = 1.4
ROOTS = typical_roots_geometry(2e-3, 333.0)
SCREW = typical_screw_geometry(2e-3, 333.0, 1.3)
RATIOS = 1e5 * np.array([1.2, 1.6, 2.4])
SPEEDS = np.array([[80.0], [200.0], [300.0]])


@pytest.mark.parametrize(
    ("geometry", "pressure_ratio", "speed"), [(ROOTS, 1.8, 200.0), (SCREW, 1.6, 250.0)], ids=["roots", "screw"]
)
def test_an_adaptive_integrator_finds_the_same_periodic_state(geometry, pressure_ratio, speed):
    """Measured over one chamber life, 12 and 10 pitches: within 2e-7 of flow and work against 1024 steps.

    Here one pitch from the state of 512 steps, to keep the test short: that state must come back, and its flow and work
    must be those of the integrator.
    """
    p1, T1, p2 = 1e5, 300.0, pressure_ratio * 1e5
    tables, constants = chamber_tables(geometry, 512), chamber_constants(geometry)
    point = ChamberPoint(p1, T1, p2, speed)
    ring = starting_ring(tables, constants, point)
    cycle = chamber_cycle(tables, constants, point, 1e-9, ring)
    reference = ReferenceRun(geometry, p1, T1, p2, ring.shared[OUTLET_TEMPERATURE], speed)
    chambers = ring.chambers[[MASS, PRESSURE, PORT_FLOW]].ravel()
    start = np.concatenate([chambers, ring.shared[[PLENUM_MASS, 0, 2]], [0.0, 0.0]])
    end = reference.pitch(start, 1e-6)
    n, m1 = geometry.chambers_alive, p1 * geometry.swept_volume / (287.05 * T1)
    assert end[:n] == pytest.approx(start[:n], abs=2e-5 * m1)
    assert end[n : 2 * n] == pytest.approx(start[n : 2 * n], abs=2e-5 * p1)
    assert cycle.blower_volumetric_efficiency == pytest.approx(end[-2] / m1, abs=3e-6)
    assert cycle.work_ratio == pytest.approx(end[-1] / (p1 * geometry.swept_volume), abs=5e-6)


@pytest.mark.parametrize(
    "geometry", [ROOTS, SCREW, replace(ROOTS, heat_conductance=3.0)], ids=["roots", "screw", "hot"]
)
def test_a_settled_state_takes_in_what_it_gives_out(geometry):
    runs = run_chambers(geometry, 1e5, 300.0, RATIOS, SPEEDS, 24, 1e-11)
    assert np.abs(runs.mass_defect).max() < 1e-9
    assert np.abs(runs.energy_defect / runs.work_ratio).max() < 1e-9
    rise = G / (G - 1) * runs.blower_volumetric_efficiency * (runs.temperature_ratio - 1)
    assert rise == pytest.approx(runs.work_ratio - runs.heat_ratio, rel=1e-9)


def test_size_free_numbers_depend_on_corrected_speed_and_pressure_ratio_alone():
    """Four weathers from 70 to 100 kPa and 270 to 330 K agree in eight decimals."""
    weathers = ((1e5, 300.0), (0.7e5, 270.0), (0.85e5, 330.0), (1e5, 330.0))
    found = []
    for p1, T1 in weathers:
        runs = run_chambers(ROOTS, p1, T1, RATIOS * p1 / 1e5, SPEEDS * np.sqrt(T1 / 300.0), 16, 1e-11)
        found.append([runs.blower_volumetric_efficiency, runs.work_ratio, runs.temperature_ratio])
    assert np.ptp(np.array(found), axis=0).max() < 0.5e-8


def test_heat_from_the_walls_breaks_that_similarity():
    hot = replace(ROOTS, heat_conductance=3.0)
    a = run_chambers(hot, 1e5, 300.0, 1.6e5, 200.0, 16, 1e-9)
    b = run_chambers(hot, 0.7e5, 300.0, 1.6 * 0.7e5, 200.0, 16, 1e-9)
    assert abs(a.blower_volumetric_efficiency - b.blower_volumetric_efficiency) > 1e-5


def test_around_no_pressure_rise_nothing_jumps_and_the_work_changes_sign():
    ratios = np.linspace(0.98, 1.02, 17)
    runs = run_chambers(ROOTS, 1e5, 300.0, 1e5 * ratios, 50.0, 48, 1e-10)
    efficiency = runs.blower_volumetric_efficiency
    assert np.all(np.diff(efficiency) < 0.0)
    assert np.abs(np.diff(efficiency)).max() < 0.02  # the root of the leakage law is steepest here, and finite
    assert runs.work_ratio[0] < 0.0 < runs.work_ratio[-1]
    assert np.abs(runs.mass_defect).max() < 1e-8
    assert np.abs(runs.energy_defect).max() < 1e-8


def test_slow_rotors_settle_at_every_pressure_ratio():
    ratios = 1e5 * np.array([1.0, 1.2, 1.5, 2.0, 2.8])
    runs = run_chambers(ROOTS, 1e5, 300.0, ratios, np.array([[100.0], [500.0], [1000.0], [2000.0]]) / 60, 16, 1e-4)
    assert np.all(runs.residual <= 1e-4)
    assert np.all(np.diff(runs.blower_volumetric_efficiency, axis=1) < 0.0)


@pytest.mark.parametrize(
    ("word", "step"),
    [
        ("port_closing_angle", np.deg2rad(0.2)),
        ("port_effective_area", 0.05e-4),
        ("tip_leakage_area", 0.3e-6),
        ("port_inertance", 0.3),
        ("tract_effective_area", 0.5e-4),
    ],
)
def test_what_may_be_calibrated_can_be_differentiated(word, step):
    """Central differences over h and over 2 h agree: no steps, no noise between neighbouring geometries."""

    def efficiency(change: float) -> np.ndarray:
        geometry = replace(ROOTS, **{word: getattr(ROOTS, word) + change})
        return run_chambers(geometry, 1e5, 300.0, RATIOS, SPEEDS, 24, 1e-9).blower_volumetric_efficiency

    near = (efficiency(step) - efficiency(-step)) / (2 * step)
    far = (efficiency(2 * step) - efficiency(-2 * step)) / (4 * step)
    assert near == pytest.approx(far, rel=0.02, abs=0.01 * np.abs(near).max())


def test_closing_the_port_later_costs_at_low_speed_and_gains_at_high_speed():
    """The chamber's own story: a longer way past one tip only, against gas that keeps coming."""
    later = replace(ROOTS, port_closing_angle=ROOTS.port_closing_angle + np.deg2rad(25))
    p2, speeds = 2e5, np.array([[70.0], [350.0]])
    before = run_chambers(ROOTS, 1e5, 300.0, [p2], speeds, 24, 1e-7).blower_volumetric_efficiency
    after = run_chambers(later, 1e5, 300.0, [p2], speeds, 24, 1e-7).blower_volumetric_efficiency
    low, high = (after - before).ravel()
    assert low < -0.005
    assert high > 0.02

"""The response of chambers to their ports: it says what the runs say, and stops at its borders."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from boostwright.machine.chamber_map import MAP_INLET, run_chambers
from boostwright.machine.chamber_ports import PORT_WORDS, ChamberPorts, geometry_with, ports_of
from boostwright.machine.chamber_response import CLEAR_OF_OUTLET, chamber_response, port_range

DRAWING = typical_roots_geometry(1.6e-3, 233.0)
REACH = np.array([1.5, 0.4, 0.9])
SPEEDS, RATIOS = np.array([6.0, 9.0, 13.0]), np.array([1.2, 1.5, 2.0])


TOLD = []  # the shares that the response below was said to be done


@pytest.fixture(scope="module")
def response():
    return chamber_response(DRAWING, port_range(DRAWING, np.radians(20), REACH), SPEEDS, RATIOS, TOLD.append)


def run(ports):
    geometry = geometry_with(DRAWING, ChamberPorts(**dict(zip(PORT_WORDS, ports, strict=True))))
    p1, T1 = MAP_INLET
    return run_chambers(geometry, p1, T1, p1 * RATIOS, SPEEDS[:, None] * np.sqrt(T1), 48, 1e-6)


def ports(angle=0.0, inertance=0.0, area=0.0, leakage=0.0):
    """Ports off the drawing by degrees and by logarithms."""
    drawn = np.array([float(getattr(ports_of(DRAWING), word)) for word in PORT_WORDS])
    return drawn * np.exp([0.0, inertance, area, leakage]) + [np.radians(angle), 0.0, 0.0, 0.0]


@pytest.mark.parametrize(
    "moved", [ports(), ports(angle=9.0, area=0.2), ports(inertance=0.7, leakage=-0.5), ports(-7.0, -0.6, -0.15, 0.4)]
)
def test_between_its_runs_the_response_is_that_of_the_chambers(response, moved):
    """Direct runs with twice the steps at two standard deviations: 0.6 % of flow, 0.5 % of work, as measured."""
    nodes, runs = response.nodes(moved[None])[0, :, :, :, 0], run(moved)
    np.testing.assert_allclose(nodes[0], runs.blower_volumetric_efficiency, rtol=6e-3)
    np.testing.assert_allclose(nodes[1], runs.work_ratio, rtol=5e-3)


def test_its_own_error_is_that_of_geometries_it_was_not_fitted_to(response):
    """Twelve geometries drawn as the prior draws them, against direct runs: the same size within a factor of three."""
    generator = np.random.default_rng(2)
    moved = [ports(*(np.array([20.0, *REACH]) / 3.0 * generator.standard_normal(4))) for _ in range(12)]
    said, ran = response.nodes(np.array(moved))[:, 0, :, :, 0], [run(at).blower_volumetric_efficiency for at in moved]
    error = float(np.sqrt(np.mean((said / np.array(ran) - 1) ** 2)))
    assert response.efficiency_error / 3 < error < 3 * response.efficiency_error


def test_ports_beyond_the_range_are_held_at_its_border(response):
    border, beyond = ports(angle=20.0), ports(angle=35.0)
    np.testing.assert_allclose(response.nodes(beyond[None]), response.nodes(border[None]), rtol=1e-12)


def test_coordinates_and_ports_are_each_others_inverse(response):
    at = np.array([[0.3, -0.7, 0.9, 0.0], [-1.0, 1.0, 0.1, -0.2]])
    np.testing.assert_allclose(response.range.coordinates(response.range.ports(at)), at, atol=1e-12)


def test_a_range_never_lets_the_inlet_close_after_the_outlet_has_opened():
    screw = typical_screw_geometry(1.6e-3, 233.0, 1.3)
    late = port_range(screw, np.radians(200), REACH).upper[0]
    assert late == pytest.approx(screw.outlet_opening_angle - CLEAR_OF_OUTLET)


def test_walls_that_exchange_heat_are_refused():
    warm = replace(DRAWING, heat_conductance=1.5)
    with pytest.raises(ValueError, match=r"heat_conductance 1\.5 W/K: a fit takes the walls as without effect"):
        chamber_response(warm, port_range(warm, 0.1, REACH), SPEEDS, RATIOS)


def test_a_blower_that_leaks_all_it_carries_is_refused():
    """A hundred times the clearances of the defaults: nothing goes through at these speeds."""
    open_one = replace(DRAWING, tip_leakage_area=2.8e-3, mesh_leakage_area=2e-3)
    with pytest.raises(ValueError, match=r"\d+ of 200 geometries deliver steadily .* leave out the lowest speeds"):
        chamber_response(open_one, port_range(open_one, 0.1, REACH), np.array([3.0, 4.0]), np.array([1.9, 2.0]))


def test_progress_is_told_from_the_first_run_to_the_last(response):
    assert sorted(TOLD) == TOLD
    assert TOLD[-1] == 1.0
    assert len(TOLD) == 200 == len(set(TOLD))

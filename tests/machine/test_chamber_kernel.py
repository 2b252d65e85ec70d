"""The step of the chamber model: its orifice law, and what it conserves from any state to the next."""

import numpy as np
import pytest

from boostwright.machine.chamber import chamber_constants, chamber_tables
from boostwright.machine.chamber_cycle import Ring, chamber_pitch, starting_ring
from boostwright.machine.chamber_defaults import typical_roots_geometry, typical_screw_geometry
from boostwright.machine.chamber_kernel import (
    MASS,
    OUTLET_TEMPERATURE,
    PLENUM_MASS,
    PLENUM_PRESSURE,
    PORT_FLOW,
    PRESSURE,
    SCRATCH_ROWS,
    ChamberPoint,
    Run,
    chord_conductance,
    flow_squared_over_drop,
)
from boostwright.physics.restriction import flow_function_kernel, restriction_flow_kernel

R, G = 287.05, 1.4
CP = R * G / (G - 1)
GEOMETRIES = {"roots": typical_roots_geometry(2e-3, 333.0), "screw": typical_screw_geometry(2e-3, 333.0, 1.3)}


def test_the_orifice_law_without_powers_is_the_exact_one():
    """Largest error of the fit, measured when it was made: 1.22e-8."""
    drops = np.concatenate([np.linspace(1e-3, 0.48, 2000), np.linspace(0.5, 1.0, 20)])
    fitted = np.array([np.sqrt(y * flow_squared_over_drop(y)) for y in drops])
    exact = np.array([flow_function_kernel(1 - y, G) for y in drops])
    rounded_off = exact * np.sqrt(np.sqrt(1 + (1e-5 / drops) ** 2))  # that law is rounded off near zero, this one not
    assert np.abs(fitted - rounded_off).max() < 1.3e-8


@pytest.mark.parametrize("pb", [4e4, 0.9e5, 0.99999e5, 1e5, 1.00001e5, 1.3e5, 3e5])
def test_chord_times_difference_is_the_flow_of_a_restriction_in_either_direction(pb):
    """Both laws are straight near zero alike."""
    flow = chord_conductance(3e-4, 1e5, 300.0, pb, 350.0) * (1e5 - pb)
    assert flow == pytest.approx(restriction_flow_kernel(1e5, 300.0, pb, 350.0, 3e-4, G, R), rel=1e-7, abs=1e-15)


def test_the_chord_is_the_same_from_both_sides_and_finite_at_no_difference():
    assert chord_conductance(3e-4, 1e5, 300.0, 2e5, 350.0) == chord_conductance(3e-4, 2e5, 350.0, 1e5, 300.0)
    at_rest = chord_conductance(3e-4, 1e5, 300.0, 1e5, 300.0)
    assert np.isfinite(at_rest)
    assert chord_conductance(3e-4, 1e5, 300.0, 1e5 - 1e-3, 300.0) == pytest.approx(at_rest, rel=1e-6)


def contents(ring: Ring, volumes: np.ndarray, plenum_volume: float) -> tuple[float, float]:
    """Mass and internal energy of all that is between flange and outlet."""
    mass = ring.chambers[MASS].sum() + ring.shared[PLENUM_MASS]
    pressure_volume = (ring.chambers[PRESSURE] * volumes).sum() + ring.shared[PLENUM_PRESSURE] * plenum_volume
    return mass, pressure_volume / (G - 1)


@pytest.mark.parametrize("theta", [0.5, 1.0])
@pytest.mark.parametrize("kind", ["roots", "screw"])
@pytest.mark.parametrize("heat_conductance", [0.0, 4.0])
def test_every_pitch_conserves_mass_and_energy_to_rounding(kind, theta, heat_conductance):
    """Far from the periodic state, where contents change by per cents from pitch to pitch."""
    geometry = GEOMETRIES[kind]
    tables = chamber_tables(geometry, 12)
    constants = chamber_constants(geometry)._replace(heat_conductance=heat_conductance)
    point = ChamberPoint(1e5, 300.0, 1.7e5, 150.0)
    ring = starting_ring(tables, constants, point)
    ring.shared[OUTLET_TEMPERATURE] = 420.0
    run = Run(tables, constants, point, theta, 1 / (geometry.chambers_per_turn * 150.0 * 12))
    scratch = np.zeros((SCRATCH_ROWS, geometry.chambers_alive))
    for _ in range(5):
        mass, energy = contents(ring, tables.volume[0], geometry.plenum_volume)
        account = chamber_pitch(run, ring, scratch)
        new_mass, new_energy = contents(ring, tables.volume[0], geometry.plenum_volume)
        gained = CP * (account.enthalpy_in - account.enthalpy_out) + account.work + account.heat
        assert new_mass - mass == pytest.approx(account.mass_in - account.mass_out, abs=1e-14 * mass)
        assert new_energy - energy == pytest.approx(gained, abs=1e-13 * energy)
        shut = tables.inlet_area[0] == 0.0
        assert np.all(ring.chambers[PORT_FLOW, shut] == 0.0)
        assert np.all(ring.chambers[PORT_FLOW, ~shut][1:] != 0.0)
    assert abs(new_mass - mass) > 1e-5 * mass

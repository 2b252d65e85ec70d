import numpy as np
import pytest
from fluids import dP_from_K
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.gases import constant_property_gas
from boostwright.physics.losses import (
    loss_coefficient,
    loss_effective_area,
    pressure_between,
    pressure_loss,
    series_effective_area,
    series_mass_flow,
)
from boostwright.physics.restriction import restriction_mass_flow

AIR = constant_property_gas(1.4, 287.05)
areas = st.floats(1e-4, 1e-2)
coefficients = st.floats(0.05, 5.0)


@given(coefficients, st.floats(0.6, 3.0), st.floats(0.01, 1.0), areas)
@settings(deadline=None)
def test_loss_is_that_of_fluids(K, rho, m, A):
    assert float(pressure_loss(K, rho, m, A)) == pytest.approx(dP_from_K(K=K, rho=rho, V=m / (rho * A)), rel=1e-12)


@given(coefficients, st.floats(0.01, 1.0))
@settings(deadline=None)
def test_reversed_flow_loses_the_other_way(K, m):
    assert float(pressure_loss(K, 1.2, -m, 5e-3)) == -float(pressure_loss(K, 1.2, m, 5e-3)) < 0


@given(coefficients, areas)
@settings(deadline=None)
def test_coefficient_and_effective_area_are_inverse(K, A):
    assert float(loss_coefficient(loss_effective_area(K, A), A)) == pytest.approx(K, rel=1e-12)


@given(coefficients, coefficients, areas)
@settings(deadline=None)
def test_losses_in_a_row_add_up(K1, K2, A):
    together = series_effective_area([float(loss_effective_area(K1, A)), float(loss_effective_area(K2, A))])
    assert float(together) == pytest.approx(float(loss_effective_area(K1 + K2, A)), rel=1e-12)


def test_the_last_axis_is_the_row_of_parts():
    rows = np.array([[1e-3, 2e-3], [3e-3, 4e-3], [5e-3, 6e-3]])
    assert series_effective_area(rows) == pytest.approx([float(series_effective_area(row)) for row in rows], rel=1e-12)


@given(st.floats(2e4, 3e5), areas, areas)
@settings(deadline=None)
def test_both_restrictions_pass_the_same(p, first, second):
    between = pressure_between(1e5, 300.0, p, first, second, AIR)
    ahead = float(restriction_mass_flow(1e5, 300.0, between, 300.0, first, AIR))
    behind = float(restriction_mass_flow(between, 300.0, p, 300.0, second, AIR))
    assert min(1e5, p) <= float(between) <= max(1e5, p)
    assert ahead == pytest.approx(behind, rel=1e-6, abs=1e-9)


def test_small_losses_in_series_are_the_incompressible_ones():
    flow = float(series_mass_flow(1e5, 300.0, 99.5e3, 2e-3, 1e-3, AIR))
    area = series_effective_area([2e-3, 1e-3])
    assert flow == pytest.approx(float(restriction_mass_flow(1e5, 300.0, 99.5e3, 300.0, area, AIR)), rel=1e-3)


def test_flow_through_two_is_reversed_with_the_pressures():
    assert float(series_mass_flow(8e4, 300.0, 1e5, 2e-3, 1e-3, AIR)) == pytest.approx(
        -float(series_mass_flow(1e5, 300.0, 8e4, 1e-3, 2e-3, AIR)), rel=1e-9
    )


def test_arguments_broadcast():
    assert series_mass_flow(1e5, 300.0, np.array([8e4, 9e4]), 2e-3, np.array([[1e-3], [3e-3]]), AIR).shape == (2, 2)

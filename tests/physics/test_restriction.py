import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.gases import DRY_AIR, constant_property_gas
from boostwright.physics.restriction import critical_pressure_ratio, flow_function, restriction_mass_flow

pressures = st.floats(2e4, 5e5)
temperatures = st.floats(220.0, 1500.0)
ratios_of_heat = st.floats(1.15, 1.67)


@given(pressures, temperatures, pressures, temperatures)
@settings(deadline=None)
def test_exchanging_the_sides_changes_only_the_sign(p1, T1, p2, T2):
    there = float(restriction_mass_flow(p1, T1, p2, T2, 1e-3, DRY_AIR))
    back = float(restriction_mass_flow(p2, T2, p1, T1, 1e-3, DRY_AIR))
    assert back == -there


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), ratios_of_heat)
@settings(deadline=None)
def test_raising_back_pressure_never_raises_flow(a, b, k):
    low, high = sorted((a, b))
    assert float(flow_function(low, k)) >= float(flow_function(high, k)) - 1e-9


@given(st.floats(0.0, 0.999), ratios_of_heat)
@settings(deadline=None)
def test_a_choked_restriction_no_longer_feels_the_back_pressure(share, k):
    critical = float(critical_pressure_ratio(k))
    assert float(flow_function(share * critical, k)) == float(flow_function(0.0, k))


@given(ratios_of_heat)
@settings(deadline=None)
def test_flow_goes_over_into_choking_without_a_step(k):
    critical = float(critical_pressure_ratio(k))
    choked, nearly = flow_function([critical * (1 - 1e-9), critical * (1 + 1e-9)], k)
    assert nearly == pytest.approx(choked, rel=1e-9)


def test_flow_is_straight_through_zero():
    """Within a tenth x of the linear range, 1e-5, the slope of x (1 + x^2)^(-1/4) changes by 3/4 x^2 = 0.75 %."""
    x = np.linspace(-1e-6, 1e-6, 21)
    m = restriction_mass_flow(1e5, 300.0, 1e5 * (1 - x), 300.0, 1e-3, constant_property_gas(1.4, 287.05))
    slopes = np.diff(m) / np.diff(x)
    assert m[10] == 0.0
    assert slopes == pytest.approx(slopes[10], rel=8e-3)
    assert slopes[10] > 0


@given(st.floats(1e-9, 1e-3), ratios_of_heat)
@settings(deadline=None)
def test_flow_function_is_carried_on_through_one_with_the_opposite_sign(y, k):
    above, below = flow_function([1 + y, 1 - y], k)
    assert above < 0 < below
    assert above == pytest.approx(-below, rel=2e-3)  # the density differs by 2 y/k


@given(pressures, st.floats(250.0, 1000.0), st.floats(0.3, 0.999), st.floats(0.8, 6.0))
@settings(deadline=None)
def test_flow_goes_with_area_and_pressure_and_falls_with_the_root_of_temperature(p, T, ratio, scale):
    gas = constant_property_gas(1.4, 287.05)
    m = float(restriction_mass_flow(p, T, ratio * p, T, 1e-3, gas))
    assert float(restriction_mass_flow(p, T, ratio * p, T, scale * 1e-3, gas)) == pytest.approx(scale * m, rel=1e-12)
    assert float(restriction_mass_flow(scale * p, T, scale * ratio * p, T, 1e-3, gas)) == pytest.approx(
        scale * m,
        rel=1e-9,  # the pressure ratio is rounded, and near 1 that is magnified
    )
    hot = float(restriction_mass_flow(p, scale * T, ratio * p, scale * T, 1e-3, gas))
    assert hot == pytest.approx(m / np.sqrt(scale), rel=1e-12)


@given(pressures, temperatures, st.floats(1e-4, 5e-3))
@settings(deadline=None)
def test_a_small_difference_is_the_incompressible_law(p, T, y):
    rho = p / (287.05 * T)
    expected = 1e-3 * np.sqrt(2 * rho * y * p)
    flow = float(restriction_mass_flow(p, T, p * (1 - y), T, 1e-3, constant_property_gas(1.4, 287.05)))
    assert flow == pytest.approx(expected, rel=0.003 + y)  # 0.25 % of it is the straight part, at y = 1e-4


def test_arguments_broadcast():
    p, A = np.array([1e5, 2e5])[:, None], np.array([1e-3, 2e-3, 3e-3])
    assert restriction_mass_flow(p, 300.0, 5e4, 300.0, A, DRY_AIR).shape == (2, 3)


def test_gauge_pressure_and_celsius_are_refused_in_words():
    with pytest.raises(ValueError, match="pressure -20000 Pa is negative: give absolute pressures, not gauge"):
        restriction_mass_flow(-2e4, 300.0, 1e5, 300.0, 1e-3, DRY_AIR)
    with pytest.raises(ValueError, match="temperature 25 K is outside 200 to 6000 K: was it given in degC"):
        restriction_mass_flow(2e5, 25.0, 1e5, 300.0, 1e-3, DRY_AIR)
    with pytest.raises(ValueError, match=r"pressure ratio -0\.1 is negative"):
        flow_function(-0.1, 1.4)

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.leakage import leakage_area, leakage_speed, scaled_leakage_speed

areas = st.floats(1e-6, 2e-4)
rises = st.floats(1e3, 2e5)
densities = st.floats(0.6, 1.5)


@given(areas, rises, densities)
@settings(deadline=None)
def test_a_slip_test_gives_back_the_area_that_leaked(area, rise, density):
    speed = leakage_speed(area, rise, density, 1.6e-3)
    assert float(leakage_area(speed, rise, density, 1.6e-3)) == pytest.approx(area, rel=1e-12)


@given(areas, rises, densities, rises, densities)
@settings(deadline=None)
def test_scaling_a_slip_test_is_the_law_at_the_new_point(area, test_rise, test_density, rise, density):
    measured = leakage_speed(area, test_rise, test_density, 1.6e-3)
    scaled = scaled_leakage_speed(measured, rise / test_rise, density / test_density)
    assert float(scaled) == pytest.approx(float(leakage_speed(area, rise, density, 1.6e-3)), rel=1e-12)


def test_a_larger_blower_leaks_less_of_itself():
    assert float(leakage_speed(5e-5, 5e4, 1.2, 3.2e-3)) == 0.5 * float(leakage_speed(5e-5, 5e4, 1.2, 1.6e-3))

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.injection import (
    injector_duty,
    injector_flow,
    required_injector_flow,
    unreferenced_pressure_difference,
)

flows = st.floats(1e-7, 5e-5)
differences = st.floats(1e5, 8e5)


@given(flows, differences, differences, st.floats(0.1, 4.0))
@settings(deadline=None)
def test_flow_squared_goes_with_the_pressure_difference(flow, rated, dp, scale):
    there = float(injector_flow(flow, rated, dp))
    assert float(injector_flow(flow, rated, scale * dp)) ** 2 == pytest.approx(scale * there**2, rel=1e-12)
    assert float(injector_flow(flow, rated, rated)) == pytest.approx(flow, rel=1e-12)


@given(st.floats(1e-3, 0.1), st.integers(1, 16), st.floats(0.3, 1.0))
@settings(deadline=None)
def test_an_injector_of_the_required_flow_has_the_duty_asked_for(fuel, count, duty):
    needed = required_injector_flow(fuel, count, duty, 745.0)
    assert float(injector_duty(fuel, count, needed, 745.0)) == pytest.approx(duty, rel=1e-12)


@given(st.floats(2e5, 6e5), st.floats(6e4, 1.05e5), st.floats(0.0, 1.5e5))
@settings(deadline=None)
def test_boost_takes_from_a_rail_that_does_not_follow_it(rail, ambient, boost):
    assert float(unreferenced_pressure_difference(rail, ambient, ambient + boost)) == pytest.approx(rail - boost)


def test_a_rail_below_the_manifold_is_refused_in_words():
    boosted = unreferenced_pressure_difference(1e5, 1e5, 3e5)
    with pytest.raises(
        ValueError, match="pressure difference -100000 Pa across the injector is negative: raise the rail"
    ):
        injector_flow(1e-5, 3e5, boosted)

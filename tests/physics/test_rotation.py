import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.rotation import inertia_power, inertia_torque, shaft_power, shaft_torque

speeds = st.floats(1.0, 500.0)


@given(st.floats(-5e3, 5e3), speeds)
def test_torque_comes_back_from_its_power(torque, N):
    assert float(shaft_torque(shaft_power(torque, N), N)) == pytest.approx(torque, abs=1e-9)


@given(st.floats(0.01, 5.0), st.floats(-50.0, 50.0), speeds)
def test_inertia_power_is_the_rate_of_kinetic_energy(inertia, rate, N):
    def energy(n: float) -> float:
        return 0.5 * inertia * (2 * 3.141592653589793 * n) ** 2

    step = 1e-4
    change = (energy(N + rate * step) - energy(N - rate * step)) / (2 * step)
    assert float(inertia_power(inertia, N, rate)) == pytest.approx(change, rel=1e-6, abs=1e-3)


def test_a_falling_speed_gives_its_inertia_back():
    assert float(inertia_torque(0.6, -5.0)) == -float(inertia_torque(0.6, 5.0)) < 0


def test_a_standing_shaft_has_no_torque_from_power():
    with pytest.raises(ValueError, match="shaft speed is 0 1/s somewhere"):
        shaft_torque(1e3, [0.0, 50.0])

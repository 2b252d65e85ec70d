"""The figures against one another, and against worked ones (four-stroke)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.engine_figures import (
    brake_specific_fuel_consumption,
    brake_thermal_efficiency,
    engine_air_mass_flow,
    engine_volumetric_efficiency,
    mean_effective_pressure,
)
from boostwright.physics.rotation import shaft_power

speeds = st.floats(10.0, 150.0)


@pytest.mark.parametrize(("torque", "displacement", "bar"), [(600.0, 5.0e-3, 15.0796), (400.0, 2.0e-3, 25.1327)])
def test_mean_effective_pressure_is_4_pi_torque_over_displacement(torque, displacement, bar):
    """Worked: 4 pi T/Vd, whatever the speed."""
    for speed in (20.0, 100.0):
        pressure = mean_effective_pressure(shaft_power(torque, speed), displacement, speed)
        assert float(pressure) / 1e5 == pytest.approx(bar, abs=6e-5)


def test_air_of_a_five_litre_engine():
    """Worked: 5.0 L, 6000 1/min, 170 kPa, 325 K, VE 0.95, R 287.05: 0.43278 kg/s."""
    flow = engine_air_mass_flow(0.95, 5.0e-3, 100.0, 170e3 / (287.05 * 325.0))
    assert float(flow) == pytest.approx(0.43278, abs=6e-6)


def test_air_need_and_efficiency_of_400_kilowatts():
    """Worked: 0.30 kg/kWh and 12.5 kg of air per kg of fuel: 0.41667 kg/s of air; 0.27907 at 43.0 MJ/kg."""
    fuel = 400e3 * 0.30 / 3.6e6
    assert float(brake_specific_fuel_consumption(fuel, 400e3)) * 3.6e6 == pytest.approx(0.30, rel=1e-12)
    assert 12.5 * fuel == pytest.approx(0.41667, abs=6e-6)
    assert float(brake_thermal_efficiency(400e3, fuel, 43.0e6)) == pytest.approx(0.27907, abs=6e-6)


@given(st.floats(0.3, 1.3), st.floats(1e-3, 1e-2), speeds, st.floats(0.5, 3.0))
@settings(deadline=None)
def test_volumetric_efficiency_comes_back_from_its_air(VE, displacement, speed, density):
    flow = engine_air_mass_flow(VE, displacement, speed, density)
    assert float(engine_volumetric_efficiency(flow, displacement, speed, density)) == pytest.approx(VE, rel=1e-12)


@given(speeds, st.floats(1e-3, 2e-2), st.floats(20e6, 50e6))
@settings(deadline=None)
def test_efficiency_is_one_over_consumption_and_heat(speed, fuel, heat):
    power = 0.3 * fuel * heat
    consumption = float(brake_specific_fuel_consumption(fuel, power))
    assert float(brake_thermal_efficiency(power, fuel, heat)) == pytest.approx(1 / (consumption * heat), rel=1e-12)

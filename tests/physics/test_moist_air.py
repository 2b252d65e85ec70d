import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.moist_air import (
    DRY_AIR_GAS_CONSTANT,
    WATER_VAPOUR_GAS_CONSTANT,
    dry_pressure,
    humidity_ratio,
    moist_air_density,
    moist_air_enthalpy,
    moist_air_gas_constant,
    saturation_pressure,
    vapour_pressure,
)

temperatures = st.floats(250.0, 320.0)
humidities = st.floats(0.0, 1.0)
pressures = st.floats(60e3, 110e3)


@given(temperatures, humidities, pressures)
def test_density_pressure_and_gas_constant_obey_one_gas_law(T, phi, p):
    """rho R T = p with the mixture's own gas constant: two routes to one number."""
    pw = vapour_pressure(T, phi)
    R = moist_air_gas_constant(humidity_ratio(p, pw))
    assert float(moist_air_density(p, T, pw) * R * T) == pytest.approx(p, rel=1e-12)


@given(temperatures, pressures)
def test_humid_air_is_lighter_than_dry_air(T, p):
    humid, dry = moist_air_density(p, T, vapour_pressure(T, 0.9)), moist_air_density(p, T, 0.0)
    assert humid < dry


@given(temperatures, st.floats(0.1, 5.0))
def test_saturation_pressure_rises_with_temperature(T, warmer):
    assert saturation_pressure(T + warmer) > saturation_pressure(T)


def test_ice_and_water_meet_at_the_triple_point():
    below, above = saturation_pressure([273.16, 273.1600001])
    assert above == pytest.approx(below, rel=1e-5)
    assert below == pytest.approx(611.657, rel=2e-4)  # triple-point pressure of water, IAPWS


def test_gas_constant_runs_from_dry_air_to_steam():
    assert float(moist_air_gas_constant(0.0)) == DRY_AIR_GAS_CONSTANT
    assert float(moist_air_gas_constant(1e9)) == pytest.approx(WATER_VAPOUR_GAS_CONSTANT, rel=1e-8)
    molar = 8314.462618 / 18.015268  # molar gas constant over the molar mass of water
    assert pytest.approx(molar, rel=3e-5) == WATER_VAPOUR_GAS_CONSTANT


def test_enthalpy_counts_from_dry_air_and_liquid_water_at_the_ice_point():
    assert float(moist_air_enthalpy(273.15, 0.0)) == 0.0
    assert float(moist_air_enthalpy(273.15, 0.010) - moist_air_enthalpy(273.15, 0.0)) == pytest.approx(25010.0)


def test_arrays_broadcast():
    assert vapour_pressure(np.full((3, 1), 300.0), [0.2, 0.4]).shape == (3, 2)


@pytest.mark.parametrize("wrong", [25.0, 500.0, float("nan")])
def test_a_temperature_in_celsius_is_refused(wrong):
    with pytest.raises(ValueError, match=r"is outside 173\.15 to 473\.15 K: is it in degC\?"):
        saturation_pressure([300.0, wrong])


@pytest.mark.parametrize("wrong", [52.0, -0.1, float("nan")])
def test_a_humidity_in_percent_is_refused(wrong):
    with pytest.raises(ValueError, match=r"is outside 0 to 1: is it in percent\?"):
        vapour_pressure(300.0, [0.5, wrong])


def test_vapour_that_does_not_fit_into_the_air_is_refused():
    with pytest.raises(ValueError, match=r"vapour pressure 2000 Pa does not fit into 1013 Pa of air"):
        dry_pressure([101325.0, 1013.25], 2000.0)

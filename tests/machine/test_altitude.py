"""Height and weather: the air of a fixed-ratio blower follows the density at its inlet, and so does what it drives."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.machine.operating_point import ambient_air
from tests.machine.builds import SPEEDS, build, match_of
from tests.machine.test_match import LOSSLESS

PRESSURES = st.floats(55e3, 105e3)
TEMPERATURES = st.floats(250.0, 320.0)
SEA = ambient_air(101325.0, 288.15, 0.0)
IN_PROPORTION = {"cooler_transfer_exponent": 0.0, "mechanical_power_at_limit": 0.0}


@settings(max_examples=25, deadline=None)
@given(pressure=PRESSURES)
def test_at_one_temperature_all_flows_and_gas_powers_go_with_the_pressure_around(pressure):
    low = match_of(build(), SPEEDS[::4], ambient_air(pressure, 288.15, 0.0), **IN_PROPORTION)
    sea = match_of(build(), SPEEDS[::4], SEA, **IN_PROPORTION)
    share = pressure / 101325.0
    for word in ("air_mass_flow", "manifold_pressure", "gas_power", "leakage_flow"):
        tolerance = 2e-3 if word == "leakage_flow" else 1e-4  # the leakage law is rounded below 2 kPa
        np.testing.assert_allclose(low[word], share * sea[word], rtol=tolerance)
    np.testing.assert_allclose(low.boost, share * sea.boost, rtol=1e-3)  # gauge boost falls with height as well


@settings(max_examples=25, deadline=None)
@given(pressure=PRESSURES, temperature=TEMPERATURES)
def test_without_losses_the_air_flow_is_proportional_to_the_density_around(pressure, temperature):
    there = match_of(build(), SPEEDS[::4], ambient_air(pressure, temperature, 0.0), **LOSSLESS)
    sea = match_of(build(), SPEEDS[::4], SEA, **LOSSLESS)
    density = (pressure / temperature) / (101325.0 / 288.15)
    np.testing.assert_allclose(there["air_mass_flow"] / sea["air_mass_flow"], density, rtol=1e-5)


@settings(max_examples=25, deadline=None)
@given(pressure=PRESSURES, temperature=TEMPERATURES)
def test_with_all_its_losses_the_air_flow_follows_the_density_within_three_per_cent(pressure, temperature):
    there = match_of(build(), SPEEDS[::4], ambient_air(pressure, temperature, 0.0))
    sea = match_of(build(), SPEEDS[::4], SEA)
    density = (pressure / temperature) / (101325.0 / 288.15)
    np.testing.assert_allclose(there["air_mass_flow"] / sea["air_mass_flow"], density, rtol=0.03)


@settings(max_examples=25, deadline=None)
@given(ratio=st.floats(1.2, 3.2), more=st.floats(1.0, 1.3), pressure=PRESSURES)
def test_a_smaller_pulley_never_lowers_rotor_speed_boost_or_outlet_temperature(ratio, more, pressure):
    air = ambient_air(pressure, 288.15, 0.0)
    slow, fast = (match_of(build(), SPEEDS[::4], air, drive_ratio=r) for r in (ratio, ratio * more))
    both = slow.is_matched & fast.is_matched
    assert both.any()
    for word in ("rotor_speed", "manifold_pressure", "blower_outlet_temperature", "blower_drive_power"):
        assert (fast[word] >= slow[word] * (1.0 - 1e-9))[both].all()

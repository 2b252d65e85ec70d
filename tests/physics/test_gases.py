import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.compiled import compiled
from boostwright.physics.gases import (
    DRY_AIR,
    IdealGas,
    constant_property_gas,
    enthalpy_kernel,
    heat_capacity_kernel,
    heat_capacity_ratio_kernel,
    isentropic_temperature_kernel,
    mixed_by_mass,
    species_gas,
)
from boostwright.physics.species import CARBON_DIOXIDE, METHANE, WATER

GASES = [DRY_AIR, species_gas(WATER), species_gas(CARBON_DIOXIDE), species_gas(METHANE)]
temperatures = st.floats(250.0, 3500.0)


@given(st.sampled_from(GASES), temperatures)
@settings(deadline=None)
def test_enthalpy_rises_by_the_heat_capacity(gas: IdealGas, T: float):
    step = 0.01
    if abs(T - 1000.0) < 2 * step:  # the two rows of the source meet here to seven digits only
        return
    slope = float(gas.enthalpy(T + step) - gas.enthalpy(T - step)) / (2 * step)
    assert slope == pytest.approx(float(gas.heat_capacity(T)), rel=1e-5)


@pytest.mark.parametrize("gas", GASES)
def test_the_two_rows_meet_at_1000_kelvin(gas: IdealGas):
    below, above = gas.heat_capacity([1000.0 - 1e-9, 1000.0])
    assert below == pytest.approx(above, rel=1e-4)


@given(st.sampled_from(GASES), st.floats(250.0, 900.0), st.floats(0.3, 8.0))
@settings(deadline=None)
def test_compressing_and_expanding_comes_back(gas: IdealGas, T: float, ratio: float):
    there = gas.isentropic_temperature(T, ratio)
    if not 200 <= float(there) <= 6000:
        return
    assert float(gas.isentropic_temperature(there, 1 / ratio)) == pytest.approx(T, rel=1e-7)


@given(st.floats(1.1, 1.66), st.floats(100.0, 4000.0), st.floats(250.0, 1000.0), st.floats(0.9, 3.0))
@settings(deadline=None)
def test_a_gas_of_constant_properties_is_compressed_by_the_handbook_formula(k, R, T, ratio):
    gas = constant_property_gas(k, R)
    assert float(gas.isentropic_temperature(T, ratio)) == pytest.approx(T * ratio ** ((k - 1) / k), rel=1e-12)
    assert float(gas.heat_capacity_ratio(T)) == pytest.approx(k, rel=1e-12)


@given(st.floats(0.0, 1.0), temperatures)
@settings(deadline=None)
def test_enthalpy_of_a_mixture_is_that_of_its_parts(share: float, T: float):
    mixture = mixed_by_mass((DRY_AIR, GASES[1]), (1 - share, share))
    parts = (1 - share) * DRY_AIR.enthalpy(T) + share * GASES[1].enthalpy(T)
    assert float(mixture.enthalpy(T)) == pytest.approx(float(parts), rel=1e-12, abs=1e-6)


def test_kernels_work_inside_compiled_code():
    @compiled
    def compressed(T: float, polynomial: np.ndarray, R: float) -> tuple[float, float, float, float]:
        end = isentropic_temperature_kernel(T, 2.0, polynomial, R)
        work = enthalpy_kernel(end, polynomial) - enthalpy_kernel(T, polynomial)
        return end, work, heat_capacity_kernel(T, polynomial), heat_capacity_ratio_kernel(T, polynomial, R)

    end, work, cp, k = compressed(300.0, DRY_AIR.polynomial, DRY_AIR.specific_gas_constant)
    assert end == float(DRY_AIR.isentropic_temperature(300.0, 2.0))
    assert work == float(DRY_AIR.enthalpy(end) - DRY_AIR.enthalpy(300.0))
    assert cp == float(DRY_AIR.heat_capacity(300.0))
    assert k == float(DRY_AIR.heat_capacity_ratio(300.0))


def test_what_is_no_gas_is_refused_in_words():
    with pytest.raises(ValueError, match="temperature 25 K is outside 200 to 6000 K: was it given in degC"):
        DRY_AIR.heat_capacity([300.0, 25.0])
    with pytest.raises(ValueError, match=r"pressure ratio -0\.5 is not positive"):
        DRY_AIR.isentropic_temperature(300.0, -0.5)
    with pytest.raises(ValueError, match="heat capacity ratio 1 must be above 1; air has"):
        constant_property_gas(1.0, 287.0)
    with pytest.raises(ValueError, match=r"mass fractions add up to 1\.1, not to 1"):
        mixed_by_mass((DRY_AIR, DRY_AIR), (0.6, 0.5))
    with pytest.raises(ValueError, match="specific gas constant 0 J/kg/K is not positive"):
        constant_property_gas(1.4, 0.0)

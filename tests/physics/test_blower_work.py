import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.blower_work import (
    blower_mass_flow,
    blower_outlet_temperature,
    compressed_temperature,
    compression_power,
    drive_power,
    ideal_efficiency,
    internal_compression_work,
    internal_compression_work_kernel,
    isentropic_efficiency,
    isentropic_work,
    isentropic_work_kernel,
    roots_work,
)
from boostwright.physics.compiled import compiled

pressures = st.floats(5e4, 1.5e5)
ratios = st.floats(1.01, 3.0)
volume_ratios = st.floats(1.0, 1.8)
ratios_of_heat = st.floats(1.25, 1.45)


@given(pressures, ratios, ratios_of_heat)
@settings(deadline=None)
def test_a_volume_ratio_of_one_is_the_roots_case(p1, ratio, k):
    work = internal_compression_work(p1, ratio * p1, 2e-3, 1.0, k)
    assert float(work) == pytest.approx(float(roots_work(p1, ratio * p1, 2e-3)), rel=1e-9)


@given(pressures, ratios, volume_ratios, ratios_of_heat)
@settings(deadline=None)
def test_no_blower_works_with_less_than_isentropic_work(p1, ratio, Vi, k):
    least = float(isentropic_work(p1, ratio * p1, 2e-3, k))
    assert float(internal_compression_work(p1, ratio * p1, 2e-3, Vi, k)) >= least * (1 - 1e-9)


@given(st.floats(1.05, 1.8), ratios_of_heat)
@settings(deadline=None)
def test_the_fitting_volume_ratio_loses_nothing_and_any_other_does(Vi, k):
    fitting = Vi**k
    assert float(ideal_efficiency(fitting, Vi, k)) == pytest.approx(1.0, abs=1e-9)
    assert float(ideal_efficiency(fitting, Vi * 1.05, k)) < 1 - 1e-4
    assert float(ideal_efficiency(fitting * 1.1, Vi, k)) < 1 - 1e-4


@given(st.floats(1.3, 1.8))
@settings(deadline=None)
def test_compressing_too_far_costs_efficiency_at_low_pressure_ratio(Vi):
    assert float(ideal_efficiency(1.15, Vi, 1.4)) < float(ideal_efficiency(1.15, 1.0, 1.4))


@given(ratios, ratios, volume_ratios)
@settings(deadline=None)
def test_more_pressure_takes_more_work(a, b, Vi):
    low, high = sorted((a, b))
    less, more = internal_compression_work(1e5, [low * 1e5, high * 1e5], 2e-3, Vi, 1.4)
    assert less <= more


@given(st.floats(0.5, 1.0), ratios, st.floats(250.0, 330.0), pressures)
@settings(deadline=None)
def test_the_energy_account_of_an_adiabatic_blower_closes(VE, ratio, T1, p1):
    """m cp (T2 - T1) is the gas power, and the efficiency is VE times the ideal one, whatever the leakage."""
    k, R, V, N = 1.4, 287.05, 1.6e-3, 200.0
    cp = k * R / (k - 1)
    gas_power = float(roots_work(p1, ratio * p1, V)) * N
    m = blower_mass_flow(VE, V, N, p1, T1, R)
    T2 = blower_outlet_temperature(T1, gas_power, m, cp)
    assert float(compression_power(m, cp, T1, T2)) == pytest.approx(gas_power, rel=1e-9)
    efficiency = float(isentropic_efficiency(T1, T2, ratio, k))
    assert efficiency == pytest.approx(VE * float(ideal_efficiency(ratio, 1.0, k)), rel=1e-9)
    assert float(compressed_temperature(T1, ratio, efficiency, k)) == pytest.approx(float(T2), rel=1e-12)


@given(st.floats(50.0, 500.0), st.floats(0.0, 5e3), st.floats(0.9, 1.0))
@settings(deadline=None)
def test_what_the_belt_leaves_of_the_crank_power_is_gas_and_friction(N, lost, eta):
    work = 2.0e-3 * 60e3
    assert eta * float(drive_power(work, N, lost, eta)) == pytest.approx(work * N + lost, rel=1e-12)


def test_kernels_work_inside_compiled_code():
    @compiled
    def both(p2: float) -> tuple[float, float]:
        return internal_compression_work_kernel(1e5, p2, 2e-3, 1.3, 1.4), isentropic_work_kernel(1e5, p2, 2e-3, 1.4)

    spent, least = both(1.8e5)
    assert spent == float(internal_compression_work(1e5, 1.8e5, 2e-3, 1.3, 1.4))
    assert least == float(isentropic_work(1e5, 1.8e5, 2e-3, 1.4))


def test_what_no_blower_can_be_is_refused_in_words():
    with pytest.raises(ValueError, match=r"internal volume ratio 0\.9 is below 1: a roots type has 1, a screw more"):
        internal_compression_work(1e5, 2e5, 1e-3, 0.9, 1.4)
    with pytest.raises(ValueError, match=r"pressure ratio 0\.6 is not above 1: no blower, or a gauge pressure"):
        ideal_efficiency([1.5, 0.6], 1.0, 1.4)

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.heat_exchange import (
    cooled_temperature,
    counterflow_effectiveness,
    counterflow_transfer_units,
    crossflow_effectiveness,
    crossflow_effectiveness_approximation,
    soaked_temperature,
    water_loop_conductance,
)

transfer_units = st.floats(0.0, 20.0)
ratios = st.floats(0.0, 1.0)


@given(transfer_units, transfer_units, ratios)
@settings(deadline=None)
def test_more_surface_never_cools_less(a, b, Cr):
    low, high = sorted((a, b))
    for form in (counterflow_effectiveness, crossflow_effectiveness):
        assert float(form(low, Cr)) <= float(form(high, Cr)) + 1e-12


@given(transfer_units, ratios)
@settings(deadline=None)
def test_counterflow_is_the_best_and_a_boundless_coolant_better_still(NTU, Cr):
    cross, counter = float(crossflow_effectiveness(NTU, Cr)), float(counterflow_effectiveness(NTU, Cr))
    assert -1e-12 <= cross <= counter + 1e-12
    assert counter <= 1 - np.exp(-NTU) + 1e-12


@given(transfer_units)
@settings(deadline=None)
def test_without_a_limit_of_coolant_every_form_is_the_same(NTU):
    boundless = 1 - np.exp(-NTU)
    assert float(counterflow_effectiveness(NTU, 0.0)) == pytest.approx(boundless, abs=1e-12)
    assert float(crossflow_effectiveness(NTU, 0.0)) == pytest.approx(boundless, abs=1e-12)


@given(st.floats(0.01, 6.0), ratios)
@settings(deadline=None)
def test_counterflow_transfer_units_invert_the_effectiveness(NTU, Cr):
    eps = counterflow_effectiveness(NTU, Cr)
    assert float(counterflow_transfer_units(eps, Cr)) == pytest.approx(NTU, rel=1e-6)


def test_counterflow_goes_over_into_its_balanced_form():
    near, balanced = counterflow_effectiveness(2.0, [1 - 1e-7, 1.0])
    assert near == pytest.approx(balanced, rel=1e-6)


def test_crossflow_solves_its_own_field():
    """March both streams through a plate of 400 x 400 cells, each giving heat by the mean of its inlets."""
    n, NTU, Cr = 400, 2.0, 0.6
    hot, cold = np.ones(n), np.zeros(n)  # columns the hot stream, rows the cold one
    outlet = np.empty(n)
    for i in range(n):
        T = hot[i]
        for j in range(n):
            q = NTU / n * (T - cold[j]) / (1 + NTU / n * (1 + Cr) / 2)  # trapezoidal in both directions
            T, cold[j] = T - q, cold[j] + Cr * q
        outlet[i] = T
    assert 1 - outlet.mean() == pytest.approx(float(crossflow_effectiveness(NTU, Cr)), abs=2e-6)


def test_approximation_is_off_by_what_its_notes_say():
    NTU, Cr = np.meshgrid(np.linspace(0.2, 6, 40), np.linspace(0.05, 1, 20))
    exact, approximate = crossflow_effectiveness(NTU, Cr), crossflow_effectiveness_approximation(NTU, Cr)
    off = np.abs(approximate / exact - 1)
    assert off[NTU >= 1].max() < 0.0172
    assert 0.03 < off.max() < 0.0385


@given(st.floats(280.0, 320.0), st.floats(330.0, 480.0), st.floats(0.0, 1.0))
@settings(deadline=None)
def test_charge_leaves_between_coolant_and_inlet(Tc, T2, eps):
    assert Tc - 1e-9 <= float(cooled_temperature(T2, Tc, eps)) <= T2 + 1e-9


@given(st.floats(100, 800), st.floats(0.3, 0.95), st.floats(500, 3000), st.floats(0.3, 0.95), st.floats(300, 9000))
@settings(deadline=None)
def test_water_loop_balances_heat_at_both_coolers(charge, eps_charge, front, eps_front, loop):
    """Follow the water round: what the charge gives must bring it back to where it started."""
    q = float(water_loop_conductance(charge, eps_charge, front, eps_front, loop))  # per kelvin: hot inlet 1, cold 0
    cold_water = 1 - q / (eps_charge * min(charge, loop))
    hot_water = cold_water + q / loop
    assert eps_front * min(front, loop) * hot_water == pytest.approx(q, rel=1e-9)
    assert q > 0


@given(st.floats(0.0, 1e4), st.floats(280.0, 330.0), st.floats(280.0, 400.0), st.floats(50.0, 1000.0))
@settings(deadline=None)
def test_soak_goes_from_start_to_end(t, start, steady, tau):
    T = float(soaked_temperature(t, start, steady, tau))
    assert min(start, steady) - 1e-9 <= T <= max(start, steady) + 1e-9
    assert float(soaked_temperature(0.0, start, steady, tau)) == pytest.approx(start, abs=1e-9)
    assert float(soaked_temperature(60 * tau, start, steady, tau)) == pytest.approx(steady, abs=1e-9)


def test_what_no_cooler_can_be_is_refused_in_words():
    with pytest.raises(
        ValueError, match=r"heat capacity rate ratio 1\.3 is outside 0 to 1: the smaller rate goes on top"
    ):
        counterflow_effectiveness(1.0, 1.3)
    with pytest.raises(ValueError, match="-1 is negative; transfer units and effectiveness start at 0"):
        crossflow_effectiveness(-1.0, 0.5)
    with pytest.raises(ValueError, match="80 transfer units are above the 50 that the series reaches"):
        crossflow_effectiveness(80.0, 0.5)
    with pytest.raises(ValueError, match="heat capacity rate ratio 0 is outside this approximation"):
        crossflow_effectiveness_approximation(1.0, 0.0)
    with pytest.raises(ValueError, match="effectiveness 80 needs an endless cooler: is it in percent"):
        counterflow_transfer_units(80.0, 0.5)

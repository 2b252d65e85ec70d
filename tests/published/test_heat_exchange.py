"""Charge coolers against the library ht, printed effectiveness tables and Incropera's examples."""

import ht
import numpy as np
import pytest
from scipy.optimize import brentq

from boostwright.physics.heat_exchange import (
    cooled_temperature,
    counterflow_effectiveness,
    counterflow_transfer_units,
    crossflow_effectiveness,
    crossflow_effectiveness_approximation,
    density_gain,
    soak_time_constant,
    soaked_temperature,
    steady_soak_temperature,
    water_loop_conductance,
)

TABLE = [  # Cr, NTU, counterflow, crossflow exact, crossflow approximation: evaluated from the closed forms, 4 digits
    (0.25, 0.5, 0.3776, 0.3751, 0.3721),
    (0.25, 1.0, 0.5983, 0.5880, 0.5872),
    (0.25, 2.0, 0.8228, 0.7974, 0.8033),
    (0.25, 4.0, 0.9622, 0.9340, 0.9410),
    (0.50, 0.5, 0.3623, 0.3578, 0.3519),
    (0.50, 1.5, 0.6908, 0.6597, 0.6623),
    (0.50, 3.0, 0.8744, 0.8197, 0.8284),
    (0.75, 1.0, 0.5319, 0.5103, 0.5052),
    (0.75, 2.0, 0.7218, 0.6711, 0.6752),
    (0.75, 4.0, 0.8730, 0.7969, 0.8002),
    (1.00, 0.5, 0.3333, 0.3263, 0.3154),
    (1.00, 1.0, 0.5000, 0.4762, 0.4685),
    (1.00, 2.0, 0.6667, 0.6142, 0.6154),
    (1.00, 3.0, 0.7500, 0.6813, 0.6842),
]


@pytest.mark.parametrize(("Cr", "NTU", "counter", "exact", "approximate"), TABLE)
def test_effectiveness_row_by_row(Cr, NTU, counter, exact, approximate):
    assert float(counterflow_effectiveness(NTU, Cr)) == pytest.approx(counter, abs=6e-5)
    assert float(crossflow_effectiveness(NTU, Cr)) == pytest.approx(exact, abs=6e-5)
    assert float(crossflow_effectiveness_approximation(NTU, Cr)) == pytest.approx(approximate, abs=6e-5)


@pytest.mark.parametrize("Cr", [0.05, 0.3, 0.7, 1.0])  # ht divides by zero at 0 in its crossflow forms
@pytest.mark.parametrize("NTU", [0.2, 1.0, 3.0, 8.0])
def test_effectiveness_is_that_of_ht(Cr, NTU):
    """ht: counterflow, crossflow (a numerical integral there) and the crossflow approximation."""
    counter = ht.effectiveness_from_NTU(NTU, Cr, subtype="counterflow")
    exact = ht.effectiveness_from_NTU(NTU, Cr, subtype="crossflow")
    approximate = ht.effectiveness_from_NTU(NTU, Cr, subtype="crossflow approximate")
    assert float(counterflow_effectiveness(NTU, Cr)) == pytest.approx(counter, rel=1e-10)
    assert float(crossflow_effectiveness(NTU, Cr)) == pytest.approx(exact, rel=1e-7)
    assert float(crossflow_effectiveness_approximation(NTU, Cr)) == pytest.approx(approximate, rel=1e-10)


def test_incropera_11_3_transfer_units_from_effectiveness():
    """Incropera and DeWitt, 11.3: gas 300 to 100 degC, 1 kg/s of water 35 to 125 degC, 100 W/m2/K.

    By chart 2.1 transfer units (39.7 m2), exact 2.0808 (39.30 m2), by the approximation 2.0239 (38.22 m2).
    """
    effectiveness, charge_rate = 200 / 265, 4197.0 * 90 / 200
    Cr = charge_rate / 4197.0
    exact = brentq(lambda NTU: float(crossflow_effectiveness(NTU, Cr)) - effectiveness, 0.1, 10)
    approximate = brentq(lambda NTU: float(crossflow_effectiveness_approximation(NTU, Cr)) - effectiveness, 0.1, 10)
    assert exact == pytest.approx(2.0808, abs=6e-5)
    assert exact * charge_rate / 100 == pytest.approx(39.30, abs=6e-3)
    assert approximate == pytest.approx(2.0239, abs=6e-5)
    assert approximate * charge_rate / 100 == pytest.approx(38.22, abs=6e-3)
    assert exact == pytest.approx(2.1, abs=0.05)  # read off a chart


def test_incropera_11_4_outlet_temperatures():
    """Incropera and DeWitt, 11.4: 1500 W/K of gas at 250 degC, 4197 W/K of water at 35 degC, 100 W/m2/K and 40 m2.

    By chart 0.82, exact 0.8358 (70.3 and 99.2 degC), by the approximation 0.8445.
    """
    NTU, Cr = 100 * 40 / 1500, 1500 / 4197
    effectiveness = float(crossflow_effectiveness(NTU, Cr))
    assert effectiveness == pytest.approx(0.8358, abs=6e-5)
    assert float(crossflow_effectiveness_approximation(NTU, Cr)) == pytest.approx(0.8445, abs=6e-5)
    assert effectiveness == pytest.approx(0.82, abs=0.02)  # read off a chart
    gas = float(cooled_temperature(523.15, 308.15, effectiveness)) - 273.15
    assert gas == pytest.approx(70.3, abs=0.051)
    assert 35 + Cr * (250 - gas) == pytest.approx(99.2, abs=0.051)


def test_counterflow_inverse_of_ht():
    for Cr in (0.0, 0.4, 1.0):
        expected = ht.NTU_from_effectiveness(0.72, Cr, subtype="counterflow")
        assert float(counterflow_transfer_units(0.72, Cr)) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(
    ("loop", "conductance", "on_charge"),
    [(720, 254.887, 0.72104), (1800, 252.788, 0.71510), (3600, 236.202, 0.66818), (7200, 228.699, 0.64696)],
)
def test_water_loop_row_by_row(loop, conductance, on_charge):
    """Charge 353.5 W/K at 0.85, outside air 1207.2 W/K at 0.70; solved numerically from both definitions."""
    q = float(water_loop_conductance(353.5, 0.85, 1207.2, 0.70, loop))
    assert q == pytest.approx(conductance, abs=6e-4)
    assert q / 353.5 == pytest.approx(on_charge, abs=6e-6)


def test_heat_soak_of_a_twelve_kilogram_casting():
    """12 kg, 896 J/kg/K, 25 W/K, 1500 W from 25 degC: 430.08 s, 32.813 degC after 60 s, 85 degC in the end (worked)."""
    tau = float(soak_time_constant(12.0, 896.0, 25.0))
    steady = float(steady_soak_temperature(298.15, 1500.0, 25.0))
    assert tau == pytest.approx(430.08, abs=6e-3)
    assert steady - 273.15 == pytest.approx(85.0, abs=0.051)
    assert float(soaked_temperature(60.0, 298.15, steady, tau)) - 273.15 == pytest.approx(32.813, abs=6e-4)


def test_density_gain_is_the_ratio_of_two_densities():
    """Equation of state ahead of and behind a cooler, by the densities themselves."""
    R, before, behind = 287.05, (180e3, 390.0), (176e3, 325.0)
    expected = (behind[0] / (R * behind[1])) / (before[0] / (R * before[1]))
    assert float(density_gain(180e3, 4e3, 390.0, 325.0)) == pytest.approx(expected, rel=1e-12)
    assert np.isclose(expected, 1.1733, atol=1e-4)  # worked by hand: 176/180 times 390/325

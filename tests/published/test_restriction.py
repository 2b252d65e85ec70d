"""Flow through restrictions against textbook nozzles, an independent library and worked figures."""

import numpy as np
import pytest
from fluids.flow_meter import nozzle_expansibility

from boostwright.physics.gases import constant_property_gas
from boostwright.physics.losses import (
    loss_effective_area,
    pressure_between,
    pressure_loss,
    series_effective_area,
    series_mass_flow,
)
from boostwright.physics.restriction import critical_pressure_ratio, flow_function, restriction_mass_flow

AIR = constant_property_gas(1.4, 287.05)
BORE = np.pi / 4 * 0.09**2


@pytest.mark.parametrize(
    ("k", "ratio", "greatest"),
    [(1.40, 0.528282, 0.684731), (1.35, 0.536851, 0.676145), (1.33, 0.540364, 0.672628), (1.30, 0.545728, 0.667262)],
)
def test_critical_ratio_and_choked_flow_function(k, ratio, greatest):
    """St Venant and Wantzel, all printed digits of tables of compressible flow."""
    assert float(critical_pressure_ratio(k)) == pytest.approx(ratio, abs=6e-7)
    assert float(flow_function(0.2, k)) == pytest.approx(greatest, abs=6e-7)


@pytest.mark.parametrize(
    ("k", "rows"),
    [
        (1.40, {0.99: 0.140662, 0.95: 0.307641, 0.9: 0.422581, 0.8: 0.560661, 0.7: 0.638317, 0.6: 0.676915}),
        (1.35, {0.99: 0.140634, 0.95: 0.307328, 0.9: 0.421697, 0.8: 0.558176, 0.7: 0.633792, 0.6: 0.670037}),
        (1.33, {0.99: 0.140622, 0.95: 0.307196, 0.9: 0.421325, 0.8: 0.557133, 0.7: 0.631896, 0.6: 0.667163}),
        (1.30, {0.99: 0.140603, 0.95: 0.306991, 0.9: 0.420747, 0.8: 0.555513, 0.7: 0.628956, 0.6: 0.662713}),
    ],
)
def test_flow_function_row_by_row(k, rows):
    """Own evaluation of the law, six digits; the straight part near equal pressures must not reach 0.99."""
    assert flow_function(list(rows), k) == pytest.approx(list(rows.values()), abs=6e-7)


@pytest.mark.parametrize(("ratio", "flow"), [(0.99, 0.30994), (0.90, 0.93112), (0.70, 1.40647), (0.30, 1.50874)])
def test_a_90_mm_bore_passes_so_many_kilograms(ratio, flow):
    """101 325 Pa, 298.15 K, discharge coefficient 1: worked figures, five digits."""
    m = restriction_mass_flow(101325.0, 298.15, 101325.0 * ratio, 298.15, BORE, AIR)
    assert float(m) == pytest.approx(flow, abs=6e-6)


@pytest.mark.parametrize(("p0", "T0"), [(1e5, 288.15), (3e5, 400.0)])
def test_choked_air_flow_matches_fliegner(p0, T0):
    """Fliegner's formula: m sqrt(T0)/(A p0) = 0.532 lb sqrt(R)/(s lbf) for air (Shapiro, 1953)."""
    flow = float(restriction_mass_flow(p0, T0, 0.0, T0, 1e-3, AIR))
    expected = 0.532 * 0.45359237 / 4.4482216 / np.sqrt(1.8)  # to kg sqrt(K)/(s N)
    assert flow * np.sqrt(T0) / (p0 * 1e-3) == pytest.approx(expected, rel=1e-3)  # three figures printed


def test_eastop_and_mcconkey_10_1_choked_nozzle():
    """Eastop and McConkey, Applied Thermodynamics, 10.1: 8.6 bar, 190 degC, 4.5 kg/s of air; throat 2786 mm2."""
    T0, p0 = 463.0, 8.6e5  # the book takes 273 K for 0 degC
    air = constant_property_gas(1.4, 287.0)
    critical = float(critical_pressure_ratio(1.4))
    assert p0 * critical == pytest.approx(4.543e5, abs=51)
    assert float(air.isentropic_temperature(T0, critical)) == pytest.approx(385.8, abs=0.051)
    per_area = float(restriction_mass_flow(p0, T0, 1e5, T0, 1.0, air))
    assert 4.5 / per_area * 1e6 == pytest.approx(2786, abs=1.0)


@pytest.mark.parametrize("ratio", [0.98, 0.9, 0.75, 0.6])
def test_nozzle_expansibility_of_fluids_agrees(ratio):
    """fluids, ISO 5167 nozzle expansibility in the limit of a small throat: the same law, written independently."""
    p0, T0 = 2e5, 320.0
    rho = p0 / (287.05 * T0)
    expansibility = nozzle_expansibility(D=1.0, Do=1e-3, P1=p0, P2=p0 * ratio, k=1.4)
    expected = expansibility * BORE * np.sqrt(2 * rho * p0 * (1 - ratio))
    assert float(restriction_mass_flow(p0, T0, p0 * ratio, T0, BORE, AIR)) == pytest.approx(expected, rel=1e-5)


def test_loss_of_half_a_dynamic_head_in_a_90_mm_bore():
    """K 0.5, 0.3 kg/s, 90 mm, 1.17 kg/m3: 475.2 Pa (worked figure)."""
    assert float(pressure_loss(0.5, 1.17, 0.3, BORE)) == pytest.approx(475.2, abs=0.051)


def test_two_areas_in_series_incompressible():
    """1e-3 and 2e-3 m2 are 8.9443e-4 m2 together (worked figure)."""
    assert float(series_effective_area([1e-3, 2e-3])) == pytest.approx(8.9443e-4, abs=6e-9)


def test_two_areas_in_series_compressible():
    """101 325 to 80 000 Pa through 2e-3, then 1e-3 m2: 97 742.3 Pa between, 0.180688 kg/s; one area says 2.1 % less."""
    case = (101325.0, 298.15, 80000.0, 2e-3, 1e-3, AIR)
    assert float(pressure_between(*case)) == pytest.approx(97742.3, abs=0.06)
    flow = float(series_mass_flow(*case))
    assert flow == pytest.approx(0.180688, abs=6e-7)
    equivalent = series_effective_area([2e-3, 1e-3])
    alone = float(restriction_mass_flow(101325.0, 298.15, 80000.0, 298.15, equivalent, AIR))
    assert alone == pytest.approx(0.176899, abs=6e-7)
    assert 1 - alone / flow == pytest.approx(0.021, abs=5e-4)


def test_loss_and_effective_area_of_a_published_coefficient():
    """fluids: rounded entrance of r/D 0.1 has K 0.2029; its effective area must lose the same by its own definition."""
    K, m, rho = 0.2029, 0.25, 1.15
    CdA = float(loss_effective_area(K, BORE))
    assert m**2 / (2 * rho * CdA**2) == pytest.approx(float(pressure_loss(K, rho, m, BORE)), rel=1e-12)

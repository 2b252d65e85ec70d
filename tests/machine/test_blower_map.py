"""The map: exact on cubics, smooth across its knots, honest outside, and true to energy and weather."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.blower_map import BlowerMap, map_delivery, map_nodes, spline_slopes

R, G = 287.05, 1.4
CP = R * G / (G - 1)
SPEEDS = np.array([4.0, 5.0, 7.0, 9.0, 12.0, 16.0, 19.0])
RATIOS = np.array([1.1, 1.3, 1.4, 1.7, 2.1, 2.6])


def efficiency(x, y):
    return 1.0 - 0.02 * (y - 1) - 0.3 * y / (x + 2) - 4e-5 * x**3 + 0.01 * (y - 1) ** 3


def cubic_work(x, y):
    return (y - 1) + 1e-3 * x**2 * y - 1e-4 * x**3 + 0.02 * y**3 * x


def tables(x, y):
    x, y = np.broadcast_arrays(x, y)
    return np.array([efficiency(x, y), cubic_work(x, y), 0.01 * y, 0.05 * (y - 1) / x])


def example_map() -> BlowerMap:
    values = tables(SPEEDS[:, np.newaxis], RATIOS)
    highest = np.array([1.7, 2.1, 2.6, 2.6, 2.6, 2.6, 2.6])
    return BlowerMap(
        blower_displacement=1.6e-3,
        speed_limit=300.0,
        mechanical_power_at_limit=4e3,
        mechanical_heat_share=0.3,
        corrected_speeds=SPEEDS,
        pressure_ratios=RATIOS,
        pressure_ratio_range=np.array([np.full(7, 1.1), highest]),
        nodes=map_nodes(SPEEDS, RATIOS, values, spline_slopes),
    )


MAP = example_map()


def read(x, y, p1=1e5, T1=300.0):
    return MAP.delivery(p1, T1, np.multiply(y, p1), np.multiply(x, np.sqrt(T1)))


def test_a_cubic_in_both_directions_is_read_exactly():
    x, y = np.linspace(4.0, 19.0, 31), np.linspace(1.1, 2.6, 17)[:, np.newaxis]
    work = read(x, y).gas_power / (1e5 * 1.6e-3 * x * np.sqrt(300.0))
    assert work == pytest.approx(cubic_work(x, y), rel=1e-12)


def test_value_and_slope_do_not_jump_at_the_knots():
    eps = 1e-6
    for x in SPEEDS[1:-1]:
        left, middle, right = read([x - eps, x, x + eps], 1.5).blower_volumetric_efficiency
        assert (middle - left) / eps == pytest.approx((right - middle) / eps, abs=2e-8)
    for y in RATIOS[1:-1]:
        left, middle, right = read(10.0, [y - eps, y, y + eps]).blower_volumetric_efficiency
        assert (middle - left) / eps == pytest.approx((right - middle) / eps, abs=2e-7)


def test_outside_the_grid_the_map_goes_straight_on_and_says_so():
    inside, border, outside = read([18.999, 19.0, 20.0], 1.5).blower_volumetric_efficiency
    assert outside - border == pytest.approx((border - inside) * 1000, rel=1e-3)
    above, border, below = read(10.0, [1.101, 1.1, 1.0]).blower_volumetric_efficiency
    assert border - below == pytest.approx((above - border) * 100, rel=1e-2)
    assert read([18.999, 19.0, 20.0], 1.5).within_range.tolist() == [1.0, 1.0, 0.0]
    assert read(10.0, [1.09, 1.1, 2.6, 2.61]).within_range.tolist() == [0.0, 1.0, 1.0, 0.0]


def test_a_point_above_the_measured_part_of_a_speed_line_is_marked():
    assert read([4.0, 4.5, 5.0], 1.9).within_range.tolist() == [0.0, 1.0, 1.0]  # known up to 1.7, 1.9, 2.1
    assert read([4.0, 4.5, 5.0], 1.91).within_range.tolist() == [0.0, 0.0, 1.0]


def test_the_energy_account_closes_between_the_knots():
    d = read(11.3, [1.25, 1.9])
    rise = d.mass_flow * CP * (d.outlet_temperature - 300.0)
    lost_by_gas = 0.01 * np.array([1.25, 1.9]) * 1e5 * 1.6e-3 * 11.3 * np.sqrt(300.0)
    assert rise == pytest.approx(d.gas_power + 0.3 * d.mechanical_power - lost_by_gas, rel=1e-10)
    assert d.shaft_power == pytest.approx(d.gas_power + d.mechanical_power, rel=1e-14)


def test_weather_changes_flow_by_density_and_nothing_else_at_one_corrected_speed():
    cold, hot = read(10.0, 1.6), read(10.0, 1.6, p1=8e4, T1=330.0)
    assert hot.blower_volumetric_efficiency == pytest.approx(float(cold.blower_volumetric_efficiency), rel=1e-13)
    assert hot.mass_flow / cold.mass_flow == pytest.approx(0.8 * np.sqrt(300 / 330), rel=1e-12)


def test_a_lighter_gas_is_read_at_the_speed_of_the_same_mach_number():
    arguments = (1.6e-3, 300.0, 4e3, 0.3, SPEEDS, RATIOS, MAP.pressure_ratio_range, MAP.nodes)
    moist = map_delivery(1e5, 300.0, 1.6e5, 200.0, 1.01 * R, G, *arguments)
    warmer = map_delivery(1e5, 303.0, 1.6e5, 200.0, R, G, *arguments)
    assert moist.blower_volumetric_efficiency == pytest.approx(warmer.blower_volumetric_efficiency, rel=1e-13)
    assert moist.mass_flow == pytest.approx(warmer.mass_flow, rel=1e-13)


def test_a_grid_that_does_not_rise_is_refused():
    with pytest.raises(ValueError, match=r"corrected_speeds .* must rise and hold at least two values: sort them"):
        replace(MAP, corrected_speeds=SPEEDS[::-1])
    with pytest.raises(
        ValueError, match=r"nodes of a map with this grid have shape \(4, 7, 6, 4\), not \(3, 7, 6, 4\)"
    ):
        replace(MAP, nodes=MAP.nodes[:3])

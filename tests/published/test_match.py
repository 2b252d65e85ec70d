"""The chain of the match against numbers that were worked out elsewhere."""

import numpy as np
import pytest

from boostwright.machine.operating_point import ambient_air, build_points, matched
from tests.machine.builds import DRY_AIR, SPEEDS, build, match_of


def test_air_flow_by_speed_and_density():
    """5.0 L at 6000 rpm, 170 kPa, 325 K, volumetric efficiency 0.95: 0.43278 kg/s (own arithmetic, R 287.05).

    The manifold is held at 170 kPa by a bypass and at 325 K by a perfect cooler; residual gas and fuel are left out.
    """
    five = build(engine={"displacement": "5.0 L", "cylinders": 8}, blower={"displacement": "2.3 L"})
    points = build_points(five, np.array([100.0]), DRY_AIR)
    for word, value in {
        "manifold_pressure_cap": 170e3,
        "bypass_area": 5e-3,
        "cooler_transfer_units": 60.0,
        "cooler_transfer_exponent": 0.0,
        "coolant_temperature": 325.0,
        "engine_volumetric_efficiency": 0.95,
        "intake_temperature_exponent": 0.0,
        "evaporated_share": 0.0,
        "compression_ratio": 1e9,
    }.items():
        points[word] = value
    o = matched(points)
    assert o["manifold_pressure"][0] == pytest.approx(170e3, rel=1e-8)
    assert o["air_mass_flow"][0] == pytest.approx(0.43278, abs=5e-6)


def test_roots_gas_power_and_drive_power():
    """2.1 L at 200 1/s, PR 1.6 on 98 kPa: 24.696 kW of gas power, 25.996 kW at 0.95 (own arithmetic).

    The same identities at the match's own state: gas power = displacement x speed x (p2 - p1), shaft over 0.95.
    """
    plain = {"gas_work_factor": 1.0, "mechanical_power_at_limit": 0.0, "heat_loss_share": 0.0}
    o = match_of(build(drive={"efficiency": 0.95}), **plain)
    rise = o["blower_outlet_pressure"] - o["blower_inlet_pressure"]
    np.testing.assert_allclose(o["gas_power"], 1.6e-3 * o["rotor_speed"] * rise, rtol=1e-9)
    np.testing.assert_allclose(o["blower_drive_power"], o["gas_power"] / 0.95, rtol=1e-9)
    assert pytest.approx(24696.0) == 2.1e-3 * 200 * 0.6 * 98e3
    assert pytest.approx(25996.0, abs=1) == 24696.0 / 0.95


def test_isentropic_efficiency_is_filling_times_the_ideal_efficiency():
    """eta = VE x eta0(PR) of a roots blower without friction, leak heat or losses; eta0(1.5) .85977, (2.0) .76655."""
    plain = {"gas_work_factor": 1.0, "mechanical_power_at_limit": 0.0, "heat_loss_share": 0.0}
    o = match_of(build(), **plain)
    ideal = 3.5 * (o.pressure_ratio ** (1 / 3.5) - 1) / (o.pressure_ratio - 1)
    np.testing.assert_allclose(o.isentropic_efficiency, o["blower_volumetric_efficiency"] * ideal, rtol=1e-9)
    np.testing.assert_allclose(
        3.5 * (np.array([1.5, 2.0]) ** (1 / 3.5) - 1) / [0.5, 1.0], [0.85977, 0.76655], atol=5e-6
    )


def test_brake_mean_effective_pressure():
    """600 N m on 5.0 L are 15.0796 bar (own arithmetic, 4 pi T/V)."""
    o = match_of(build(engine={"displacement": "5.0 L"}))
    np.testing.assert_allclose(o.bmep / o["torque"] * 600.0, 15.0796e5, rtol=5e-6)


def test_a_throttled_engine_obeys_the_choked_flow_of_a_bore():
    """90 mm bore, discharge 1, 101 325 Pa, 298.15 K, choked: 1.50874 kg/s (own arithmetic); here a tenth."""
    large = build(blower={"displacement": "9 L"})
    area = np.pi / 4 * 0.09**2 / 10
    o = match_of(large, SPEEDS[-3:], throttle_area=area, ambient_pressure=101325.0, inlet_area=1.0)
    np.testing.assert_allclose(o["air_mass_flow"], 0.150874, rtol=2e-5)


TEXTBOOK = {  # displacement, speed, air around, pressure ratio, charge temperature, filling there; printed air flow
    "Gupta 15.1": (2.8e-3, 50.0, 1.013e5, 288.0, 1.6, 343.93, 1.0, 0.11494),
    "Eastop and McConkey 13.3": (3.0e-3, 3500 / 60, 1.013e5, 288.0, 1.7, 350.86, 1.0, 0.1496),
    "Gupta 15.5": (4.5e-3, 4000 / 60, 1.0e5, 290.0, 1.8, 330.0, 1.5 / 1.8 * 330 / 290, 0.27034),
}


@pytest.mark.parametrize("book", TEXTBOOK)
def test_textbook_matching_exercise(book):
    """Which ratio feeds the book's engine with a blower of 1 L a turn? The match finds the book's boost and air there.

    A blower that fills completely and does not leak turns printed flow / (density around) / 1 L times a second. Charge
    temperatures are the printed ones (15.1, 15.5) or follow from the printed efficiency 0.75 (13.3), held by a perfect
    cooler; filling is of the whole displacement with charge, or (15.5) 1.5 times that with air from around.
    Tolerance: four or five figures are printed, and R is 287 in the books, 287.05 here.
    """
    displacement, speed, p0, T0, ratio, T3, filling, printed = TEXTBOOK[book]
    drive_ratio = printed / (p0 / (287.0 * T0)) / 1e-3 / speed
    plain = {"leakage_area": 0.0, "filling_loss": 0.0, "throttle_area": 10.0, "inlet_area": 10.0, "cooler_area": 10.0}
    plain |= {"inlet_heating": 0.0, "belt_slip": 0.0, "cooler_transfer_units": 60.0, "cooler_transfer_exponent": 0.0}
    plain |= {"evaporated_share": 0.0, "engine_volumetric_efficiency": filling, "intake_temperature_exponent": 0.0}
    plain |= {"compression_ratio": 1e9, "coolant_temperature": T3, "drive_ratio": drive_ratio, "gas_work_factor": 1.0}
    engine = build(engine={"displacement": f"{1e3 * displacement:g} L"}, blower={"displacement": "1 L"})
    o = match_of(engine, np.array([speed]), ambient_air(p0, T0, 0.0), **plain)
    assert o["manifold_pressure"][0] / p0 == pytest.approx(ratio, rel=4e-4)
    assert o["air_mass_flow"][0] == pytest.approx(printed, rel=4e-4)
    swept = drive_ratio * speed * 1e-3
    assert o["gas_power"][0] == pytest.approx((ratio - 1.0) * p0 * swept, rel=2e-3)  # of a roots type, by hand

"""Which part gives first: values, margins, and that the unknown is never called well."""

import math

import numpy as np
import pytest

from boostwright.machine.drive import open_belt_wrap
from boostwright.machine.limits import LimitStatus, limit_margins, limit_uses
from tests.machine.builds import SPEEDS, build, match_of

EVERYTHING = {
    "blower": {"rotor_diameter": "95 mm"},
    "drive": {"centre_distance": "300 mm", "installed_tension": "1500 N", "rib_mass_kg_per_m": 0.0185},
    "fuel": {
        "injectors": {"count": 6, "flow": "1100 cc/min", "rail_pressure": "4 bar", "referenced": True},
        "pump_flow": "6 L/min",
    },
    "limits": {
        "charge_temperature": "70 degC",
        "blower_outlet_temperature": "150 degC",
        "manifold_pressure": "250 kPa",
        "tip_speed": "100 m/s",
        "rib_tension": "140 N",
        "rib_power": "9 kW",
        "mean_piston_speed": "22 m/s",
        "peak_cylinder_pressure": "110 bar",
        "knock_index": 1.0,
    },
}


def margins_of(six, **columns):
    operating = match_of(six, **columns)
    return {margin.name: margin for margin in limit_margins(six, operating)}, operating


def test_what_nobody_has_said_is_not_known_and_names_the_keys_that_would_tell():
    margins, _ = margins_of(build())
    unknown = {name: margin for name, margin in margins.items() if margin.status is LimitStatus.NOT_KNOWN}
    assert set(margins) - set(unknown) == {
        "rotor speed",
        "throttle flow over its choked flow",
        "inlet flow over its choked flow",
    }
    assert unknown["rotor tip speed"].needs == ("blower.rotor_diameter", "limits.tip_speed")
    assert unknown["belt tension per rib"].needs == ("limits.rib_tension",)
    assert unknown["belt tension over that at which it slips"].needs == (
        "drive.wrap or drive.centre_distance",
        "drive.installed_tension",
        "drive.rib_mass_kg_per_m",
    )
    assert unknown["injector duty"].needs == tuple(
        f"fuel.injectors.{name}" for name in ("count", "flow", "rail_pressure", "referenced")
    )
    assert math.isnan(unknown["injector duty"].value)
    assert math.isnan(unknown["charge temperature"].limit)
    assert unknown["charge temperature"].value > 300.0  # the value is told even where its limit is not


def test_with_everything_said_every_limit_is_known():
    margins, operating = margins_of(build(**EVERYTHING))
    assert all(margin.status is not LimitStatus.NOT_KNOWN for margin in margins.values())
    last = float(operating["engine_speed"][-1])
    rotor = margins["rotor speed"]
    assert (rotor.engine_speed, rotor.value) == (last, pytest.approx(operating["rotor_speed"][-1]))
    assert rotor.margin == pytest.approx(1 - operating["rotor_speed"][-1] / 300.0)
    assert margins["rotor tip speed"].value == pytest.approx(math.pi * 0.095 * operating["rotor_speed"][-1])
    assert margins["mean piston speed"].value == pytest.approx(2 * build().engine.stroke * last)
    assert margins["knock index"].engine_speed == pytest.approx(SPEEDS[0])  # knock is worst where the engine is slow


def test_ok_near_and_over_are_told_by_the_margin():
    def status(limit):
        return margins_of(build(limits={"mean_piston_speed": f"{limit} m/s"}))[0]["mean piston speed"].status

    top = 2 * build().engine.stroke * SPEEDS[-1]
    assert status(1.2 * top) is LimitStatus.OK
    assert status(1.05 * top) is LimitStatus.NEAR
    assert status(0.99 * top) is LimitStatus.OVER


def test_the_margin_of_a_temperature_counts_from_the_air_around():
    margins, operating = margins_of(build(limits={"charge_temperature": "70 degC"}))
    hottest = operating["charge_temperature"].max()
    assert margins["charge temperature"].margin == pytest.approx((343.15 - hottest) / (343.15 - 298.15))


def test_belt_tension_is_drive_power_over_belt_speed_and_ribs():
    """190 mm of effective diameter at 6000 rpm run at 59.690 m/s, and 45 kW pull with 753.89 N there (own arithmetic).

    The pitch line runs 2 mm outside: 60.947 m/s.
    """
    drive = build(drive={"line_differential": "0 mm"}).drive
    assert drive.belt_speed(100.0) == pytest.approx(59.690, abs=5e-4)
    assert drive.rib_tension(45e3, 100.0) * 8 == pytest.approx(753.89, abs=5e-3)
    assert build().drive.belt_speed(100.0) == pytest.approx(math.pi * 0.194 * 100)


def test_the_belt_slips_where_eulers_ratio_on_the_slack_strand_is_used_up():
    six = build(**EVERYTHING)
    margins, operating = margins_of(six)
    worst = margins["belt tension over that at which it slips"]
    at = int(np.argmax(operating["engine_speed"] == worst.engine_speed))
    v = math.pi * 0.194 * operating["engine_speed"][at]
    wrap = math.pi - 2 * math.asin((0.095 - 0.034) / 0.300)
    ratio = math.exp(0.35 / math.sin(math.radians(20)) * wrap)
    greatest = (1500.0 - 8 * 0.0185 * v * v) * (ratio - 1)
    assert worst.value == pytest.approx(operating["blower_drive_power"][at] / v / greatest, rel=1e-9)


def test_the_wrap_of_an_open_belt_is_less_than_half_a_turn_on_the_smaller_pulley():
    """Centre 300 mm, radii 95 and 34 mm: 156.536 and 203.464 degrees."""
    assert math.degrees(open_belt_wrap(0.19, 0.068, 0.3)) == pytest.approx(156.536, abs=5e-4)
    assert math.degrees(open_belt_wrap(0.068, 0.19, 0.3)) == pytest.approx(203.464, abs=5e-4)


def test_a_belt_thrown_off_by_its_own_mass_carries_nothing():
    heavy = {**EVERYTHING, "drive": {**EVERYTHING["drive"], "rib_mass_kg_per_m": 0.2}}
    margins, _ = margins_of(build(**heavy))
    assert margins["belt tension over that at which it slips"].status is LimitStatus.OVER


def test_injector_duty_of_a_published_example():
    """0.033333 kg/s through 8 injectors, density 745: 335.57 cc/min each, 394.79 at a duty of 85 % (own arithmetic)."""
    system = build(
        fuel={
            "blend": "E0",
            "injectors": {"count": 8, "flow": "394.79 cc/min", "rail_pressure": "3 bar", "referenced": True},
        }
    ).fuel_system
    assert system.duty(400e3 * 0.30 / 3.6e6, 180e3, 100e3) == pytest.approx(0.85, abs=5e-5)


def test_boost_takes_from_an_injector_whose_rail_is_not_referenced():
    """4 bar of rail with 1 bar of boost leave 3: the flow falls to 0.866025 of its rating."""

    def duty(referenced, manifold):
        rail = {"count": 6, "flow": "1100 cc/min", "rail_pressure": "4 bar", "referenced": referenced}
        return build(fuel={"injectors": rail}).fuel_system.duty(0.02, manifold, 100e3)

    assert duty(True, 200e3) / duty(False, 200e3) == pytest.approx(0.866025, abs=5e-7)
    assert duty(False, 550e3) == math.inf  # the charge would blow into the rail


def test_the_flow_of_a_gaseous_fuel_through_injectors_is_not_known():
    rail = {"count": 6, "flow": "1100 cc/min", "rail_pressure": "4 bar", "referenced": True}
    assert build(fuel={"blend": "methane", "injectors": rail}).fuel_system.duty(0.02, 150e3, 100e3) is None


def test_a_choked_throttle_and_inlet_stand_at_one():
    margins, _ = margins_of(build(), throttle_area=5e-4)
    assert margins["throttle flow over its choked flow"].value == pytest.approx(1.0, abs=1e-5)
    assert margins["throttle flow over its choked flow"].status is not LimitStatus.OK
    margins, _ = margins_of(build(), inlet_area=4e-4)
    assert margins["inlet flow over its choked flow"].status is LimitStatus.OVER


def test_without_any_operating_point_nothing_is_known():
    margins, _ = margins_of(build(**EVERYTHING), leakage_area=0.0, blower_displacement=40e-3)
    assert {margin.status for margin in margins.values()} == {LimitStatus.NOT_KNOWN}


def test_a_temperature_limit_that_the_air_around_is_over_is_over_and_not_well():
    margins, _ = margins_of(build(limits={"charge_temperature": "20 degC", "blower_outlet_temperature": "25 degC"}))
    for name in ("charge temperature", "blower outlet temperature"):
        assert margins[name].status is LimitStatus.OVER
        assert margins[name].margin < 0.0


def test_uses_at_every_point_agree_with_the_worst_margins_and_leave_unmatched_points_out():
    six = build(**EVERYTHING)
    blown = np.linspace(1.0, 25.0, 4)[:, None] * six.blower.blower_displacement
    operating = match_of(six, np.broadcast_to(SPEEDS, (4, SPEEDS.size)), leakage_area=0.0, blower_displacement=blown)
    uses = limit_uses(six, operating, six.drive.friction_coefficient)
    for use, margin in zip(uses, limit_margins(six, operating), strict=True):
        assert np.isnan(use.values[~operating.is_matched]).all()
        assert 1.0 - np.nanmax(use.share) == pytest.approx(margin.margin)


def test_a_grippier_belt_slips_later_and_changes_no_other_limit():
    six = build(**EVERYTHING)
    operating = match_of(six, np.broadcast_to(SPEEDS, (2, SPEEDS.size)))
    for use in limit_uses(six, operating, np.array([[0.3], [0.4]])):
        slippery, grippy = use.share
        if use.name == "belt tension over that at which it slips":
            assert (slippery > grippy).all()
        else:
            np.testing.assert_array_equal(slippery, grippy)

"""The study behind `match`: its JSON, its ranges, its sentences, and what a person may type to ask for it."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.machine.assumptions import complete
from boostwright.machine.cycle import run_cycles
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.limits import LimitMargin, LimitStatus
from boostwright.machine.match_table import MatchOutcome
from boostwright.machine.operating_point import BlowerForm, build_points, matched, matched_with
from boostwright.studies.match import (
    COLUMNS,
    RANGED,
    STANDARD_AIR,
    limits_sentence,
    match_build,
    round_speeds,
)
from boostwright.studies.match_map import blower_map_grid
from boostwright.studies.match_request import ambient_from_text, blower_from_text, speeds_from_text
from boostwright.units import UnitError
from tests.machine.builds import DRY_AIR, build, build_file

SPEEDS = np.array([2000.0, 3500.0, 5000.0]) / 60.0
AIR = ambient_from_text(STANDARD_AIR)
KEYS = {  # what others rely on
    "engine_speed_rpm",
    "rotor_speed_rpm",
    "boost_kpa",
    "manifold_pressure_kpa",
    "air_mass_flow_kg_per_s",
    "blower_inlet_pressure_kpa",
    "pressure_ratio",
    "blower_volumetric_efficiency",
    "blower_outlet_temperature_degC",
    "charge_temperature_degC",
    "blower_drive_power_kw",
    "brake_power_kw",
    "brake_torque_nm",
    "knock_index",
    "peak_cylinder_pressure_kpa",
}


@pytest.fixture(scope="module")
def result():
    return match_build(build_file(), SPEEDS, AIR)


@pytest.fixture(scope="module")
def answer(result):
    return json.loads(json.dumps(result.as_json(), allow_nan=False))


def test_the_json_has_the_keys_that_others_rely_on_in_their_units(result, answer):
    assert set(answer) > KEYS | {"limits", "warnings"}
    assert {len(answer[key]) for key in KEYS} == {3}
    assert answer["engine_speed_rpm"] == [2000.0, 3500.0, 5000.0]
    o = result.operating
    assert answer["rotor_speed_rpm"][0] == pytest.approx(2000 * 2.694444 * 0.992, rel=1e-5)
    assert answer["boost_kpa"][1] == pytest.approx(o["manifold_pressure"][1] / 1e3 - 100, rel=1e-5)
    assert answer["charge_temperature_degC"][1] == pytest.approx(o["charge_temperature"][1] - 273.15, rel=1e-5)
    assert answer["brake_torque_nm"][1] * 2 * math.pi * 3500 / 60 == pytest.approx(
        1e3 * answer["brake_power_kw"][1], rel=1e-4
    )
    assert answer["outcome"] == ["matched"] * 3


def test_numbers_have_six_significant_figures(answer):
    def numbers(value):
        if isinstance(value, float):
            yield value
        elif isinstance(value, list | dict):
            for item in value.values() if isinstance(value, dict) else value:
                yield from numbers(item)

    assert all(value == float(f"{value:.6g}") for value in numbers(answer))


def test_a_limit_in_the_json_says_what_it_is_and_the_unknown_is_null(answer):
    limits = {limit["name"]: limit for limit in answer["limits"]}
    rotor = limits["rotor speed"]
    assert (rotor["limit"], rotor["unit"], rotor["status"], rotor["engine_speed_rpm"]) == (18000.0, "rpm", "ok", 5000.0)
    assert rotor["margin_percent"] == pytest.approx(100 * (1 - rotor["value"] / 18000), abs=1e-3)
    charge = limits["charge temperature"]
    assert (charge["limit"], charge["status"], charge["needs"]) == (None, "not known", ["limits.charge_temperature"])
    assert {limit["status"] for limit in limits.values()} <= {"ok", "near", "over", "not known"}


def test_the_same_question_gives_the_same_bytes(result):
    again = match_build(build_file(), SPEEDS, AIR)
    assert json.dumps(again.as_json()) == json.dumps(result.as_json())


def test_the_range_holds_the_result_and_is_as_wide_as_what_nobody_has_said(result):
    shown = result.as_json()
    for name in RANGED:
        values = np.array(shown[name])
        assert np.all(result.lower[name] < values)
        assert np.all(values < result.upper[name])
    boost = np.array(shown["boost_kpa"])
    half = (result.upper["boost_kpa"] - result.lower["boost_kpa"]) / 2
    assert np.all((half > 0.1 * boost) & (half < 0.5 * boost))


def test_stating_everything_leaves_no_range():
    file = build_file()
    numbers, _ = complete(file)
    stated = match_build(replace(file, numbers=numbers), SPEEDS, AIR)
    for name in RANGED:
        np.testing.assert_allclose(stated.lower[name], stated.upper[name], rtol=1e-9)
        column = next(column for column in COLUMNS if column.name == name)
        np.testing.assert_allclose(stated.lower[name], stated.shown(column), rtol=1e-9)  # not that of the closed forms


def test_the_engine_is_followed_over_the_crank_angle_until_both_models_agree(result):
    cycle = cycle_engine(build())
    assert cycle.correction(result.operating).disagreement.max() < 1.0  # air flows within 1e-4 of one another
    closed = matched(build_points(build(), SPEEDS, AIR))
    assert np.all(np.abs(result.operating["torque"] / closed["torque"] - 1) > 1e-3)
    parts = ("indicated_power", "pumping_power")
    kept = sum(result.operating[part] for part in parts)
    spent = result.operating["friction_power"] + result.operating["blower_drive_power"]
    np.testing.assert_allclose(result.operating["brake_power"], kept - spent, rtol=1e-12)


def test_the_work_of_the_match_is_that_of_the_cycle_at_the_matched_state(result):
    """One more run of the cycle at the end; its work differs by what the air flows still differ, 1e-4."""
    o = result.operating
    run = cycle_engine(build())._cycle(o)
    np.testing.assert_allclose(o["indicated_power"] + o["pumping_power"], run.indicated_power, rtol=5e-4)
    np.testing.assert_allclose(o["peak_cylinder_pressure"], run.peak_cylinder_pressure, rtol=1e-3)
    np.testing.assert_allclose(o["exhaust_temperature"], run.exhaust_temperature, rtol=1e-3)


def test_a_point_is_what_it_is_beside_any_other():
    """To what a repeating cycle leaves open, 3e-6 of its state: lanes of one block go round together."""
    points = build_points(build(), np.linspace(25.0, 97.0, 12), AIR)
    together = matched_with(points, [cycle_engine(build())])
    alone = [matched_with(points[i : i + 1], [cycle_engine(build())]) for i in range(points.size)]
    for word in ("brake_power", "manifold_pressure", "peak_cylinder_pressure"):
        np.testing.assert_allclose([one[word][0] for one in alone], together[word], rtol=1e-5)


@pytest.mark.parametrize("is_filling_known", [False, True])
def test_a_cycle_that_does_not_repeat_itself_is_no_operating_point(monkeypatch, is_filling_known):
    def restless(engine, conditions):
        found = run_cycles(engine, conditions)
        return replace(found, period_change=np.where(conditions.engine_speed > 50.0, 1e-3, found.period_change))

    monkeypatch.setattr("boostwright.machine.cycle_engine.run_cycles", restless)
    engine = replace(cycle_engine(build()), is_filling_known=is_filling_known)
    found = matched_with(build_points(build(), SPEEDS, AIR), [engine])
    assert list(found["outcome"]) == [MatchOutcome.MATCHED, MatchOutcome.NO_BALANCE, MatchOutcome.NO_BALANCE]


def test_a_stated_volumetric_efficiency_is_kept_and_the_cycle_burns_that_much():
    curve = [["1500 rpm", 0.80], ["6000 rpm", 0.80]]
    low = match_build(build_file(engine={"volumetric_efficiency_curve": curve}), SPEEDS, AIR)
    high = match_build(
        build_file(engine={"volumetric_efficiency": 0.98, "volumetric_efficiency_curvature": 0.0}), SPEEDS, AIR
    )
    np.testing.assert_allclose(low.operating["engine_volumetric_efficiency"], 0.80)
    np.testing.assert_allclose(high.operating["engine_volumetric_efficiency"], 0.98)
    assert np.all(low.operating["manifold_pressure"] > high.operating["manifold_pressure"])


def test_a_point_that_does_not_exist_is_null_and_said():
    nowhere = match_build(
        build_file(blower={"displacement": "60 L", "leakage_area": "0 mm^2", "speed_limit": None}), SPEEDS, AIR
    )
    shown = nowhere.as_json()
    assert shown["outcome"] == ["bypass needed"] * 3
    assert shown["brake_power_kw"] == [None] * 3
    assert nowhere.headline == "There is no operating point at any of these speeds."
    assert any(
        "the blower delivers more than the engine swallows, so it needs a bypass" in said for said in nowhere.warnings
    )


def test_what_is_special_about_a_speed_is_said_with_its_speeds():
    narrow = match_build(build_file(inlet={"throttle_bore": "24 mm"}), SPEEDS, AIR)
    assert any(
        said.startswith("At 3\u202f500\u20135\u202f000\u00a0rev/min the throttle is choked") for said in narrow.warnings
    )
    curve = [["2500 rpm", 0.9], ["6000 rpm", 0.9]]
    outside = match_build(build_file(engine={"volumetric_efficiency_curve": curve}), SPEEDS, AIR)
    assert "At 2\u202f000 rev/min the volumetric-efficiency curve is held at its end." in outside.warnings
    fast = match_build(build_file(engine={"speed_limit": "4000 rpm"}), SPEEDS, AIR)
    assert "5\u202f000 rev/min is above the engine's top speed." in fast.warnings


def a_limit(**changes):
    usual = {
        "name": "belt load",
        "dimension": "fraction",
        "value": 0.87,
        "limit": 1.0,
        "margin": 0.13,
        "engine_speed": 4000 / 60,
        "status": LimitStatus.OK,
        "needs": (),
    }
    return LimitMargin(**(usual | changes))


def test_the_sentence_about_limits_tells_what_gives_first():
    over = a_limit(name="rotor speed", margin=-0.37, status=LimitStatus.OVER)
    unknown = a_limit(name="tip speed", status=LimitStatus.NOT_KNOWN, margin=math.nan)
    assert limits_sentence((a_limit(), unknown)) == (
        "No known limit gives; belt load comes nearest: 13 % left at 4\u202f000 rev/min."
    )
    assert (
        limits_sentence((a_limit(), over)) == "Rotor speed gives first: over its limit by 37 % at 4\u202f000 rev/min."
    )
    assert limits_sentence((unknown,)) == "No limit is known."


def test_the_table_has_a_row_a_speed(result):
    frame = result.as_frame()
    assert frame.height == 3
    assert frame["brake_power_kw"].to_list() == pytest.approx((result.operating["brake_power"] / 1e3).tolist())


def test_round_speeds_step_by_250_up_to_the_top_speed():
    rpm = 60 * round_speeds(build_file(engine={"speed_limit": "6000 rpm"}))
    np.testing.assert_allclose(rpm, np.arange(2000, 6001, 250))


def test_every_assumption_is_listed_once_with_unit_range_and_source(answer):
    rows = {row["key"]: row for row in answer["assumptions"]}
    assert len(rows) == len(answer["assumptions"])
    assert rows["blower.leakage_area"]["unit"] == "cm^2"
    assert rows["inlet.heating"]["unit"] == "K"
    assert rows["inlet.heating"]["value"] == 4.0
    assert "cycle: burn duration" in rows
    assert not any(key.startswith("chamber") for key in rows)
    assert all(row["low"] <= row["value"] <= row["high"] and row["source"] for row in rows.values())


def test_a_chamber_model_stands_in_for_the_slip_law(result):
    chamber = match_build(build_file(), SPEEDS, AIR, blower_from_text("chamber", build_file()))
    assert chamber.blower_form == "chamber model"
    assert chamber.operating.is_matched.all()
    ratio = chamber.operating["air_mass_flow"] / result.operating["air_mass_flow"]
    assert np.all(np.abs(ratio - 1) < 0.1)  # another model of the same blower, by defaults alone
    assert np.all(ratio != 1)
    assert any(row["key"] == "blower.dead_volume_share" for row in chamber.as_json()["assumptions"])


def test_a_measured_map_stands_in_for_the_slip_law_and_says_where_it_does_not_reach(tmp_path):
    head = "rotor_speed [rpm],pressure_ratio,mass_flow [kg/s],outlet_temperature [degC],shaft_power [kW],"
    rows = [head + "inlet_pressure [kPa],inlet_temperature [degC]"]
    six = build()
    for rpm in (4000, 8000, 12000):
        for ratio in (1.2, 1.6, 2.0, 2.4):
            d = six.blower.delivery(98e3, 300.0, ratio * 98e3, rpm / 60)
            figures = (rpm, ratio, float(d.mass_flow), float(d.outlet_temperature) - 273.15, float(d.shaft_power) / 1e3)
            rows.append(",".join(f"{figure:.10g}" for figure in figures) + ",98,26.85")
    path = tmp_path / "bench.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    mapped = match_build(build_file(), SPEEDS, DRY_AIR, blower_from_text(str(path), build_file()))
    law = match_build(build_file(), SPEEDS, DRY_AIR)
    assert mapped.blower_form == "map bench.csv"
    np.testing.assert_allclose(
        mapped.operating["air_mass_flow"][:2], law.operating["air_mass_flow"][:2], rtol=1e-2
    )  # 12 points
    assert "At 5\u202f000 rev/min the blower is outside what its form or map knows." in mapped.warnings
    assert mapped.as_json()["leakage_flow_kg_per_s"] == [None] * 3  # a measured map does not tell it


def test_a_finer_model_that_never_settles_is_no_operating_point():
    class Restless:
        def correction(self, operating):
            moved = BlowerForm(name="", blower=build().blower).correction(operating)
            points = moved.points
            points["delivery_factor"] *= 1.01
            return replace(moved, points=points, disagreement=np.full(points.shape, 2.0))

    operating = matched_with(build_points(build(), SPEEDS, AIR), [Restless()])
    assert (operating["outcome"] == MatchOutcome.NO_BALANCE).all()


def test_the_map_behind_the_operating_line_is_that_of_its_blower(result):
    grid = blower_map_grid(result)
    o = result.operating
    at = (o["blower_inlet_pressure"].mean(), o["blower_inlet_temperature"].mean())
    direct = result.blower.delivery(*at, grid.pressure_ratio[7] * at[0], grid.rotor_speed[11])
    expected = direct.mass_flow * 287.05 * at[1] / at[0]
    assert grid.volume_flow[11, 7] == pytest.approx(float(expected))
    assert grid.along_speed(float(grid.rotor_speed[11]))[7] == pytest.approx(float(expected))
    assert grid.rotor_speed[-1] > 300.0  # beyond the limit, so that the zone past it can be shown


@pytest.mark.parametrize(
    ("text", "rpm"),
    [("2000:6000:100", np.arange(2000, 6001, 100)), (" 2000 : 2150 : 100 rpm", [2000, 2100]), ("3000:3000:1", [3000])],
)
def test_speeds_are_typed_as_first_last_and_step(text, rpm):
    np.testing.assert_allclose(60 * speeds_from_text(text), rpm)


@pytest.mark.parametrize("text", ["2000", "6000:2000:100", "2000:6000:0", "0:100:10", "a:b:c", "1.2.3:4000:100"])
def test_other_speeds_are_refused_with_an_example(text):
    with pytest.raises(UnitError, match="write first:last:step in rpm, such as 2000:6000:100"):
        speeds_from_text(text)


def test_a_very_fine_row_of_speeds_is_refused():
    with pytest.raises(UnitError, match="is 40001 speeds, and 2000 are the most; take a larger step"):
        speeds_from_text("2000:6000:0.1")


def test_the_air_is_typed_as_a_weather_station_reads_it():
    """25 degC and 40 % at 100 kPa: vapour of 1267.69 Pa by psychrolib, 0.621945 pv/(p - pv)."""
    air = ambient_from_text("100 kPa, 25 degC, 0.4")
    assert (air.ambient_pressure, air.air_temperature) == (100e3, pytest.approx(298.15))
    assert air.humidity_ratio == pytest.approx(0.621945 * 1267.69 / (100000 - 1267.69), rel=1e-4)
    assert ambient_from_text("14.5 psi abs, 77 degF, 40 %").humidity_ratio == pytest.approx(
        air.humidity_ratio, rel=0.01
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("100 kPa, 25 degC", "is not the three readings of a weather station; write pressure, temperature and"),
        ("100, 25 degC, 0.4", "100 has no unit where an absolute pressure is wanted"),
        ("1 bar gauge, 25 degC, 0.4", "is a gauge pressure"),
        ("100 kPa, 25 degC, 1.4", '"1.4" is no relative humidity of outside air; check the number and its unit'),
        ("100 Pa, 25 degC, 0.4", '"100 Pa" is no pressure of outside air'),
    ],
)
def test_other_air_is_refused(text, words):
    with pytest.raises(UnitError, match=words.replace("(", r"\(")):
        ambient_from_text(text)


def test_a_form_of_blower_is_slip_chamber_or_a_csv_file(tmp_path):
    assert blower_from_text("slip", build_file()) is None
    with pytest.raises(UnitError, match='"vane" is not a form of blower; write slip, chamber, or the name of a map'):
        blower_from_text("vane", build_file())
    with pytest.raises(FileError, match=r"none\.csv"):
        blower_from_text(str(tmp_path / "none.csv"), build_file())

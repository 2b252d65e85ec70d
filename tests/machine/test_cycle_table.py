"""The cycle as a table: at its nominal points the cycle itself, around them close to it."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.build import build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.cycle_table import cycle_table, with_cycle
from boostwright.machine.operating_point import matched
from boostwright.records.build_file import build_from_document
from tests.inference.setups import BUILD, baseline_points

ENGINE = replace(cycle_engine(build_of(build_from_document(BUILD, "scenario"))), is_filling_known=True)
POINTS = baseline_points()


@pytest.fixture(scope="module")
def table():
    return cycle_table(ENGINE, POINTS)


@pytest.mark.parametrize(
    ("word", "step"), [("air_temperature", 0.0), ("coolant_temperature", 14.0), ("ambient_pressure", -6e3)]
)
def test_a_table_says_what_the_cycle_says(table, word, step):
    """Work and friction within 0.2 %, peak pressure 0.3 %, knock 3 % of cycles run at the same air and temperatures."""
    points = POINTS.copy()
    points[word] += step
    points["excess_air_ratio"] += 0.02 if step else 0.0
    at = matched(points)
    corrected, said = ENGINE.correction(at).points, table.ratios(at)
    for factor, state, tolerance in (
        ("indicated_efficiency_factor", "indicated_power", 2e-3),
        ("friction_factor", "friction_power", 2e-3),
        ("peak_pressure_factor", "peak_cylinder_pressure", 3e-3),
        ("knock_factor", "knock_index", 0.03),
    ):
        np.testing.assert_allclose(said[state], corrected[factor] / points[factor], rtol=tolerance, err_msg=state)


def test_power_is_made_of_the_cycles_parts_and_air_stays(table):
    plain = matched(POINTS)
    at = with_cycle(plain, table)
    np.testing.assert_array_equal(at["air_mass_flow"], plain["air_mass_flow"])
    parts = at["indicated_power"] + at["pumping_power"] - at["friction_power"] - at["blower_drive_power"]
    np.testing.assert_allclose(at["brake_power"], parts, rtol=1e-12)
    np.testing.assert_allclose(at["torque"] * 2 * np.pi * POINTS["engine_speed"], parts, rtol=1e-12)
    assert np.max(np.abs(at["brake_power"] / plain["brake_power"] - 1)) > 0.005  # they do differ


def test_a_speed_that_is_not_in_the_table_is_refused(table):
    points = POINTS.copy()
    points["engine_speed"] += 0.5
    with pytest.raises(ValueError, match=r"engine speed 50\.5 1/s is not in the table"):
        table.ratios(matched(points))


def test_points_of_many_draws_keep_their_shape_and_their_speed(table):
    many = np.stack([POINTS, POINTS[::-1]])
    at = with_cycle(matched(many), table)
    np.testing.assert_allclose(at["brake_power"][0], at["brake_power"][1][::-1], rtol=1e-12)

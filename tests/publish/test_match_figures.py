"""The picture of a match: its numbers and its words."""

import numpy as np
import pytest

from boostwright.publish import tokens
from boostwright.publish.figure_style import svg
from boostwright.publish.match_figures import match_figure
from boostwright.studies.match import STANDARD_AIR, match_build
from boostwright.studies.match_request import ambient_from_text
from tests.machine.builds import build_file
from tests.publish.test_compare_figure import texts

SPEEDS = np.arange(2000.0, 5801.0, 200.0) / 60.0


@pytest.fixture(scope="module")
def result():
    return match_build(build_file(limits={"charge_temperature": "70 degC"}), SPEEDS, ambient_from_text(STANDARD_AIR))


@pytest.fixture(scope="module")
def figure(result):
    return match_figure(result)


def thickest(axes):
    return max(axes.lines, key=lambda line: line.get_linewidth())


def test_the_title_is_the_answer(result, figure):
    title = texts(figure)[0].replace("\n", " ")
    assert title == result.headline.replace("\u202f", "")
    assert "comes nearest" in title


def test_curves_and_operating_line_show_the_numbers_of_the_result(result, figure):
    boost, air, power, blower_map = figure.axes
    shown = result.as_frame()
    for axes, name in ((boost, "boost_kpa"), (air, "air_mass_flow_kg_per_s"), (power, "brake_power_kw")):
        np.testing.assert_allclose(thickest(axes).get_ydata(), shown[name].to_numpy())
        np.testing.assert_allclose(thickest(axes).get_xdata(), shown["engine_speed_rpm"].to_numpy())
    line = next(line for line in blower_map.lines if line.get_linewidth() == 2.2)
    np.testing.assert_allclose(line.get_ydata(), shown["pressure_ratio"].to_numpy())
    o = result.operating
    density = o["blower_inlet_pressure"] / (o["specific_gas_constant"] * o["blower_inlet_temperature"])
    np.testing.assert_allclose(line.get_xdata(), 60 * o["blower_mass_flow"] / density)


def test_drive_power_is_dashed_and_brake_power_solid_so_that_grey_print_can_be_read(figure):
    power = figure.axes[2]
    assert not thickest(power).is_dashed()
    drive = [line for line in power.lines if line.get_color() == tokens.BASELINE]
    assert [line.is_dashed() for line in drive] == [True]


def test_efficiency_speed_lines_rings_and_the_rotor_limit_are_named_on_the_map(figure):
    words = texts(figure)
    assert {"3000", "4000", "5000", "10000", "15000"} <= set(words)
    assert "rotor limit 18000" in words
    assert any(word.endswith(" %") for word in words)
    assert "contours: isentropic efficiency on shaft power" in words


def test_the_limit_of_a_blower_that_nobody_has_stated_is_not_drawn():
    unlimited = match_build(build_file(blower={"speed_limit": None}), SPEEDS, ambient_from_text(STANDARD_AIR))
    assert not any(word.startswith("rotor limit") for word in texts(match_figure(unlimited)))


def test_the_same_result_gives_the_same_bytes(result):
    assert svg(match_figure(result)) == svg(match_figure(result))

"""The picture and the printed tables of carried gains: their numbers and their words."""

import io

import numpy as np
import pytest
from rich.console import Console

from boostwright.machine.operating_point import Ambient
from boostwright.publish import tokens
from boostwright.publish.carry_figures import carry_figure
from boostwright.publish.carry_terminal import WIDTH, print_carried
from boostwright.publish.figure_style import svg
from boostwright.studies.carry_result import GAINS, LEVELS, CarriedBuild, CarryResult, Distance, Reach
from boostwright.studies.explain_result import Band
from tests.publish.test_compare_figure import texts

SPEEDS = np.array([3000.0, 4000.0, 5000.0, 6000.0]) / 60


def band(values, half):
    values = np.asarray(values, float)
    mean = float(values.mean())
    return Band(
        values=values,
        lower=values - half,
        upper=values + half,
        mean=mean,
        mean_lower=mean - half / 2,
        mean_upper=mean + half / 2,
    )


def carried_build(name, reach, gain=0.02):
    levels = {q.name: band([1e5, 1.1e5, 1.2e5, 1.3e5], 2e4) for q in LEVELS}
    gains = {q.name: band(np.array([-1.0, 0.0, 1.0, 2.0]) * gain, 0.01) for q in GAINS}
    distance = Distance(
        rotor_speed=np.array([0, 0, 0.05, 0.2]),
        pressure_ratio=np.zeros(4),
        ambient_pressure=-17e3,
        air_temperature=0.0,
        tested_fuel="E10",
        fuel=None,
        reach=reach,
        sentence="Outside what was tested.",
    )
    return CarriedBuild(
        build=name,
        ambient=Ambient(ambient_pressure=83e3, air_temperature=298.15, humidity_ratio=0.01),
        engine_speed=SPEEDS,
        rotor_speed=2.75 * SPEEDS,
        pressure_ratio=np.full(4, 1.6),
        gains=gains,
        baseline=levels,
        candidate={word: band(1.02 * of.values, 2e4) for word, of in levels.items()},
        power_known_to=0.17,
        distance=distance,
        has_baseline=False,
        is_tested_engine=False,
        sentence=f"On {name} b gains over a. Known to 17 %.",
        notes=("Something stays behind.",),
    )


@pytest.fixture(scope="module")
def result():
    some = (Reach.TESTED, Reach.TESTED, Reach.OUTSIDE, Reach.FAR)
    return CarryResult(
        baseline="a",
        candidate="b",
        confidence=0.95,
        engine_speed=SPEEDS,
        tested_gain=band([0.01, 0.012, 0.02, 0.03], 0.005),
        builds=(carried_build("near", (Reach.TESTED,) * 4), carried_build("hill", some, 0.03)),
        warnings=(),
    )


@pytest.fixture(scope="module")
def figure(result):
    return carry_figure(result, "metric")


def test_each_build_has_a_row_of_gain_boost_and_power_with_its_numbers(result, figure):
    assert len(figure.axes) == 6
    for row, build in enumerate(result.builds):
        gain, boost, power = figure.axes[3 * row : 3 * row + 3]
        shown = max(gain.lines, key=lambda line: line.get_linewidth())
        np.testing.assert_allclose(shown.get_ydata(), 100 * build.gains["brake_power_relative"].values)
        np.testing.assert_allclose(shown.get_xdata(), 60 * SPEEDS)
        for axes, name in ((boost, "boost"), (power, "brake_power")):
            dashed = max(axes.lines, key=lambda line: line.get_linewidth())
            np.testing.assert_allclose(dashed.get_ydata(), build.baseline[name].values / 1e3)
            assert dashed.is_dashed()
            edges = [line for line in axes.lines if line.get_linewidth() == 0.6]
            np.testing.assert_allclose(edges[0].get_ydata(), build.baseline[name].lower / 1e3)
            np.testing.assert_allclose(edges[1].get_ydata(), build.baseline[name].upper / 1e3)


def test_the_tested_gain_stands_faint_and_dotted_beside_each(result, figure):
    for gain in figure.axes[::3]:
        dotted = [line for line in gain.lines if line.get_linestyle() == ":"]
        assert len(dotted) == 1
        np.testing.assert_allclose(dotted[0].get_ydata(), 100 * result.tested_gain.values)
        assert dotted[0].get_color() == tokens.INK_THIRD


def test_gains_of_all_builds_have_one_scale(figure):
    assert figure.axes[0].get_ylim() == figure.axes[3].get_ylim()


def test_speeds_outside_the_test_are_tinted_and_the_far_ones_named(figure):
    near, hill = figure.axes[0], figure.axes[3]
    assert len(near.patches) == 0
    tinted = [(patch.get_x(), patch.get_x() + patch.get_width(), patch.get_alpha()) for patch in hill.patches]
    assert [span[:2] for span in tinted] == [(4500.0, 5500.0), (5500.0, 6000.0)]
    assert tinted[0][2] < tinted[1][2]
    assert texts(figure).count("far") == 3
    assert any("rotor speed up to 20 % above the tested, air pressure 17 kPa lower" in text for text in texts(figure))


def test_us_units_reach_every_axis_and_line(result):
    figure = carry_figure(result, "us")
    assert any("air pressure 2.5 psi lower" in text.replace("\u00a0", " ") for text in texts(figure))
    for axes, scale, words in ((figure.axes[1], 6894.757, "boost, psi"), (figure.axes[2], 745.6999, "power, hp")):
        dashed = max(axes.lines, key=lambda line: line.get_linewidth())
        name = {"boost, psi": "boost", "power, hp": "brake_power"}[words]
        np.testing.assert_allclose(dashed.get_ydata(), result.builds[0].baseline[name].values / scale, rtol=1e-6)
        assert words in texts(figure)
    target = io.StringIO()
    print_carried(result, Console(file=target, width=WIDTH), "us")
    printed = target.getvalue().replace("\u00a0", " ").replace("\u202f", " ")
    assert "kPa" not in printed
    assert "kW" not in printed
    assert "15 ± 3" in printed  # psi
    assert "134 ± 27" in printed  # hp


def test_the_same_result_gives_the_same_bytes(result):
    assert svg(carry_figure(result, "metric")) == svg(carry_figure(result, "metric"))


def test_every_printed_number_has_its_interval_and_every_speed_its_distance(result):
    target = io.StringIO()
    print_carried(result, Console(file=target, width=WIDTH), "metric")
    printed = target.getvalue().replace("\u00a0", " ").replace("\u202f", " ")
    assert "+3.0 ± 1.0 " in printed
    assert "far, rotor +20 %" in printed
    assert "outside, rotor +5 %" in printed
    assert "far outside" in printed
    assert "Something stays behind." in printed
    assert "100 ± 20" in printed

"""The chart of pulleys as a picture, as words and as a page: the numbers of the result, and nothing else."""

import math

import numpy as np
import pytest

from boostwright.publish import tokens
from boostwright.publish.figure_style import svg
from boostwright.publish.identity import Identity
from boostwright.publish.pulley_figure import limit_chances, pulley_figure
from boostwright.publish.pulley_report import pulley_report
from boostwright.publish.pulley_tables import chance_text, first_limit_text, pulley_cells
from tests.publish.test_compare_figure import texts
from tests.studies.test_pulleys import chart_of


@pytest.fixture(scope="module")
def chart():
    return chart_of("64 mm, 68 mm, 72 mm, 80 mm")


@pytest.fixture(scope="module")
def figure(chart):
    return pulley_figure(chart)


def widest(axes):
    return max(axes.lines, key=lambda line: line.get_linewidth())


def test_the_title_is_the_answer(chart, figure):
    assert "".join(texts(figure)[0].split()) == "".join(chart.sentence.split())


def test_curves_show_the_numbers_of_the_result_and_the_hot_place_is_dashed(chart, figure):
    ratios = [row.pulley.drive_ratio for row in chart.rows]
    for axes, word in zip(figure.axes[:2], ("boost", "brake_power"), strict=True):
        thick = [line for line in axes.lines if line.get_linewidth() == 1.9]
        reference, hot = thick
        np.testing.assert_allclose(reference.get_xdata(), ratios)
        np.testing.assert_allclose(
            reference.get_ydata(), [getattr(row.reference, word).value / 1e3 for row in chart.rows]
        )
        np.testing.assert_allclose(hot.get_ydata(), [getattr(row.hot, word).value / 1e3 for row in chart.rows])
        assert (reference.is_dashed(), hot.is_dashed()) == (False, True)


def test_the_chance_of_any_limit_and_the_accepted_one_are_drawn_and_named(chart, figure):
    chances = figure.axes[2]
    np.testing.assert_allclose(widest(chances).get_ydata(), [100 * row.chance for row in chart.rows])
    words = texts(figure)
    assert "any of them" in words
    assert "accepted, 5 %" in words
    assert set(limit_chances(chart)) & set(words)


def test_the_zone_beyond_the_largest_ratio_is_a_line_with_hatching(chart, figure):
    lines = [line for line in figure.axes[0].lines if line.get_color() == tokens.LIMIT]
    assert lines[0].get_xdata()[0] == pytest.approx(chart.largest_ratio)
    assert any(patch.get_hatch() for patch in figure.axes[0].patches)


def test_no_limit_is_said_to_be_more_likely_than_all_together(chart):
    together = np.array([row.chance for row in chart.rows])
    for values in limit_chances(chart).values():
        assert (values <= together).all()


def test_a_count_of_none_is_printed_as_below_what_the_draws_can_show():
    assert chance_text(0.0, 400) == "<\u00a00.8 %"
    assert chance_text(0.0425, 400) == "4.2 %"
    assert chance_text(0.66, 400) == "66 %"


def test_the_first_limit_is_the_one_reached_at_the_lowest_speed_or_what_is_left_of_the_nearest(chart):
    for row in chart.rows:
        for place in (row.reference, row.hot):
            reached = [c for c in place.limits if c.is_known and math.isfinite(c.reached_by_value)]
            text = first_limit_text(place)
            if reached:
                first = min(reached, key=lambda curve: curve.reached_by_value)
                assert text.startswith(f"{first.name} from ")
            else:
                assert text.startswith("none; ")
                assert " % left (" in text
    assert any(" from " in first_limit_text(row.hot) for row in chart.rows)
    assert any(first_limit_text(row.hot).startswith("none; ") for row in chart.rows)


def test_the_page_has_every_row_and_the_same_bytes_each_time(chart):
    identity = Identity(version="0", command="boostwright match x.toml", inputs=(("x.toml", "00"),))
    page = pulley_report(chart, "x", identity)
    assert page == pulley_report(chart, "x", identity)
    for cells in pulley_cells(chart):
        assert f">{cells.pulley}</th>" in page
        assert cells.hot.power_range in page
    assert page.count('class="first') + page.count('class="second') == 2 * len(chart.rows)


def test_the_picture_is_the_same_bytes_each_time(chart):
    assert svg(pulley_figure(chart)) == svg(pulley_figure(chart))

"""Limits as a picture and as words."""

import numpy as np
import pytest

from boostwright.publish import tokens
from boostwright.publish.figure_style import svg
from boostwright.publish.limits_figure import limits_figure
from boostwright.publish.limits_tables import change_cells, limit_cells
from boostwright.studies.limits import build_limits
from tests.publish.test_compare_figure import texts
from tests.studies.test_limits_study import AIR, SPEEDS, TIGHT


@pytest.fixture(scope="module")
def result():
    return build_limits(TIGHT, SPEEDS, AIR)


@pytest.fixture(scope="module")
def figure(result):
    return limits_figure(result)


def test_a_bar_reaches_to_the_highest_value_with_its_box_and_the_limit_is_a_line_with_hatching(result, figure):
    bars = figure.axes[0]
    for row, curve in enumerate(result.known):
        rectangles = [p for p in bars.patches if p.get_hatch() is None and abs(_middle(p) - row) < 0.01]
        bar, box = sorted(rectangles, key=lambda p: -p.get_height())
        assert bar.get_width() == pytest.approx(100 * curve.greatest.value)
        assert box.get_x() == pytest.approx(100 * curve.greatest.lower)
        assert box.get_x() + box.get_width() == pytest.approx(100 * curve.greatest.upper)
    assert any(patch.get_hatch() for patch in bars.patches)
    assert next(line.get_xdata()[0] for line in bars.lines if line.get_color() == tokens.LIMIT) == 100.0


def _middle(patch):
    return patch.get_y() + patch.get_height() / 2


def test_the_closest_limits_are_drawn_along_speed_with_their_bands(result, figure):
    for axes, curve in zip(figure.axes[1:], result.known, strict=False):
        line = max(axes.lines, key=lambda line: line.get_linewidth())
        np.testing.assert_allclose(line.get_ydata(), 100 * curve.share)
        edges = [line for line in axes.lines if line.get_linewidth() == 0.5]
        np.testing.assert_allclose(edges[0].get_ydata(), 100 * curve.lower)
        np.testing.assert_allclose(edges[1].get_ydata(), 100 * curve.upper)
    assert len(figure.axes) == 5


def test_every_known_limit_is_named_and_no_unknown_one(result, figure):
    words = texts(figure)
    assert {curve.name for curve in result.known} <= set(words)
    assert not {curve.name for curve in result.unknown} & set(words)


def test_the_words_of_a_limit_that_is_not_known_say_what_to_give(result):
    cells = {cells.name: cells for cells in limit_cells(result)}
    assert cells["knock index"].status == "not known: give limits.knock_index"
    assert cells["knock index"].left == cells["knock index"].chance == ""
    assert cells["charge temperature"].left.count("%") == 1


def test_a_change_that_is_not_enough_says_what_the_end_of_its_range_leaves(result):
    for change, cells in zip(result.changes, change_cells(result), strict=True):
        if change.share_reached < 0.5:
            assert cells.needed.startswith("not alone: ")
        else:
            assert "(" in cells.needed
        assert cells.is_enough == (change.share_reached >= 0.95)


def test_the_picture_is_the_same_bytes_each_time(result):
    assert svg(limits_figure(result)) == svg(limits_figure(result))

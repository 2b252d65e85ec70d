"""The picture and the printed words of a pool."""

import io

import pytest
from rich.console import Console

from boostwright.publish.figure_style import svg
from boostwright.publish.pool_figure import pool_figure
from boostwright.publish.pool_terminal import print_pool, trend_sentence
from tests.publish.pools import GAINS, HALVES, interval, pooled, trend


def texts(axes):
    return [text.get_text().replace("\u00a0", " ") for text in axes.texts]


def test_boxes_reach_from_lower_to_upper_and_marks_sit_on_the_gain():
    axes = pool_figure(pooled(next_engine=interval(0.025, 0.03))).axes[0]
    outlines = [patch for patch in axes.patches if patch.get_linewidth() > 0]
    ends = [(patch.get_x(), patch.get_x() + patch.get_width()) for patch in outlines]
    expected = [(100 * (g - h), 100 * (g + h)) for g, h in zip(GAINS, HALVES, strict=True)]
    assert [*ends[:3]] == [pytest.approx(pair) for pair in expected]
    assert ends[3] == pytest.approx((1.3, 3.7))
    assert ends[4] == pytest.approx((-0.5, 5.5))
    assert [patch.get_linestyle() for patch in outlines] == ["-"] * 4 + ["--"]
    marks = [float(line.get_xdata()[0]) for line in axes.lines if line.get_marker() == "s"]
    assert marks == pytest.approx([100 * gain for gain in GAINS])


def test_two_campaigns_say_that_a_next_engine_cannot_be_known():
    assert "cannot be known" in texts(pool_figure(pooled()).axes[0])


def test_the_trend_is_drawn_beneath_with_every_campaign_named():
    figure = pool_figure(pooled(with_trend=True))
    assert len(figure.axes) == 2
    assert {"four", "five", "six", "the line"} <= set(texts(figure.axes[1]))
    assert svg(figure) == svg(pool_figure(pooled(with_trend=True)))


def test_the_printed_pool_holds_every_number_with_its_interval():
    target = io.StringIO()
    print_pool(pooled(with_trend=True, next_engine=interval(0.025, 0.03)), Console(file=target, width=100))
    printed = " ".join(target.getvalue().replace("\u00a0", " ").split())
    assert printed.startswith("Gain shown over 3 campaigns together: +2.5 ± 1.2 % on average.")
    assert "The next engine like these would gain between −0.5 and +5.5 %, at 95 % confidence." in printed
    assert "+3.1 ± 1.2 6 33 +2.0 ± 1.5 four" in printed
    assert "• two of them share a stand" in printed


def test_a_slope_whose_interval_holds_zero_is_no_trend():
    said = trend_sentence(trend()).replace("\u00a0", " ")
    assert said.startswith(
        "A trend over air mass flow is not shown: +0.6 ± 2.0 % for every 0.1 kg/s more air mass flow."
    )
    assert "at 0.15 kg/s +1.8 ± 1.0 %, at 0.35 kg/s +3.0 ± 1.0 %; beyond these nothing was tested." in said

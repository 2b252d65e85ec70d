"""The picture: its numbers, its words and its bytes."""

import io

import matplotlib.pyplot as plt
import numpy as np
import pytest

from boostwright.publish.compare_figure import compare_figure
from boostwright.publish.figure_style import save, svg
from tests.publish.results import gain_of, result


def texts(figure):
    every = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    return [text.get_text().replace("\u00a0", " ").replace("\u2009", "") for text in every]


def test_both_panels_share_the_speed_axis_and_show_the_numbers_of_the_result():
    figure = compare_figure(result())
    overlay, gain = figure.axes
    assert overlay.get_xlim() == gain.get_xlim() == (3000, 5800)
    drawn = max(gain.lines, key=lambda line: line.get_linewidth() * (len(line.get_xdata()) > 2))
    assert drawn.get_ydata() == pytest.approx(100 * np.expm1(gain_of(drawn.get_xdata())))


def test_the_verdict_is_the_title_and_states_are_words_as_well_as_colours():
    words = texts(compare_figure(result()))
    assert words[0].replace("\n", " ").startswith("Gain shown at")
    assert {"loss shown", "open", "gain shown", "machined (B)", "cast (A)"} <= set(words)
    assert any(word.startswith("changes sign at 3570, within 3350–3710") for word in words)


def test_baseline_is_dashed_and_candidate_solid_so_that_grey_print_can_be_read():
    overlay = compare_figure(result()).axes[0]
    thick = sorted((line for line in overlay.lines if line.get_linewidth() > 1), key=lambda line: line.get_ydata()[-1])
    assert [line.is_dashed() for line in thick] == [True, False]


def test_labels_at_the_line_ends_never_overlap():
    figure = compare_figure(result())
    labels = [text for text in figure.axes[0].texts if text.get_text() in ("machined (B)", "cast (A)")]
    boxes = [label.get_window_extent(figure.canvas.get_renderer()) for label in labels]
    assert not boxes[0].overlaps(boxes[1])


def test_same_result_gives_the_same_bytes_and_leaves_the_callers_settings_alone():
    before = dict(plt.rcParams)
    assert svg(compare_figure(result())) == svg(compare_figure(result()))
    for form in ("png", "pdf"):
        copies = [io.BytesIO(), io.BytesIO()]
        for copy in copies:
            save(compare_figure(result()), copy, form)
        assert copies[0].getvalue() == copies[1].getvalue()
    assert dict(plt.rcParams) == before

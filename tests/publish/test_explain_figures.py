"""The pictures of an explanation: their numbers, their words, and that they can be read in grey."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from boostwright.publish import tokens
from boostwright.publish.explain_figures import (
    _LOOKS,
    OTHERS,
    attribution_figure,
    fit_figure,
    parameter_figure,
    stack_layers,
)
from boostwright.publish.figure_style import svg
from boostwright.studies.explain import explain
from boostwright.studies.explain_result import Band
from tests.publish.test_compare_figure import texts
from tests.studies.test_explain import BASIC, FULL, campaign_where, data_of


def explained(seed, channels, *words):
    campaign, _ = campaign_where(seed, *words)
    return explain(data_of(campaign, channels), "cast", "machined")


@pytest.fixture(scope="module")
def result():
    return explained(11, FULL, "inlet_area", "ambient_pressure", "air_temperature", "slip_level")


@pytest.fixture(scope="module")
def vague():
    """Torque and boost alone: no cause is shown, several are merged or small, and both signs occur."""
    return explained(24, BASIC, "inlet_area", "leakage_area", "coolant_start", "mechanical_linear")


@pytest.fixture(scope="module")
def crossing(result):
    """The same with a cause that takes away at low speed what it adds at high speed."""
    term = result.causes[0]
    tilted = np.linspace(-0.03, 0.04, result.engine_speed.size)
    band = Band(values=tilted, lower=tilted - 0.005, upper=tilted + 0.005, mean=0.005, mean_lower=0.0, mean_upper=0.01)
    together = result.together.relative_gain.values - term.relative_gain.values + tilted
    moved = replace(result.together, relative_gain=replace(result.together.relative_gain, values=together))
    return replace(result, causes=(replace(term, relative_gain=band), *result.causes[1:]), together=moved)


def area(polygon):
    """Area of a layer, negative where it hangs below zero."""
    x, y = polygon.vertices[:-1].T
    return abs(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) * np.sign(np.mean(y))


def boxes_of(figure):
    """Extents of texts on the page, in pixels, their leader lines apart."""
    renderer = figure.canvas.get_renderer()
    every = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    return [(text.get_text(), Text.get_window_extent(text, renderer)) for text in every if text.get_text().strip()]


def overlapping(boxes):
    return [
        (a, b)
        for (a, first), (b, second) in combinations(boxes, 2)
        if min(first.x1, second.x1) - max(first.x0, second.x0) > 1
        and min(first.y1, second.y1) - max(first.y0, second.y0) > 3  # lines of text hold empty ascenders
    ]


@pytest.mark.parametrize("which", ["result", "vague", "crossing"])
def test_the_layers_sum_to_the_gain_of_the_model_and_to_the_measured_gain_less_what_is_not_explained(which, request):
    result = request.getfixturevalue(which)
    total = sum(layer.values for layer in stack_layers(result))
    np.testing.assert_allclose(total, result.together.relative_gain.values, atol=1e-12)
    if which != "crossing":
        left = result.measured_gain.relative_gain.values - result.unexplained.relative_gain.values
        np.testing.assert_allclose(total, left, atol=1e-9)


@pytest.mark.parametrize("which", ["result", "vague", "crossing"])
def test_what_is_drawn_above_zero_less_what_is_drawn_below_is_the_gain_of_the_model(which, request):
    """Areas of the layers against the area under the model's gain; the drawn grid misses corners by under 1 %."""
    result = request.getfixturevalue(which)
    stack = attribution_figure(result).axes[0]
    layers = [c for c in stack.collections if isinstance(c, PolyCollection) and c.get_alpha() is None]
    drawn = sum(area(path) for layer in layers for path in layer.get_paths())
    expected = np.trapezoid(100 * result.together.relative_gain.values, 60 * result.engine_speed)
    assert drawn == pytest.approx(expected, rel=0.01, abs=2.0)


def test_a_cause_of_both_signs_is_drawn_on_both_sides_of_zero_and_named_once(crossing):
    stack = attribution_figure(crossing).axes[0]
    low = min(path.vertices[:, 1].min() for c in stack.collections for path in c.get_paths())
    assert low < -2.5
    assert [text.get_text() for text in stack.texts].count(crossing.causes[0].name) == 1


def test_the_measured_gain_and_its_band_lie_on_top(result):
    stack = attribution_figure(result).axes[0]
    measured = max(stack.lines, key=lambda line: line.get_linewidth())
    np.testing.assert_allclose(measured.get_ydata(), 100 * result.measured_gain.relative_gain.values)
    np.testing.assert_allclose(measured.get_xdata(), 60 * result.engine_speed)
    edges = [line.get_ydata() for line in stack.lines if line.get_linewidth() == 0.75]
    np.testing.assert_allclose(edges[0], 100 * result.measured_gain.relative_gain.lower)
    np.testing.assert_allclose(edges[1], 100 * result.measured_gain.relative_gain.upper)


def test_every_shown_cause_has_its_own_layer_and_small_ones_are_one(result, vague):
    for of in (result, vague):
        names = [layer.name for layer in stack_layers(of)]
        assert {term.name for term in of.causes if term.relative_gain.is_shown} <= set(names)
        assert names[-1] == OTHERS
        assert set(names) <= {OTHERS, *[term.name for term in of.causes]}


def test_boxes_of_the_shares_are_as_wide_as_the_intervals(result):
    shares = attribution_figure(result).axes[1]
    boxes = {round(p.get_y() + 0.27): (p.get_x(), p.get_width()) for p in shares.patches if isinstance(p, Rectangle)}
    terms = [*result.causes, result.together, result.unexplained, result.measured_gain]
    assert len(boxes) == len(terms)
    for place, term in enumerate(terms):
        band = term.relative_gain
        assert boxes[place] == pytest.approx((100 * band.mean_lower, 100 * (band.mean_upper - band.mean_lower)))


def test_causes_are_told_apart_by_grey_and_hatch_and_never_by_colour():
    assert len(set(_LOOKS.values())) == len(_LOOKS)
    assert all(len(set(to_rgb(grey))) == 1 for grey, _ in _LOOKS.values())
    for (first, hatch), (second, other) in combinations(_LOOKS.values(), 2):
        assert set(hatch) != set(other) or abs(to_rgb(first)[0] - to_rgb(second)[0]) > 0.1


@pytest.mark.parametrize("draw", [attribution_figure, parameter_figure, fit_figure])
@pytest.mark.parametrize("which", ["result", "vague", "crossing"])
def test_no_two_labels_overlap_and_none_leaves_the_page(which, draw, request):
    figure = draw(request.getfixturevalue(which))
    boxes = boxes_of(figure)
    assert len(boxes) > 8
    assert overlapping(boxes) == []
    wide, tall = figure.bbox.width, figure.bbox.height
    assert [words for words, box in boxes if box.x0 < 0 or box.x1 > wide or box.y0 < 0 or box.y1 > tall] == []


def test_titles_are_the_sentences_of_the_result(result):
    for draw, sentence in (
        (attribution_figure, result.headline),
        (parameter_figure, result.parameter_sentence),
        (fit_figure, result.fit_sentence),
    ):
        title = texts(draw(result))[0].replace("\n", " ")
        assert title == sentence.replace("\u00a0", " ").replace("\u202f", "")


def test_every_unknown_has_its_assumed_range_and_what_the_data_left_of_it(result):
    axes = parameter_figure(result).axes[0]
    bars = [p for p in axes.patches if p.get_height() == pytest.approx(0.4)]
    rows = sorted(result.parameters, key=lambda row: -row.share_removed)
    assert len(bars) == len(rows)
    for bar, row in zip(bars, rows, strict=True):
        after = row.standardised
        assert (bar.get_x(), bar.get_width()) == pytest.approx((after.lower, after.upper - after.lower))
        assert (bar.get_facecolor()[:3] == pytest.approx(to_rgb(tokens.CANDIDATE))) == row.is_determined
    outlines = [p for p in axes.patches if p.get_height() == pytest.approx(0.68)]
    assert {(p.get_x(), p.get_width()) for p in outlines} == {(-1.96, 3.92)}


def test_an_unknown_keeps_its_place_whether_it_is_said_in_its_unit_or_in_deviations(result):
    """An offset's deviation from the middle of its prior, in half-widths of the prior's 95 % range."""
    row = next(row for row in result.parameters if row.name == "air_temperature difference")
    reach = (row.prior.upper - row.prior.lower) / 2 / 1.959964
    assert (row.posterior.value - row.prior.value) / reach == pytest.approx(row.standardised.value, abs=1e-6)


def test_residuals_are_measured_less_fitted_in_percent_or_in_the_unit(result):
    axes = fit_figure(result).axes
    panels = {text: axes[i + 1] for i in range(0, len(axes), 2) for text in [axes[i].texts[0].get_text()]}
    for channel, words, scale in (
        ("torque", "torque, N·m", None),
        ("charge_temperature", "charge temperature, °C", 1.0),
        ("blower_inlet_pressure", "blower inlet pressure, kPa", 1e3),
    ):
        curve = next(c for c in result.channels if c.name == channel).candidate
        expected = (curve.measured - curve.fitted.values) / (scale or 0.01 * curve.fitted.values)
        squares = next(line for line in panels[words].lines if line.get_marker() == "s")
        np.testing.assert_allclose(squares.get_ydata(), expected, atol=1e-12)


def test_us_readers_get_their_units(result):
    words = " ".join(texts(fit_figure(result, "us")))
    for expected in ("torque, lb-ft", "charge temperature, °F", "manifold pressure, psi", "air mass flow, lb/min"):
        assert expected in words


def test_the_same_result_gives_the_same_bytes(result):
    assert svg(attribution_figure(result)) == svg(attribution_figure(result))


def test_a_name_with_two_dollars_is_a_name_and_no_formula(result):
    named = replace(result, baseline="$5 clip, $7 clip")
    assert "$5 clip, $7 clip (A)" in texts(fit_figure(named))

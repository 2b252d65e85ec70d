"""The picture of a pool: every campaign's gain on one axis, their mean, the next engine; beneath it the trend."""

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator

from boostwright.inference.gain_summary import Interval
from boostwright.publish import tokens
from boostwright.publish.figure_style import (
    SANS_BOLD,
    drawn,
    end_labels,
    figure_text,
    head,
    signed_tick,
    thousands,
    title,
)
from boostwright.studies.pool_result import PoolResult, Trend
from boostwright.studies.pool_words import gain_text
from boostwright.studies.words import quantity_words, signed
from boostwright.units import printed_symbol

_LEFT, _RIGHT = 0.20, 0.80
_WIDTH, _ROW, _TREND = 7.2, 0.34, 3.1  # [in]
_BOX, _TALL = 0.24, 0.32  # half-heights of a campaign's box and of the sum's, in rows


def pool_figure(result: PoolResult) -> Figure:
    """Draw the forest of campaigns, and the trend if one was asked for."""
    return drawn(lambda: _draw(result))


def _draw(result: PoolResult) -> Figure:
    forest_height = _ROW * (len(result.campaigns) + 2.8)
    trend_height = 0.0 if result.trend is None else _TREND
    above, below = 0.85 if len(result.headline) > 60 else 0.7, 0.5
    height = above + forest_height + below + trend_height
    figure = Figure(figsize=(_WIDTH, height))
    bottom = (below + trend_height) / height
    forest = figure.add_axes((_LEFT, bottom, _RIGHT - _LEFT, forest_height / height))
    title(figure, result.headline, left=0.012)
    _forest(forest, result)
    if result.trend is not None:
        axes = figure.add_axes((0.085, 0.45 / height, 0.715, (trend_height - 0.95) / height))
        _trend(axes, result, result.trend)
    return figure


def _forest(axes: Axes, result: PoolResult) -> None:
    rows = len(result.campaigns)
    edges = [(row.gain.lower, row.gain.upper) for row in result.campaigns] + [(result.mean.lower, result.mean.upper)]
    if result.next_engine is not None:
        edges.append((result.next_engine.lower, result.next_engine.upper))
    low, high = 100 * min(0.0, *(x for x, _ in edges)), 100 * max(0.0, *(x for _, x in edges))
    axes.set_xlim(low - 0.04 * (high - low), high + 0.04 * (high - low))
    axes.set_ylim(rows + 1.9, -0.9)
    axes.grid(visible=True, axis="x")
    axes.grid(visible=False, axis="y")
    axes.axvline(0, color=tokens.INK, linewidth=1.0)
    axes.set_yticks([])
    largest = max(row.share for row in result.campaigns)
    for place, row in enumerate(result.campaigns):
        _box(axes, place, row.gain, _BOX, filled=True)
        size = 2.5 + 5.0 * float(np.sqrt(row.share / largest))
        axes.plot([100 * row.gain.estimate], [place], "s", color=tokens.CANDIDATE, ms=size)
        _words(axes, place, row.name, gain_text(row.gain), bold=False)
    axes.axhline(rows - 0.45, color=tokens.EDGE, linewidth=0.6)
    _box(axes, rows + 0.1, result.mean, _TALL, filled=True)
    axes.plot([100 * result.mean.estimate], [rows + 0.1], "D", color=tokens.INK, ms=6)
    _words(axes, rows + 0.1, "together", gain_text(result.mean), bold=True)
    _next_engine(axes, rows + 1.1, result.next_engine)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(signed_tick))
    axes.annotate("%", (1, 0), xycoords="axes fraction", xytext=(10, -13), textcoords="offset points", fontsize=8.5)
    called = list(dict.fromkeys((row.candidate, row.baseline) for row in result.campaigns))
    of = f"{called[0][0]} over {called[0][1]}" if len(called) == 1 else "the candidate over the baseline"
    axes.annotate(
        figure_text(
            f"gain of {of} in {quantity_words(result.quantity)}, with {100 * result.confidence:.0f} % intervals"
        ),
        (0, 1),
        xycoords="axes fraction",
        xytext=(-_LEFT * _WIDTH * 72 + 6, 6),
        textcoords="offset points",
    )


def _box(axes: Axes, place: float, interval: Interval, half_height: float, *, filled: bool) -> None:
    left, width = 100 * interval.lower, 100 * (interval.upper - interval.lower)
    corner = (left, place - half_height)
    outline = Rectangle(
        corner,
        width,
        2 * half_height,
        facecolor="none",
        edgecolor=tokens.CANDIDATE,
        linewidth=0.9,
        linestyle="-" if filled else "--",
    )
    if filled:
        tint = Rectangle(
            corner, width, 2 * half_height, facecolor=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0
        )
        axes.add_patch(tint)
    axes.add_patch(outline)


def _words(axes: Axes, place: float, name: str, gain: str, *, bold: bool) -> None:
    """The name left of the axis, the number right of it."""
    face: dict[str, Any] = {"fontfamily": SANS_BOLD, "fontweight": 600, "color": tokens.INK} if bold else {}
    to_axes = axes.get_yaxis_transform()
    axes.text(-0.02, place, figure_text(name), transform=to_axes, ha="right", va="center", **face)
    axes.text(1.02, place, figure_text(gain), transform=to_axes, ha="left", va="center", **face)


def _next_engine(axes: Axes, place: float, interval: Interval | None) -> None:
    if interval is None:
        _words(axes, place, "the next engine", "cannot be known", bold=False)
        return
    _box(axes, place, interval, _BOX, filled=False)
    said = f"{signed(100 * interval.lower, 1)} to {signed(100 * interval.upper, 1)}\u00a0%"
    _words(axes, place, "the next engine", said, bold=False)


def _trend(axes: Axes, result: PoolResult, trend: Trend) -> None:
    scale, colour = trend.unit.scale, tokens.CANDIDATE
    x = trend.moderator / scale
    axes.axhline(0, color=tokens.INK, linewidth=1.0)
    axes.fill_between(
        x, 100 * trend.line_lower, 100 * trend.line_upper, color=colour, alpha=tokens.BAND_OPACITY, linewidth=0
    )
    for edge in (trend.line_lower, trend.line_upper):
        axes.plot(x, 100 * edge, color=colour, linewidth=0.75)
    axes.plot(x, 100 * trend.line, color=colour, linewidth=1.9)
    ends = [(100 * float(trend.line[-1]), "the line", colour)]
    for edge in (trend.next_lower, trend.next_upper):
        if edge.size:
            axes.plot(x, 100 * edge, color=tokens.OPEN, linewidth=0.9, linestyle="--")
    if trend.next_upper.size:
        ends.append((100 * float(trend.next_upper[-1]), "a next engine", tokens.OPEN))
    _campaigns_on_the_line(axes, result, scale)
    room = 0.04 * float(np.ptp(x))
    axes.set_xlim(float(x[0]) - room, float(x[-1]) + room)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    axes.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    unit = printed_symbol(trend.unit)
    axes.annotate(unit, (1, 0), xycoords="axes fraction", xytext=(10, -13), textcoords="offset points", fontsize=8.5)
    head(axes, f"gain, %, over {quantity_words(trend.quantity)} of the baseline, mean of the range")
    end_labels(axes, ends)


def _campaigns_on_the_line(axes: Axes, result: PoolResult, scale: float) -> None:
    """Each campaign with its interval; names go above the box, or below where the next would be hit."""
    known = sorted((row for row in result.campaigns if row.moderator is not None), key=lambda row: row.moderator or 0.0)
    places = [(row.moderator or 0.0) / scale for row in known]
    close = [False, *(b - a < 0.12 * (places[-1] - places[0]) for a, b in pairwise(places))]
    below = False
    for row, place, is_close in zip(known, places, close, strict=True):
        gain = row.gain
        below = is_close and not below
        axes.plot([place, place], [100 * gain.lower, 100 * gain.upper], color=tokens.INK_THIRD, linewidth=0.9)
        axes.plot([place], [100 * gain.estimate], "s", color=tokens.INK, ms=4.5)
        axes.annotate(
            figure_text(row.name),
            (place, 100 * (gain.lower if below else gain.upper)),
            xytext=(0, -9 if below else 3),
            textcoords="offset points",
            ha="center",
            va="center" if below else "bottom",
            fontsize=8,
            bbox={"facecolor": tokens.PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.6},
        )

"""The picture of a comparison: both curves, and beneath them the gain with its band on the same speed axis."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator

from boostwright.publish import tokens
from boostwright.publish.figure_style import (
    SANS_BOLD,
    drawn,
    end_labels,
    figure_text,
    head,
    signed_tick,
    speed_axis,
    thousands,
    title,
)
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.verdict import GAIN, LOSS
from boostwright.studies.words import quantity_words, speed_text
from boostwright.units import printed_symbol

_LEFT, _RIGHT = 0.085, 0.83
_STATE_COLOUR = {GAIN: tokens.CANDIDATE, LOSS: tokens.LOSS}


def compare_figure(result: CompareResult) -> Figure:
    """Draw all pulls and the mean curves, the gain with its band, and the strip that says gain, loss or open."""
    return drawn(lambda: _titled(result))


def compare_plots(result: CompareResult) -> Figure:
    """Draw the same without its verdict, for a page that sets the verdict as text above it."""
    return drawn(lambda: _draw(result, inches=5.7, top=0.955, bottom=0.075))


def _titled(result: CompareResult) -> Figure:
    figure = _draw(result, inches=6.6, top=0.86, bottom=0.065)
    title(figure, result.headline, left=0.012)
    return figure


def _draw(result: CompareResult, *, inches: float, top: float, bottom: float) -> Figure:
    figure = Figure(figsize=(7.2, inches))
    grid = figure.add_gridspec(
        2, 1, left=_LEFT, right=_RIGHT, top=top, bottom=bottom, height_ratios=(1.15, 1), hspace=0.22
    )
    overlay = figure.add_subplot(grid[0])
    gain = figure.add_subplot(grid[1], sharex=overlay)
    _overlay(overlay, result)
    _gain(gain, result)
    speed_axis(gain, 60 * result.range_from, 60 * result.range_to)
    return figure


def _overlay(axes: Axes, result: CompareResult) -> None:
    rpm, unit = 60 * result.curves.engine_speed, result.unit
    for pull in result.pulls:
        colour = tokens.CANDIDATE if pull.setup == result.candidate else tokens.BASELINE
        dash = "-" if pull.setup == result.candidate else tokens.BASELINE_DASH
        look = dash if pull.used else ":"
        axes.plot(rpm, unit.from_si(pull.values), color=colour, lw=0.8, alpha=tokens.PULL_OPACITY, ls=look)
    axes.plot(rpm, unit.from_si(result.curves.baseline), color=tokens.BASELINE, lw=1.7, ls=tokens.BASELINE_DASH)
    axes.plot(rpm, unit.from_si(result.curves.candidate), color=tokens.CANDIDATE, lw=1.9)
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_formatter(FuncFormatter(thousands))
    axes.tick_params(labelbottom=False)
    head(axes, f"{quantity_words(result.quantity)}, {printed_symbol(unit)}")
    end_labels(
        axes,
        [
            (float(unit.from_si(result.curves.baseline[-1])), f"{result.baseline} (A)", tokens.BASELINE),
            (float(unit.from_si(result.curves.candidate[-1])), f"{result.candidate} (B)", tokens.CANDIDATE),
        ],
    )
    left_out = sum(not pull.used for pull in result.pulls)
    note = "thin lines: single pulls" + ("; dotted: left out" if left_out else "")
    axes.annotate(note, (0.98, 0.04), xycoords="axes fraction", ha="right", fontsize=8, color=tokens.INK_THIRD)


def _gain(axes: Axes, result: CompareResult) -> None:
    curves = result.curves
    rpm, gain = 60 * curves.engine_speed, 100 * curves.relative_gain
    lower, upper = 100 * curves.relative_lower, 100 * curves.relative_upper
    low, high = min(0.0, float(np.min(lower))), max(0.0, float(np.max(upper)))
    room = high - low
    axes.set_ylim(low - 0.30 * room, high + 0.06 * room)
    axes.axhline(0, color=tokens.INK, linewidth=1.0)
    axes.fill_between(rpm, lower, upper, color=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0)
    for edge in (lower, upper):
        axes.plot(rpm, edge, color=tokens.CANDIDATE, linewidth=0.75)
    axes.plot(rpm, gain, color=tokens.CANDIDATE, linewidth=1.9)
    _crossings(axes, result)
    _strip(axes, result)
    axes.yaxis.set_major_locator(MaxNLocator(6))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    axes.set_yticks([tick for tick in axes.get_yticks() if low - 0.02 * room <= tick <= high + 0.06 * room])
    head(axes, f"gain of {result.candidate} over {result.baseline}, %")
    end_labels(axes, [(float(gain[-1]), "gain", tokens.CANDIDATE)])
    axes.annotate(
        f"{100 * result.confidence:.0f}\u00a0% band of\nthe whole curve",
        (1, gain[-1]),
        xycoords=("axes fraction", "data"),
        xytext=(6, -9),
        textcoords="offset points",
        va="top",
        fontsize=8,
        color=tokens.INK_THIRD,
    )


def _crossings(axes: Axes, result: CompareResult) -> None:
    """Mark each sign change by a ring and its range by a heavy stretch of the zero line."""
    for crossing in result.crossovers:
        span = (60 * crossing.lower, 60 * crossing.upper)
        axes.plot(span, (0, 0), color=tokens.INK, linewidth=2.6, solid_capstyle="butt")
        axes.plot([60 * crossing.engine_speed], [0], "o", ms=6, mfc=tokens.PAPER, mec=tokens.INK, mew=1.4)
        within = f"{speed_text(crossing.lower)}\u2013{speed_text(crossing.upper)}"
        axes.annotate(
            figure_text(f"changes sign at {speed_text(crossing.engine_speed)}, within {within}"),
            (span[1], 0),
            xytext=(8, -12),
            textcoords="offset points",
            fontsize=8.5,
            color=tokens.INK,
        )


def _strip(axes: Axes, result: CompareResult) -> None:
    """Say the three states along the foot: full for gain, hatched for loss, a dashed outline for open."""
    to_axes = axes.get_xaxis_transform()
    wide = 60 * (result.range_to - result.range_from)
    for part in result.stretches:
        left, width = 60 * part.from_speed, 60 * (part.to_speed - part.from_speed)
        colour = _STATE_COLOUR.get(part.state, tokens.OPEN)
        look: dict[str, Any] = {
            GAIN: {"facecolor": colour, "edgecolor": colour},
            LOSS: {"facecolor": tokens.PAPER, "edgecolor": colour, "hatch": "//////"},
        }.get(part.state, {"facecolor": tokens.PAPER, "edgecolor": colour, "linestyle": "--"})
        axes.add_patch(Rectangle((left, 0.025), width, 0.05, transform=to_axes, linewidth=0.9, **look))
        narrow = width < 0.16 * wide
        if part.state in _STATE_COLOUR or not narrow:
            axes.text(
                left if narrow else left + width / 2,
                0.095,
                part.state,
                transform=to_axes,
                ha="left" if narrow else "center",
                color=colour,
                fontsize=8.5,
                fontfamily=SANS_BOLD,
                fontweight=600,
            )

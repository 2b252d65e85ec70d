"""The picture of limits: how much of each is used at most, and the closest of them against engine speed."""

from typing import Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from boostwright.publish import tokens
from boostwright.publish.figure_style import drawn, figure_text, head, thousands, title
from boostwright.publish.limits_tables import limit_cells
from boostwright.studies.limit_curves import LimitCurve
from boostwright.studies.limits import LimitsResult

Floats: TypeAlias = NDArray[np.float64]

_LEFT, _RIGHT = 0.33, 0.80
_MOST_CURVES = 4
_HIGHEST = 160.0  # percent: what lies beyond is cut off and marked
_LIMIT_HATCH = "#c3acc6"
_BAR, _BOX = 0.62, 0.34


def limits_figure(result: LimitsResult) -> Figure:
    """Draw a bar for each known limit to its highest value with its 95 % box, and the closest limits along speed."""
    return drawn(lambda: _draw(result))


def _draw(result: LimitsResult) -> Figure:
    known = list(result.known)
    rows, curves = max(len(known), 1), min(len(known), _MOST_CURVES)
    panels = (curves + 1) // 2
    bars_height, panel_height, head_height = 0.24 * rows + 0.35, 1.45, 0.8
    height = head_height + bars_height + panels * panel_height + 0.5
    figure = Figure(figsize=(7.2, height))
    title(figure, result.sentence, left=0.012, width_characters=80)
    top = 1.0 - head_height / height
    bars = figure.add_axes((_LEFT, top - bars_height / height, _RIGHT - _LEFT, bars_height / height))
    _bars(bars, result, known)
    if curves:
        grid = figure.add_gridspec(
            panels,
            2,
            left=0.085,
            right=0.955,
            top=top - (bars_height + 0.62) / height,
            bottom=0.35 / height,
            hspace=0.62,
            wspace=0.24,
        )
        for place, curve in enumerate(known[:curves]):
            _along_speed(figure.add_subplot(grid[place // 2, place % 2]), curve)
    return figure


def _bars(axes: Axes, result: LimitsResult, known: list[LimitCurve]) -> None:
    words = {cells.name: cells for cells in limit_cells(result)}
    end = min(_HIGHEST, max([112.0, *(105.0 * curve.greatest.upper for curve in known)]))
    axes.set_xlim(0.0, end)
    axes.set_ylim(len(known) - 0.4, -0.6)
    axes.grid(visible=False)
    axes.axvspan(100.0, end, facecolor="none", edgecolor=_LIMIT_HATCH, hatch="///", linewidth=0, zorder=0)
    axes.axvline(100.0, color=tokens.LIMIT, linewidth=1.6, zorder=4)
    for row, curve in enumerate(known):
        greatest = curve.greatest
        lower, value, upper = (100.0 * share for share in (greatest.lower, greatest.value, greatest.upper))
        colour = tokens.LIMIT if value > 100.0 else tokens.BASELINE
        axes.barh(row, min(value, end), height=_BAR, color=colour, alpha=0.35, linewidth=0, zorder=2)
        box = Rectangle((lower, row - _BOX / 2), min(upper, end) - lower, _BOX)
        box.set(facecolor=colour, alpha=0.45, edgecolor=colour, linewidth=0.7, zorder=3)
        axes.add_patch(box)
        axes.plot([min(value, end)], [row], "|", color=colour, markersize=9, markeredgewidth=2.0, zorder=5)
        cells = words[curve.name]
        _say(axes, curve.name, (0, row), (-6, 0), "right", tokens.INK)
        _say(axes, f"{cells.left} left", (end, row), (6, 0), "left", colour)
    axes.set_yticks([])
    axes.xaxis.set_major_locator(MaxNLocator(6))
    axes.annotate(
        "% of the limit", (1, 0), xycoords="axes fraction", xytext=(8, -13), textcoords="offset points", fontsize=8.5
    )


def _say(axes: Axes, text: str, at: tuple[float, float], shift: tuple[float, float], ha: Any, colour: str) -> None:
    axes.annotate(
        figure_text(text), at, xytext=shift, textcoords="offset points", ha=ha, va="center", fontsize=8.2, color=colour
    )


def _along_speed(axes: Axes, curve: LimitCurve) -> None:
    """Share of one limit against engine speed with its 95 % band; the zone beyond the limit is hatched."""
    rpm = 60.0 * curve.engine_speed
    lower, share, upper = (100.0 * values for values in (curve.lower, curve.share, curve.upper))
    top = max(112.0, 1.08 * float(np.nanmax(np.where(np.isfinite(upper), upper, np.nan))))
    axes.fill_between(rpm, lower, upper, color=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0)
    for edge in (lower, upper):
        axes.plot(rpm, edge, color=tokens.CANDIDATE, linewidth=0.5)
    axes.plot(rpm, share, color=tokens.CANDIDATE, linewidth=1.9)
    axes.axhline(100.0, color=tokens.LIMIT, linewidth=1.4)
    axes.axhspan(100.0, top, facecolor="none", edgecolor=_LIMIT_HATCH, hatch="///", linewidth=0, zorder=0)
    axes.set_ylim(0.0, top)
    axes.set_xlim(float(rpm[0]), float(rpm[-1]))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    head(axes, f"{curve.name}, % of its limit at rev/min")

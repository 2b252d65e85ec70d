"""The picture of a study of designs: gain over one or two varied numbers, the limits' lines, and the best design."""

import textwrap
from typing import Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MaxNLocator
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from boostwright.publish import tokens
from boostwright.publish.figure_style import SANS_BOLD, drawn, figure_text, head, signed_tick, thousands, title
from boostwright.studies.vary import Variation
from boostwright.studies.vary_result import VaryResult, design_text, gain_text, objective_text, sets_text
from boostwright.units import printed_symbol

Floats: TypeAlias = NDArray[np.float64]

LIMIT_LOOKS = ("-", (0, (5.0, 2.0)), (0, (1.5, 1.5)), (0, (6.0, 1.5, 1.5, 1.5)))
_MAP = LinearSegmentedColormap.from_list("gain", ["#c8763c", "#f0dccb", tokens.PAPER, "#cfdfee", "#4f86b8"])
_HALO: Any = [withStroke(linewidth=2.6, foreground=tokens.PAPER)]
_HATCH = "#c3acc6"  # the limit's colour, thinned: the zone must not outshout the line
_SAME = 1e-6  # of a range: designs that agree this well in a number are on one slice


def vary_figure(result: VaryResult) -> Figure:
    """Draw the gain over the first two varied numbers as contours, or over the only one as a curve with its range."""
    return drawn(lambda: _curve(result) if len(result.study.variations) == 1 else _contours(result))


def contour_rows(result: VaryResult) -> NDArray[np.intp]:
    """Rows that the contours are drawn from: possible designs that agree with the shown one in all further numbers.

    Where designs are scattered, so that hardly any agree, all possible ones are taken.
    """
    scores, variations = result.scores, result.study.variations
    possible = np.flatnonzero(scores.is_possible[1:]) + 1
    if result.shown is None or len(variations) <= 2:
        return possible
    reach = np.array([v.high - v.low for v in variations])
    apart = np.abs(scores.designs[possible] - scores.designs[result.shown]) / reach
    alike = possible[(apart[:, 2:] <= _SAME).all(axis=1)]
    return alike if len(alike) >= 4 else possible


def _contours(result: VaryResult) -> Figure:
    figure = Figure(figsize=(7.2, 6.2))
    title(figure, result.headline, left=0.012, width_characters=84)
    axes = figure.add_axes((0.1, 0.17, 0.76, 0.62))
    first, second, *further = result.study.variations
    rows = contour_rows(result)
    places = np.stack([_shown(v, result.scores.designs[:, i]) for i, v in enumerate((first, second))], axis=1)
    axes.set_xlim(*_shown(first, np.array([first.low, first.high])))
    axes.set_ylim(*_shown(second, np.array([second.low, second.high])))
    axes.grid(visible=False)
    if _spans_a_plane(places[rows]):
        mesh = Triangulation(places[rows, 0], places[rows, 1])
        _gain_contours(figure, axes, mesh, result.verdicts.gain.value[rows])
        names = _limit_contours(axes, mesh, result, rows)
        _limit_words(figure, names)
    else:
        gain = result.verdicts.gain.value[rows]
        axes.scatter(places[rows, 0], places[rows, 1], c=gain, cmap=_MAP, norm=_norm(gain), edgecolors=tokens.EDGE)
    axes.plot(places[rows, 0], places[rows, 1], ".", ms=2.2, color=tokens.INK_THIRD, alpha=0.5, zorder=3)
    _marks(axes, result, places)
    _names(axes, first, second)
    further_text = "; the other numbers as in the shown design" if further else ""
    _foot(figure, result, f"dots: designs matched{further_text}{_outside(result)}")
    return figure


def _shown(variation: Variation, values: Floats) -> Floats:
    return np.asarray(variation.unit.from_si(values))


def _spans_a_plane(places: Floats) -> bool:
    if len(places) < 4:
        return False
    spread = np.ptp(places, axis=0)
    return bool((spread > 0.0).all()) and np.linalg.matrix_rank((places - places.mean(axis=0)) / spread, 1e-6) == 2


def _norm(gain: Floats) -> TwoSlopeNorm:
    reach = max(float(np.max(np.abs(gain))), 1e-6)
    return TwoSlopeNorm(0.0, -reach, reach)


def _gain_contours(figure: Figure, axes: Axes, mesh: Triangulation, gain: Floats) -> None:
    levels = MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]).tick_values(float(gain.min()), float(gain.max()))
    filled = axes.tricontourf(mesh, gain, levels=levels, cmap=_MAP, norm=_norm(gain))
    lines = axes.tricontour(mesh, gain, levels=levels, colors=tokens.EDGE, linewidths=0.6)
    axes.clabel(lines, fmt=FuncFormatter(signed_tick), fontsize=8, colors=tokens.INK_SECOND)
    bar = figure.colorbar(filled, cax=figure.add_axes((0.885, 0.17, 0.022, 0.62)), format=FuncFormatter(signed_tick))
    bar.outline.set_visible(False)  # type: ignore[operator]
    bar.ax.annotate("gain, kW", (0, 1), xycoords="axes fraction", xytext=(0, 7), textcoords="offset points")


def _limit_contours(axes: Axes, mesh: Triangulation, result: VaryResult, rows: NDArray[np.intp]) -> list[str]:
    """The line where each limit is just used up, hatched beyond; the names of the limits that have one here."""
    named: list[str] = []
    for number, name in enumerate(result.study.limit_names):
        used = result.scores.used[rows, number]
        if not np.isfinite(used).all() or not used.min() < 1.0 < used.max():
            continue
        look = LIMIT_LOOKS[len(named) % len(LIMIT_LOOKS)]
        axes.tricontour(mesh, used, levels=[1.0], colors=tokens.LIMIT, linewidths=1.8, linestyles=[look], zorder=4)
        beyond = axes.tricontourf(mesh, used, levels=[1.0, np.inf], colors="none", hatches=["//"], zorder=2)
        beyond.set(edgecolor=_HATCH, linewidth=0.0)
        named.append(name)
    return named


def _limit_words(figure: Figure, names: list[str]) -> None:
    for place, name in enumerate(names):
        height = 0.075 - 0.022 * (place // 2)
        left = 0.1 + 0.45 * (place % 2)
        line = figure.add_axes((left, height, 0.05, 0.012))
        line.axis("off")
        line.plot([0, 1], [0, 0], color=tokens.LIMIT, linewidth=1.8, linestyle=LIMIT_LOOKS[place % len(LIMIT_LOOKS)])
        figure.text(left + 0.06, height, figure_text(f"{name} at its limit"), fontsize=8, color=tokens.LIMIT)


def _marks(axes: Axes, result: VaryResult, places: Floats) -> None:
    """The build as it stands, and the best design with its gain."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    if left <= places[0, 0] <= right and low <= places[0, 1] <= high:
        axes.plot(*places[0], "s", ms=7, mfc=tokens.PAPER, mec=tokens.BASELINE, mew=1.6, zorder=6, clip_on=False)
        _label(axes, places[0], "as it stands", tokens.BASELINE)
    if (shown := result.shown) is not None:
        axes.plot(*places[shown], "o", ms=9, mfc=tokens.CANDIDATE, mec=tokens.PAPER, mew=1.4, zorder=7, clip_on=False)
        word = "best" if result.best is not None else "nearest"
        _label(axes, places[shown], f"{word}: {gain_text(result.verdicts.gain, shown)}", tokens.CANDIDATE)


def _label(axes: Axes, place: Floats, text: str, colour: str) -> None:
    """Beside its mark, on the side with more room."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    to_the_left, above = (place[0] - left) / (right - left) > 0.6, (place[1] - low) / (high - low) < 0.85
    axes.annotate(
        figure_text(text),
        (float(place[0]), float(place[1])),
        xytext=(-9 if to_the_left else 9, 8 if above else -14),
        textcoords="offset points",
        ha="right" if to_the_left else "left",
        color=colour,
        fontfamily=SANS_BOLD,
        fontweight=600,
        path_effects=_HALO,
        zorder=8,
        annotation_clip=False,
    )


def _names(axes: Axes, first: Variation, second: Variation) -> None:
    head(axes, _name(second))
    axes.annotate(
        figure_text(_name(first)),
        (1, 0),
        xycoords="axes fraction",
        xytext=(0, -24),
        textcoords="offset points",
        ha="right",
    )
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(thousands))
        axis.set_major_locator(MaxNLocator(7, steps=[1, 2, 2.5, 5, 10]))


def _name(variation: Variation) -> str:
    return f"{variation.key_path}, {printed_symbol(variation.unit)}".rstrip(", ")


def _curve(result: VaryResult) -> Figure:
    figure = Figure(figsize=(7.2, 5.0))
    title(figure, result.headline, left=0.012, width_characters=84)
    axes = figure.add_axes((0.085, 0.15, 0.88, 0.6))
    (variation,) = result.study.variations
    rows = np.flatnonzero(result.scores.is_possible[1:]) + 1
    rows = rows[np.argsort(result.scores.designs[rows, 0])]
    x, gain = _shown(variation, result.scores.designs[:, 0]), result.verdicts.gain
    axes.axhline(0.0, color=tokens.EDGE, linewidth=0.8)
    axes.fill_between(
        x[rows], gain.lower[rows], gain.upper[rows], color=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0
    )
    for edge in (gain.lower, gain.upper):
        axes.plot(x[rows], edge[rows], color=tokens.CANDIDATE, linewidth=0.5)
    axes.plot(x[rows], gain.value[rows], color=tokens.CANDIDATE, linewidth=1.9)
    _limit_spans(axes, result, x, rows)
    _marks(axes, result, np.stack([x, gain.value], axis=1))
    head(axes, "gain, kW")
    axes.annotate(
        figure_text(_name(variation)),
        (1, 0),
        xycoords="axes fraction",
        xytext=(0, -26),
        textcoords="offset points",
        ha="right",
    )
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    _foot(figure, result, "band: 95 % range")
    return figure


def _limit_spans(axes: Axes, result: VaryResult, x: Floats, rows: NDArray[np.intp]) -> None:
    """Where a limit is used up: a hatched stretch with its name."""
    for number, name in enumerate(result.study.limit_names):
        used = result.scores.used[rows, number]
        if np.isfinite(used).all() and used.max() > 1.0:
            over = x[rows][used > 1.0]
            axes.axvspan(over.min(), over.max(), facecolor="none", edgecolor=_HATCH, hatch="//", linewidth=0)
            axes.annotate(
                figure_text(f"{name} over its limit"),
                (float(over.min()), 0.02),
                xycoords=("data", "axes fraction"),
                xytext=(4, 3 + 11 * (number % 4)),
                textcoords="offset points",
                fontsize=8,
                color=tokens.LIMIT,
                path_effects=_HALO,
            )


def _outside(result: VaryResult) -> str:
    """Where the build as it stands is, if that is outside of what was varied."""
    outside = [not v.low <= v.present <= v.high for v in result.study.variations]
    return f"; as it stands: {design_text(result.study, result.scores.designs[0])}" if any(outside) else ""


def _foot(figure: Figure, result: VaryResult, further: str) -> None:
    """What is drawn, and of what it is the range."""
    text = f"Gain in {objective_text(result.study, result.goal)}, mean of {sets_text(result.study)}; {further}."
    lines = textwrap.wrap(figure_text(text), width=140, break_long_words=False)
    figure.text(0.012, 0.008, "\n".join(lines), fontsize=7.5, color=tokens.INK_THIRD)

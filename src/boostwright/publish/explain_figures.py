"""The pictures of an explanation: the gain by its causes, what the data determined, and measured against fitted."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from boostwright.inference.attribution import CAUSES
from boostwright.inference.calibrate import LOGARITHMIC
from boostwright.nomenclature import WORDS
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
from boostwright.studies.explain_result import (
    Band,
    CauseTerm,
    ExplainResult,
    FittedChannel,
    FittedCurve,
    ParameterRow,
)
from boostwright.studies.words import NO_BREAK, number, quantity_words, signed_plus_minus
from boostwright.units import System, Unit, display_unit, parse_unit, printed_symbol

Floats: TypeAlias = NDArray[np.float64]

OTHERS = "smaller causes"
THINNEST = 0.06  # of the height of the stack: a cause that is nowhere thicker cannot be told by its hatch
MOST_UNKNOWNS = 44

_WIDE, _LEFT = 7.2, 0.085  # inches, and a share of them
_HALO: Any = [withStroke(linewidth=2.6, foreground=tokens.PAPER)]
_LOOKS: dict[str, tuple[str, str]] = {  # grey and hatch of each cause, told apart in grey print
    "inlet": ("#f4f4f4", "////"),
    "filling": ("#c9c9c9", ""),
    "leakage": ("#ececec", ".."),
    "belt slip": ("#dcdcdc", "\\\\\\\\"),
    "drive loss": ("#f8f8f8", "----"),
    "charge cooling": ("#e0e0e0", "xxxx"),
    "weather": ("#ffffff", "|||"),
    "mixture": ("#e8e8e8", "++++"),
    "drive ratio": ("#a9a9a9", ""),
    "blower size": ("#b5b5b5", "---"),
    "bypass": ("#a0a0a0", ".."),
    "engine": ("#ffffff", "*"),
}
_PLAIN = ("#ffffff", "")


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer of the stack: what its cause adds over engine speed, as a share of the baseline's power."""

    name: str
    values: Floats
    look: tuple[str, str]


def stack_layers(result: ExplainResult) -> tuple[Layer, ...]:
    """The causes that are shown or thick enough to be told apart, largest first, then the sum of all others.

    Together they are the gain that the fitted chain gives, at every speed.
    """
    every = (*result.causes, result.interaction)
    stacked = np.array([term.relative_gain.values for term in every])
    height = float(np.max(np.clip(stacked, 0, None).sum(axis=0)) - np.min(np.clip(stacked, None, 0).sum(axis=0)))
    thick = [
        bool(np.max(np.abs(values)) >= THINNEST * height)
        or (term is not result.interaction and term.relative_gain.is_shown)
        for term, values in zip(every, stacked, strict=True)
    ]
    layers = [
        Layer(name=term.name, values=values, look=_look(term))
        for term, values, shown in zip(every, stacked, thick, strict=True)
        if shown
    ]
    thin = stacked[~np.array(thick)]
    return (*layers, Layer(name=OTHERS, values=thin.sum(axis=0), look=_PLAIN)) if len(thin) else tuple(layers)


def _look(term: CauseTerm) -> tuple[str, str]:
    """A merged cause looks like the first of its parts in the order of the causes."""
    ordered = [cause.name for cause in CAUSES if cause.name in term.parts]
    return _LOOKS.get(ordered[0], _PLAIN) if ordered else _PLAIN


def attribution_figure(result: ExplainResult) -> Figure:
    """Draw the causes stacked over engine speed under the measured gain, and each cause's mean with its interval."""
    return drawn(lambda: _attribution(result))


def _attribution(result: ExplainResult) -> Figure:
    rows = _share_rows(result)
    stack_inches, share_inches = 3.35, 0.215 * len(rows)
    figure, tall = _titled(result.headline, stack_inches + 0.85 + share_inches + 0.42)
    foot = 0.42 + share_inches + 0.85
    stack = figure.add_axes((_LEFT, foot / tall, 0.745 - _LEFT, stack_inches / tall))
    shares = figure.add_axes((0.30, 0.42 / tall, 0.49, share_inches / tall))
    _stack(stack, result)
    _shares(shares, rows)
    return figure


def _titled(text: str, inches: float) -> tuple[Figure, float]:
    """A figure with room of this height under its title and the first head; with its whole height."""
    figure = Figure(figsize=(_WIDE, inches))
    title(figure, text, left=0.012, width_characters=74)
    tall = inches + 0.42 + 0.235 * (1 + figure.texts[0].get_text().count("\n"))
    figure.set_size_inches(_WIDE, tall)
    figure.texts[0].set_y(1 - 0.07 / tall)
    return figure, tall


def _stack(axes: Axes, result: ExplainResult) -> None:
    rpm = 60 * result.engine_speed
    fine = np.linspace(rpm[0], rpm[-1], 121)  # fine enough that a layer changes sign where it does
    layers = stack_layers(result)
    values = 100 * np.array([np.interp(fine, rpm, layer.values) for layer in layers])
    parts = _stacked(values)
    measured = result.measured_gain.relative_gain
    lower, upper = 100 * measured.lower, 100 * measured.upper
    low, high = min(0.0, float(np.min(parts)), float(np.min(lower))), max(float(np.max(parts)), float(np.max(upper)))
    axes.set_ylim(low - 0.04 * (high - low), high + 0.06 * (high - low))
    for layer, edges in zip(layers, parts, strict=True):
        colour, hatch = layer.look
        for foot, top in edges:
            if np.any(top > foot):
                look: dict[str, Any] = {"facecolor": colour, "edgecolor": tokens.INK_THIRD, "hatch": hatch or None}
                axes.fill_between(fine, foot, top, where=_widened(top > foot), linewidth=0.5, **look)
    axes.axhline(0, color=tokens.INK, linewidth=1.0)
    together = 100 * result.together.relative_gain.values
    axes.plot(rpm, together, color=tokens.INK, linewidth=1.1, linestyle=(0, (1, 1.6)), path_effects=_HALO)
    axes.fill_between(rpm, lower, upper, color=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0)
    for edge in (lower, upper):
        axes.plot(rpm, edge, color=tokens.CANDIDATE, linewidth=0.75)
    axes.plot(rpm, 100 * measured.values, color=tokens.CANDIDATE, linewidth=2.2, path_effects=_HALO)
    axes.yaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    head(axes, f"gain in power of {result.candidate} over {result.baseline}, % of {result.baseline}'s power")
    speed_axis(axes, float(rpm[0]), float(rpm[-1]))
    labels = [(float(100 * measured.values[-1]), "measured gain", tokens.CANDIDATE)]
    labels.append((float(together[-1]), "all causes together", tokens.INK))
    labels += _layer_labels(axes, layers, fine, parts)
    _margin_labels(axes, labels)


def _stacked(values: Floats) -> Floats:
    """Edges (layers, adding or taking away, foot or top, speeds): what adds grows up from zero, the rest grows down."""
    above, below = np.clip(values, 0, None), np.clip(values, None, 0)
    rise, fall = np.cumsum(above, axis=0), np.cumsum(below, axis=0)
    return np.stack([np.stack([rise - above, rise], axis=1), np.stack([fall, fall - below], axis=1)], axis=1)


def _widened(where: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The same with one more place at each end, so that a layer runs out to nothing."""
    return where | np.roll(where, 1) | np.roll(where, -1)


def _layer_labels(axes: Axes, layers: Sequence[Layer], x: Floats, parts: Floats) -> list[tuple[float, str, str]]:
    """Name a layer at its right end; one that is too thin there is named inside, where it is thickest."""
    low, high = axes.get_ylim()
    at_end: list[tuple[float, str, str]] = []
    for layer, edges in zip(layers, parts, strict=True):
        thickness = (edges[:, 1] - edges[:, 0]) / (high - low)
        middles = edges.mean(axis=1)
        side, place = np.unravel_index(int(np.argmax(thickness[:, 15:-15])), thickness[:, 15:-15].shape)
        last = int(np.argmax(thickness[:, -1]))
        if thickness[last, -1] >= 0.25 * THINNEST or thickness[side, 15 + place] < THINNEST:
            at_end.append((float(middles[last, -1]), layer.name, tokens.INK_SECOND))
        else:
            place, middle = 15 + place, middles[side, 15 + place]
            axes.text(
                x[place], middle, layer.name, ha="center", va="center", color=tokens.INK_SECOND, path_effects=_HALO
            )
    return at_end


def _margin_labels(axes: Axes, labels: Sequence[tuple[float, str, str]]) -> None:
    """Name what ends at the right edge, pushed apart, each joined to its end by a hairline."""
    low, high = axes.get_ylim()
    figure = axes.figure
    points = axes.get_position().height * figure.get_figheight() * 72.0  # type: ignore[union-attr]
    order = sorted(range(len(labels)), key=lambda i: labels[i][0])
    texts = [textwrap.fill(label[1], 21, break_on_hyphens=False) for label in labels]
    sizes = [11.5 * (1 + text.count("\n")) for text in texts]
    wanted = [(labels[i][0] - low) / (high - low) * points for i in order]
    places = _apart(wanted, [sizes[i] for i in order], points)
    for i, end, place in zip(order, wanted, places, strict=True):
        axes.annotate(
            figure_text(texts[i]),
            (1, end / points),
            xycoords="axes fraction",
            xytext=(24, place - end),
            textcoords="offset points",
            va="center",
            color=labels[i][2],
            fontfamily=SANS_BOLD,
            fontweight=600,
            linespacing=1.0,
            arrowprops={"arrowstyle": "-", "color": tokens.EDGE, "linewidth": 0.6, "shrinkA": 2, "shrinkB": 1},
        )


def _apart(wanted: Sequence[float], sizes: Sequence[float], room: float) -> list[float]:
    """Places near the wanted ones, in their order, that leave each label its size; moved as little as is easy."""
    gaps = [(a + b) / 2 for a, b in pairwise(sizes)]
    up = list(wanted)
    for k in range(1, len(up)):
        up[k] = max(up[k], up[k - 1] + gaps[k - 1])
    down = list(wanted)
    for k in range(len(down) - 2, -1, -1):
        down[k] = min(down[k], down[k + 1] - gaps[k])
    places = [(a + b) / 2 for a, b in zip(up, down, strict=True)]
    over = max(0.0, places[-1] + sizes[-1] / 2 - room) if places else 0.0
    return [place - over for place in places]


@dataclass(frozen=True, kw_only=True)
class _ShareRow:
    term: CauseTerm
    look: tuple[str, str]
    edge: str = tokens.INK_THIRD
    dash: str = "-"
    words: str = ""


def _share_rows(result: ExplainResult) -> list[_ShareRow]:
    least = 0.02 * result.measured_gain.relative_gain.half_width  # an interaction narrower than that cannot be seen
    seen = [result.interaction] if result.interaction.relative_gain.half_width > least else []
    return [
        *[_ShareRow(term=term, look=_look(term)) for term in (*result.causes, *seen)],
        _ShareRow(term=result.together, look=_PLAIN, edge=tokens.INK, words="all causes together"),
        _ShareRow(term=result.unexplained, look=_PLAIN, edge=tokens.OPEN, dash="--", words="not explained"),
        _ShareRow(term=result.measured_gain, look=(tokens.CANDIDATE, ""), edge=tokens.CANDIDATE),
    ]


def _shares(axes: Axes, rows: Sequence[_ShareRow]) -> None:
    """Each term's mean over the range: a mark in a box as wide as its interval, on one common axis."""
    axes.set_ylim(len(rows) - 0.5, -0.5)
    ends = [100 * end for row in rows for end in (row.term.relative_gain.mean_lower, row.term.relative_gain.mean_upper)]
    room = 0.03 * (max(ends) - min(ends))
    axes.set_xlim(min(0.0, *ends) - room, max(0.0, *ends) + room)
    axes.grid(visible=False, axis="y")
    axes.axvline(0, color=tokens.INK, linewidth=1.0, zorder=1)
    for place, row in enumerate(rows):
        band, (colour, hatch) = row.term.relative_gain, row.look
        left, width = 100 * band.mean_lower, 100 * (band.mean_upper - band.mean_lower)
        solid = {"alpha": tokens.BAND_OPACITY} if row.edge == tokens.CANDIDATE else {}
        look: dict[str, Any] = {"facecolor": colour, "hatch": hatch or None, "edgecolor": row.edge, "linewidth": 0}
        frame: dict[str, Any] = {"facecolor": "none", "edgecolor": row.edge, "linestyle": row.dash, "linewidth": 0.9}
        for part in (look | solid, frame):
            box: dict[str, Any] = {"xy": (left, place - 0.27), "width": width, "height": 0.54, **part}
            axes.add_patch(Rectangle(**box))
        mean = 100 * band.mean
        axes.plot([mean, mean], [place - 0.38, place + 0.38], color=row.edge, linewidth=2.0, path_effects=_HALO)
        _share_words(axes, place, row)
    axes.set_yticks([])
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(signed_tick))
    axes.annotate(
        "mean over the range with its 95\u00a0% interval, % of power",
        (0, 1),
        xycoords="axes fraction",
        xytext=((_LEFT - 0.30) * _WIDE * 72 - 34, 9),
        textcoords="offset points",
    )


def _share_words(axes: Axes, place: int, row: _ShareRow) -> None:
    band = row.term.relative_gain
    bold = row.term.relative_gain.is_shown
    face: dict[str, Any] = {"fontfamily": SANS_BOLD, "fontweight": 600} if bold else {}
    colour = tokens.CANDIDATE if row.edge == tokens.CANDIDATE else tokens.INK_SECOND
    size = signed_plus_minus(100 * band.mean, 100 * band.half_width, "%")
    for text, x, shift, ha in ((row.words or row.term.name, 0, -8, "right"), (size, 1, 8, "left")):
        axes.annotate(
            figure_text(text),
            (x, place),
            xycoords=("axes fraction", "data"),
            xytext=(shift, 0),
            textcoords="offset points",
            ha=ha,
            va="center",
            color=colour,
            **face,
        )


def parameter_figure(result: ExplainResult) -> Figure:
    """Draw each unknown before and after the data, on the scale of its prior, with the share of variance removed."""
    return drawn(lambda: _parameters(result))


def shown_unknowns(result: ExplainResult) -> list[ParameterRow]:
    """Unknowns by how much the data told of them, those that nothing was told of left out where there are too many."""
    return sorted(result.parameters, key=lambda row: -row.share_removed)[:MOST_UNKNOWNS]


def _parameters(result: ExplainResult) -> Figure:
    rows = shown_unknowns(result)
    inches = 0.172 * len(rows)
    figure, tall = _titled(result.parameter_sentence, inches + 0.62)
    axes = figure.add_axes((0.36, 0.5 / tall, 0.46, inches / tall))
    reach = max(2.5, *(max(abs(row.standardised.lower), abs(row.standardised.upper)) for row in rows))
    axes.set_xlim(-1.04 * reach, 1.04 * reach)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.grid(visible=False, axis="y")
    for sd in (-2, 0, 2):
        axes.axvline(sd, color=tokens.GRID, linewidth=0.6, zorder=0)
    for place, row in enumerate(rows):
        _parameter_row(axes, place, row)
    axes.set_yticks([])
    axes.xaxis.set_major_locator(MaxNLocator(9, integer=True))
    axes.xaxis.set_major_formatter(FuncFormatter(signed_tick))
    left_out = len(result.parameters) - len(rows)
    more = f"; {left_out} more of which nothing was told are in the table" if left_out else ""
    for text, place, shift, ha in (
        ("outline: assumed, bar: after the data; 95\u00a0% ranges", (0, 1), (0, 5), "left"),
        ("variance\nremoved", (1, 1), (8, 5), "left"),
        (f"standard deviations of what was assumed{more}", (0.5, 0), (0, -28), "center"),
    ):
        axes.annotate(
            text, place, xycoords="axes fraction", xytext=shift, textcoords="offset points", ha=ha, fontsize=8.5
        )
    return figure


def _parameter_row(axes: Axes, place: int, row: ParameterRow) -> None:
    after = row.standardised
    axes.add_patch(
        Rectangle(
            (-1.96, place - 0.34), width=3.92, height=0.68, facecolor="none", edgecolor=tokens.EDGE, linewidth=0.7
        )
    )
    colour = tokens.CANDIDATE if row.is_determined else tokens.OPEN
    fill: dict[str, Any] = {"facecolor": colour} if row.is_determined else {"facecolor": "#dddddd"}
    axes.add_patch(
        Rectangle((after.lower, place - 0.2), after.upper - after.lower, 0.4, edgecolor=colour, linewidth=0.7, **fill)
    )
    mark = tokens.PAPER if row.is_determined else tokens.INK_SECOND
    axes.plot([after.value, after.value], [place - 0.2, place + 0.2], color=mark, linewidth=1.2)
    face: dict[str, Any] = {"fontfamily": SANS_BOLD, "fontweight": 600} if row.is_determined else {}
    for text, x, shift, ha in (
        (quantity_words(row.name), 0, -8, "right"),
        (f"{number(100 * row.share_removed)}{NO_BREAK}%", 1, 34, "right"),
    ):
        axes.annotate(
            text,
            (x, place),
            xycoords=("axes fraction", "data"),
            xytext=(shift, 0),
            textcoords="offset points",
            ha=ha,
            va="center",
            fontsize=8.5,
            **face,
        )


def fit_figure(result: ExplainResult, system: System = "metric") -> Figure:
    """Draw every logged channel of both setups, measured and fitted, and beside it what is left between them."""
    return drawn(lambda: _fit(result, system))


def _fit(result: ExplainResult, system: System) -> Figure:
    each, gap, below = 1.12, 0.42, 0.5
    figure, tall = _titled(result.fit_sentence, len(result.channels) * (each + gap) - gap + below)
    for place, channel in enumerate(reversed(result.channels)):
        foot = below + place * (each + gap)
        curves = figure.add_axes((_LEFT, foot / tall, 0.36, each / tall))
        residuals = figure.add_axes((0.665, foot / tall, 0.27, each / tall))
        _channel_curves(curves, channel, result, system)
        _channel_residuals(residuals, channel, result, system)
        for axes in (curves, residuals):
            axes.set_xlim(60 * result.engine_speed[0], 60 * result.engine_speed[-1])
            axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
            axes.xaxis.set_major_formatter(FuncFormatter(thousands))
            axes.tick_params(labelbottom=place == 0)
    figure.text(0.535, 0.27 / tall, "rev/min", fontsize=8.5, ha="center")
    note = "thin lines: 95\u00a0% error of a point"
    figure.text(0.665 + 0.27, 0.06 / tall, note, fontsize=8, ha="right", color=tokens.INK_THIRD)
    return figure


def _printed_unit(channel: FittedChannel, system: System) -> Unit:
    return display_unit(parse_unit(WORDS[channel.name].unit).dimension, system)


def _symbol(unit: Unit) -> str:
    return "rev/min" if unit.symbol == "rpm" else printed_symbol(unit)


def _setups(channel: FittedChannel, result: ExplainResult) -> tuple[tuple[str, FittedCurve, str, Any, str], ...]:
    """Both setups with the colour, dash and mark that they have everywhere."""
    return (
        (f"{result.baseline} (A)", channel.baseline, tokens.BASELINE, tokens.BASELINE_DASH, "o"),
        (f"{result.candidate} (B)", channel.candidate, tokens.CANDIDATE, "-", "s"),
    )


def _channel_curves(axes: Axes, channel: FittedChannel, result: ExplainResult, system: System) -> None:
    rpm, unit = 60 * result.engine_speed, _printed_unit(channel, system)
    ends: list[tuple[float, str, str]] = []
    for name, curve, colour, dash, mark in _setups(channel, result):
        band: Band = curve.fitted
        axes.fill_between(
            rpm, unit.from_si(band.lower), unit.from_si(band.upper), color=colour, alpha=tokens.BAND_OPACITY, lw=0
        )
        axes.plot(rpm, unit.from_si(band.values), color=colour, linewidth=1.3, linestyle=dash)
        axes.plot(
            rpm, unit.from_si(curve.measured), mark, color=colour, ms=3.2, mfc=tokens.PAPER, mew=0.9, clip_on=False
        )
        ends.append((float(unit.from_si(curve.measured[-1])), name, colour))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.yaxis.set_major_formatter(FuncFormatter(thousands))
    head(axes, f"{quantity_words(channel.name)}, {_symbol(unit)}")
    end_labels(axes, ends)


def _channel_residuals(axes: Axes, channel: FittedChannel, result: ExplainResult, system: System) -> None:
    """Measured less fitted of both setups over the 95 % error of a point; in per cent where a ratio is compared."""
    rpm, unit = 60 * result.engine_speed, _printed_unit(channel, system)
    relative = channel.name in LOGARITHMIC
    heights: list[float] = []
    for _, curve, colour, dash, mark in _setups(channel, result):
        size = 0.01 * curve.fitted.values if relative else unit.scale
        error, left = curve.measured_half_width / size, curve.residual / size
        for edge in (-error, error):
            axes.plot(rpm, edge, color=tokens.EDGE, linewidth=0.7, linestyle=dash)
        face = tokens.PAPER if mark == "o" else colour
        axes.plot(rpm, left, mark, color=colour, ms=3.6, mfc=face, mew=0.9, clip_on=False)
        heights += [float(np.max(error)), float(np.max(np.abs(left)))]
    axes.axhline(0, color=tokens.INK, linewidth=0.9)
    axes.set_ylim(-1.2 * max(heights), 1.2 * max(heights))
    axes.yaxis.set_major_locator(MaxNLocator(4, symmetric=True))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    head(axes, f"measured less fitted, {'%' if relative else _symbol(unit).replace('°C', 'K')}")

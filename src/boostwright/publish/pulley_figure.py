"""The picture of a pulley chart: boost and power against the ratio, and the chance of breaking each limit."""

from typing import TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from boostwright.publish import tokens
from boostwright.publish.figure_style import SANS, SANS_BOLD, drawn, end_labels, figure_text, head, thousands, title
from boostwright.studies.limit_curves import Estimate, LimitCurve
from boostwright.studies.pulleys import PulleyChart, PulleyPlace
from boostwright.studies.words import speed_text

Floats: TypeAlias = NDArray[np.float64]

_LEFT, _RIGHT = 0.085, 0.80
_MOST_NAMED = 4
_LINES = ("-", (0, (5, 1.6)), (0, (1.4, 1.4)), (0, (5, 1.4, 1.2, 1.4)))
_LIMIT_HATCH = "#c3acc6"


def pulley_figure(chart: PulleyChart) -> Figure:
    """Draw boost and power at the target speed in both places, and the chances of breaking a limit, over the ratio."""
    return drawn(lambda: _draw(chart))


def limit_chances(chart: PulleyChart) -> dict[str, Floats]:
    """Chance of each known limit at each pulley, in the place where it is higher; those never broken are left out."""
    names = {curve.name for row in chart.rows for place in (row.reference, row.hot) for curve in place.limits}
    chances: dict[str, Floats] = {}
    for name in sorted(names):
        values = [max(_chance(place, name) for place in (row.reference, row.hot)) for row in chart.rows]
        if max(values) > 0.0:
            chances[name] = np.array(values)
    return dict(sorted(chances.items(), key=lambda item: -float(item[1].sum())))


def _chance(place: PulleyPlace, name: str) -> float:
    curve: LimitCurve = next(curve for curve in place.limits if curve.name == name)
    return curve.chance if curve.is_known else 0.0


def _draw(chart: PulleyChart) -> Figure:
    figure = Figure(figsize=(7.2, 6.5))
    title(figure, chart.sentence, left=0.012, width_characters=80)
    grid = figure.add_gridspec(3, 1, left=_LEFT, right=_RIGHT, top=0.755, bottom=0.08, hspace=0.5)
    boost = figure.add_subplot(grid[0])
    power, chance = (figure.add_subplot(grid[k], sharex=boost) for k in (1, 2))
    speed = f"at {speed_text(chart.question.target_speed)} rev/min"
    _curves(boost, chart, "boost", f"boost {speed}, kPa")
    _curves(power, chart, "brake_power", f"power {speed}, kW")
    _chances(chance, chart)
    for axes in (boost, power):
        axes.tick_params(labelbottom=False)
    _pulleys(boost, chart)
    _ratio_axis(chance, chart)
    return figure


def _ratios(chart: PulleyChart) -> Floats:
    return np.array([row.pulley.drive_ratio for row in chart.rows])


def _curves(axes: Axes, chart: PulleyChart, word: str, text: str) -> None:
    ratios, labels = _ratios(chart), list[tuple[float, str, str]]()
    for name, colour, dash in (("reference", tokens.CANDIDATE, "-"), ("hot", tokens.BASELINE, tokens.BASELINE_DASH)):
        estimates: list[Estimate] = [getattr(getattr(row, name), word) for row in chart.rows]
        lower, value, upper = (
            np.array([getattr(estimate, end) for estimate in estimates]) / 1e3 for end in ("lower", "value", "upper")
        )
        axes.fill_between(ratios, lower, upper, color=colour, alpha=tokens.BAND_OPACITY, linewidth=0)
        for edge in (lower, upper):
            axes.plot(ratios, edge, color=colour, linewidth=0.5, linestyle=dash)
        axes.plot(ratios, value, color=colour, linewidth=1.9, linestyle=dash, marker="o", markersize=3.2)
        labels.append((float(value[-1]), name, colour))
    if (target := chart.question.target) is not None and target.word == word:
        axes.axhline(target.value / 1e3, color=tokens.INK, linewidth=1.0)
        labels.append((target.value / 1e3, "wanted", tokens.INK))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.yaxis.set_major_formatter(FuncFormatter(thousands))
    head(axes, text)
    end_labels(axes, labels)
    _beyond(axes, chart)


def _chances(axes: Axes, chart: PulleyChart) -> None:
    ratios, risk = _ratios(chart), 100.0 * chart.question.risk
    chances = limit_chances(chart)
    every = 100.0 * np.array([row.chance for row in chart.rows])
    axes.plot(ratios, every, color=tokens.INK, linewidth=2.2, marker="o", markersize=3.2)
    labels = [(float(every[-1]), "any of them", tokens.INK)]
    for dash, (name, values) in zip(_LINES, list(chances.items())[:_MOST_NAMED], strict=False):
        axes.plot(ratios, 100.0 * values, color=tokens.LIMIT, linewidth=1.2, linestyle=dash)
        labels.append((100.0 * float(values[-1]), name, tokens.LIMIT))
    axes.axhline(risk, color=tokens.LIMIT, linewidth=1.0)
    labels.append((risk, f"accepted, {risk:g} %", tokens.LIMIT))
    axes.set_ylim(-2.0, 104.0)
    axes.yaxis.set_major_locator(MaxNLocator(4))
    head(axes, "chance of breaking a known limit in either place, %")
    end_labels(axes, labels)
    _beyond(axes, chart)


def _beyond(axes: Axes, chart: PulleyChart) -> None:
    """The ratios that risk too much: a line and a hatched zone, as for every limit."""
    if np.isnan(chart.largest_ratio):
        return
    end = axes.get_xlim()[1]
    axes.axvline(chart.largest_ratio, color=tokens.LIMIT, linewidth=1.6)
    axes.axvspan(chart.largest_ratio, end, facecolor="none", edgecolor=_LIMIT_HATCH, hatch="///", linewidth=0, zorder=0)
    axes.set_xlim(right=end)


def _pulleys(axes: Axes, chart: PulleyChart) -> None:
    """The pulleys by name above the figure, as many as have room, the chosen one in bold with a line down."""
    ratios = _ratios(chart)
    low, high = axes.get_xlim()
    chosen = chart.chosen
    if chosen is not None:
        for panel in axes.figure.axes:
            panel.axvline(chosen.pulley.drive_ratio, color=tokens.INK, linewidth=0.9, zorder=1)
    order = sorted(range(len(ratios)), key=lambda i: (chart.rows[i] is not chosen, i))
    taken: list[float] = []
    for i in order:
        place = (ratios[i] - low) / (high - low)
        if all(abs(place - other) > 0.085 for other in taken):
            taken.append(place)
            is_chosen = chart.rows[i] is chosen
            axes.annotate(
                figure_text(chart.rows[i].pulley.label),
                (place, 1),
                xycoords="axes fraction",
                xytext=(0, 21),
                textcoords="offset points",
                ha="center",
                fontsize=8.5,
                color=tokens.INK if is_chosen else tokens.INK_THIRD,
                fontfamily=SANS_BOLD if is_chosen else SANS,
                fontweight=600 if is_chosen else 400,
            )


def _ratio_axis(axes: Axes, chart: PulleyChart) -> None:
    axes.xaxis.set_major_locator(MaxNLocator(7))
    axes.annotate(
        "drive ratio", (1, 0), xycoords="axes fraction", xytext=(0, -26), textcoords="offset points", ha="right"
    )
    ratios = _ratios(chart)
    axes.set_xticks(ratios, minor=True)

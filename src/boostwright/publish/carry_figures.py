"""The picture of a carried gain: a row for each build with gain, boost and power, and what is far tinted."""

from typing import TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from boostwright.publish import tokens
from boostwright.publish.figure_style import (
    SANS_BOLD,
    drawn,
    figure_text,
    signed_tick,
    thousands,
    title,
)
from boostwright.studies.carry_result import CarriedBuild, CarryResult, Reach
from boostwright.studies.carry_words import carried_sentence, condition_words
from boostwright.studies.explain_result import Band
from boostwright.studies.words import signed_plus_minus
from boostwright.units import System, Unit, display_unit, printed_symbol

Floats: TypeAlias = NDArray[np.float64]

_TINT = "#fff0c8"  # behind what lies outside the test: the page's warning tint, for print
_ROW, _HEAD, _FOOT = 2.35, 0.95, 0.75  # inches


def carry_figure(result: CarryResult, units: System) -> Figure:
    """Draw a row for each build: gain with the tested gain faint beside it, boost, power, each with its 95 % range."""
    return drawn(lambda: _draw(result, units))


def _draw(result: CarryResult, units: System) -> Figure:
    height = _HEAD + _ROW * len(result.builds) + _FOOT
    figure = Figure(figsize=(9.6, height))
    title(figure, _headline(result, units), left=0.012, width_characters=104)
    grid = figure.add_gridspec(
        len(result.builds),
        3,
        left=0.06,
        right=0.985,
        top=1 - (_HEAD + 0.18) / height,
        bottom=_FOOT / height,
        hspace=0.62,
        wspace=0.24,
    )
    span = _gain_span(result)
    for i, build in enumerate(result.builds):
        panels = [figure.add_subplot(grid[i, j]) for j in range(3)]
        _gain(panels[0], result, build, span)
        _levels(panels[1], build, "boost", display_unit("gauge_pressure", units))
        _levels(panels[2], build, "brake_power", display_unit("power", units))
        for axes in panels:
            _tint(axes, build)
            _speeds(axes, build)
        _name(panels[0], build, units)
    _key(figure, result, height)
    return figure


def _headline(result: CarryResult, units: System) -> str:
    if len(result.builds) == 1:
        return carried_sentence(result.builds[0], (result.baseline, result.candidate), units)
    said = [
        f"{build.build} "
        + signed_plus_minus(
            100 * build.gains["brake_power_relative"].mean, 100 * build.gains["brake_power_relative"].half_width, "%"
        )
        for build in result.builds
    ]
    return f"{result.candidate} over {result.baseline} in mean power: {', '.join(said)}."


def _gain_span(result: CarryResult) -> tuple[float, float]:
    """One scale of gain for all builds, so that rows can be compared."""
    bands = [build.gains["brake_power_relative"] for build in result.builds]
    low = min(0.0, *(100 * float(band.lower.min()) for band in (*bands, result.tested_gain)))
    high = max(0.0, *(100 * float(band.upper.max()) for band in (*bands, result.tested_gain)))
    room = 0.06 * (high - low)
    return low - room, high + room


def _gain(axes: Axes, result: CarryResult, build: CarriedBuild, span: tuple[float, float]) -> None:
    rpm, band = 60 * build.engine_speed, build.gains["brake_power_relative"]
    axes.set_ylim(*span)
    axes.axhline(0, color=tokens.INK, linewidth=1.0)
    _band(axes, rpm, band, 0.01, tokens.CANDIDATE)
    axes.plot(rpm, 100 * band.values, color=tokens.CANDIDATE, linewidth=1.9)
    axes.plot(
        60 * result.engine_speed, 100 * result.tested_gain.values, color=tokens.INK_THIRD, linewidth=0.9, linestyle=":"
    )
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_formatter(FuncFormatter(signed_tick))
    _quantity(axes, "gain in power, %")


def _levels(axes: Axes, build: CarriedBuild, name: str, unit: Unit) -> None:
    rpm = 60 * build.engine_speed
    baseline, candidate = build.baseline[name], build.candidate[name]
    _band(axes, rpm, baseline, unit.scale, tokens.BASELINE)
    axes.plot(rpm, baseline.values / unit.scale, color=tokens.BASELINE, linewidth=1.7, linestyle=tokens.BASELINE_DASH)
    axes.plot(rpm, candidate.values / unit.scale, color=tokens.CANDIDATE, linewidth=1.5)
    axes.set_ylim(min(0.0, float(baseline.lower.min()) / unit.scale), 1.2 * float(baseline.upper.max()) / unit.scale)
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_formatter(FuncFormatter(thousands))
    _quantity(axes, f"{name.removeprefix('brake_')}, {printed_symbol(unit)}")


def _band(axes: Axes, rpm: Floats, band: Band, scale: float, colour: str) -> None:
    lower, upper = band.lower / scale, band.upper / scale
    axes.fill_between(rpm, lower, upper, color=colour, alpha=tokens.BAND_OPACITY, linewidth=0)
    for edge in (lower, upper):
        axes.plot(rpm, edge, color=colour, linewidth=0.6)


def _tint(axes: Axes, build: CarriedBuild) -> None:
    """Tint the speeds that lie outside the test, deeply where they lie far outside."""
    rpm = 60 * build.engine_speed
    edges = np.concatenate([rpm[:1], 0.5 * (rpm[1:] + rpm[:-1]), rpm[-1:]])
    for i, reach in enumerate(build.distance.reach):
        if reach is Reach.TESTED:
            continue
        axes.axvspan(
            float(edges[i]),
            float(edges[i + 1]),
            facecolor=_TINT,
            edgecolor="none",
            alpha=0.6 if reach is Reach.FAR else 0.25,
            linewidth=0,
            zorder=0,
        )
    far = [i for i, reach in enumerate(build.distance.reach) if reach is Reach.FAR]
    if far:
        axes.annotate(
            "far",
            (float(edges[far[0]]), 1),
            xycoords=("data", "axes fraction"),
            xytext=(3, -9),
            textcoords="offset points",
            fontsize=8,
            color=tokens.WARN,
        )


def _speeds(axes: Axes, build: CarriedBuild) -> None:
    """Engine speed along the foot; panels stand too near each other for the unit beside the last tick."""
    axes.set_xlim(60 * float(build.engine_speed[0]), 60 * float(build.engine_speed[-1]))
    axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    axes.annotate(
        "rev/min",
        (1, 0),
        xycoords="axes fraction",
        xytext=(0, -25),
        textcoords="offset points",
        ha="right",
        fontsize=8,
        color=tokens.INK_THIRD,
    )


def _quantity(axes: Axes, text: str) -> None:
    axes.annotate(
        text, (0, 1), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points", ha="left", fontsize=8.5
    )


def _name(axes: Axes, build: CarriedBuild, units: System) -> None:
    """The build's name above its row, with the words of its distance."""
    axes.annotate(
        build.build,
        (0, 1),
        xycoords="axes fraction",
        xytext=(-38, 24),
        textcoords="offset points",
        ha="left",
        fontsize=10,
        color=tokens.INK,
        fontfamily=SANS_BOLD,
        fontweight=600,
    )
    axes.annotate(
        figure_text(_short(build, units)),
        (0, 1),
        xycoords="axes fraction",
        xytext=(-38 + 5.6 * len(build.build) + 10, 24),
        textcoords="offset points",
        ha="left",
        fontsize=8.5,
        color=tokens.INK_THIRD,
    )


def _short(build: CarriedBuild, units: System) -> str:
    """The distance in one line; the sentence has the speeds."""
    distance = build.distance
    parts: list[str] = []
    for name, beyond in (("rotor speed", distance.rotor_speed), ("pressure ratio", distance.pressure_ratio)):
        most = float(beyond[np.abs(beyond).argmax()])
        if abs(most) > 0.01:
            parts.append(f"{name} up to {100 * abs(most):.0f} % {'above' if most > 0 else 'below'} the tested")
    parts += condition_words(distance, units)
    return ", ".join(parts) or "as tested"


def _key(figure: Figure, result: CarryResult, height: float) -> None:
    """What lines and tints mean, along the foot."""
    text = (
        f"solid: {result.candidate}; dashed: {result.baseline}, band: its 95 % range; dotted: gain as measured on the "
        "tested engine; tinted: outside what was tested, deep where far"
    )
    figure.text(0.012, 0.16 / height, text, fontsize=8, color=tokens.INK_THIRD)

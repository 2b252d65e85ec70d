"""The pictures of a match: boost, air and power against engine speed, and the operating line on the blower's map."""

from typing import Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from boostwright.publish import tokens
from boostwright.publish.figure_style import drawn, end_labels, figure_text, head, speed_axis, thousands, title
from boostwright.studies.match import COLUMNS, MatchResult
from boostwright.studies.match_map import BlowerMapGrid, blower_map_grid
from boostwright.studies.words import speed_text

Floats: TypeAlias = NDArray[np.float64]

_LEFT, _RIGHT = 0.085, 0.83
_LIMIT_HATCH = "#c3acc6"  # the limit's colour, thinned: the zone must not outshout the line
_HALO: Any = [withStroke(linewidth=2.6, foreground=tokens.PAPER)]


def match_figure(result: MatchResult) -> Figure:
    """Draw boost, air flow and power over engine speed with their 95 % ranges, and the line on the blower map."""
    return drawn(lambda: _draw(result))


def _draw(result: MatchResult) -> Figure:
    figure = Figure(figsize=(7.2, 9.6))
    title(figure, result.headline, left=0.012, width_characters=80)
    curves = figure.add_gridspec(3, 1, left=_LEFT, right=_RIGHT, top=0.9, bottom=0.5, hspace=0.36)
    boost = figure.add_subplot(curves[0])
    air = figure.add_subplot(curves[1], sharex=boost)
    power = figure.add_subplot(curves[2], sharex=boost)
    _curve(boost, result, "boost_kpa", "boost, kPa", "boost")
    _curve(air, result, "air_mass_flow_kg_per_s", "air flow, kg/s", "air")
    _curve(power, result, "brake_power_kw", "power, kW", "brake power")
    _drive_power(power, result)
    rpm = _shown(result, "engine_speed_rpm")
    for axes in (boost, air):
        axes.tick_params(labelbottom=False)
    speed_axis(power, float(rpm[0]), float(rpm[-1]))
    _note(boost, "band: 95 % range of what nobody has said of the build")
    _map(figure.add_axes((_LEFT, 0.055, _RIGHT - _LEFT, 0.352)), result)
    return figure


def _shown(result: MatchResult, name: str) -> Floats:
    return result.shown(next(column for column in COLUMNS if column.name == name))


def _curve(axes: Axes, result: MatchResult, name: str, text: str, label: str) -> None:
    rpm, values = _shown(result, "engine_speed_rpm"), _shown(result, name)
    lower, upper = result.lower[name], result.upper[name]
    axes.fill_between(rpm, lower, upper, color=tokens.CANDIDATE, alpha=tokens.BAND_OPACITY, linewidth=0)
    for edge in (lower, upper):
        axes.plot(rpm, edge, color=tokens.CANDIDATE, linewidth=0.5)
    axes.plot(rpm, values, color=tokens.CANDIDATE, linewidth=1.9)
    axes.set_ylim(min(0.0, float(np.nanmin(lower))), 1.06 * float(np.nanmax(upper)))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.yaxis.set_major_formatter(FuncFormatter(thousands))
    head(axes, text)
    labels = [(float(values[-1]), label, tokens.CANDIDATE)]
    if name == "brake_power_kw":
        labels.append((float(_shown(result, "blower_drive_power_kw")[-1]), "blower drive", tokens.BASELINE))
    end_labels(axes, labels)


def _drive_power(axes: Axes, result: MatchResult) -> None:
    rpm, drive = _shown(result, "engine_speed_rpm"), _shown(result, "blower_drive_power_kw")
    axes.plot(rpm, drive, color=tokens.BASELINE, linewidth=1.7, linestyle=tokens.BASELINE_DASH)


def _note(axes: Axes, text: str) -> None:
    axes.annotate(
        text,
        (1, 1),
        xycoords="axes fraction",
        xytext=(0, 7),
        textcoords="offset points",
        ha="right",
        fontsize=8,
        color=tokens.INK_THIRD,
    )


def _map(axes: Axes, result: MatchResult) -> None:
    grid = blower_map_grid(result)
    axes.grid(visible=False)
    flow = 60.0 * grid.volume_flow
    PR = np.broadcast_to(grid.pressure_ratio, flow.shape)
    efficiency = np.ma.masked_invalid(100.0 * grid.isentropic_efficiency)
    levels = _levels(efficiency)
    contours = axes.contour(
        np.nan_to_num(flow, nan=0.0), PR, efficiency, levels=levels, colors=tokens.EDGE, linewidths=0.8
    )
    axes.clabel(contours, fmt="%g %%", fontsize=7.5, colors=tokens.INK_THIRD)
    axes.set_xlim(0.0, 1.02 * float(np.nanmax(flow[:, 0])))
    axes.set_ylim(1.0, float(grid.pressure_ratio[-1]))
    _speed_lines(axes, grid)
    _limit_line(axes, result, grid)
    _operating_line(axes, result)
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    _map_words(axes)


def _map_words(axes: Axes) -> None:
    """Say what the axes, the lines and the rings are."""
    for text, place, shift, ha, colour in (
        ("pressure ratio of the blower", (0, 1), (-34, 19), "left", tokens.INK_SECOND),
        ("contours: isentropic efficiency on shaft power", (1, 1), (0, 19), "right", tokens.INK_THIRD),
        ("rotor\nrev/min", (1, 1), (6, 0), "left", tokens.INK_THIRD),
        ("rings: engine rev/min", (0, 0), (0, -24), "left", tokens.CANDIDATE),
        ("m³/min at the blower inlet", (1, 0), (0, -24), "right", tokens.INK_SECOND),
    ):
        size = 9.0 if colour == tokens.INK_SECOND else 8.0
        axes.annotate(
            text,
            place,
            xycoords="axes fraction",
            xytext=shift,
            textcoords="offset points",
            ha=ha,
            fontsize=size,
            color=colour,
        )


def _levels(efficiency: Any) -> Floats:
    """Round levels of efficiency [%], close enough together that the line crosses some of them."""
    top, low = float(np.max(efficiency)), float(np.percentile(efficiency.compressed(), 8))
    step = next(step for step in (2.0, 2.5, 5.0, 10.0) if (top - low) / step <= 9.0 or step == 10.0)
    return np.arange(np.ceil(low / step), np.floor(top / step) + 1.0) * step


def _speed_lines(axes: Axes, grid: BlowerMapGrid) -> None:
    """Faint lines of equal rotor speed, named at their foot."""
    fastest = 60.0 * float(grid.rotor_speed[-1])
    step = next(step for step in (1000, 2000, 2500, 5000, 10000) if fastest / step <= 8)
    for rpm in np.arange(step, fastest, step):
        line = _along_speed(grid, rpm / 60.0)
        axes.plot(60.0 * line, grid.pressure_ratio, color=tokens.GRID, linewidth=1.1, zorder=1)
        if np.isfinite(line[-1]):
            axes.annotate(
                thousands(float(rpm)),
                (60.0 * line[-1], grid.pressure_ratio[-1]),
                xytext=(0, 3),
                textcoords="offset points",
                ha="center",
                fontsize=7.5,
                color=tokens.INK_THIRD,
            )


def _along_speed(grid: BlowerMapGrid, rotor_speed: float) -> Floats:
    """Volume flow at every pressure ratio for one rotor speed."""
    columns = [np.interp(rotor_speed, grid.rotor_speed, column) for column in grid.volume_flow.T]
    return np.array(columns)


def _limit_line(axes: Axes, result: MatchResult, grid: BlowerMapGrid) -> None:
    """The rotor-speed limit, if it is known: a heavy line with a hatched zone beyond it."""
    if (limit := result.build.limits.rotor_speed_limit) is None:
        return
    line = 60.0 * _along_speed(grid, limit)
    axes.plot(line, grid.pressure_ratio, color=tokens.LIMIT, linewidth=1.8, zorder=3)
    end = axes.get_xlim()[1]
    axes.fill_betweenx(grid.pressure_ratio, line, end, color=tokens.PAPER, alpha=0.7, linewidth=0, zorder=2)
    axes.fill_betweenx(
        grid.pressure_ratio, line, end, facecolor="none", edgecolor=_LIMIT_HATCH, hatch="///", linewidth=0, zorder=2
    )
    axes.annotate(
        figure_text(f"rotor limit {speed_text(limit)}"),
        (line[0], grid.pressure_ratio[0]),
        xytext=(-6, 6),
        textcoords="offset points",
        ha="right",
        fontsize=8,
        color=tokens.LIMIT,
        path_effects=_HALO,
    )


def _operating_line(axes: Axes, result: MatchResult) -> None:
    """The build's own line, with rings at round engine speeds."""
    operating = result.operating
    known = operating.is_matched
    density = operating["blower_inlet_pressure"] / (
        operating["specific_gas_constant"] * operating["blower_inlet_temperature"]
    )
    flow = np.where(known, 60.0 * operating["blower_mass_flow"] / density, np.nan)
    PR = np.where(known, operating.pressure_ratio, np.nan)
    axes.plot(flow, PR, color=tokens.CANDIDATE, linewidth=2.2, zorder=4)
    rpm = 60.0 * operating["engine_speed"]
    for target in np.arange(1000.0, rpm[-1] + 1.0, 1000.0):
        if rpm[0] <= target <= rpm[-1]:
            x, y = np.interp(target, rpm, flow), np.interp(target, rpm, PR)
            axes.plot([x], [y], "o", ms=5.5, mfc=tokens.PAPER, mec=tokens.CANDIDATE, mew=1.4, zorder=5)
            axes.annotate(
                thousands(target),
                (x, y),
                xytext=(0, 8),
                textcoords="offset points",
                ha="center",
                fontsize=8,
                color=tokens.CANDIDATE,
                path_effects=_HALO,
                zorder=6,
            )

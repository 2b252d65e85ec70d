"""The look of every printed figure: fonts we ship, hairline grid, quantity at the upper left, labelled line ends."""

import io
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from boostwright.publish import tokens
from boostwright.studies.words import MINUS, THIN

FONTS = Path(__file__).parent / "fonts"
SANS, SANS_BOLD, SERIF = "Source Sans 3", "Source Sans 3 SemiBold", "Source Serif 4 SemiBold"
_SETTINGS: Any = {
    "font.family": SANS,
    "font.size": 9.0,
    "text.parse_math": False,  # a setup may be called "$5 clip, $7 clip"
    "text.color": tokens.INK_SECOND,
    "axes.edgecolor": tokens.EDGE,
    "axes.labelcolor": tokens.INK_SECOND,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.spines.left": False,
    "axes.linewidth": 0.6,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "grid.color": tokens.GRID,
    "grid.linewidth": 0.6,
    "xtick.color": tokens.INK_THIRD,
    "ytick.color": tokens.INK_THIRD,
    "ytick.left": False,
    "xtick.major.width": 0.6,
    "hatch.linewidth": 0.7,
    "svg.fonttype": "path",
    "svg.hashsalt": "boostwright",
    "pdf.fonttype": 42,
}


@cache
def _load_fonts() -> None:
    for path in sorted(FONTS.glob("*.ttf")):
        font_manager.fontManager.addfont(path)


def drawn(draw: Callable[[], Figure]) -> Figure:
    """Draw a figure in our style, and leave the caller's own plotting settings as they were."""
    _load_fonts()
    with matplotlib.rc_context(_SETTINGS):
        figure = draw()
        FigureCanvasAgg(figure)
        figure.draw_without_rendering()
        return figure


def figure_text(text: str) -> str:
    """Text as our figure fonts can draw it: they have the thin space, not its unbreakable twin."""
    return text.replace(THIN, "\u2009")


def thousands(value: float, _position: int = 0) -> str:
    """A tick label with thin spaces between thousands and a true minus."""
    text = f"{abs(value):,.10g}".replace(",", "\u2009")
    return f"{MINUS}{text}" if value < 0 else text


def signed_tick(value: float, _position: int = 0) -> str:
    """A tick label of a difference: with its sign."""
    return f"+{thousands(value)}" if value > 0 else thousands(value)


def head(axes: Axes, text: str) -> None:
    """Name quantity and unit at the upper left, flush with the figure's text column."""
    axes.annotate(
        figure_text(text), (0, 1), xycoords="axes fraction", xytext=(-34, 7), textcoords="offset points", ha="left"
    )


def speed_axis(axes: Axes, from_rpm: float, to_rpm: float) -> None:
    """Engine speed along the foot, the unit right of the last tick."""
    axes.set_xlim(from_rpm, to_rpm)
    axes.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 4, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    axes.annotate(
        "rev/min", (1, 0), xycoords="axes fraction", xytext=(14, -13), textcoords="offset points", fontsize=8.5
    )


def end_labels(axes: Axes, labels: Sequence[tuple[float, str, str]], *, gap_points: float = 11.0) -> None:
    """Name each curve at its right end: (value, text, colour); labels are pushed apart, so that none hides another."""
    figure = axes.figure
    low, high = axes.get_ylim()
    points = axes.get_position().height * figure.get_figheight() * 72.0  # type: ignore[union-attr]
    order = sorted(range(len(labels)), key=lambda i: labels[i][0])
    places = [(labels[i][0] - low) / (high - low) * points for i in order]
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + gap_points)
    shift = max(0.0, places[-1] - points) if places else 0.0
    for i, place in zip(order, places, strict=True):
        _, text, colour = labels[i]
        axes.annotate(
            figure_text(text),
            (1, (place - shift) / points),
            xycoords="axes fraction",
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            color=colour,
            fontfamily=SANS_BOLD,
            fontweight=600,
        )


def title(figure: Figure, text: str, *, left: float, width_characters: int = 62) -> None:
    """Set the verdict as the figure's title, in the serif, broken into lines between words."""
    lines: list[str] = [""]
    for word in figure_text(text).split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) > width_characters and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    text = "\n".join(lines)
    figure.text(left, 0.985, text, va="top", color=tokens.INK, fontfamily=SERIF, fontweight=600, fontsize=12.5)


def svg(figure: Figure) -> str:
    """The figure as SVG text, the same bytes for the same figure."""
    target = io.StringIO()
    with matplotlib.rc_context(_SETTINGS):
        figure.savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    return target.getvalue()


def save(figure: Figure, target: Path | io.BytesIO, form: str) -> None:
    """Write the figure as png, svg or pdf without dates, so that the same figure gives the same bytes."""
    metadata: dict[str, dict[str, Any]] = {
        "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
        "svg": {"Date": None, "Creator": None},
        "png": {"Software": None},
    }
    with matplotlib.rc_context(_SETTINGS):
        figure.savefig(target, format=form, dpi=200, metadata=metadata[form])

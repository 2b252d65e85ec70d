"""What every HTML report has in common: one file with its fonts and pictures inside, that asks for nothing."""

import base64
import re
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader
from markupsafe import Markup
from matplotlib.figure import Figure

from boostwright.publish import tokens
from boostwright.publish.figure_style import FONTS, svg

_NAMED = re.compile(r'(?<= id=")|(?<=url\(#)|(?<=href="#)')


@dataclass(frozen=True, kw_only=True)
class _Fonts:
    """Font files as base64 text."""

    sans: str
    sans_bold: str
    serif: str


@cache
def _fonts() -> _Fonts:
    def text(name: str) -> str:
        return base64.b64encode((FONTS / name).read_bytes()).decode("ascii")

    return _Fonts(
        sans=text("source-sans-3-400.ttf"),
        sans_bold=text("source-sans-3-600.ttf"),
        serif=text("source-serif-4-600.ttf"),
    )


@cache
def environment() -> Environment:
    """The templates of our pages."""
    return Environment(loader=PackageLoader("boostwright.publish"), autoescape=True, trim_blocks=True)


@cache
def style() -> Markup:
    """The style sheet of a report, with its fonts."""
    return Markup(environment().get_template("report.css").render(fonts=_fonts(), tokens=tokens))


def picture(figure: Figure, name: str, sentence: str) -> Markup:
    """The figure for a page: SVG that a screen reader announces as one picture with this sentence.

    Every name inside begins with `name`, because a page may hold several pictures and no name twice.
    """
    return announced(svg(figure), name, sentence)


def announced(drawing: str, name: str, sentence: str) -> Markup:
    """The same from a figure that is SVG text already."""
    body = _NAMED.sub(f"{name}-", drawing[drawing.index("<svg ") + len("<svg ") :])
    return Markup("<svg role='img' aria-label='{}' ").format(sentence) + Markup(body)

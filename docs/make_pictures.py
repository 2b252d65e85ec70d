"""Draw the pictures of the documents from results that are computed or counted anew, none of them by hand.

    python -m docs.make_pictures              # all of them: half a minute
    python -m docs.make_pictures rooms.svg    # or one

The pictures of the example are those that the commands draw. That of coverage is read from docs/coverage.md, and that
of the rooms from the imports of the source.
"""

import ast
import io
import re
import sys
from collections.abc import Callable
from pathlib import Path

from matplotlib.figure import Figure
from PIL import Image

from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.publish import tokens
from boostwright.publish.compare_figure import compare_figure
from boostwright.publish.explain_figures import attribution_figure, parameter_figure
from boostwright.publish.figure_style import drawn, head, save, svg
from boostwright.publish.match_figures import match_figure
from boostwright.records.build_file import read_build_file
from boostwright.records.campaign import read_campaign
from boostwright.studies.compare import compare_setups, question_of, reduced_pulls
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import campaign_data
from boostwright.studies.explain_result import ExplainResult
from boostwright.studies.match import STANDARD_AIR, match_build
from boostwright.studies.match_request import ambient_from_text, blower_from_text, speeds_from_text

DOCS = Path(__file__).parent
IMAGES = DOCS / "images"
SOURCE = DOCS.parent / "src" / "boostwright"
EXAMPLE = DOCS.parent / "examples" / "inlet-elbow"
ROOMS = (  # from top to bottom, side by side where neither knows the other; what each holds
    (("cli", "commands"), ("web", "the local page")),
    (("publish", "figures, words, reports, bundles"),),
    (("studies", "one question a file"),),
    (("inference", "statistics of curves and machines"),),
    (("machine", "blower, engine, drive, the match"), ("reduction", "raw pull to corrected pull")),
    (("records", "files, and conversion to SI"),),
    (("physics", "one equation a function"),),
)
_WIDTH, _ROW, _GAP, _MARGIN = 840, 62, 14, 10


def compared() -> Figure:
    """Gain of the example, with its band."""
    campaign = read_campaign(EXAMPLE)
    return compare_figure(compare_setups(reduced_pulls(campaign), question_of(campaign, "power")))


def explained() -> ExplainResult:
    """Why the example gained."""
    campaign = read_campaign(EXAMPLE)
    data = campaign_data(campaign)
    return explain(data, campaign.baseline, campaign.candidate, randomised_maximum_likelihood)


def matched() -> Figure:
    """What the example's build does, with the ranges of what its file leaves open."""
    file = read_build_file(EXAMPLE / "builds" / "cast.toml")
    air = ambient_from_text(STANDARD_AIR)
    return match_figure(match_build(file, speeds_from_text("2000:5800:200"), air, blower_from_text("slip", file)))


def coverage() -> Figure:
    """How often the band held the true curve, order by order, as counted in docs/coverage.md."""
    row = re.compile(r"^\| (as modelled|beyond the model) \| (\w+) \| (one|two) \| \d+ \| ([\d.]+) ± ([\d.]+) \|", re.M)
    rows = row.findall((DOCS / "coverage.md").read_text(encoding="utf-8"))
    return drawn(lambda: _coverage(rows))


def _coverage(rows: list[tuple[str, ...]]) -> Figure:
    figure = Figure(figsize=(7.2, 3.9))
    axes = figure.subplots()
    figure.subplots_adjust(left=0.22, right=0.97, top=0.82, bottom=0.13)
    for place, (world, order, sessions, held, error) in enumerate(rows):
        colour = tokens.BASELINE if world == "as modelled" else tokens.CANDIDATE
        axes.errorbar(float(held), -place, xerr=2 * float(error), fmt="o", color=colour, markersize=4, linewidth=1.2)
        named = f"{order}, {sessions} session{'s' if sessions == 'two' else ''}"
        axes.annotate(
            named,
            (0, -place),
            xycoords=("axes fraction", "data"),
            xytext=(-8, -3),
            ha="right",
            textcoords="offset points",
            color=tokens.INK_SECOND,
        )
    axes.axvline(95.0, color=tokens.INK_SECOND, linewidth=0.8)
    axes.set_xlim(88, 100)
    axes.set_yticks([])
    axes.grid(visible=False)
    axes.set_xlabel("how often the 95 % band holds the whole true curve, % (bars: two standard errors)")
    half = -(len(rows) // 2) + 0.5
    axes.axhline(half, color=tokens.EDGE, linewidth=0.6)
    axes.annotate("all assumptions hold", (88.1, -0.4), ha="left", color=tokens.BASELINE)
    axes.annotate("assumptions broken", (88.1, half - 0.9), ha="left", color=tokens.CANDIDATE)
    head(axes, "360 invented campaigns a row, true gain known")
    return figure


def imports() -> dict[str, set[str]]:
    """The rooms that each room imports from, read from the source."""
    names = [name for row in ROOMS for name, _ in row]
    return {
        name: {other for path in (SOURCE / name).rglob("*.py") for other in _imported(path)} & set(names) - {name}
        for name in names
    }


def _imported(path: Path) -> set[str]:
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    modules = {node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)}
    modules |= {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    return {module.split(".")[1] for module in modules if module.startswith("boostwright.")}


def rooms() -> str:
    """The rooms as boxes, from top to bottom, each with the rooms that it imports from."""
    known, order = imports(), [name for row in ROOMS for name, _ in row]
    height = len(ROOMS) * (_ROW + _GAP) + 46
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" '
        'font-family="sans-serif" font-size="13">',
        "<title>The rooms of the code, and what each imports from</title>",
        f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
    ]
    for level, row in enumerate(ROOMS):
        width = (_WIDTH - 2 * _MARGIN - _GAP * (len(row) - 1)) / len(row)
        top = _MARGIN + level * (_ROW + _GAP)
        for place, (name, holds) in enumerate(row):
            left = _MARGIN + place * (width + _GAP)
            below = [other for other in order if other in known[name]]
            said = f"imports from {', '.join(below)}" if below else "imports from no other room"
            parts += [
                f'<g id="room-{name}">',
                f'<rect x="{left:g}" y="{top}" width="{width:g}" height="{_ROW}" rx="5" '
                'fill="#f3f5f7" stroke="#8a949e"/>',
                f'<text x="{left + 12:g}" y="{top + 23}"><tspan font-weight="bold">{name}</tspan>'
                f'<tspan dx="10" fill="#3b444d">{holds}</tspan></text>',
                f'<text class="imports" x="{left + 12:g}" y="{top + 46}" font-size="12" fill="#3b444d">{said}</text>',
                "</g>",
            ]
    foot = _MARGIN + len(ROOMS) * (_ROW + _GAP) + 16
    parts.append(
        f'<text x="{_MARGIN}" y="{foot}" fill="#3b444d">All rooms use units.py, nomenclature.py and errors.py. '
        "Nothing imports from above.</text>"
    )
    return "\n".join([*parts, "</svg>\n"])


def png(figure: Figure) -> bytes:
    """A picture for a page: as wide as its text, in as many colours as it needs."""
    whole, small = io.BytesIO(), io.BytesIO()
    save(figure, whole, "png")
    picture = Image.open(whole).convert("RGB")
    wide = 1100
    picture = picture.resize((wide, round(picture.height * wide / picture.width)), Image.Resampling.LANCZOS)
    picture.quantize(96).save(small, "png", optimize=True)
    return small.getvalue()


PICTURES: dict[str, Callable[[], bytes]] = {
    "coverage.svg": lambda: svg(coverage()).encode(),
    "gain.png": lambda: png(compared()),
    "match.png": lambda: png(matched()),
    "rooms.svg": lambda: rooms().encode(),
    "unknowns.png": lambda: png(parameter_figure(explained())),
    "why.png": lambda: png(attribution_figure(explained())),
}


def main() -> None:
    """Draw what is asked for, or everything."""
    for name in sys.argv[1:] or PICTURES:
        (IMAGES / name).write_bytes(PICTURES[name]())


if __name__ == "__main__":
    main()

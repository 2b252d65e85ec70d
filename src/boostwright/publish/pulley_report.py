"""A pulley chart on one printed page: one HTML file with its fonts and figure inside."""

from boostwright.publish import tokens
from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.html_page import environment, picture, style
from boostwright.publish.identity import Identity
from boostwright.publish.pulley_figure import pulley_figure
from boostwright.publish.pulley_tables import chart_notes, pulley_cells
from boostwright.studies.pulleys import PulleyChart


def pulley_report(chart: PulleyChart, name: str, identity: Identity) -> str:
    """Set the page; `name` is what the build is called."""
    return (
        environment()
        .get_template("pulleys.html")
        .render(
            name=name,
            chart=chart,
            rows=pulley_cells(chart),
            notes=chart_notes(chart),
            cautions=CAUTIONS,
            identity=identity,
            limit_colour=tokens.LIMIT,
            figure=picture(pulley_figure(chart), "pulleys", chart.sentence),
            style=style(),
        )
    )

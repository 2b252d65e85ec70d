"""Publish the report and the sheet of each example into examples/reports, as the committed ones were made.

Run it after a change that alters what they say, and read the differences of the JSON files before committing them.

    python examples/publish_reports.py [NAME/report ...]
"""

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from boostwright.publish.document import Document
from boostwright.publish.document_files import write_document
from boostwright.publish.published import ReportRequest, campaign_document
from boostwright.publish.published_sheet import SheetRequest, build_sheet
from boostwright.records.campaign import read_campaign
from boostwright.studies.match import STANDARD_AIR
from boostwright.studies.match_request import ambient_from_text
from boostwright.studies.pulley_request import ask_of
from boostwright.studies.pulleys import HOT_AIR

EXAMPLES = Path(__file__).parent
ELBOW = EXAMPLES / "inlet-elbow"
REPORTS = EXAMPLES / "reports"


def elbow_report() -> Document:
    """The report of the two inlet elbows, carried to another engine."""
    request = ReportRequest(carry_to=(ELBOW / "builds" / "other-engine.toml",))
    return campaign_document(read_campaign(ELBOW), request)


def elbow_sheet() -> Document:
    """The application sheet of the machined elbow's build."""
    speeds, pulleys = np.arange(3000.0, 5801.0, 400.0) / 60.0, "76 mm, 72 mm, 68 mm, 66 mm, 64 mm, 62 mm, 60 mm"
    places = (ambient_from_text(STANDARD_AIR), ambient_from_text(HOT_AIR))
    command = (
        f'boostwright sheet machined.toml --notes ../sheet-notes.toml --speeds 3000:5800:400 --pulleys "{pulleys}"'
    )
    ask = ask_of(pulleys, None, None, float(speeds[-1]), places)
    request = SheetRequest(engine_speed=speeds, ask=ask, command=command)
    return build_sheet(ELBOW / "builds" / "machined.toml", ELBOW / "sheet-notes.toml", request)


def plain_report(name: str) -> Callable[[], Document]:
    """The report of an example as `boostwright publish` makes it, in the units of its campaign."""

    def document() -> Document:
        campaign = read_campaign(EXAMPLES / name)
        return campaign_document(campaign, ReportRequest(units=campaign.units))

    return document


FAMILY = [f"workboat-family/{path.parent.name}" for path in sorted(EXAMPLES.glob("workboat-family/*/campaign.toml"))]
DOCUMENTS = {
    "inlet-elbow/report": elbow_report,
    "inlet-elbow/machined-sheet": elbow_sheet,
    "pulley-v6/report": plain_report("pulley-v6"),
    "cooler-methanol/report": plain_report("cooler-methanol"),
    "propane-pump/report": plain_report("propane-pump"),
    **{f"{name}/report": plain_report(name) for name in FAMILY},
}
"""What is published of the examples, by its path within examples/reports without ending."""


def main() -> None:
    """Write every report and sheet, or those that are named."""
    for name in sys.argv[1:] or DOCUMENTS:
        write_document(DOCUMENTS[name](), REPORTS / name, "a4")


if __name__ == "__main__":
    main()

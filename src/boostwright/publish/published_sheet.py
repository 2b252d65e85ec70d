"""From a build file to the document of its application sheet; same files, version and request, same document."""

from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright import __version__
from boostwright.machine.build import build_of
from boostwright.publish.document import Document
from boostwright.publish.identity import Identity, digest
from boostwright.publish.sheet import SheetFindings, application_sheet
from boostwright.records.build_file import read_build_file
from boostwright.records.sheet_file import SheetNotes, read_sheet_notes
from boostwright.studies.drawn_operation import drawn_build
from boostwright.studies.language import language
from boostwright.studies.match import SEED
from boostwright.studies.pulley_request import DRAW_COUNT, PulleyAsk, answered
from boostwright.studies.requirements import requirements
from boostwright.units import System

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class SheetRequest:
    """What a sheet is to show: speeds and pulleys, for which reader, and the command that makes it again."""

    engine_speed: Floats
    ask: PulleyAsk
    command: str
    units: System = "metric"
    language: str = "en"


def build_sheet(build: Path, notes: Path | None, request: SheetRequest) -> Document:
    """Compute and write the sheet of a build; same files, version and request, same document.

    The requirements are those of the pulley that is chosen, or, if none keeps within the risk, of the smallest ratio.
    """
    build_file, words = read_build_file(build), language(request.language)
    said = SheetNotes() if notes is None else read_sheet_notes(notes)
    chart = answered(build_file, request.engine_speed, request.ask)
    required, question = chart.chosen or chart.rows[0], request.ask.question
    drawn = drawn_build(build_file, request.engine_speed, DRAW_COUNT, np.random.default_rng(SEED))
    places = [drawn.operation(required.pulley.build, air) for air in (question.reference, question.hot)]
    inputs = tuple((path.name, digest(path)) for path in (build, notes) if path is not None)
    findings = SheetFindings(
        name=build.stem,
        build_file=build_file,
        build=build_of(build_file),
        chart=chart,
        required=required,
        requirements=requirements(required.pulley.build, places),
        notes=said,
        identity=Identity(version=__version__, command=request.command, inputs=inputs),
        units=request.units,
    )
    return application_sheet(findings, words)

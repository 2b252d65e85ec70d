"""Where a command's result goes: JSON to a file or to standard output, words to the terminal."""

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

JsonTarget = Annotated[
    str | None,
    typer.Option(
        "--json", metavar="FILE|-", help="Write the result as JSON; - is standard output, with nothing else on it."
    ),
]


def write_json(result: dict[str, Any], target: str) -> None:
    """Write a result as JSON to a file, or to standard output if the target is a dash."""
    from boostwright.records.atomic import write_atomically
    from boostwright.studies.rounding import json_text

    text = json_text(result)
    if target == "-":
        sys.stdout.write(text)
    else:
        write_atomically(Path(target), text.encode("utf-8"))


def progress(text: str) -> None:
    """Say what takes time, on standard error, so that standard output stays the result."""
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()

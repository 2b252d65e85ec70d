"""Where a command's result goes: JSON to a file or to standard output, words to the terminal."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _writable(target: str | None) -> str | None:
    """A place for JSON, refused at once if nothing can be written there."""
    if target not in (None, "-"):
        from boostwright.records.atomic import refuse_unwritable

        refuse_unwritable(Path(target))
    return target


JsonTarget = Annotated[
    str | None,
    typer.Option(
        "--json",
        metavar="FILE|-",
        help="Write the result as JSON; - is standard output, with nothing else on it.",
        callback=_writable,
    ),
]


def write_json(result: dict[str, Any], target: str) -> None:
    """Write a result as JSON to a file, or to standard output if the target is a dash."""
    from boostwright.records.atomic import write_atomically
    from boostwright.studies.rounding import json_text

    text = json_text(result)
    if target == "-":
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8"))  # JSON is UTF-8, whatever the terminal is
    else:
        write_atomically(Path(target), text.encode("utf-8"))


def refuse_picture(target: Path) -> None:
    """Refuse a picture that we do not draw or cannot put there, before any work is done for it."""
    from boostwright.records.atomic import refuse_unwritable
    from boostwright.units import UnitError

    if target.suffix.lower() not in (".svg", ".png", ".pdf"):
        raise UnitError(f'"{target}"', "is not the name of a picture that we draw", "end it in .svg, .png or .pdf")
    refuse_unwritable(target)


def write_picture(figure: "Figure", target: Path) -> None:
    """Write a figure whole or not at all, in the form that its name ends in."""
    import io

    from boostwright.publish.figure_style import save
    from boostwright.records.atomic import write_atomically

    picture = io.BytesIO()
    save(figure, picture, target.suffix.removeprefix(".").lower())
    write_atomically(target, picture.getvalue())
    progress(f"Figure: {target}")


def progress(text: str) -> None:
    """Say what takes time, on standard error, so that standard output stays the result."""
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()

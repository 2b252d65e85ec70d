"""What can go wrong with the user's input, said as place, value and remedy."""

from collections.abc import Sequence
from dataclasses import dataclass

_BLANKS = "\u00a0\u202f"  # inside our numbers and before our units; Python calls them unprintable


class BoostwrightError(Exception):
    """Wrong input: the doors print the message and exit with status 2; anything else is our own bug."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that is wrong in an input: where it stands, what stands there, and what to do."""

    problem: str
    remedy: str
    file: str = ""
    row: int | None = None
    column: str = ""
    key: str = ""
    value: str = ""

    def __str__(self) -> str:
        place = [self.file] if self.file else []
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column:
            place.append(f'column "{self.column}"')
        if self.key:
            place.append(self.key if self.key.startswith("--") else f"key {self.key}")  # an option is typed, not a key
        said = f"{self.value} {self.problem}" if self.value else self.problem
        head = f"{', '.join(place)}: {said}" if place else said
        return _harmless(f"{head}; {self.remedy}")


def _harmless(text: str) -> str:
    """A text on one line, with whatever a terminal would obey or could not write spelt out."""
    if text.isprintable():
        return text
    return "".join(mark if mark.isprintable() or mark in _BLANKS else ascii(mark)[1:-1] for mark in text)


class FileError(BoostwrightError):
    """Everything that is wrong in one file, or in one folder of files, reported together."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class DataError(BoostwrightError):
    """The data was read, but does not hold what the question needs."""


class FitError(BoostwrightError):
    """A fit did not reach an answer that can be reported."""

"""Reading TOML that a person wrote: every fault at its key path, all of them together, with what to write instead."""

import difflib
import re
import sys
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, cast

from boostwright.errors import Fault, FileError
from boostwright.units import UnitError, parse_quantity

PLACEHOLDER = "?"  # what a draft writes where only a person knows


def read_toml(path: Path, remedy: str) -> dict[str, Any]:
    """Return what a TOML file holds; `remedy` is for a file that is not there.

    Raises
    ------
    FileError
        If it cannot be read, or is not TOML.
    """
    text = ""
    try:
        text = path.read_bytes().removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        return tomllib.loads(text)
    except FileNotFoundError as wrong:
        raise FileError([Fault(file=str(path), problem="is not there", remedy=remedy)]) from wrong
    except UnicodeDecodeError as wrong:
        row = wrong.object[: wrong.start].count(b"\n") + 1
        fault = Fault(file=str(path), row=row, problem="is not UTF-8 text", remedy="save it as UTF-8")
        raise FileError([fault]) from wrong
    except tomllib.TOMLDecodeError as wrong:
        raise FileError([_not_toml(path, text, wrong)]) from wrong
    except (ValueError, RecursionError) as wrong:  # a number of thousands of digits, a list in a list in a list
        problem = "nests too deeply" if isinstance(wrong, RecursionError) else "holds a number that is too long"
        raise FileError([Fault(file=str(path), problem=problem, remedy="write it as the examples are")]) from wrong
    except IsADirectoryError as wrong:
        fault = Fault(file=str(path), problem="is a folder", remedy="name the .toml file in it")
        raise FileError([fault]) from wrong
    except NotADirectoryError as wrong:
        problem, remedy = f"is a file, where a folder with {path.name} is wanted", f"give {path.parent.parent}"
        raise FileError([Fault(file=str(path.parent), problem=problem, remedy=remedy)]) from wrong
    except OSError as wrong:
        problem = f"cannot be read: {(wrong.strerror or str(wrong)).lower()}"
        raise FileError([Fault(file=str(path), problem=problem, remedy="check that you may read it")]) from wrong


def _not_toml(path: Path, text: str, wrong: tomllib.TOMLDecodeError) -> Fault:
    said = re.fullmatch(r"(.*?) \(at (?:line (\d+), column \d+|end of document)\)", str(wrong), re.DOTALL)
    problem = f"is not TOML: {said[1][0].lower()}{said[1][1:]}" if said else f"is not TOML: {wrong}"
    row = int(said[2]) if said and said[2] else text.rstrip().count("\n") + 1  # the last, where the file just ends
    return Fault(file=str(path), row=row, problem=problem, remedy='write key = value, and text in "quotes"')


class TomlTable:
    """One table of a document: a method takes a key, returns its value or nothing, and notes what is wrong with it."""

    def __init__(self, values: dict[str, Any], faults: list[Fault], path: str = "", note: str = "") -> None:
        self._values = values
        self._faults = faults
        self._path = path
        self._note = note
        self._asked: list[str] = []

    def place(self, key: str) -> str:
        """The key path of a key, with the table's note behind it."""
        path = f"{self._path}.{key}" if self._path else key
        return f"{path} ({self._note})" if self._note else path

    def refuse(self, key: str, problem: str, remedy: str) -> None:
        """Note that something is wrong with a key."""
        value = self._values.get(key)
        said = "" if value is None or isinstance(value, dict | list) else _shown(value)
        self._faults.append(Fault(key=self.place(key), value=said, problem=problem, remedy=remedy))

    def written(self) -> tuple[str, ...]:
        """The keys that stand in the table."""
        return tuple(self._values)

    def require(self, key: str, remedy: str) -> bool:
        """Whether a key that must be there is there and filled in."""
        value = self._raw(key)
        if value is None:
            self.refuse(key, "is missing", remedy)
        elif value == PLACEHOLDER:
            self.refuse(key, "is still to be filled in", remedy)
        return value not in (None, PLACEHOLDER)

    def text(self, key: str, remedy: str) -> str | None:
        """A text."""
        value = self._filled(key, remedy)
        if value is None or (isinstance(value, str) and value.strip()):
            return value
        self.refuse(key, "is not a text", remedy)
        return None

    def choice(self, key: str, choices: Sequence[str]) -> str | None:
        """One of a few words."""
        value = self._filled(key, f"choose from {', '.join(choices)}")
        if value is None or value in choices:
            return value
        near = difflib.get_close_matches(str(value), choices, n=2, cutoff=0.5)
        remedy = f"did you mean {' or '.join(near)}?" if near else f"choose from {', '.join(choices)}"
        self.refuse(key, "is not one of the choices", remedy)
        return None

    def quantity(self, key: str, dimension: str, example: str) -> float | None:
        """A number with its unit, in SI."""
        value = self._filled(key, f'write {key} = "{example}"')
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self.refuse(key, "is not a number with a unit", f'write {key} = "{example}"')
            return None
        try:
            return parse_quantity(value, dimension=dimension)
        except UnitError as wrong:
            self._faults.append(replace(wrong.fault, key=self.place(key)))
            return None

    def whole_number(self, key: str) -> int | None:
        """A whole number from 1 upward."""
        value = self._filled(key, f"write {key} = 1")
        if value is None or (isinstance(value, int) and not isinstance(value, bool) and value >= 1):
            return value
        self.refuse(key, "is not a whole number from 1 upward", f"write {key} = 1")
        return None

    def moment(self, key: str) -> datetime | None:
        """A date with a time of day."""
        remedy = f"write {key} = 2026-03-14T09:12:00, without quotes"
        value = self._filled(key, remedy)
        if value is None or isinstance(value, datetime):
            return value
        self.refuse(key, "is not a date with a time of day", remedy)
        return None

    def day_or_text(self, key: str) -> str | None:
        """A name, which may be a date."""
        value = self._filled(key, f'write {key} = "2026-03-14"')
        if isinstance(value, date) and not isinstance(value, datetime):
            return value.isoformat()
        return self.text(key, f'write {key} = "2026-03-14"')

    def numbers(self, key: str, remedy: str) -> tuple[float, ...] | None:
        """A list of plain numbers."""
        value = self._filled(key, remedy)
        items = cast("list[Any]", value) if isinstance(value, list) else None
        if value is None:
            return None
        if items is None or any(isinstance(item, bool) or not isinstance(item, int | float) for item in items):
            self.refuse(key, "is not a list of numbers", remedy)
            return None
        return tuple(min(max(item, -sys.float_info.max), sys.float_info.max) * 1.0 for item in items)

    def table(self, key: str) -> "TomlTable":
        """A table within this one; an empty one if there is none."""
        value = self._raw(key)
        if value is not None and not isinstance(value, dict):
            self.refuse(key, "is not a table", f"write [{self.place(key)}] on a line of its own")
        return self._child(value, key)

    def tables(self, key: str, example: str) -> Iterator["TomlTable"]:
        """The tables of a list, each noted by its number and by what its key `file` says."""
        value = self._raw(key)
        items = cast("list[Any]", value) if isinstance(value, list) else []
        if (value is not None and not isinstance(value, list)) or any(not isinstance(item, dict) for item in items):
            self.refuse(key, "is not a list of tables", f"write {example} above each")
            return
        for number, item in enumerate(items, start=1):
            file = item.get("file")
            yield TomlTable(item, self._faults, f"{key}[{number}]", note=file if isinstance(file, str) else "")

    def _child(self, value: Any, key: str) -> "TomlTable":
        held = cast("dict[str, Any]", value) if isinstance(value, dict) else {}
        return TomlTable(held, self._faults, f"{self._path}.{key}" if self._path else key)

    def finish(self) -> None:
        """Note the keys that nobody asked for."""
        for key in self._values:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, n=2, cutoff=0.6)
                known = f"known here are {', '.join(dict.fromkeys(self._asked))}"
                remedy = f"did you mean {' or '.join(near)}?" if near else known
                self._faults.append(Fault(key=self.place(key), problem="is not a key that we know", remedy=remedy))

    def _raw(self, key: str) -> Any:
        if key not in self._asked:
            self._asked.append(key)
        return self._values.get(key)

    def _filled(self, key: str, remedy: str) -> Any:
        value = self._raw(key)
        if value == PLACEHOLDER:
            self.refuse(key, "is still to be filled in", remedy)
            return None
        return value


def _shown(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)

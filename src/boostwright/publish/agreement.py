"""Two versions of a result beside each other: number by number, sentence by sentence, whether they agree.

The same versions on the same machine give the same digits, so any other digit is a change. Elsewhere the last digits
may differ, and a number agrees within a stated part of the largest number of its own list.
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from typing import Any, Final, TypeAlias, cast

from boostwright.publish.bundle_seal import json_of

TOLERANCE: Final = 1e-3
"""Part of the largest number of its list, or of itself where it stands alone, by which a number may differ."""

_NUMBER = re.compile(r"\d+(?:[.,\u202f]\d+)*")
_MISSING = "–"
_MORE = 1_000

Leaf: TypeAlias = float | str | bool | None


class Status(StrEnum):
    """What came of one check."""

    HOLDS = "holds"
    FAILS = "does not hold"
    OPEN = "not checked"
    ABSENT = "none"


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """One value as a bundle states it and as it was computed again; `difference` is in parts of its scale."""

    file: str
    place: str
    stated: Leaf
    recomputed: Leaf
    difference: float | None
    status: Status
    is_number: bool


def agreements(file: str, stated: bytes, recomputed: bytes, *, is_exact: bool) -> tuple[Agreement, ...] | None:
    """Compare a file of JSON, CSV or lines value by value; nothing if what is stated cannot be read as such."""
    before, after = _tree(file, stated), _tree(file, recomputed)
    if before is None or after is None:
        return None
    made = dict(_leaves(after))
    told = dict(islice(_leaves(before), 2 * len(made) + _MORE))  # what is beyond could only be wrong
    scales = _scales(made)
    return tuple(
        _agreement(file, place, told.get(place, _MISSING), made.get(place, _MISSING), scales, is_exact=is_exact)
        for place in dict.fromkeys((*made, *told))
    )


def _tree(file: str, data: bytes) -> Any:
    if file.endswith(".json"):
        return json_of(data)
    try:
        if file.endswith(".txt"):
            return {"line": data.decode("utf-8").splitlines()}
        head, *rows = csv.reader(io.StringIO(data.decode("utf-8")), strict=True)
    except (ValueError, csv.Error):
        return None
    return {
        name: [_cell(row[place]) if place < len(row) else _MISSING for row in rows] for place, name in enumerate(head)
    }


def _cell(text: str) -> Leaf:
    try:
        return float(text)
    except ValueError:
        return text


def _leaves(tree: Any) -> Iterator[tuple[str, Leaf]]:
    """Every value by its place, such as `curve.gain[3]`; an empty list or table is a value of its own."""
    open_parts: list[tuple[str, Any]] = [("", tree)]
    while open_parts:  # without recursion: a stranger may have nested this
        place, part = open_parts.pop()
        inner: list[tuple[str, Any]] = []
        if isinstance(part, dict):
            named = cast("Mapping[str, Any]", part)
            inner = [(f"{place}.{key}" if place else key, value) for key, value in named.items()]
        elif isinstance(part, list):
            inner = [(f"{place}[{number}]", value) for number, value in enumerate(cast("list[Any]", part))]
        if inner:
            open_parts += reversed(inner)
        else:
            yield place, str(part) if isinstance(part, dict | list) else part


def _scales(leaves: Mapping[str, Leaf]) -> dict[str, float]:
    """The largest number of each list of numbers, by the place of the list."""
    scales: dict[str, float] = {}
    for place, value in leaves.items():
        if _is_number(value) and place.endswith("]"):
            whole = place.rpartition("[")[0]
            scales[whole] = max(scales.get(whole, 0.0), abs(cast("float", value)))
    return scales


def _is_number(value: Leaf) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _agreement(
    file: str, place: str, stated: Leaf, recomputed: Leaf, scales: Mapping[str, float], *, is_exact: bool
) -> Agreement:
    is_number = _is_number(stated) and _is_number(recomputed)
    difference = None
    if is_number:
        before, after = cast("float", stated), cast("float", recomputed)
        scale = scales.get(place.rpartition("[")[0], abs(after)) if place.endswith("]") else abs(after)
        difference = abs(before - after) / scale if scale else float(before != after)
        holds = before == after if is_exact else difference <= TOLERANCE
        status = Status.HOLDS if holds else Status.FAILS
    else:
        status = _words_status(stated, recomputed, is_exact=is_exact)
    return Agreement(
        file=file,
        place=place,
        stated=stated,
        recomputed=recomputed,
        difference=difference,
        status=status,
        is_number=is_number,
    )


def _words_status(stated: Leaf, recomputed: Leaf, *, is_exact: bool) -> Status:
    """Words hold if they are the same; another version may word the same numbers differently."""
    if type(stated) is type(recomputed) and stated == recomputed:
        return Status.HOLDS
    is_text = isinstance(stated, str) and isinstance(recomputed, str)
    if is_text and not is_exact and _NUMBER.findall(str(stated)) == _NUMBER.findall(str(recomputed)):
        return Status.OPEN
    return Status.FAILS

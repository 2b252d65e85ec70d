"""The lists of blocks of an MDF file: whether each comes to its end.

A reader follows the links from block to block. In a damaged file one may lead back to where it came from, and the
reader would follow it for ever.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

_VERSION_AT: Final = 28  # of the identification, the first 64 bytes
_SAID_AT: Final = slice(8, 12)
_BIG_ENDIAN_AT: Final = 24  # in the third version of the format
_HEAD_AT: Final = 64


@dataclass(frozen=True, kw_only=True)
class _Links:
    """Where a version of the format keeps its links: to the first block, and from a block to the next and down."""

    form: str
    first: int
    following: int
    below: int
    data: dict[bytes, int] = field(default_factory=dict[bytes, int])


_FOURTH = _Links(form="<Q", first=88, following=24, below=32, data={b"##HL": 24, b"##DL": 24})
_THIRD, _THIRD_BIG = (_Links(form=form, first=68, following=4, below=8) for form in ("<I", ">I"))
_DATA_AT: Final = 40  # of a group of the fourth version


def endless_list(path: Path) -> str:
    """What in an MDF file leads back to where it came from, or out of the file; nothing if all is well.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    str
        Words for whoever has to mend it.
    """
    data = path.read_bytes()
    try:
        for _ in _blocks(data, _links_of(data)):
            pass
    except (struct.error, OverflowError, ValueError) as wrong:
        return str(wrong) if isinstance(wrong, ValueError) else "a link leads out of the file"
    return ""


def _links_of(data: bytes) -> _Links:
    """A reader goes by the version that is written out, by its number or by the first block: all must agree."""
    (number,) = struct.unpack_from("<H", data, _VERSION_AT)
    (is_big,) = struct.unpack_from("<H", data, _BIG_ENDIAN_AT)
    said = data[_SAID_AT].strip(b" \0") or str(number).encode()
    is_fourth = data[_HEAD_AT:].startswith(b"##HD")
    if said.startswith(b"4") is not is_fourth:
        raise ValueError("it says that it is of one version, and its blocks are of another")
    return _FOURTH if is_fourth else _THIRD_BIG if is_big else _THIRD


def _blocks(data: bytes, links: _Links) -> Iterator[int]:
    """Every group, group of channels, channel and list of data; each belongs to one list, so none may come twice."""
    seen: set[int] = set()
    for group in _listed(data, _link(data, links.first, links), links, seen):
        if links.data:
            yield from _data_lists(data, _link(data, group + _DATA_AT, links), links, seen)
        for channels in _listed(data, _link(data, group + links.below, links), links, seen):
            yield from _listed(data, _link(data, channels + links.below, links), links, seen)


def _listed(data: bytes, at: int, links: _Links, seen: set[int]) -> Iterator[int]:
    while at:
        if at in seen:
            raise ValueError("a list of its blocks leads back to itself")
        seen.add(at)
        yield at
        at = _link(data, at + links.following, links)


def _data_lists(data: bytes, at: int, links: _Links, seen: set[int]) -> Iterator[int]:
    while (step := links.data.get(data[at : at + 4])) is not None:
        if at in seen:
            raise ValueError("a list of its data leads back to itself")
        seen.add(at)
        yield at
        at = _link(data, at + step, links)


def _link(data: bytes, at: int, links: _Links) -> int:
    return struct.unpack_from(links.form, data, at)[0]

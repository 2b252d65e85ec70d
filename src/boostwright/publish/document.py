"""What a published page says, as one frozen noun: the PDF and the HTML are set from it and cannot disagree."""

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any, Literal, TypeAlias

Paper = Literal["a4", "letter"]
Side = Literal["left", "right"]

_CODE_LETTERS = 16


@dataclass(frozen=True, kw_only=True)
class Paragraph:
    """Running text."""

    text: str


@dataclass(frozen=True, kw_only=True)
class SmallPrint:
    """Text for whoever checks: notes, commands."""

    text: str


@dataclass(frozen=True, kw_only=True)
class Notice:
    """Words that a reader must not miss."""

    text: str


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Names and what each is, side by side."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Bullets:
    """A list of sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A figure as SVG, beneath its verdict; `spoken` is what a person hears who does not see it."""

    verdict: str
    svg: str
    spoken: str


@dataclass(frozen=True, kw_only=True)
class Column:
    """The head of a column and the side to which it is set."""

    head: str
    side: Side = "right"


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of printed words under a caption; the first column names the row."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    is_small: bool = False

    def __post_init__(self) -> None:
        wrong = [row for row in self.rows if len(row) != len(self.columns)]
        if wrong:
            raise ValueError(f"a row of {len(wrong[0])} cells in a table of {len(self.columns)} columns: {wrong[0]}")


Block: TypeAlias = Paragraph | SmallPrint | Notice | Facts | Bullets | Picture | Table


@dataclass(frozen=True, kw_only=True)
class Section:
    """A heading and what stands under it; `starts_page` where a printed page begins with it."""

    heading: str
    blocks: tuple[Block, ...]
    starts_page: bool = False


@dataclass(frozen=True, kw_only=True)
class Opening:
    """The head of the first page: the sentence, what it may be taken for, and the job."""

    kicker: str
    sentence: str
    standing: str
    is_allowed: bool
    blocks: tuple[Block, ...]

    def __post_init__(self) -> None:
        if not self.standing:
            raise ValueError("an opening without words on what its sentence may be taken for is not published")


@dataclass(frozen=True, kw_only=True)
class Foot:
    """What stands at the foot of every page; the check code is added by the document."""

    job: str
    standing: str
    version: str
    check_words: str
    page_words: str
    of_words: str


@dataclass(frozen=True, kw_only=True)
class Document:
    """One published document. `dated` is when the last thing in it was measured, never when it was set."""

    title: str
    language: str
    dated: datetime | None
    opening: Opening
    sections: tuple[Section, ...]
    foot: Foot

    @property
    def check_code(self) -> str:
        """The beginning of the digest of everything that is said in words and numbers, in groups of four."""
        digest = hashlib.sha256(document_json(self).encode("utf-8")).hexdigest().upper()[:_CODE_LETTERS]
        return "-".join(digest[i : i + 4] for i in range(0, _CODE_LETTERS, 4))


def document_json(document: Document) -> str:
    """All that a document says, as JSON without its drawings, whose bytes differ from one plotter to the next."""
    bare = replace(
        document,
        opening=replace(document.opening, blocks=_without_drawings(document.opening.blocks)),
        sections=tuple(replace(section, blocks=_without_drawings(section.blocks)) for section in document.sections),
    )
    return json.dumps(_content(bare), ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def page_data(document: Document) -> dict[str, Any]:
    """A document as its templates take it, every block with its kind."""
    return _content(document) | {"check_code": document.check_code}


def _content(document: Document) -> dict[str, Any]:
    return {
        "title": document.title,
        "language": document.language,
        "dated": document.dated.isoformat() if document.dated else "",
        "opening": _with_kinds(document.opening),
        "sections": [_with_kinds(section) for section in document.sections],
        "foot": asdict(document.foot),
    }


def _with_kinds(part: Opening | Section) -> dict[str, Any]:
    blocks = [{"kind": type(block).__name__.lower()} | asdict(block) for block in part.blocks]
    return asdict(part) | {"blocks": blocks}


def _without_drawings(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    return tuple(replace(block, svg="") if isinstance(block, Picture) else block for block in blocks)

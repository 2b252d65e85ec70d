"""Words for a terminal or a file whose encoding lacks some of our marks: they are spelt with what it has."""

import codecs
import io
import sys

_SPELT = {
    "\u202f": " ",
    "\u2009": " ",
    "\u00a0": " ",
    "–": "-",
    "—": "-",
    "−": "-",
    "±": "+/-",
    "×": "x",
    "·": "*",
    "…": "...",
    "≤": "<=",
    "≥": ">=",
    "≈": "~",
    "°": " deg",
    "²": "2",
    "³": "3",
    "→": "->",
    "\u2018": "'",
    "\u2019": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u2800": " ",
}
_DRAWN = (("\u2500", "\u257f", "-"), ("\u2580", "\u259f", "#"), ("\u2801", "\u28ff", "*"))  # lines, blocks, dots


def spell_what_is_lacking() -> None:
    """Let no mark that an output cannot hold end a command that has done its work.

    A file that a shell of Windows writes has the code page of the country, which holds neither a narrow blank nor a
    minus sign.
    """
    codecs.register_error("boostwright.spelt", _spelt)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="boostwright.spelt")


def _spelt(wrong: UnicodeError) -> tuple[str, int]:
    if not isinstance(wrong, UnicodeEncodeError):
        raise wrong
    lacking = wrong.object[wrong.start : wrong.end]
    spelt = "".join(_SPELT.get(mark) or _drawn(mark) for mark in lacking)
    return spelt.encode(wrong.encoding, "replace").decode(wrong.encoding), wrong.end


def _drawn(mark: str) -> str:
    return next((plain for first, last, plain in _DRAWN if first <= mark <= last), mark)

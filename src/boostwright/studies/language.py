"""How a report speaks: one catalogue of sentences a language, and numbers as that language writes them.

English is complete and is the reference. A catalogue of another language has the same keys with the same places to fill
in, and under `phrases` its words for short texts that other parts of the program say in English.
"""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from boostwright.errors import DataError, Fault
from boostwright.studies import words

CATALOGUES = Path(__file__).parent / "catalogue"
_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True, kw_only=True)
class Language:
    """A language that reports can be read in: its code, its decimal mark, its sentences and its phrases."""

    code: str
    decimal_mark: str
    sentences: MappingProxyType[str, str]
    phrases: MappingProxyType[str, str]

    def say(self, key: str, /, **values: str) -> str:
        """The sentence of a key with its places filled in; what is filled in is never read as a pattern."""
        return self.sentences[key].format_map(values)

    def phrase(self, text: str) -> str:
        """A short English text of the program in this language, or as it is where the catalogue has no words for it."""
        return self.phrases.get(text, text)

    def quantity(self, name: str) -> str:
        """A quantity's name as a person says it."""
        return self.phrase(words.quantity_words(name))

    def numeral(self, text: str) -> str:
        """A number written with a point, as this language writes it."""
        return text if self.decimal_mark == "." else _POINT.sub(self.decimal_mark, text)

    def number(self, value: float, decimals: int = 0) -> str:
        """A number with a true minus sign and thin spaces between thousands."""
        return self.numeral(words.number(value, decimals))

    def plus_minus(self, value: float, half_width: float, unit: str) -> str:
        """A value with its half-width and its unit."""
        return self.numeral(words.plus_minus(value, half_width, unit))

    def signed_plus_minus(self, value: float, half_width: float, unit: str) -> str:
        """A difference with its half-width and its unit."""
        return self.numeral(words.signed_plus_minus(value, half_width, unit))

    def speed_span(self, from_speed: float, to_speed: float) -> str:
        """A range of engine speeds with its unit."""
        return f"{words.speed_text(from_speed)}–{words.speed_text(to_speed)}{words.NO_BREAK}{self.say('unit.speed')}"

    def speed(self, engine_speed: float) -> str:
        """An engine speed with its unit."""
        return f"{words.speed_text(engine_speed)}{words.NO_BREAK}{self.say('unit.speed')}"

    def percent(self, fraction: float, decimals: int = 0) -> str:
        """A fraction in percent."""
        return f"{self.number(100.0 * fraction, decimals)}{words.NO_BREAK}%"

    def pulls(self, amount: int) -> str:
        """A number of pulls."""
        return f"{amount}{words.NO_BREAK}{self.say('unit.pull' if amount == 1 else 'unit.pulls')}"

    def joined(self, parts: Sequence[str]) -> str:
        """Parts of a sentence as a person lists them: a, b and c."""
        return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {self.say('unit.and')} {parts[-1]}"


def languages() -> list[str]:
    """The codes of the languages that have a catalogue, English first."""
    return sorted((path.stem for path in CATALOGUES.glob("*.toml")), key=lambda code: (code != "en", code))


@cache
def language(code: str) -> Language:
    """The language of a code, from its catalogue.

    Raises
    ------
    DataError
        If there is no catalogue of that language.
    """
    if code not in languages():
        remedy = f"choose {' or '.join(languages())}"
        raise DataError(str(Fault(value=f'language "{code}"', problem="has no catalogue of sentences", remedy=remedy)))
    document = tomllib.loads((CATALOGUES / f"{code}.toml").read_text(encoding="utf-8"))
    mark, phrases = document.pop("decimal_mark"), document.pop("phrases", {})
    sentences = {f"{table}.{key}": text for table, entries in document.items() for key, text in entries.items()}
    return Language(
        code=code,
        decimal_mark=mark,
        sentences=MappingProxyType(sentences),
        phrases=MappingProxyType(phrases),
    )


ENGLISH = language("en")

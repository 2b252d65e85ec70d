"""Catalogues of sentences: every language has English's keys and places, and writes numbers its own way."""

import re
import string

import pytest

from boostwright.errors import DataError
from boostwright.publish.cautions import CAUTIONS
from boostwright.reduction.stages import REASON_WORDS
from boostwright.studies.compare import _SOURCE_WORDS
from boostwright.studies.language import ENGLISH, language, languages
from boostwright.studies.verdict import GAIN, LOSS, OPEN
from tests.rules.source import SOURCE

COMPOSED = ("fact", "table", "not_shown", "claim", "no_claim", "sheet", "limits")
"""Tables of the catalogue whose keys the program puts together from a word."""
OTHERS = [code for code in languages() if code != "en"]


def places(sentence: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}


def test_english_comes_first_and_another_language_is_there():
    assert languages()[0] == "en"
    assert "de" in OTHERS


@pytest.mark.parametrize("code", OTHERS)
def test_every_sentence_of_english_is_there_with_the_same_places(code):
    other = language(code).sentences
    assert set(other) == set(ENGLISH.sentences)
    differing = [key for key, text in ENGLISH.sentences.items() if places(text) != places(other[key])]
    assert differing == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_language_has_words_for_what_the_rest_of_the_program_says_in_short(code):
    said = [*CAUTIONS, *REASON_WORDS.values(), *_SOURCE_WORDS.values(), GAIN, LOSS, OPEN]
    said += ["power", "torque", "boost", "publishable", "indicative", "unsupported", "engine", "hub", "roller"]
    assert [text for text in said if text not in language(code).phrases] == []


def test_every_key_that_the_program_says_is_in_the_catalogue_and_none_is_idle():
    source = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py"))
    named = set(re.findall(r"""["']([a-z_]+\.[a-z_]+)["']""", source))
    words = set(re.findall(r'"([a-z_]+)"', source)) | {"at_speed", "best_pull"}  # kinds of claim, written with a hyphen
    composed = {f"{table}.{word}" for table in COMPOSED for word in words | {f"column_{word}" for word in words}}
    assert set(ENGLISH.sentences) - named - composed == set()
    assert set(re.findall(r'say\(\s*"([a-z_]+\.[a-z_]+)"', source)) <= set(ENGLISH.sentences)


def test_german_writes_a_comma_and_leaves_what_is_no_number():
    german = language("de")
    assert german.signed_plus_minus(2.34, 1.31, "%") == "+2,3\u00a0±\u00a01,3\u00a0%"
    assert german.number(1234.5, 1) == "1\u202f234,5"
    assert german.numeral("144.6 kPa abs") == "144,6 kPa abs"
    assert german.speed_span(50.0, 100.0) == "3\u202f000–6\u202f000\u00a01/min"
    assert ENGLISH.numeral("144.6") == "144.6"


def test_what_is_filled_in_is_never_read_as_a_pattern():
    assert "{percent}" in ENGLISH.say("fact.change_words", baseline="{percent}", candidate="b")


def test_an_unknown_language_is_refused_with_those_that_are_there():
    with pytest.raises(DataError, match='language "xx" has no catalogue of sentences; choose en or de'):
        language("xx")

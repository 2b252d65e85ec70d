"""What the fuzzer found, read again: each was an exception, a crash or a poor message (docs/fuzzing.md)."""

import gc
import random
from pathlib import Path

import pytest

from benchmarks.fuzz_readers import READERS, bred, unsound
from boostwright.errors import BoostwrightError, Fault

FRESH, SLOW_FRESH = 25, 8  # asammdf takes a second for what others refuse in a hundredth
FOUND = sorted((Path(__file__).parents[1] / "data" / "fuzz").glob("*/*.input"))

# A changed file makes asammdf leave half of itself behind, and then fail to clear that up.
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


def refusal(reader, data, folder):
    """What is said of an input; the frames of the refusal are let go here, and what asammdf left in them with them."""
    said = None
    try:
        reader.read(data, folder)
    except BoostwrightError as wrong:
        said = wrong
        said.__traceback__ = said.__cause__ = said.__context__ = None
    if reader.name == "mdf":
        gc.collect()
    return said


@pytest.mark.parametrize("path", FOUND, ids=[f"{path.parent.name}-{path.stem}" for path in FOUND])
def test_what_was_found_is_read_or_refused_with_place_and_remedy(path, tmp_path):
    wrong = refusal(READERS[path.parent.name.replace("-", " ")], path.read_bytes(), tmp_path)

    assert wrong is None or unsound(wrong) == ""


@pytest.mark.parametrize("name", READERS)
def test_inputs_bred_from_the_examples_are_read_or_refused_with_place_and_remedy(name, tmp_path):
    """A few of the many thousand of a recorded run, so that the fuzzer itself stays in order."""
    reader, chance = READERS[name], random.Random(name)
    parents, count = reader.parents(), SLOW_FRESH if name == "mdf" else FRESH
    refusals = [refusal(reader, bred(chance.choice(parents), parents, reader, chance), tmp_path) for _ in range(count)]

    assert [unsound(wrong) for wrong in refusals if wrong is not None and unsound(wrong)] == []
    assert any(refusals)


def test_what_makes_a_refusal_unsound_is_told():
    assert unsound(ValueError("no")) == "ValueError is no refusal"
    assert unsound(BoostwrightError("")) == "says nothing"


def test_a_fault_is_one_line_that_no_terminal_obeys():
    fault = Fault(file="01.csv", column="A\x1b[2J", value="a\nb", problem="is odd\u202e", remedy="mend it")

    assert str(fault) == r'01.csv, column "A\x1b[2J": a\nb is odd\u202e; mend it'

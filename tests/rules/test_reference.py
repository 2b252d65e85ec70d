"""The pages that are made from the program say what it does today."""

import pytest

from docs.make_reference import static_pages
from docs.make_validation import PAGE, page, read_outcomes

PAGES = static_pages()


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_the_reference_is_current(path):
    remedy = "run: python -m docs.make_reference"
    assert path.read_text(encoding="utf-8") == PAGES[path], remedy


def test_the_page_of_outside_checks_is_current():
    """Its words are those of the tests; how many cases held is from the run that wrote it, and none may be missing."""
    text = PAGE.read_text(encoding="utf-8")
    assert page(read_outcomes(text)) == text, "run: python -m docs.make_validation"
    assert "not run" not in text
    assert " failed" not in text

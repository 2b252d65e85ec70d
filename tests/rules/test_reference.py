"""The pages that are made from the program say what it does today."""

import pytest

from docs.make_reference import static_pages

PAGES = static_pages()


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_the_reference_is_current(path):
    remedy = "run: python -m docs.make_reference"
    assert path.read_text(encoding="utf-8") == PAGES[path], remedy

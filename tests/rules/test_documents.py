"""The documents build without a warning, and a reader's browser asks the network for nothing."""

import os
import re
import subprocess
import sys

import pytest

from docs.help_examples import ROOT

ASKED = re.compile(
    r"""<(?:script|img|iframe|source)\b[^>]*\ssrc=["']?(?:https?:)?//|<link\b[^>]*\shref=["']?https?://"""
)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    target = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(target)]
    environment = os.environ | {"NO_MKDOCS_2_WARNING": "1"}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return target


def test_the_documents_build_with_warnings_as_errors(site):
    built = {path.relative_to(site).as_posix() for path in site.rglob("*.html")}
    assert {"index.html", "tutorial.html", "validation.html", "reference/python.html", "reference/words.html"} <= built


def test_no_page_asks_for_anything_from_elsewhere(site):
    pages = [*site.rglob("*.html"), *site.rglob("*.css")]
    assert [page.name for page in pages if ASKED.search(page.read_text(encoding="utf-8"))] == []
    imported = [
        page for page in site.rglob("*.css") if re.search(r"url\(['\"]?https?:", page.read_text(encoding="utf-8"))
    ]
    assert imported == []

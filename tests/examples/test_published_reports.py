"""The published report and sheet of each example are current, and their three files belong together.

What is compared is the JSON that the documents say, words exactly and numbers within a printed digit or two, since
the last digit of a fit may differ between processors; the bytes of PDF and HTML hang on the versions of typesetter and
plotter, so of them only the words and the check code are compared.
"""

import hashlib
import importlib.util
import io
import json
import re
from pathlib import Path

import pypdf
import pytest

from boostwright.publish.document import document_json

ROOT = Path(__file__).parents[2]
REPORTS = ROOT / "examples" / "reports"
NUMBER = re.compile(r"\d[\d\u202f]*(?:\.\d+)?")


def script():
    spec = importlib.util.spec_from_file_location("publish_reports", ROOT / "examples" / "publish_reports.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PUBLISHED = (
    "inlet-elbow/report",
    "inlet-elbow/machined-sheet",
    "pulley-v6/report",
    "cooler-methanol/report",
    "propane-pump/report",
    "workboat-family/big-six/report",
    "workboat-family/eight/report",
    "workboat-family/five/report",
    "workboat-family/four/report",
    "workboat-family/six/report",
)


def leaves(value, path=""):
    """Every text of a document with the place where it stands."""
    if isinstance(value, dict):
        for key, inner in sorted(value.items()):
            yield from leaves(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from leaves(inner, f"{path}[{place}]")
    else:
        yield path, value


def numbers(text: str) -> list[float]:
    return [float(found.replace("\u202f", "")) for found in NUMBER.findall(text)]


@pytest.mark.parametrize("name", PUBLISHED)
def test_the_committed_document_is_what_the_inputs_say_today(name):
    committed = dict(leaves(json.loads((REPORTS / f"{name}.json").read_text(encoding="utf-8"))))
    today = dict(leaves(json.loads(document_json(script().DOCUMENTS[name]()))))
    hint = "if the change is meant: python examples/publish_reports.py, then read the difference"
    assert list(committed) == list(today), hint
    for place, text in committed.items():
        now = today[place]
        if not isinstance(text, str) or re.search(r"[0-9a-f]{64}", text):
            assert now == text, f"{place}: {hint}"
        else:
            assert NUMBER.sub("#", now) == NUMBER.sub("#", text), f"{place}: {hint}"
            assert numbers(now) == pytest.approx(numbers(text), rel=0.02, abs=0.11), f"{place}: {now}; {hint}"


@pytest.mark.parametrize("name", PUBLISHED)
def test_pdf_and_html_carry_the_check_code_of_the_json(name):
    digest = hashlib.sha256((REPORTS / f"{name}.json").read_bytes()).hexdigest().upper()
    code = "-".join(digest[i : i + 4] for i in range(0, 16, 4))
    pages = pypdf.PdfReader(io.BytesIO((REPORTS / f"{name}.pdf").read_bytes())).pages
    ends = (pages[0], pages[-1])  # the foot is one template, and reading a page takes half a second
    assert all(code in re.sub(r"\s", "", page.extract_text()) for page in ends)
    assert code in (REPORTS / f"{name}.html").read_text(encoding="utf-8")


def test_every_published_file_is_one_of_a_document_that_is_checked():
    files = {path.relative_to(REPORTS).with_suffix("").as_posix() for path in REPORTS.rglob("*.*")}
    assert files == set(PUBLISHED) == set(script().DOCUMENTS)

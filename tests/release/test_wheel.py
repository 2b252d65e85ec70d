"""What is handed over: the built wheel holds all that the program opens, and names one version."""

import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from boostwright import __version__

ROOT = Path(__file__).parents[2]
OPENED = (
    "boostwright/py.typed",
    "boostwright/publish/fonts/source-sans-3-400.ttf",
    "boostwright/publish/fonts/LICENSE-source-sans.txt",
    "boostwright/publish/templates/document.typ",
    "boostwright/publish/templates/compare.html",
    "boostwright/studies/catalogue/de.toml",
    "boostwright/web/static/index.html",
    "boostwright/web/static/assets/app.js",
    "boostwright/examples/inlet-elbow/campaign.toml",
    "boostwright/examples/inlet-elbow/pulls/06-cast.parquet",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    [built] = folder.glob("*.whl")
    with zipfile.ZipFile(built) as archive:
        yield archive


def test_the_wheel_holds_what_the_program_opens(wheel):
    names = set(wheel.namelist())
    assert [name for name in OPENED if name not in names] == []


def test_every_file_of_the_package_is_in_the_wheel(wheel):
    source = ROOT / "src"
    ours = [path for path in source.rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    shipped = set(wheel.namelist())
    assert [path for path in ours if path.relative_to(source).as_posix() not in shipped] == []


def test_the_wheel_starts_and_says_its_version_and_pythons(wheel):
    [metadata] = [wheel.read(name).decode() for name in wheel.namelist() if name.endswith("METADATA")]
    [entries] = [wheel.read(name).decode() for name in wheel.namelist() if name.endswith("entry_points.txt")]

    assert f"\nVersion: {__version__}\n" in metadata
    assert "\nRequires-Python: >=3.11\n" in metadata
    assert "boostwright = boostwright.cli:main" in entries


def test_the_version_is_semantic_and_that_of_the_newest_changes():
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)
    newest = re.search(r"^## (\S+) \((unreleased|\d{4}-\d\d-\d\d)\)$", (ROOT / "CHANGELOG.md").read_text(), re.M)
    assert newest is not None
    assert newest[1] == __version__


def test_the_citation_names_the_same_version():
    citation = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f"\nversion: {__version__}\n" in citation

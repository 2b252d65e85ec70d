"""A campaign folder of its own for each test, and the app that serves it."""

from pathlib import Path

import pytest

from boostwright.records.examples import copy_example
from boostwright.web.access import Access
from boostwright.web.app import create_app
from tests.web.client import Client


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return copy_example("inlet-elbow", tmp_path / "elbow")


@pytest.fixture
def client(folder: Path) -> Client:
    return Client(create_app(folder, Access()))


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    place = tmp_path / "empty"
    place.mkdir()
    return place


@pytest.fixture
def beginner(empty: Path) -> Client:
    return Client(create_app(empty, Access()))

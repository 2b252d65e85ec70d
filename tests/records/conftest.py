"""Files for the tests of the readers; all data is invented."""

from collections.abc import Callable
from pathlib import Path

import pytest

from boostwright.errors import FileError
from boostwright.records.log import read_log

FileMaker = Callable[..., Path]


@pytest.fixture
def make_file(tmp_path) -> FileMaker:
    """Write text into a file of the test's own folder."""

    def make(text: str, name: str = "01.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode(encoding))
        return path

    return make


@pytest.fixture
def refusal(make_file) -> Callable[..., list[str]]:
    """What the reader says about a faulty text, line by line, without the folder."""

    def refuse(text: str, name: str = "01.csv", encoding: str = "utf-8") -> list[str]:
        path = make_file(text, name, encoding)
        with pytest.raises(FileError) as caught:
            read_log(path)
        return str(caught.value).replace(f"{path.parent}/", "").splitlines()

    return refuse

"""The page of licences names every package that is needed, and its script reads what packages state of themselves."""

from email.message import Message

import pytest

from docs.make_licences import PAGE, closure, direct, licence, listed


def test_the_page_names_every_package_that_is_needed():
    needed = set().union(*(closure(names) for names in direct().values()))
    assert listed(PAGE.read_text(encoding="utf-8")) == needed, "run: python -m docs.make_licences"


def test_no_package_leaves_its_licence_open():
    assert "not stated" not in PAGE.read_text(encoding="utf-8")


class Package:
    def __init__(self, **said):
        self.metadata = Message()
        self.metadata["Name"] = "x"
        for name, value in said.items():
            self.metadata[name.replace("_", "-")] = value


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ({"License_Expression": "MIT", "License": "other"}, "MIT"),
        ({"License": "BSD 3-Clause"}, "BSD 3-Clause"),
        ({"License": "Copyright\n " * 40, "Classifier": "License :: OSI Approved :: BSD License"}, "BSD License"),
        ({"License": "UNKNOWN"}, "not stated in its metadata"),
    ],
)
def test_a_licence_is_read_from_wherever_it_is_stated(said, read):
    assert licence(Package(**said)) == read

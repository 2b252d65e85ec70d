"""STYLE section 1: which way imports point."""

import ast
import re

from tests.rules.source import SOURCE, modules, room

ORDER = ("cli", "web", "publish", "studies", "inference", "machine", "reduction", "records", "physics")
BASE = ("units", "nomenclature", "errors")
STRANGERS = {("machine", "reduction"), ("reduction", "machine"), ("web", "cli")}  # the shell opens the page (`serve`)
PICTURE = SOURCE.parents[1] / "docs" / "images" / "rooms.svg"
OUTSIDE_PHYSICS = {"pathlib", "os", "io", "time", "datetime", "random", "logging", "polars", "json", "tomlkit", "rich"}


def imported_rooms(tree: ast.Module) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute, so that a reader sees the room"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.split(".")[1] for name in names if name.startswith("boostwright.")}


def may_import(own: str, other: str) -> bool:
    if own == other or other == "__version__" or own in ("__init__", "__main__"):
        return True
    if other in BASE:
        return own not in BASE or BASE.index(other) > BASE.index(own)
    if own in BASE or (own, other) in STRANGERS:
        return False
    return ORDER.index(other) >= ORDER.index(own)


def test_imports_point_from_upper_rooms_to_lower_ones():
    wrong = [
        f"{path.relative_to(SOURCE)} imports {other}"
        for path, tree in modules()
        for other in imported_rooms(tree)
        if not may_import(room(path), other)
    ]
    assert wrong == []


def test_the_rule_itself_refuses_an_import_from_above():
    assert not may_import("physics", "records")
    assert not may_import("machine", "reduction")
    assert may_import("studies", "physics")


def test_the_picture_of_the_architecture_shows_these_rooms_and_these_imports():
    """Drawn by `python -m docs.make_pictures rooms.svg`; its words are held to the rule and to the source."""
    drawn = {
        name: set(re.findall(r"\w+", said.removeprefix("imports from ").replace("no other room", "")))
        for name, said in re.findall(r'id="room-(\w+)".*?class="imports"[^>]*>([^<]+)<', PICTURE.read_text(), re.DOTALL)
    }
    found = {name: set() for name in ORDER}
    for path, tree in modules():
        if (own := room(path)) in found:
            found[own] |= imported_rooms(tree) & set(ORDER) - {own}
    assert drawn == found
    assert all(may_import(own, other) for own, others in drawn.items() for other in others)
    assert list(drawn) == list(ORDER), "from top to bottom"


def test_only_the_doors_import_late():
    late = [
        f"{path.relative_to(SOURCE)}:{node.lineno}"
        for path, tree in modules()
        if room(path) not in ("cli", "web", "__main__")
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]
    assert late == []


def test_physics_is_pure():
    impure = [
        f"{path.relative_to(SOURCE)} imports {name}"
        for path, tree in modules()
        if room(path) == "physics"
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""])
        if name.split(".")[0] in OUTSIDE_PHYSICS
    ]
    assert impure == []

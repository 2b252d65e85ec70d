"""STYLE section 3: every public function says what it returns; a physics function says units and source."""

import ast
import re

import pytest

from tests.rules.source import SOURCE, is_overload, modules, parameters, public_functions, room

UNIT = re.compile(r"\[[^\]]+\]")
PHYSICS = [
    pytest.param(path, name, function, id=f"{path.stem}.{name}")
    for path, tree in modules()
    if room(path) == "physics" and path.stem not in ("compiled", "__init__")
    for name, function in public_functions(tree)
    if "." not in name
]


def test_every_public_function_and_class_has_a_docstring():
    missing = [
        f"{path.relative_to(SOURCE)}: {name}"
        for path, tree in modules()
        for name, node in [
            *[(name, f) for name, f in public_functions(tree) if not is_overload(f)],
            *[(c.name, c) for c in tree.body if isinstance(c, ast.ClassDef) and not c.name.startswith("_")],
            (path.stem, tree),
        ]
        if not ast.get_docstring(node)
    ]
    assert missing == []


@pytest.mark.parametrize(("path", "name", "function"), PHYSICS)
def test_physics_docstring_gives_shapes_units_and_source(path, name, function):
    text = ast.get_docstring(function) or ""
    for section in ("Parameters\n", "Returns\n", "References\n"):
        assert section in text, f"{name} has no {section.strip()} section"
    described = text.split("Parameters\n", 1)[1].split("Returns\n", 1)[0]
    for parameter in parameters(function):
        entry = re.search(rf"^{parameter} : (.+)\n((?:    .*\n?)+)", described, flags=re.MULTILINE)
        assert entry, f"{name}: {parameter} is not described"
        if "float" in entry[1] or "array" in entry[1]:
            assert UNIT.search(entry[2]), f"{name}: {parameter} has no [unit]"

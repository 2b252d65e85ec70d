"""Reads our own source as syntax trees, for the tests of the house rules."""

import ast
import gc
from collections.abc import Iterator
from functools import cache
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src" / "boostwright"


def modules() -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted(SOURCE.rglob("*.py")):
        yield path, parsed(path)


@cache
def parsed(path: Path) -> ast.Module:
    """The tree of a file; a collection of garbage that runs meanwhile can upset the parser of Python up to 3.11.7."""
    gc.disable()
    try:
        return ast.parse(path.read_text(encoding="utf-8"))
    finally:
        gc.enable()


def room(path: Path) -> str:
    """The room's name, or the file's own name for those that stand above the rooms."""
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


def public_functions(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Public functions, and the public methods of public classes."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for item in node.body:
                if isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
                    yield f"{node.name}.{item.name}", item


def parameters(function: ast.FunctionDef) -> list[str]:
    arguments = function.args
    every = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    return [argument.arg for argument in every if argument.arg not in ("self", "cls")]


def is_overload(function: ast.FunctionDef) -> bool:
    return any(isinstance(mark, ast.Name) and mark.id == "overload" for mark in function.decorator_list)

"""STYLE section 2: a public parameter or field is a word of the nomenclature."""

import ast

from boostwright.nomenclature import WORDS
from tests.rules.source import SOURCE, modules, parameters, public_functions, room

ROOMS = ("physics", "reduction", "machine", "inference", "studies")
FORBIDDEN = ("calc_", "get_", "do_", "process_", "utils", "helpers", "manager")


def public_fields(tree: ast.Module):
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for item in node.body:
                if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name) and item.target.id[0] != "_":
                    yield f"{node.name}.{item.target.id}", item.target.id


def test_public_parameters_and_fields_are_words_of_the_nomenclature():
    unknown = {
        f"{path.relative_to(SOURCE)}: {place}: {word}"
        for path, tree in modules()
        if room(path) in ROOMS and path.stem != "compiled"
        for place, words in [
            *[(name, parameters(function)) for name, function in public_functions(tree)],
            *[(name, [word]) for name, word in public_fields(tree)],
        ]
        for word in words
        if word not in WORDS
    }
    assert sorted(unknown) == []


def test_every_word_has_a_meaning_and_a_unit():
    assert [word.name for word in WORDS.values() if not word.meaning or not word.unit] == []


def test_no_function_is_named_for_nothing():
    named = [
        f"{path.relative_to(SOURCE)}: {name}"
        for path, tree in modules()
        for name, _ in public_functions(tree)
        if name.split(".")[-1].startswith(FORBIDDEN)
    ]
    assert named == []


def test_the_ambiguous_word_slip_stands_alone_nowhere():
    assert "slip" not in WORDS
    assert "lambda" not in WORDS

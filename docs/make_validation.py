"""Write the page of outside checks: each with its source and how it came out, as the tests that hold them report it.

    python -m docs.make_validation        # runs them, a minute, and writes docs/validation.md

The same page comes of any run of these tests with `--write-validation FILE`. A test compares the words of the page with
the tests, so that no check is on it that is not run, and none is run that is not on it.
"""

import ast
import re
import sys
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "validation.md"
PUBLISHED = "tests/published"
ELSEWHERE = (  # outside checks that belong to other rooms: the test, and what it is held against
    ("tests/inference/test_gain_curve.py", "emcee", "emcee"),
    ("tests/inference/test_gain_model.py", "statsmodels", "statsmodels"),
    ("tests/physics/test_losses.py", "fluids", "fluids"),
    ("tests/publish/test_bundle.py", "frictionless", "frictionless, Data Package"),
)
INTRODUCTION = """# Every outside check

*Made by the tests with `python -m docs.make_validation`. Do not edit; run it again.*

What the program computes, held against numbers that others have printed, against libraries that others have
written, and against arithmetic done apart. *Source* is what the test says of it; where it only says what is checked,
the source stands above the table. "From memory" is said where the page was not at hand. A check of an equation shows
that it is coded as cited. It does not show that an engine obeys it: nothing here, and nothing on
[the pages of simulations](coverage.md), has been compared with a real engine by us.
"""


@dataclass(frozen=True, kw_only=True)
class Check:
    """One test that holds something against the outside: where it is, its name as a sentence, and what it says."""

    file: str
    function: str
    said: str

    @property
    def key(self) -> str:
        """What a run reports it by, its cases apart."""
        return f"{self.file}::{self.function}"


@dataclass(frozen=True, kw_only=True)
class Topic:
    """The checks of one file, and what the file says of them."""

    title: str
    said: str
    checks: tuple[Check, ...]


def topics() -> list[Topic]:
    """Every outside check, by file."""
    found = [_topic(path, "") for path in sorted((ROOT / PUBLISHED).glob("test_*.py"))]
    return found + [_topic(ROOT / file, word, source) for file, word, source in ELSEWHERE]


def _topic(path: Path, word: str, source: str = "") -> Topic:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    file = path.relative_to(ROOT).as_posix()
    checks = tuple(
        Check(file=file, function=node.name, said=_plain(ast.get_docstring(node) or ""))
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_") and _speaks_of(node, word)
    )
    title = path.stem.removeprefix("test_").replace("_", " ").capitalize()
    return Topic(
        title=f"{title}: {source}" if source else title,
        said=_plain(ast.get_docstring(tree) or ""),
        checks=checks,
    )


def _speaks_of(node: ast.FunctionDef, word: str) -> bool:
    return word in ast.unparse(node)


def _plain(text: str) -> str:
    return " ".join(text.split()).replace("*", "\\*")


def page(outcomes: Mapping[str, Counter[str]]) -> str:
    """The page, with how many cases of each check held in a run."""
    parts = [INTRODUCTION, _total(outcomes)]
    for topic in topics():
        rows = [
            f"| {check.function.removeprefix('test_').replace('_', ' ')} | {_cell(check.said)} "
            f"| {_result(outcomes.get(check.key, Counter()))} |"
            for check in topic.checks
        ]
        parts += [f"## {topic.title}\n", f"{topic.said}\n" if topic.said else "", "| check | source | result |"]
        parts += ["|---|---|---|", *rows, ""]
    return "\n".join(parts)


def _total(outcomes: Mapping[str, Counter[str]]) -> str:
    cases: Counter[str] = sum((outcomes.get(c.key, Counter()) for topic in topics() for c in topic.checks), Counter())
    checks = sum(len(topic.checks) for topic in topics())
    return f"**{checks} checks: {_result(cases)}.**\n"


def _result(cases: Counter[str]) -> str:
    total = sum(cases.values())
    if not total:
        return "not run"
    others = [f"{cases[outcome]} {outcome}" for outcome in ("failed", "skipped") if cases[outcome]]
    return ", ".join([f"{cases['passed']} of {total} hold", *others])


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def read_outcomes(text: str) -> dict[str, Counter[str]]:
    """The outcomes that a page states; a check that it does not name has none."""
    stated = re.findall(r"^\| (.+?) \| .* \| (\d+) of (\d+) hold(?:, (\d+) failed)?", text, flags=re.MULTILINE)
    by_name = {name: Counter(passed=int(held), failed=int(failed or 0)) for name, held, _, failed in stated}
    return {
        check.key: by_name[name]
        for topic in topics()
        for check in topic.checks
        if (name := check.function.removeprefix("test_").replace("_", " ")) in by_name
    }


class Recorder:
    """Counts the outcomes of a run, and writes the page when it ends."""

    def __init__(self, target: Path) -> None:
        self.target = target
        self.outcomes: dict[str, Counter[str]] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Count a case when it has run, or when it did not get that far."""
        if report.when == "call" or report.outcome != "passed":
            key = report.nodeid.split("[")[0]
            self.outcomes.setdefault(key, Counter())[report.outcome] += 1

    def pytest_sessionfinish(self) -> None:
        """Write the page."""
        self.target.write_text(page(self.outcomes), encoding="utf-8")


def main() -> None:
    """Run the outside checks and write their page."""
    chosen = [check.key for topic in topics() for check in topic.checks]
    sys.exit(pytest.main([*dict.fromkeys(chosen), "-q", "--write-validation", str(PAGE)]))


if __name__ == "__main__":
    main()

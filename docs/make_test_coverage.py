"""Write docs/test-coverage.md from what `coverage json` says of a run of the tests.

    coverage run --rcfile=RC -m pytest -n 2 -m "not browser" && coverage combine --rcfile=RC
    coverage json --rcfile=RC -o FILE && python -m docs.make_test_coverage FILE "a date and what ran"

RC says `branch = true`, `parallel = true`, `source = boostwright`, `patch = subprocess` (many tests start a command)
and `sigterm = true` (the processes behind the page are ended by that signal).
Lines of compiled kernels run outside Python and are never seen; they are counted apart.
"""

import ast
import json
import sys
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "boostwright"
PAGE = ROOT / "docs" / "test-coverage.md"
ROOMS = ("cli", "web", "publish", "studies", "inference", "machine", "reduction", "records", "physics", "top")
COMPILED = ("compiled", "merged", "compiled_parallel")
SHOWN = 12  # files with the most lines that nothing reached
WHY_BEGIN, WHY_END = "<!-- why -->", "<!-- end of why -->"


@dataclass
class Count:
    """Lines and branches of a room."""

    lines: int = 0
    reached: int = 0
    branches: int = 0
    reached_branches: int = 0
    compiled: int = 0
    files: dict[str, list[int]] = field(default_factory=dict)


def compiled_lines(path: Path) -> set[int]:
    """Lines of the bodies of compiled functions, which a tracer cannot see."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef) and any(_is_compiler(mark) for mark in node.decorator_list):
            lines |= set(range(node.body[0].lineno, (node.end_lineno or node.lineno) + 1))
    return lines


def _is_compiler(mark: ast.expr) -> bool:
    called = mark.func if isinstance(mark, ast.Call) else mark
    name = called.attr if isinstance(called, ast.Attribute) else called.id if isinstance(called, ast.Name) else ""
    return name in COMPILED


def counted(told: dict[str, dict[str, object]]) -> dict[str, Count]:
    """Counts by room, without the lines of kernels."""
    rooms: dict[str, Count] = defaultdict(Count)
    for name, file in told.items():
        path = (ROOT / name).resolve()
        inside = path.relative_to(SOURCE)
        room = rooms[inside.parts[0] if len(inside.parts) > 1 else "top"]
        unseen = compiled_lines(path)
        reached, missed = set(file["executed_lines"]) - unseen, set(file["missing_lines"]) - unseen
        branches = {tuple(branch) for branch in file["executed_branches"] if branch[0] not in unseen}
        not_taken = {tuple(branch) for branch in file["missing_branches"] if branch[0] not in unseen}
        room.lines += len(reached) + len(missed)
        room.reached += len(reached)
        room.branches += len(branches) + len(not_taken)
        room.reached_branches += len(branches)
        room.compiled += len((set(file["executed_lines"]) | set(file["missing_lines"])) & unseen)
        if missed:
            room.files[inside.as_posix()] = sorted(missed)
    return rooms


def page(told: dict[str, dict[str, object]], ran: str, why: str) -> str:
    """The whole page; `why` is what a person wrote of what is not reached."""
    rooms = counted(told)
    rows = [_row(name, rooms[name]) for name in ROOMS if rooms[name].lines]
    whole = Count(*(sum(getattr(room, part) for room in rooms.values()) for part in _SUMMED))
    missed = sorted(((name, lines) for room in rooms.values() for name, lines in room.files.items()), key=_most)
    return (
        "\n".join(
            [
                "# What the tests reach\n",
                f"*Made by `python -m docs.make_test_coverage` from one run: {ran}.*\n",
                "A line that ran has not been shown right: sources and outside checks are elsewhere. A line that never "
                "ran has certainly not been tested here.\n",
                "| room | lines | reached | branches | reached | lines of kernels, not seen |",
                "|---|---|---|---|---|---|",
                *rows,
                _row("**all**", whole),
                f"\n{WHY_BEGIN}\n{why.strip()}\n{WHY_END}\n",
                "## The files with the most lines that nothing reached\n",
                "| file | lines | which |\n|---|---|---|",
                *(f"| {name} | {len(lines)} | {_ranges(lines)} |" for name, lines in missed[:SHOWN]),
            ]
        )
        + "\n"
    )


_SUMMED = ("lines", "reached", "branches", "reached_branches", "compiled")


def _most(item: tuple[str, list[int]]) -> tuple[int, str]:
    return -len(item[1]), item[0]


def _row(name: str, count: Count) -> str:
    lines = f"{100 * count.reached / count.lines:.1f} %"
    branches = f"{100 * count.reached_branches / count.branches:.1f} %" if count.branches else "-"
    return f"| {name} | {count.lines} | {lines} | {count.branches} | {branches} | {count.compiled or '-'} |"


def _ranges(lines: list[int]) -> str:
    """Numbers of lines, those in a row together."""
    runs: list[list[int]] = []
    for line in lines:
        if runs and line == runs[-1][1] + 1:
            runs[-1][1] = line
        else:
            runs.append([line, line])
    said = [str(first) if first == last else f"{first}-{last}" for first, last in runs]
    return ", ".join(said[:8]) + (", ..." if len(said) > 8 else "")


def main() -> None:
    """Write the page, with the reasons that stand in it."""
    told = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))["files"]
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    why = old.partition(WHY_BEGIN)[2].partition(WHY_END)[0] or "Nobody has written yet why."
    PAGE.write_text(page(told, sys.argv[2], why), encoding="utf-8")


if __name__ == "__main__":
    main()

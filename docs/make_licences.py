"""Write docs/licences.md from what is installed: `python -m docs.make_licences`.

Names and licences are those that the packages state of themselves; nobody has read the texts for them here.
"""

import re
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "licences.md"
LONGEST = 60  # letters; some packages put the whole text of a licence where its name belongs
# What a package states in no field that can be read, and says in a file of its own.
STATED_ELSEWHERE = {"typst": "Apache-2.0"}
BUNDLED = (
    ("Source Sans 3, Source Serif 4", "figures, reports, page", "OFL-1.1", "`publish/fonts`, `web/static/licences`"),
    ("uPlot", "page", "MIT", "`web/static/licences/uplot.txt`"),
)


def direct() -> dict[str, list[str]]:
    """Names that pyproject.toml asks for: always, and by each extra."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = {"": project["dependencies"], **project["optional-dependencies"]}
    return {part: [canonicalize_name(Requirement(text).name) for text in texts] for part, texts in asked.items()}


def closure(names: list[str]) -> set[str]:
    """These packages and all that they need on this system."""
    found: set[str] = set()
    left = list(names)
    while left:
        name = left.pop()
        if name not in found:
            found.add(name)
            left += _needed(name)
    return found


def _needed(name: str) -> Iterator[str]:
    for text in distribution(name).requires or []:
        requirement = Requirement(text)
        if requirement.marker is None or requirement.marker.evaluate({"extra": ""}):
            yield canonicalize_name(requirement.name)


def licence(package: Distribution) -> str:
    """What a package states: an SPDX expression, a short name, or its classifiers."""
    said = package.metadata
    if expression := said.get("License-Expression"):
        return expression
    classified = [
        line.rpartition(" :: ")[2] for line in said.get_all("Classifier", []) if line.startswith("License ::")
    ]
    named = " ".join((said.get("License") or "").split())
    if named and len(named) <= LONGEST and named.upper() != "UNKNOWN":
        return named
    if classified:
        return ", ".join(classified)
    first = re.search(r"(MIT|BSD 3-Clause|BSD|Apache[ \w]*2\.0|PSF)", named)
    return first[1] if first else STATED_ELSEWHERE.get(canonicalize_name(said["Name"]), "not stated in its metadata")


def page() -> str:
    """The whole page."""
    asked = direct()
    always = closure(asked[""])
    lines = [
        "# Licences\n",
        "*Made from the installed packages by `python -m docs.make_licences`. Do not edit; run it again.*\n",
        "boostwright is under Apache-2.0. What it needs has its own licence; each line is what the package states "
        "of itself, for the versions of `requirements.lock`, on Linux. Whoever hands the program on reads the texts.\n",
        "The one copyleft licence is that of the extra `mdf`, whose library boostwright calls and does not contain.\n",
        "## Asked for\n",
        *_table(sorted(asked[""])),
        "\n## Needed by those\n",
        *_table(sorted(always - set(asked[""]))),
    ]
    for extra in ("mdf", "cluster"):
        lines += [f"\n## Only with the extra `{extra}`\n", *_table(sorted(closure(asked[extra]) - always))]
    lines += ["\n## Shipped within the package\n", "| what | used in | licence | its text |", "|---|---|---|---|"]
    lines += [f"| {' | '.join(row)} |" for row in BUNDLED]
    return "\n".join(lines) + "\n"


def _table(names: list[str]) -> Iterator[str]:
    yield "| package | licence |\n|---|---|"
    for name in names:
        yield f"| {name} | {_stated(name)} |"


def _stated(name: str) -> str:
    try:
        return licence(distribution(name))
    except PackageNotFoundError:
        return "not installed here"


def listed(text: str) -> set[str]:
    """The packages that a page names."""
    return set(re.findall(r"^\| ([a-z0-9][a-z0-9.-]*) \| ", text, re.MULTILINE)) - {"package", "what"}


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")

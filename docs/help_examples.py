"""The examples that `--help` prints, and how each is run in a copy of the example campaigns.

An example is run as it is printed. Some need what another command made first, and get it: `archive` an archive,
`archive import` that of somebody else, `verify` a signed bundle; and the digest that `archive show` is given is made
one of a pull that is there. `serve` does not end by itself, so it is left to whoever starts it.
"""

import json
import os
import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer
from typer.testing import CliRunner

from boostwright.cli.app import app

ROOT = Path(__file__).parents[1]
PASSPHRASE = "four plain invented words"
EXAMPLES = ("inlet-elbow", "workboat-family")  # all that help speaks about


@dataclass(frozen=True, kw_only=True)
class HelpExample:
    """One line that a command's help prints: the command, the line, and whether the command can write JSON."""

    command: str
    line: str
    writes_json: bool

    @property
    def arguments(self) -> list[str]:
        """What stands behind `boostwright`, as a shell would hand it over in the folder where we stand."""
        words = shlex.split(self.line)[1:]
        return [part for word in words for part in (sorted(map(str, Path().glob(word))) if "*" in word else [word])]


def commands(group: Any = None, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every command with its full name, those of a group behind it."""
    group = group or typer.main.get_command(app)
    for name, command in group.commands.items():
        full = f"{path} {name}".strip()
        if hasattr(command, "commands"):
            yield from commands(command, full)
        else:
            yield full, command


def help_examples() -> list[HelpExample]:
    """The examples of all commands, in the order of the help."""
    return [
        HelpExample(command=name, line=line, writes_json=any("--json" in option.opts for option in command.params))
        for name, command in commands()
        for line in re.findall(r"^\s*Example: (.+)$", command.help or "", flags=re.MULTILINE)
    ]


def invoked(*arguments: str) -> Any:
    """Run a command in this process."""
    return CliRunner(env={"COLUMNS": "120", "BOOSTWRIGHT_PASSPHRASE": PASSPHRASE}).invoke(app, list(arguments))


@contextmanager
def copy_of_the_root(folder: Path) -> Iterator[None]:
    """Stand in a folder that looks like the root of the repository, as far as help speaks about it."""
    for name in EXAMPLES:
        shutil.copytree(ROOT / "examples" / name, folder / "examples" / name, ignore=shutil.ignore_patterns("results"))
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def ran(example: HelpExample, json_file: str | None = None) -> Any:
    """Make what the example needs in the folder where we stand, and run it; `serve` cannot be run so."""
    arguments = example.arguments
    _prepare(example.command)
    if example.command == "archive show":
        arguments[arguments.index("3f2a")] = _a_digest()
    if json_file and example.writes_json and "--json" not in arguments:
        arguments += ["--json", json_file]
    return invoked(*arguments)


def _prepare(command: str) -> None:
    if command.startswith("archive ") and command != "archive add":
        _must("archive", "add", "examples/inlet-elbow", "--archive", "pulls-archive")
    if command == "archive import":
        _must("archive", "export", "from-the-dealer", "--archive", "pulls-archive")
    if command == "verify":
        _must("keys", "maker.pem")
        made = ("--no-model", "--bundle", "claim.zip", "--key", "maker.pem")
        _must("publish", "examples/inlet-elbow", *made)


def _must(*arguments: str) -> None:
    done = invoked(*arguments)
    if done.exit_code:
        raise RuntimeError(f"boostwright {shlex.join(arguments)}: {done.output}") from done.exception


def _a_digest() -> str:
    _must("archive", "list", "--archive", "pulls-archive", "--json", "list.json")
    return json.loads(Path("list.json").read_text())["pulls"][0]["digest"][:6]

"""The tutorial, run from top to bottom as it is printed; what it shows is what comes out."""

import re
import shlex
import subprocess
from pathlib import Path

from docs.help_examples import ROOT, copy_of_the_root, invoked

TUTORIAL = ROOT / "docs" / "tutorial.md"
FENCE = re.compile(r'^```(\w+)(?: title="([^"\n]+)")?\n(.*?)^```$', flags=re.MULTILINE | re.DOTALL)


def test_the_tutorial_runs_and_prints_what_it_shows(tmp_path):
    """Blocks of `sh` are run, blocks with a title are that file, and each line of `text` follows in the output."""
    blocks = FENCE.findall(TUTORIAL.read_text(encoding="utf-8"))
    said = ""
    with copy_of_the_root(tmp_path):
        for language, file, content in blocks:
            if language == "sh":
                said = "".join(output_of(line) for line in content.splitlines())
            elif file:
                Path(file).parent.mkdir(exist_ok=True)
                Path(file).write_text(content, encoding="utf-8")
            else:
                assert_shown(content, said)

    commands = {line.split()[1] for language, _, content in blocks if language == "sh" for line in content.splitlines()}
    assert {"inspect", "compare", "explain", "publish", "verify"} <= commands


def output_of(line: str) -> str:
    command, *arguments = shlex.split(line)
    if command != "boostwright":
        subprocess.run([command, *arguments], check=True)
        return ""
    done = invoked(*arguments)
    assert done.exit_code == 0, done.output
    return done.stdout


def assert_shown(shown: str, said: str) -> None:
    """Every line that is shown is printed, in this order; white space and where lines break do not count."""
    rest = " ".join(said.split())
    for line in shown.splitlines():
        words = " ".join(line.split())
        if words != "...":
            assert words in rest
            rest = rest.split(words, 1)[1]

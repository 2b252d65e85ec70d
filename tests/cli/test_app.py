"""The door itself: exit status, help, version."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest


def boostwright(*arguments, **environment):
    command = [sys.executable, "-m", "boostwright", *arguments]
    told = environment.get("PYTHONIOENCODING", "utf-8")
    return subprocess.run(command, capture_output=True, encoding=told, check=False, env=os.environ | environment)


def test_wrong_input_ends_with_status_2_and_its_message_on_standard_error(tmp_path):
    done = boostwright("compare", str(tmp_path))
    assert done.returncode == 2
    assert done.stdout == ""
    assert "campaign.toml" in done.stderr
    assert "boostwright inspect" in done.stderr
    assert "Traceback" not in done.stderr


def test_help_does_not_wait_for_compilers_and_plotters():
    code = "import sys; sys.argv = ['boostwright', '--help']\nfrom boostwright.cli import main\n"
    code += "try:\n    main()\nexcept SystemExit:\n    pass\n"
    code += "print(sorted({'numba', 'scipy', 'matplotlib', 'polars', 'numpy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().splitlines()[-1] == "[]"


def test_version_is_the_packages():
    from boostwright import __version__

    assert boostwright("--version").stdout == f"boostwright {__version__}\n"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_file_that_lacks_our_marks_gets_them_spelt(encoding):
    """The code page of a Windows shell holds no narrow blank; a report must not end in a traceback for it."""
    done = boostwright("plan", PYTHONIOENCODING=encoding, PYTHONUTF8="0")

    assert done.returncode == 0, done.stderr
    assert "3 000" in done.stdout.replace("\u00a0", " ")
    assert "?" not in done.stdout
    assert "\u202f" not in done.stdout


def test_json_is_utf_8_whatever_the_terminal_is():
    done = subprocess.run(
        [sys.executable, "-m", "boostwright", "plan", "--json", "-"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
        check=True,
    )
    assert json.loads(done.stdout.decode("utf-8"))["orders"]


def test_completion_of_a_shell_names_the_commands():
    environment = {"_BOOSTWRIGHT_COMPLETE": "complete_bash", "COMP_WORDS": "boostwright ", "COMP_CWORD": "1"}
    command = str(Path(sys.executable).with_name("boostwright"))  # its own name is in the script
    script = subprocess.run([command, "--show-completion", "bash"], capture_output=True, text=True, check=True)
    offered = subprocess.run([command], capture_output=True, text=True, check=True, env=os.environ | environment)

    assert "_BOOSTWRIGHT_COMPLETE=complete_bash" in script.stdout
    assert {"demo", "compare", "match", "serve"} <= set(offered.stdout.split())


def test_what_a_shell_hands_over_is_never_obeyed_by_the_terminal(tmp_path):
    done = boostwright("compare", str(tmp_path / "\x1b[2J\udcff"))

    assert done.returncode == 2
    assert "\x1b" not in done.stderr
    assert r"\x1b[2J\udcff" in done.stderr

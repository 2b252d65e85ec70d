"""The door itself: exit status, help, version."""

import subprocess
import sys


def boostwright(*arguments):
    command = [sys.executable, "-m", "boostwright", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


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

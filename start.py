"""Set boostwright up and run it: `python3 start.py demo`, `python3 start.py test`. Needs only Python 3.11+ and git."""

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
STAMP = VENV / "boostwright-stamp"
USAGE = """usage: python3 start.py COMMAND [ARGUMENTS]

  demo     run the main job on the example campaign and say where the report is
  test     run the tests (further arguments go to pytest)
  lint     check format and style
  types    check types
  bench    run the benchmarks that report ratios
  check    lint, types, tests, benchmarks
  docs     build the documents into site/, with warnings as errors
  run      any boostwright command: python3 start.py run compare my-campaign
  setup    only make the environment"""


def fingerprint() -> str:
    """What the environment was made from; a change of any of it makes a new one."""
    parts = [sys.version.encode(), *((HERE / name).read_bytes() for name in ("requirements.lock", "pyproject.toml"))]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def call(*command: str | Path, quiet: bool = False) -> None:
    """Run a command in the project's folder and end with its exit status if it fails."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}  # small matrices: more threads only wait for each other
    output = subprocess.DEVNULL if quiet else None
    done = subprocess.run([str(part) for part in command], cwd=HERE, env=environment, stdout=output, check=False)
    if done.returncode:
        sys.exit(done.returncode)


def set_up() -> None:
    """Make `.venv` from the hash-pinned lock file and install the project into it; nothing to do when it is current."""
    if STAMP.exists() and STAMP.read_text() == fingerprint():
        return
    print("Setting up .venv (once; about a minute, and about 1 GB on disk) ...", flush=True)
    try:
        venv.create(VENV, with_pip=True, clear=True)
    except subprocess.CalledProcessError:
        sys.exit(
            "start.py: Python's venv module cannot install pip here; on Debian or Ubuntu: apt install python3-venv"
        )
    pip = (BIN / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    call(*pip, "--require-hashes", "-r", HERE / "requirements.lock", quiet=True)
    call(*pip, "--no-deps", "--no-build-isolation", "--editable", HERE, quiet=True)
    STAMP.write_text(fingerprint())


def lint() -> None:
    """Format and style, as the files stand."""
    call(BIN / "ruff", "format", "--check", ".")
    call(BIN / "ruff", "check", ".")


def types() -> None:
    """Types, strictly."""
    call(BIN / "pyright")


def test(arguments: list[str]) -> None:
    """The whole test suite, or what the arguments name."""
    call(
        BIN / "python", "-m", "pytest", *(arguments or ["-n", "2", "--dist", "loadfile"])
    )  # what a file sets up is made once


def bench() -> None:
    """Every benchmark that reports ratios to a reference in the same run, in its short form."""
    for script in sorted((HERE / "benchmarks").glob("*_speed.py")):
        call(BIN / "python", "-m", f"benchmarks.{script.stem}")


def docs() -> None:
    """The documents as a site; every warning is an error, and nothing is fetched."""
    os.environ["NO_MKDOCS_2_WARNING"] = "1"  # an advertisement of the theme's makers
    call(BIN / "python", "-m", "mkdocs", "build", "--strict")
    print(f"Open {HERE / 'site' / 'index.html'}, or, to search as well: {BIN / 'python'} -m http.server -d site")


def main() -> None:
    """Read the command and run it in the project's own environment."""
    if sys.version_info < (3, 11):  # noqa: UP036  (the one file that an older Python may run)
        sys.exit(f"start.py: this is Python {sys.version.split()[0]}; boostwright needs 3.11 or newer")
    command, *arguments = sys.argv[1:] or ["help"]
    jobs = {
        "demo": lambda: call(BIN / "boostwright", "demo", *arguments),
        "run": lambda: call(BIN / "boostwright", *arguments),
        "test": lambda: test(arguments),
        "lint": lint,
        "types": types,
        "bench": bench,
        "docs": docs,
        "check": lambda: [job() for job in (lint, types, lambda: test(arguments), bench)],
        "setup": lambda: None,
    }
    if command not in jobs:
        sys.exit(USAGE)
    set_up()
    jobs[command]()


if __name__ == "__main__":
    main()

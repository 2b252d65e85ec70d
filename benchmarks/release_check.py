"""Build wheel and sdist, install each with plain pip in fresh environments, and run the demo from an empty folder.

`python -m benchmarks.release_check [PYTHON ...]` takes the interpreters to try; without any, those of 3.11 to 3.14 that
it finds on the path. It asks the registry for what the package needs, takes some minutes, and prints a table.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
TRIED = ("python3.11", "python3.12", "python3.13", "python3.14")


def said(*command: str | Path, folder: Path) -> str:
    """What a command printed; an error with its words if it failed."""
    own = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "VIRTUAL_ENV")}
    done = subprocess.run([str(part) for part in command], cwd=folder, env=own, capture_output=True, check=False)
    words = (done.stdout + done.stderr).decode("utf-8", "replace")
    if done.returncode:
        sys.exit(f"{' '.join(map(str, command))}\nended with status {done.returncode}:\n{words[-4000:]}")
    return words


def checked(python: str, package: Path, scratch: Path) -> str:
    """Install into a fresh environment and do what a new user does; a row of the table."""
    start = time.monotonic()
    environment, empty = scratch / "environment", scratch / "empty"
    shutil.rmtree(environment, ignore_errors=True)
    shutil.rmtree(empty, ignore_errors=True)
    empty.mkdir()
    said(python, "-m", "venv", environment, folder=empty)
    tools = environment / ("Scripts" if os.name == "nt" else "bin")
    said(tools / "python", "-m", "pip", "install", "--disable-pip-version-check", package, folder=empty)
    installed = time.monotonic() - start
    demo = said(tools / "boostwright", "demo", folder=empty)
    report = next(empty.rglob("report.html"), None)
    if "gain shown" not in demo.casefold() or report is None:
        sys.exit(f"the demo did not end in a report:\n{demo}")
    said(tools / "boostwright", "doctor", folder=empty)
    said(tools / "boostwright", "match", *empty.rglob("builds/cast.toml"), "--speeds", "3000:4000:500", folder=empty)
    version = said(tools / "python", "--version", folder=empty).split()[1]
    own = said(tools / "boostwright", "--version", folder=empty).split()[1]
    numbers = said(tools / "python", "-c", _VERSIONS, folder=empty).strip()
    taken = time.monotonic() - start - installed
    kind = "wheel" if package.suffix == ".whl" else "sdist"
    return f"| {version} | {kind} of {own} | {installed:.0f} | {taken:.0f} | {numbers} |"


_VERSIONS = (
    "from importlib.metadata import version; "
    "print(', '.join(f'{name} {version(name)}' for name in ('numpy', 'scipy', 'numba', 'polars')))"
)


def main() -> None:
    """Build, then try every interpreter with the wheel and with the sdist."""
    pythons = sys.argv[1:] or [name for name in TRIED if shutil.which(name)]
    with tempfile.TemporaryDirectory(prefix="boostwright-release-") as folder:
        scratch = Path(folder)
        said(sys.executable, "-m", "hatchling", "build", "--directory", scratch / "built", folder=HERE)
        packages = sorted((scratch / "built").iterdir(), reverse=True)
        print("| Python | installed from | install, s | demo, doctor, match, s | with |\n|---|---|---|---|---|")
        for python in pythons:
            for package in packages:
                print(checked(python, package, scratch), flush=True)


if __name__ == "__main__":
    main()

"""What numbers were computed with, as far as it can change their last digit."""

import hashlib
import platform
from importlib.metadata import version

import numpy as np

from boostwright import __version__

LIBRARIES = ("numpy", "scipy", "numba", "polars", "fastexcel", "matplotlib", "typst")


def versions() -> dict[str, str]:
    """Versions of this program and of the libraries that numbers and pages come from, and how this machine counts."""
    return {
        "boostwright": __version__,
        "python": platform.python_version(),
        **{name: version(name) for name in LIBRARIES},
        "system": platform.system(),
        "machine": platform.machine(),
        "arithmetic": arithmetic(),
    }


def arithmetic() -> str:
    """Two processors with the same code here round sums and functions alike; with another, the last digits may differ.

    Libraries choose their instructions by the processor, which no name of a system tells.
    """
    x = np.linspace(0.1, 3.0, 1024)
    square = np.sin(np.outer(x[:48], x[-48:])) + 48.0 * np.eye(48)
    parts = (
        np.exp(x),
        np.log(x),
        np.sin(x),
        np.tanh(x),
        x**1.37,
        np.cumsum(x),
        square @ square.T,
        np.linalg.inv(square),
    )
    return hashlib.sha256(b"".join(np.ascontiguousarray(part).tobytes() for part in parts)).hexdigest()[:12]

"""Numbers of the JSON: six significant figures, so that the same inputs give the same bytes."""

import json
import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

SIGNIFICANT_FIGURES = 6


def json_number(value: float) -> float | None:
    """A number rounded to six significant figures; what is not finite becomes null."""
    if not math.isfinite(value):
        return None
    return float(f"{value:.{SIGNIFICANT_FIGURES}g}") + 0.0  # a negative zero would print its sign


def json_list(values: ArrayLike) -> list[float | None]:
    """A list of numbers rounded as `json_number` does."""
    return [json_number(float(value)) for value in np.asarray(values, dtype=np.float64)]


def json_text(result: Mapping[str, object]) -> str:
    """A result as it is written to a file or to standard output; what JSON cannot say is an error."""
    return json.dumps(result, indent=1, ensure_ascii=False, allow_nan=False) + "\n"

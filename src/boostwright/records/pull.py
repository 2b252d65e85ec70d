"""A pull as it was logged: its channels in SI with absolute pressures, its weather, and its place in the campaign."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from boostwright.records.weather import Weather

__all__ = ["RawPull", "Weather"]


@dataclass(frozen=True, kw_only=True)
class RawPull:
    """One logged pull; `elapsed` is the time in seconds since the first pull of its session."""

    file: str
    setup: str
    session: str
    installation: int
    started: datetime
    elapsed: float
    weather: Weather | None
    soak_temperature: float | None
    channels: Mapping[str, NDArray[np.float64]]

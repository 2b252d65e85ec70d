"""The stages of a pull between the log and the comparison; each step returns the next stage and deletes nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from boostwright.records.pull import RawPull, Weather
from boostwright.reduction.atmosphere import NO_CORRECTION, CorrectionRule, PowerCorrection

Floats = NDArray[np.float64]
Reasons = NDArray[np.uint8]


class Reason(IntEnum):
    """Why a row of the log does not count; the first reason that applies stands."""

    USED = 0
    NOT_A_NUMBER = 1
    OUTSIDE_SWEEP = 2
    PART_THROTTLE = 3
    NOT_RISING = 4
    STARTING = 5
    RAMP_END = 6
    FROZEN = 7
    OUTSIDE_RANGE = 8
    SPARSE_BIN = 9


REASON_WORDS = {
    Reason.NOT_A_NUMBER: "torque or speed is not a number",
    Reason.OUTSIDE_SWEEP: "outside the sweep",
    Reason.PART_THROTTLE: "throttle not fully open",
    Reason.NOT_RISING: "speed not rising",
    Reason.STARTING: "pull still starting",
    Reason.RAMP_END: "first or last 100 rpm of the ramp",
    Reason.FROZEN: "sensor frozen",
    Reason.OUTSIDE_RANGE: "outside the declared speed range",
    Reason.SPARSE_BIN: "bin with fewer than three samples",
}


@dataclass(frozen=True, kw_only=True)
class PullFault:
    """Something wrong within a pull: what, between which engine speeds, and how large as a fraction."""

    kind: str
    from_speed: float
    to_speed: float
    size: float
    sentence: str


@dataclass(frozen=True, kw_only=True)
class ReductionSettings:
    """What the campaign says about reducing its pulls.

    A rotating inertia of 0 means that the stand has taken the inertia term out itself. The drive ratio is turns of the
    logged rotor per turn of the engine without slip, from pitch diameters; `None` where nobody knows it.
    """

    speed_range: tuple[float, float]
    rule: CorrectionRule = NO_CORRECTION
    rotating_inertia: float = 0.0
    drive_ratio: float | None = None

    def __post_init__(self) -> None:
        low, high = self.speed_range
        if not 0 < low < high:
            raise ValueError(f"speed_range runs from {low * 60:.0f} to {high * 60:.0f} rpm: give the lower speed first")
        if not self.rotating_inertia >= 0:
            raise ValueError(f"rotating_inertia is {self.rotating_inertia} kg*m2: it cannot be negative")
        if self.drive_ratio is not None and not self.drive_ratio > 0:
            raise ValueError(f"drive_ratio is {self.drive_ratio}: it is above zero")


@dataclass(frozen=True, kw_only=True)
class SteadyPull:
    """A pull whose full-throttle sweep is found: every row with its smooth speed, its sweep rate and its reason."""

    raw: RawPull
    engine_speed: Floats
    sweep_rate: Floats
    reason: Reasons
    channels: Mapping[str, Floats]
    faults: tuple[PullFault, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CorrectedPull:
    """A steady pull whose power and torque are restated at the rule's reference atmosphere."""

    steady: SteadyPull
    correction: PowerCorrection
    channels: Mapping[str, Floats]


@dataclass(frozen=True, kw_only=True)
class ReducedPull:
    """One pull as the studies see it: a value of each quantity in each bin of engine speed (NaN where masked).

    Power and torque in `values` are corrected; divided by `correction_factor` they are as measured. `soak` is the soak
    temperature above the air temperature, `sweep_rate` the mean over the rows used (NaN where the log has no clock),
    `counts` the rows in each bin and `masked` those left out, by reason: together they are the rows of the log.
    """

    file: str
    setup: str
    session: str
    installation: int
    elapsed: float
    weather: Weather | None
    soak: float | None
    engine_speed: Floats
    values: Mapping[str, Floats]
    counts: NDArray[np.int64]
    correction_rule: str
    correction_factor: float
    outside_range: tuple[str, ...]
    sweep_rate: float
    masked: Mapping[str, int]
    faults: tuple[PullFault, ...]

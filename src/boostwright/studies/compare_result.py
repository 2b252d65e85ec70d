"""What a comparison found, in SI, and its conversions to the JSON others rely on and to a table."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.inference.gain_summary import Interval as FittedInterval
from boostwright.studies.rounding import json_list, json_number
from boostwright.units import Unit

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A value with its confidence interval, absolute [SI unit of the quantity] and relative to the baseline [-]."""

    value: float
    lower: float
    upper: float
    relative_value: float
    relative_lower: float
    relative_upper: float

    @property
    def half_width(self) -> float:
        """Half the width of the absolute interval."""
        return (self.upper - self.lower) / 2.0

    @property
    def relative_half_width(self) -> float:
        """Half the width of the relative interval."""
        return (self.relative_upper - self.relative_lower) / 2.0


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Baseline, candidate and gain against engine speed, with the simultaneous band of the gain."""

    engine_speed: Floats
    baseline: Floats
    candidate: Floats
    gain: Floats
    lower: Floats
    upper: Floats
    relative_gain: Floats
    relative_lower: Floats
    relative_upper: Floats


@dataclass(frozen=True, kw_only=True)
class Peak:
    """The highest value of a curve and the engine speed at which it occurs; what else was logged is given there."""

    value: float
    engine_speed: float
    manifold_pressure: float | None = None
    rotor_speed: float | None = None


@dataclass(frozen=True, kw_only=True)
class Crossover:
    """A speed where the gain changes sign, shown only if the band leaves zero on either side."""

    engine_speed: float
    lower: float
    upper: float
    direction: str


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A range of engine speed with one of three states: gain shown, loss shown, open."""

    from_speed: float
    to_speed: float
    state: str


@dataclass(frozen=True, kw_only=True)
class PullRow:
    """One pull as the comparison saw it: used or left out, with its curve over the bins (NaN where masked)."""

    file: str
    setup: str
    used: bool
    fault: str | None
    correction_factor: float
    corrected_outside_range: bool
    masked: tuple[tuple[str, int], ...]
    sweep_rate: float
    values: Floats


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What the grade is judged by: how the pulls used were made."""

    baseline_pulls: int
    candidate_pulls: int
    installations: int
    share_a_day: bool
    has_archive: bool
    corrected_outside_range: bool
    fit_warnings: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SessionDrift:
    """How fast the level drifted in one session, as a fraction of the baseline. [1/s]"""

    session: str
    interval: FittedInterval


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """The average gain without its drift terms, and what the pulls and their priors say of what else moves the level.

    Fractions of the mean baseline; `soak` is a kelvin [1/K], missing where it was not logged. `shape` are the ranges in
    which the candidate surely gains more or less than on its own average.
    """

    without_drift: FittedInterval
    drift: tuple[SessionDrift, ...]
    soak: FittedInterval | None
    shape: tuple[Stretch, ...]

    def as_json(self) -> dict[str, object]:
        """The sensitivity as JSON, in percent of the mean baseline."""
        return {
            "without_drift": _percent_json(self.without_drift, "gain_percent", 1.0),
            "drift": [
                {"session": drift.session, **_percent_json(drift.interval, "percent_per_h", 3600.0)}
                for drift in self.drift
            ],
            "soak": None if self.soak is None else _percent_json(self.soak, "percent_per_K", 1.0),
            "shape": [
                {
                    "from_rpm": json_number(60.0 * part.from_speed),
                    "to_rpm": json_number(60.0 * part.to_speed),
                    "state": part.state,
                }
                for part in self.shape
            ],
        }


def _percent_json(interval: FittedInterval, key: str, factor: float) -> dict[str, float | None]:
    rest = key.removeprefix("gain_")
    return {
        key: json_number(100.0 * factor * interval.estimate),
        f"lower_{rest}": json_number(100.0 * factor * interval.lower),
        f"upper_{rest}": json_number(100.0 * factor * interval.upper),
    }


@dataclass(frozen=True, kw_only=True)
class CompareResult:
    """Candidate against baseline in one quantity: the gain curve, what may be said of it, and what it rests on."""

    title: str
    quantity: str
    unit: Unit
    baseline: str
    candidate: str
    confidence: float
    correction: str
    curves: Curves
    range_from: float
    range_to: float
    average: Interval
    baseline_peak: Peak
    candidate_peak: Peak
    peak_gain: Interval
    crossovers: tuple[Crossover, ...]
    stretches: tuple[Stretch, ...]
    uncertainty_shares: tuple[tuple[str, float], ...]
    without_dropping: Interval | None
    evidence: Evidence
    verdict: str
    grade: str
    grade_reason: str
    headline: str
    sentence: str
    pulls: tuple[PullRow, ...]
    warnings: tuple[str, ...]
    sensitivity: Sensitivity | None = None

    def as_json(self) -> dict[str, object]:
        """The result as JSON, in the unit it is shown in; percentages are of the baseline curve."""
        return {
            "quantity": self.quantity,
            "unit": self.unit.symbol,
            "baseline": self.baseline,
            "candidate": self.candidate,
            "confidence": self.confidence,
            "curve": self._curve_json(),
            "range": {
                "from_rpm": json_number(60.0 * self.range_from),
                "to_rpm": json_number(60.0 * self.range_to),
                **_interval_json(self.average, self.unit),
            },
            "peak": {
                "baseline": _peak_json(self.baseline_peak, self.unit),
                "candidate": _peak_json(self.candidate_peak, self.unit),
                **_interval_json(self.peak_gain, self.unit),
            },
            "crossovers": [
                {
                    "engine_speed_rpm": json_number(60.0 * crossing.engine_speed),
                    "lower_rpm": json_number(60.0 * crossing.lower),
                    "upper_rpm": json_number(60.0 * crossing.upper),
                    "direction": crossing.direction,
                }
                for crossing in self.crossovers
            ],
            "stretches": [
                {
                    "from_rpm": json_number(60.0 * stretch.from_speed),
                    "to_rpm": json_number(60.0 * stretch.to_speed),
                    "state": stretch.state,
                }
                for stretch in self.stretches
            ],
            "verdict": self.verdict,
            "grade": self.grade,
            "grade_reason": self.grade_reason,
            "headline": self.headline,
            "sentence": self.sentence,
            "correction": self.correction,
            "uncertainty_shares": {name: json_number(share) for name, share in self.uncertainty_shares},
            "pulls": [
                {
                    "file": pull.file,
                    "setup": pull.setup,
                    "used": pull.used,
                    "fault": pull.fault,
                    "correction_factor": json_number(pull.correction_factor),
                    "sweep_rate_rpm_per_s": json_number(60.0 * pull.sweep_rate),
                    "masked_samples": dict(pull.masked),
                }
                for pull in self.pulls
            ],
            "warnings": list(self.warnings),
            "sensitivity": None if self.sensitivity is None else self.sensitivity.as_json(),
        }

    def as_frame(self) -> pl.DataFrame:
        """The curve as a table, one row an engine speed, in the unit it is shown in."""
        return pl.DataFrame(self._curve_json())

    def _curve_json(self) -> dict[str, list[float | None]]:
        curves, scale = self.curves, self.unit.scale
        return {
            "engine_speed_rpm": json_list(60.0 * curves.engine_speed),
            "baseline": json_list(self.unit.from_si(curves.baseline)),
            "candidate": json_list(self.unit.from_si(curves.candidate)),
            "gain": json_list(curves.gain / scale),
            "lower": json_list(curves.lower / scale),
            "upper": json_list(curves.upper / scale),
            "gain_percent": json_list(100.0 * curves.relative_gain),
            "lower_percent": json_list(100.0 * curves.relative_lower),
            "upper_percent": json_list(100.0 * curves.relative_upper),
        }


def _interval_json(interval: Interval, unit: Unit) -> dict[str, float | None]:
    return {
        "gain": json_number(interval.value / unit.scale),
        "lower": json_number(interval.lower / unit.scale),
        "upper": json_number(interval.upper / unit.scale),
        "gain_percent": json_number(100.0 * interval.relative_value),
        "lower_percent": json_number(100.0 * interval.relative_lower),
        "upper_percent": json_number(100.0 * interval.relative_upper),
    }


def _peak_json(peak: Peak, unit: Unit) -> dict[str, float | None]:
    found = {
        "value": json_number(float(unit.from_si(peak.value))),
        "engine_speed_rpm": json_number(60.0 * peak.engine_speed),
    }
    if peak.manifold_pressure is not None:
        found["manifold_pressure_kpa"] = json_number(peak.manifold_pressure / 1e3)
    if peak.rotor_speed is not None:
        found["rotor_speed_rpm"] = json_number(60.0 * peak.rotor_speed)
    return found

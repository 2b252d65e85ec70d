"""What a change does on builds that nobody tested: gains, absolute curves, and how far the conditions lie outside."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.machine.operating_point import Ambient
from boostwright.studies.explain_result import Band
from boostwright.studies.rounding import json_list, json_number

Floats: TypeAlias = NDArray[np.float64]


class Reach(StrEnum):
    """How far a speed lies outside what was tested."""

    TESTED = "tested"
    OUTSIDE = "outside"
    FAR = "far"


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A quantity of a carried setup: its key in the JSON, the unit that it is read in and that unit's size and zero."""

    name: str
    unit: str
    scale: float = 1.0
    zero: float = 0.0


LEVELS = (
    Quantity(name="boost", unit="kpa", scale=1e3),
    Quantity(name="manifold_pressure", unit="kpa", scale=1e3),
    Quantity(name="air_mass_flow", unit="kg_per_s"),
    Quantity(name="brake_power", unit="kw", scale=1e3),
    Quantity(name="blower_outlet_temperature", unit="degC", zero=273.15),
    Quantity(name="blower_drive_power", unit="kw", scale=1e3),
)
"""What is said of each setup alone."""

GAINS = (
    Quantity(name="brake_power_relative", unit="percent", scale=0.01),
    Quantity(name="brake_power", unit="kw", scale=1e3),
    Quantity(name="air_mass_flow_relative", unit="percent", scale=0.01),
    Quantity(name="boost", unit="kpa", scale=1e3),
)
"""What is said of candidate less baseline; relative ones are shares of the baseline."""


@dataclass(frozen=True, kw_only=True)
class Distance:
    """How far a build's conditions lie outside those of the test.

    `rotor_speed` and `pressure_ratio` are shares beyond the tested range at each speed, below it negative, inside it
    zero; `ambient_pressure` [Pa] and `air_temperature` [K] are differences from the test; `fuel` is named where it is
    another than the `tested_fuel`. `reach` sums up each speed.
    """

    rotor_speed: Floats
    pressure_ratio: Floats
    ambient_pressure: float
    air_temperature: float
    tested_fuel: str
    fuel: str | None
    reach: tuple[Reach, ...]
    sentence: str

    @property
    def furthest(self) -> Reach:
        """The furthest reach of any speed."""
        return max(self.reach, key=list(Reach).index)

    def as_json(self) -> dict[str, object]:
        """The distances with their units in the keys."""
        return {
            "rotor_speed_percent": json_list(100 * self.rotor_speed),
            "pressure_ratio_percent": json_list(100 * self.pressure_ratio),
            "ambient_pressure_kpa": json_number(self.ambient_pressure / 1e3),
            "air_temperature_k": json_number(self.air_temperature),
            "other_fuel": self.fuel,
            "reach": [reach.value for reach in self.reach],
            "sentence": self.sentence,
        }


@dataclass(frozen=True, kw_only=True)
class CarriedBuild:
    """The change on one build: `gains` by name of `GAINS`, `baseline` and `candidate` by name of `LEVELS`.

    `power_known_to` is half the width of the interval of the baseline's power over that power, in the mean over the
    range. `has_baseline` says that a pull of the baseline on this build was fitted too, `is_tested_engine` that the
    engine is that of the test.
    """

    build: str
    ambient: Ambient
    engine_speed: Floats
    rotor_speed: Floats
    pressure_ratio: Floats
    gains: Mapping[str, Band]
    baseline: Mapping[str, Band]
    candidate: Mapping[str, Band]
    power_known_to: float
    distance: Distance
    has_baseline: bool
    is_tested_engine: bool
    sentence: str
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The result as JSON, each number with its unit in the key."""
        return {
            "build": self.build,
            "with_baseline_pulls": self.has_baseline,
            "tested_engine": self.is_tested_engine,
            "ambient": {
                "pressure_kpa": json_number(self.ambient.ambient_pressure / 1e3),
                "temperature_degC": json_number(self.ambient.air_temperature - 273.15),
                "humidity_ratio": json_number(self.ambient.humidity_ratio),
            },
            "engine_speed_rpm": json_list(60 * self.engine_speed),
            "rotor_speed_rpm": json_list(60 * self.rotor_speed),
            "pressure_ratio": json_list(self.pressure_ratio),
            "gain": {q.name: self.gains[q.name].as_json(q.scale, q.unit) for q in GAINS},
            "baseline": {q.name: self.baseline[q.name].as_json(q.scale, q.unit, q.zero) for q in LEVELS},
            "candidate": {q.name: self.candidate[q.name].as_json(q.scale, q.unit, q.zero) for q in LEVELS},
            "power_known_to_percent": json_number(100 * self.power_known_to),
            "outside_of_test": self.distance.as_json(),
            "sentence": self.sentence,
            "notes": list(self.notes),
        }


@dataclass(frozen=True, kw_only=True)
class CarryResult:
    """A tested change carried to other builds; `tested_gain` is the measured gain in power as a share."""

    baseline: str
    candidate: str
    confidence: float
    engine_speed: Floats
    tested_gain: Band
    builds: tuple[CarriedBuild, ...]
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The result as JSON, each number with its unit in the key."""
        return {
            "baseline": self.baseline,
            "candidate": self.candidate,
            "confidence": self.confidence,
            "tested": {
                "engine_speed_rpm": json_list(60 * self.engine_speed),
                "measured_power_gain": self.tested_gain.as_json(0.01, "percent"),
            },
            "builds": [build.as_json() for build in self.builds],
            "warnings": list(self.warnings),
        }

    def as_frame(self) -> pl.DataFrame:
        """One row for each build and engine speed: gain, absolute boost and power, each with its interval."""
        rows: dict[str, list[object]] = {}
        for build in self.builds:
            columns: dict[str, Floats] = {"engine_speed_rpm": 60 * build.engine_speed}
            for name, band, scale in (
                ("power_gain_percent", build.gains["brake_power_relative"], 0.01),
                ("power_gain_kw", build.gains["brake_power"], 1e3),
                ("boost_kpa", build.baseline["boost"], 1e3),
                ("brake_power_kw", build.baseline["brake_power"], 1e3),
            ):
                columns[name] = band.values / scale
                columns[f"{name}_lower"], columns[f"{name}_upper"] = band.lower / scale, band.upper / scale
            rows.setdefault("build", []).extend([build.build] * build.engine_speed.size)
            for name, values in columns.items():
                rows.setdefault(name, []).extend(values.tolist())
            rows.setdefault("reach", []).extend(reach.value for reach in build.distance.reach)
        return pl.DataFrame(rows)

"""What a build does at each engine speed: boost, air, power, temperatures, limits, and how sure that is."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.machine.assumptions import Assumption, default_assumption, drawn
from boostwright.machine.blower import Blower
from boostwright.machine.build import Build, build_of
from boostwright.machine.chamber_build import chamber_assumptions, states_ports
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.engine import ENGINE_DEFAULTS
from boostwright.machine.limits import LimitMargin, LimitStatus, limit_margins
from boostwright.machine.match_table import MatchOutcome
from boostwright.machine.operating_point import (
    Ambient,
    BlowerForm,
    FinerModel,
    OperatingPoints,
    build_points,
    matched,
    matched_with,
)
from boostwright.records.build_file import BuildFile
from boostwright.studies.rounding import json_list, json_number
from boostwright.studies.words import joined, number, speed_span_text, speed_text
from boostwright.units import Unit, display_unit, parse_unit

Floats: TypeAlias = NDArray[np.float64]

STANDARD_AIR = "100 kPa, 25 degC, 0.4"  # where nobody has said
DRAWS = 200
SEED = 20260314
CONFIDENCE = 0.95
SPEED_STEP = 250 / 60
CHAMBER = "chamber model"


@dataclass(frozen=True, kw_only=True)
class MatchColumn:
    """One column of the result: its key in the JSON, how it comes from the matched points, and its unit there."""

    name: str
    values_of: Callable[[OperatingPoints], Floats]
    unit: str

    def shown(self, operating: OperatingPoints) -> Floats:
        """The column in its own unit."""
        return parse_unit(self.unit).from_si(self.values_of(operating))


def _column(name: str, unit: str, word: str) -> MatchColumn:
    return MatchColumn(name=name, unit=unit, values_of=lambda operating: operating[word])


COLUMNS: tuple[MatchColumn, ...] = (
    _column("engine_speed_rpm", "rpm", "engine_speed"),
    _column("rotor_speed_rpm", "rpm", "rotor_speed"),
    MatchColumn(name="boost_kpa", unit="kPa", values_of=lambda operating: operating.boost),
    _column("manifold_pressure_kpa", "kPa", "manifold_pressure"),
    _column("air_mass_flow_kg_per_s", "kg/s", "air_mass_flow"),
    _column("blower_inlet_pressure_kpa", "kPa", "blower_inlet_pressure"),
    MatchColumn(name="pressure_ratio", unit="-", values_of=lambda operating: operating.pressure_ratio),
    _column("blower_volumetric_efficiency", "-", "blower_volumetric_efficiency"),
    MatchColumn(
        name="blower_isentropic_efficiency", unit="-", values_of=lambda operating: operating.isentropic_efficiency
    ),
    _column("blower_outlet_temperature_degC", "degC", "blower_outlet_temperature"),
    _column("charge_temperature_degC", "degC", "charge_temperature"),
    _column("leakage_flow_kg_per_s", "kg/s", "leakage_flow"),
    _column("bypass_flow_kg_per_s", "kg/s", "bypass_flow"),
    _column("bypass_opening", "-", "bypass_opening"),
    _column("fuel_mass_flow_kg_per_s", "kg/s", "fuel_mass_flow"),
    _column("blower_drive_power_kw", "kW", "blower_drive_power"),
    _column("brake_power_kw", "kW", "brake_power"),
    _column("brake_torque_nm", "N*m", "torque"),
    _column("exhaust_pressure_kpa", "kPa", "exhaust_pressure"),
    MatchColumn(name="bmep_kpa", unit="kPa", values_of=lambda operating: operating.bmep),
    _column("knock_index", "-", "knock_index"),
    _column("peak_cylinder_pressure_kpa", "kPa", "peak_cylinder_pressure"),
)
_STATED = ("bore_stroke_ratio", "friction_factor")  # the build says these to the cycle
RANGED = ("boost_kpa", "air_mass_flow_kg_per_s", "charge_temperature_degC", "brake_power_kw", "brake_torque_nm")
_OUTCOMES = {  # word in the JSON, and what is said of the speeds at which it happens
    MatchOutcome.MATCHED: ("matched", ""),
    MatchOutcome.THROTTLE_CHOKED: ("throttle choked", "the throttle is choked: more blower speed brings no more air"),
    MatchOutcome.INLET_CHOKED: ("inlet choked", "the inlet casting is choked: open it, or slow the blower"),
    MatchOutcome.ABOVE_CAP: (
        "above cap",
        "the manifold goes above its cap with the bypass wide open, or without one",
    ),
    MatchOutcome.REVERSE_FLOW: ("reverse flow", "the engine draws past the blower: the bypass flows forward"),
    MatchOutcome.BYPASS_NEEDED: (
        "bypass needed",
        "there is no operating point: the blower delivers more than the engine swallows, so it needs a bypass",
    ),
    MatchOutcome.NO_BALANCE: ("no balance", "no operating point was found between blower and engine"),
}
OUTCOME_WORDS = {outcome: words for outcome, (words, _) in _OUTCOMES.items()}


@dataclass(frozen=True, kw_only=True)
class MatchResult:
    """A build matched at many engine speeds, in one weather.

    `lower` and `upper` hold, by column, the 95 % range that comes of what nobody has said of the build: every assumed
    number drawn from its own range. What the model itself gets wrong is not in it.
    """

    build: Build
    ambient: Ambient
    operating: OperatingPoints
    blower: Blower
    blower_form: str
    assumed_ports: tuple[Assumption, ...]
    limits: tuple[LimitMargin, ...]
    lower: dict[str, Floats]
    upper: dict[str, Floats]
    headline: str
    warnings: tuple[str, ...]

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """Every number that nobody gave: of the build, then of the cycle and the chambers where these were used."""
        said = list(self.build.assumptions)
        said += [default_assumption(default, "cycle") for default in ENGINE_DEFAULTS if default.word not in _STATED]
        if self.blower_form == CHAMBER:
            said += self.assumed_ports
        return tuple(said)

    def as_json(self) -> dict[str, object]:
        """The result as JSON; each key carries its unit."""
        return {
            **{column.name: json_list(self.shown(column)) for column in COLUMNS},
            "outcome": [_OUTCOMES[MatchOutcome(int(code))][0] for code in self.operating["outcome"]],
            "range": {
                "confidence": CONFIDENCE,
                **{f"{name}_lower": json_list(self.lower[name]) for name in RANGED},
                **{f"{name}_upper": json_list(self.upper[name]) for name in RANGED},
            },
            "limits": [_limit_json(limit) for limit in self.limits],
            "headline": self.headline,
            "warnings": list(self.warnings),
            "blower_form": self.blower_form,
            "drive_ratio": json_number(self.build.drive.drive_ratio),
            "ambient": {
                "pressure_kpa": json_number(self.ambient.ambient_pressure / 1e3),
                "temperature_degC": json_number(self.ambient.air_temperature - 273.15),
                "humidity_ratio": json_number(self.ambient.humidity_ratio),
            },
            "assumptions": [_assumption_json(assumption) for assumption in self.assumptions],
        }

    def as_frame(self) -> pl.DataFrame:
        """The points as a table, one row an engine speed."""
        return pl.DataFrame({column.name: self.shown(column) for column in COLUMNS})

    def shown(self, column: MatchColumn) -> Floats:
        """A column in its own unit; NaN where there is no operating point, but for the speeds that were asked."""
        asked = column.name in ("engine_speed_rpm", "rotor_speed_rpm")
        return np.where(asked | self.operating.is_matched, column.shown(self.operating), np.nan)


def match_build(
    build_file: BuildFile,
    engine_speed: Floats,
    ambient: Ambient,
    blower: BlowerForm | None = None,
) -> MatchResult:
    """Match a build at these engine speeds, its engine over the crank angle; without a blower form, by the slip law."""
    build = build_of(build_file)
    finer_models: tuple[FinerModel, ...] = (cycle_engine(build),) if blower is None else (blower, cycle_engine(build))
    points = build_points(build, engine_speed, ambient)
    closed = matched(points)
    operating = matched_with(points, finer_models)
    lower, upper = _ranges(build_file, closed, operating, ambient)
    limits = limit_margins(build, operating)
    return MatchResult(
        build=build,
        ambient=ambient,
        operating=operating,
        blower=build.blower if blower is None else blower.blower,
        blower_form="slip law" if blower is None else blower.name,
        assumed_ports=chamber_assumptions(build_file),
        limits=limits,
        lower=lower,
        upper=upper,
        headline=_headline(operating, limits),
        warnings=(*build.cautions, *_unheard_ports(build_file, blower), *_warnings(build, operating)),
    )


def round_speeds(build_file: BuildFile) -> Floats:
    """Round engine speeds for a table: every 250 rev/min from a third of the engine's top speed up to it."""
    top = build_of(build_file).engine.engine_speed_limit
    first, last = np.ceil(top / 3.0 / SPEED_STEP), np.floor(top / SPEED_STEP + 1e-9)
    return np.arange(first, last + 1.0) * SPEED_STEP


def _ranges(
    build_file: BuildFile, closed: OperatingPoints, operating: OperatingPoints, ambient: Ambient
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """95 % ranges from draws of what was assumed, by the closed forms, moved onto the result of the finer models."""
    generator = np.random.default_rng(SEED)
    speeds = closed["engine_speed"]
    tables = [build_points(build_of(drawn(build_file, generator)), speeds, ambient) for _ in range(DRAWS)]
    draws = matched(np.stack(tables))
    known = draws.is_matched.any(axis=0)
    lower: dict[str, Floats] = {}
    upper: dict[str, Floats] = {}
    for column in COLUMNS:
        if column.name in RANGED:
            shown = np.where(draws.is_matched, column.shown(draws), np.nan)[:, known]
            tails = np.full((2, known.size), np.nan)
            tails[:, known] = np.nanquantile(shown, [(1.0 - CONFIDENCE) / 2.0, (1.0 + CONFIDENCE) / 2.0], axis=0)
            tails += column.shown(operating) - column.shown(closed)
            lower[column.name], upper[column.name] = tails
    return lower, upper


def _headline(operating: OperatingPoints, limits: tuple[LimitMargin, ...]) -> str:
    """The answer in two sentences: the best power with its boost, and what gives first."""
    if not operating.is_matched.any():
        return "There is no operating point at any of these speeds."
    power = np.where(operating.is_matched, operating["brake_power"], -np.inf)
    best = int(np.argmax(power))
    boost = number(operating.boost[best] / 1e3)
    speed = speed_text(float(operating["engine_speed"][best]))
    return f"{number(power[best] / 1e3)} kW at {speed} rev/min with {boost} kPa of boost. {limits_sentence(limits)}"


def limits_sentence(limits: tuple[LimitMargin, ...]) -> str:
    """What gives first, or comes nearest, among the limits that are known."""
    known = [limit for limit in limits if limit.status is not LimitStatus.NOT_KNOWN]
    if not known:
        return "No limit is known."
    worst = min(known, key=lambda limit: limit.margin)
    percent, place = number(abs(100.0 * worst.margin)), f"at {speed_text(worst.engine_speed)} rev/min"
    if worst.status is LimitStatus.OVER:
        return f"{worst.name[0].upper()}{worst.name[1:]} gives first: over its limit by {percent} % {place}."
    return f"No known limit gives; {worst.name} comes nearest: {percent} % left {place}."


def _warnings(build: Build, operating: OperatingPoints) -> list[str]:
    said: list[str] = []
    for outcome, (_, words) in _OUTCOMES.items():
        if words and (at := operating["outcome"] == outcome).any():
            said.append(f"At {_span(operating, at)} {words}.")
    if (outside := operating.is_matched & (operating["within_range"] < 1.0)).any():
        said.append(f"At {_span(operating, outside)} the blower is outside what its form or map knows.")
    if (fast := operating["engine_speed"] > 1.0001 * build.engine.engine_speed_limit).any():
        said.append(f"{_span(operating, fast)} is above the engine's top speed.")
    if (beyond := _beyond_curve(build, operating)).any():
        said.append(f"At {_span(operating, beyond)} the volumetric-efficiency curve is held at its end.")
    unknown = [limit.name for limit in limit_margins(build, operating) if limit.status is LimitStatus.NOT_KNOWN]
    if unknown:
        said.append(f"Not known: {joined(unknown)}.")
    return said


def _unheard_ports(build_file: BuildFile, blower: BlowerForm | None) -> list[str]:
    if (blower is not None and blower.name == CHAMBER) or not states_ports(build_file):
        return []
    return ["The file states ports or chambers, which only the chamber form of the blower knows: --blower chamber."]


def _beyond_curve(build: Build, operating: OperatingPoints) -> NDArray[np.bool_]:
    curve, N = build.engine.volumetric_efficiency_curve, operating["engine_speed"]
    if not curve:
        return np.zeros(N.shape, bool)
    first, last = curve[0][0], curve[-1][0]
    return np.asarray((first - N > 1e-4 * first) | (N - last > 1e-4 * last))


def _span(operating: OperatingPoints, at: NDArray[np.bool_]) -> str:
    speeds = operating["engine_speed"][at]
    if speeds.min() == speeds.max():
        return f"{speed_text(float(speeds[0]))} rev/min"
    return speed_span_text(float(speeds.min()), float(speeds.max()))


def _limit_json(limit: LimitMargin) -> dict[str, Any]:
    unit = display_unit(limit.dimension, "metric")
    return {
        "name": limit.name,
        "value": json_number(float(unit.from_si(limit.value))),
        "limit": json_number(float(unit.from_si(limit.limit))),
        "unit": unit.symbol,
        "margin_percent": json_number(100.0 * limit.margin),
        "engine_speed_rpm": json_number(60.0 * limit.engine_speed),
        "status": limit.status.value,
        "needs": list(limit.needs),
    }


def assumption_unit(assumption: Assumption) -> Unit:
    """The unit in which an assumption is read; a difference of temperatures is in kelvin."""
    difference = assumption.dimension == "temperature_difference"
    return parse_unit("K") if difference else display_unit(assumption.dimension, "metric")


def _assumption_json(assumption: Assumption) -> dict[str, Any]:
    unit = assumption_unit(assumption)
    value, low, high = unit.from_si([assumption.value, assumption.low, assumption.high])
    return {
        "key": assumption.key_path,
        "unit": unit.symbol,
        "value": json_number(float(value)),
        "low": json_number(float(low)),
        "high": json_number(float(high)),
        "scaling": assumption.scaling,
        "source": assumption.source,
    }

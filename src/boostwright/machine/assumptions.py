"""What a build is taken to be where its file says nothing: every number with its range, its scaling and its source.

A rule states its number for one size and scales it to the build at hand, so that small and large builds of the same
quality come out alike. The ranges are meant as 95 % ranges. They are opinions of the trade, not measurements; whoever
knows better writes the key into the build file.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from boostwright.machine.blower import (
    DELIVERY_FACTOR,
    FILLING_LOSS,
    GAS_WORK_FACTOR,
    HEAT_LOSS_SHARE,
    LEAKAGE_AREA,
    MECHANICAL_HEAT_SHARE,
    MECHANICAL_POWER_AT_LIMIT,
    REFERENCE_DISPLACEMENT,
)
from boostwright.machine.default import Default
from boostwright.nomenclature import WORDS
from boostwright.physics.fuels import Fuel, fuel_named
from boostwright.records.build_file import COMMON_PISTON, BuildFile, square_stroke, top_engine_speed
from boostwright.records.build_keys import COUNT, KEYS

ASSUMED_BLEND = "E10"
REFERENCE_ENGINE = 6.2e-3  # m3, the displacement at which engine-sized defaults are stated
REFERENCE_SPEED_LIMIT = 233.0  # 1/s, of a blower of the reference displacement
HALF_RANGE = 1.959964  # standard deviations of a 95 % range
BEST_FILLING_PISTON = 13.0  # m/s, mean piston speed at which an engine fills best

_DIMENSIONS = {"-": "fraction", "rad": "angle", "K": "temperature", "m3": "volume", "m": "length", "m2": "area"}
_KEYS = {key.path: key for key in KEYS}
_OWN = "assumed, to be replaced from the maker's own archive"
_PRACTICE = "common practice, no source"

Numbers = Mapping[str, float]
Scale = Callable[[Numbers, BuildFile], float]


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """One number that nobody gave, as it was taken for this build; a default of a finer model has no key to give."""

    key_path: str
    value: float
    low: float
    high: float
    dimension: str
    scaling: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Rule:
    """How the number of one key path is assumed: the default and its scale, for the builds to which it applies."""

    key_path: str
    default: Default
    scale: Scale = lambda _numbers, _file: 1.0
    applies: Callable[[BuildFile], bool] = lambda _file: True

    def assumption(self, numbers: Numbers, build_file: BuildFile) -> Assumption:
        """The default at the size of this build."""
        size, default = self.scale(numbers, build_file), self.default
        return Assumption(
            key_path=self.key_path,
            value=size * default.value,
            low=size * default.low,
            high=size * default.high,
            dimension="fraction" if (holds := _KEYS[self.key_path].holds) == COUNT else holds,
            scaling=default.scaling,
            source=default.source,
        )


_fuel_named = cache(fuel_named)  # blending takes most of the time of making a build, and draws make hundreds


def default_assumption(default: Default, model: str) -> Assumption:
    """A default of a finer model as an assumption; its word stands where a build file's number has its key."""
    unit = WORDS[default.word].unit
    dimension = _DIMENSIONS.get(unit, "fraction")
    said = default.scaling if unit in _DIMENSIONS else f"{default.scaling} [{unit}]"
    return Assumption(
        key_path=f"{model}: {default.word.replace('_', ' ')}",
        value=default.value,
        low=default.low,
        high=default.high,
        dimension=dimension,
        scaling=said,
        source=default.source,
    )


def fuel_of(build_file: BuildFile) -> Fuel:
    """The fuel that the file names, or the one that is assumed."""
    return _fuel_named(build_file.words.get("fuel.blend", ASSUMED_BLEND))


def is_screw(build_file: BuildFile) -> bool:
    """Whether the blower compresses inside: the file says so, or gives a volume ratio above 1."""
    return (
        build_file.words.get("blower.kind") == "screw" or build_file.numbers.get("blower.internal_volume_ratio", 1) > 1
    )


def _engine_size(numbers: Numbers, _file: BuildFile) -> float:
    return numbers["engine.displacement"] / REFERENCE_ENGINE


def _stroke(numbers: Numbers, _file: BuildFile) -> float:
    return square_stroke(numbers["engine.displacement"], numbers["engine.cylinders"])


def _top_speed(numbers: Numbers, _file: BuildFile) -> float:
    size = numbers["engine.displacement"], numbers["engine.cylinders"], numbers["engine.stroke"]
    return top_engine_speed(*size, COMMON_PISTON)


def _blower_length(numbers: Numbers, _file: BuildFile) -> float:
    return (numbers["blower.displacement"] / REFERENCE_DISPLACEMENT) ** (1.0 / 3.0)


def _blower_flow(numbers: Numbers, _file: BuildFile) -> float:
    """Volume flow at the speed limit over that of the reference blower."""
    flow = numbers["blower.displacement"] * numbers["blower.speed_limit"]
    return flow / (REFERENCE_DISPLACEMENT * REFERENCE_SPEED_LIMIT)


def _has_cooler(build_file: BuildFile) -> bool:
    return "cooler" in build_file.tables


def _has_bore(build_file: BuildFile) -> bool:
    return "inlet.throttle_bore" in build_file.numbers


def _has_no_curve(build_file: BuildFile) -> bool:
    return not build_file.volumetric_efficiency_curve


def _rule(
    key_path: str,
    word: str,
    figures: tuple[float, float, float],
    scaling: str,
    source: str,
    scale: Scale | None = None,
    applies: Callable[[BuildFile], bool] = lambda _file: True,
) -> Rule:
    low, value, high = figures
    default = Default(word=word, value=value, low=low, high=high, scaling=scaling, source=source)
    return Rule(key_path=key_path, default=default, scale=scale or (lambda _numbers, _file: 1.0), applies=applies)


_FLOW_SCALING = "times displacement x speed limit over 2.3 L x 233 1/s: the same velocity at the limit"
_ENGINE_SCALING = "times engine displacement / 6.2 L"
_NO_COOLER = "there is no [cooler] table: none fitted"
RULES: tuple[Rule, ...] = (  # in this order: a scale may use what stands above it
    _rule(
        "engine.stroke",
        "stroke",
        (0.85, 1.0, 1.2),
        "times the stroke of a square engine",
        f"bore and stroke are alike in most engines: {_PRACTICE}",
        _stroke,
    ),
    _rule(
        "engine.speed_limit",
        "engine_speed_limit",
        (0.8, 1.0, 1.25),
        "times the speed at 20 m/s of mean piston speed",
        f"16 to 25 m/s at top speed: {_PRACTICE}",
        _top_speed,
    ),
    _rule(
        "engine.volumetric_efficiency",
        "engine_volumetric_efficiency",
        (0.85, 0.94, 1.03),
        "none; at its best speed, where the mean piston speed is 13 m/s",
        "residual gas apart; 0.75 to 0.95 with it, from memory of textbooks",
        applies=_has_no_curve,
    ),
    _rule(
        "engine.volumetric_efficiency_curvature",
        "volumetric_efficiency_curvature",
        (0.0, 0.2, 0.4),
        "1 - 0.2 (mean piston speed / 13 m/s - 1)^2 times its best",
        f"5 to 6 % lost at 6 and at 20 m/s: {_OWN}",
        applies=_has_no_curve,
    ),
    _rule(
        "engine.intake_temperature_exponent",
        "intake_temperature_exponent",
        (0.15, 0.35, 0.55),
        "none",
        f"a warmer charge takes up less heat on its way in: {_OWN}",
    ),
    _rule(
        "engine.exhaust_area",
        "exhaust_area",
        (4.2e-3, 6.5e-3, 10e-3),
        _ENGINE_SCALING,
        f"loss of the whole exhaust: {_OWN}",
        _engine_size,
    ),
    _rule(
        "engine.exhaust_temperature",
        "exhaust_temperature",
        (1000.0, 1150.0, 1300.0),
        "none",
        f"full load, rich: {_PRACTICE}",
    ),
    _rule(
        "engine.indicated_efficiency_factor",
        "indicated_efficiency_factor",
        (0.675, 0.74, 0.81),
        "none",
        "what the crank-angle cycle with its own defaults makes at half of top speed, scatter of engines assumed",
    ),
    _rule(
        "engine.efficiency_loss_per_kelvin",
        "efficiency_temperature_slope",
        (6e-5, 2e-4, 6.5e-4),
        "none",
        f"hotter charge, more heat to the walls and a later spark: {_OWN}",
    ),
    _rule(
        "engine.friction_factor",
        "friction_factor",
        (0.6, 0.85, 1.2),
        "none",
        f"engines of today lie below the published sets, which disagree by 25 % or more: {_PRACTICE}",
    ),
    _rule(
        "engine.peak_pressure_factor",
        "peak_pressure_factor",
        (2.1, 2.6, 3.1),
        "none",
        "best spark; what the crank-angle cycle with its own defaults makes, scatter of engines assumed",
    ),
    _rule(
        "engine.knock_factor",
        "knock_factor",
        (2.0, 4.0, 8.0),
        "none",
        "brings the index to the scale of the cycle's delay integral; it is only ever compared, never believed",
    ),
    _rule("engine.spark_retard", "spark_retard", (0.0, 0.0, 0.17), "none", f"the best spark: {_OWN}"),
    _rule(
        "blower.internal_volume_ratio",
        "internal_volume_ratio",
        (1.15, 1.3, 1.5),
        "none",
        f"screw blowers for engines: {_PRACTICE}",
        applies=is_screw,
    ),
    _rule(
        "blower.internal_volume_ratio",
        "internal_volume_ratio",
        (1.0, 1.0, 1.0),
        "none",
        "a roots type does not compress inside",
    ),
    _rule(
        "blower.speed_limit",
        "speed_limit",
        (0.75 * REFERENCE_SPEED_LIMIT, REFERENCE_SPEED_LIMIT, 1.5 * REFERENCE_SPEED_LIMIT),
        "times (2.3 L / displacement)^(1/3): the same tip speed",
        f"14 000 rpm for 2.3 L; it only scales the losses, the limit itself stays unknown: {_PRACTICE}",
        lambda numbers, file: 1.0 / _blower_length(numbers, file),
    ),
    Rule(key_path="blower.filling_loss", default=FILLING_LOSS),
    Rule(key_path="blower.leakage_area", default=LEAKAGE_AREA, scale=lambda n, f: _blower_length(n, f) ** 2),
    Rule(key_path="blower.gas_work_factor", default=GAS_WORK_FACTOR),
    Rule(key_path="blower.mechanical_power_at_limit", default=MECHANICAL_POWER_AT_LIMIT, scale=_blower_flow),
    Rule(key_path="blower.heat_loss_share", default=HEAT_LOSS_SHARE),
    Rule(key_path="blower.mechanical_heat_share", default=MECHANICAL_HEAT_SHARE),
    Rule(key_path="blower.delivery_factor", default=DELIVERY_FACTOR),
    _rule(
        "drive.line_differential",
        "line_differential",
        (1.5e-3, 2e-3, 2.5e-3),
        "none; on each side of a pulley",
        "nominal value of ISO 9981:2020 for PK; that it adds on both sides is from memory",
        applies=lambda file: "drive.ratio" not in file.numbers,
    ),
    _rule("drive.internal_step", "internal_step", (1.0, 1.0, 1.0), "none", "no gear step between pulley and rotor"),
    _rule(
        "drive.belt_slip",
        "belt_slip",
        (0.0025, 0.008, 0.026),
        "none",
        f"creep is below 1 to 2 % (from memory); write 0 for gears or a toothed belt: {_OWN}",
    ),
    _rule(
        "drive.efficiency", "belt_efficiency", (0.95, 0.97, 0.985), "none", "0.97 to 0.98 is claimed of multi-rib belts"
    ),
    _rule(
        "drive.friction_coefficient",
        "friction_coefficient",
        (0.3, 0.35, 0.5),
        "none",
        "rubber in a groove, from memory",
    ),
    _rule(
        "inlet.throttle_area",
        "throttle_area",
        (5.5e-3, 7.3e-3, 10e-3),
        _FLOW_SCALING,
        f"a bore of 105 mm for 2.3 L: {_OWN}",
        _blower_flow,
        applies=lambda file: not _has_bore(file),
    ),
    _rule(
        "inlet.throttle_discharge_coefficient",
        "throttle_discharge_coefficient",
        (0.75, 0.85, 0.95),
        "none",
        "0.6 to 0.9, from memory, falling as the plate opens; a bell-mouthed open bore has more",
        applies=_has_bore,
    ),
    _rule(
        "inlet.throttle_shaft",
        "throttle_shaft_diameter",
        (0.07, 0.1, 0.13),
        "times the throttle bore",
        _PRACTICE,
        lambda numbers, _file: numbers["inlet.throttle_bore"],
        applies=_has_bore,
    ),
    _rule(
        "inlet.throttle_angle",
        "plate_angle",
        (0.5 * math.pi, 0.5 * math.pi, 0.5 * math.pi),
        "none",
        "wide open, as in a pull",
        applies=_has_bore,
    ),
    _rule(
        "inlet.flow_area",
        "inlet_area",
        (4.2e-3, 6.9e-3, 11e-3),
        _FLOW_SCALING,
        f"with the throttle 50 cm2 for 2.3 L: {_OWN}",
        _blower_flow,
    ),
    _rule("inlet.heating", "inlet_heating", (1.2, 4.0, 13.0), "none", f"a warm casting: {_OWN}"),
    _rule("fuel.upstream_evaporation", "upstream_evaporation", (0.0, 0.0, 0.0), "none", "all fuel behind the blower"),
    _rule("bypass.area", "bypass_area", (0.0, 0.0, 0.0), "none", "there is no [bypass] table: none, or shut"),
    _rule("bypass.opening", "bypass_opening", (0.0, 0.0, 0.0), "none", "shut until the cap is reached"),
    _rule(
        "cooler.effectiveness",
        "cooler_effectiveness",
        (0.0, 0.0, 0.0),
        "none",
        _NO_COOLER,
        applies=lambda file: not _has_cooler(file),
    ),
    _rule(
        "cooler.effectiveness",
        "cooler_effectiveness",
        (0.6, 0.75, 0.88),
        "none; at the reference flow",
        f"air to water: {_OWN}",
    ),
    _rule(
        "cooler.reference_flow",
        "cooler_reference_flow",
        (0.4, 0.6, 0.9),
        _ENGINE_SCALING,
        f"near full power: {_OWN}",
        _engine_size,
    ),
    _rule(
        "cooler.transfer_exponent",
        "cooler_transfer_exponent",
        (0.23, 0.43, 0.63),
        "none",
        f"the air side carries most of the resistance: {_OWN}",
    ),
    _rule(
        "cooler.flow_area",
        "cooler_area",
        (4.7e-3, 7e-3, 10.4e-3),
        _ENGINE_SCALING,
        f"a few kPa at full power: {_OWN}",
        _engine_size,
        applies=_has_cooler,
    ),
    _rule(
        "cooler.flow_area",
        "cooler_area",
        (10.0, 10.0, 10.0),
        "none",
        f"{_NO_COOLER}, no loss",
    ),
    _rule("cooler.coolant_temperature", "coolant_temperature", (303.0, 313.0, 323.0), "none", _OWN),
    _rule("fuel.excess_air_ratio", "excess_air_ratio", (0.78, 0.86, 0.92), "none", f"full load, boosted: {_PRACTICE}"),
    _rule(
        "fuel.octane_number",
        "octane_number",
        (0.95, 1.0, 1.05),
        "times the octane number of the fuel",
        "research octane numbers of the US DOE table; those of alcohols differ between sources",
        lambda _numbers, file: fuel_of(file).octane_number,
    ),
    _rule(
        "fuel.evaporated_share",
        "evaporated_share",
        (1.0, 1.0, 1.0),
        "none",
        "a gaseous fuel",
        applies=lambda file: fuel_of(file).is_gaseous,
    ),
    _rule(
        "fuel.evaporated_share",
        "evaporated_share",
        (0.1, 0.24, 0.55),
        "none",
        f"the rest evaporates off hot walls, or too late: {_OWN}",
    ),
    _rule("limits.injector_duty", "injector_duty", (0.8, 0.85, 0.9), "none", _PRACTICE),
)


def complete(build_file: BuildFile, rules: Sequence[Rule] = RULES) -> tuple[Numbers, tuple[Assumption, ...]]:
    """All numbers by key path, and those that were assumed; what stays out is not known, and no rule pretends to."""
    return _completed(build_file, rules, lambda assumption: assumption.value)


def drawn(build_file: BuildFile, generator: np.random.Generator, rules: Sequence[Rule] = RULES) -> BuildFile:
    """The same file with everything that it leaves open drawn at random from its range, each number by itself."""

    def pick(assumption: Assumption) -> float:
        z = generator.standard_normal()
        side = assumption.high - assumption.value if z > 0.0 else assumption.value - assumption.low
        number = assumption.value + z * side / HALF_RANGE
        key = _KEYS[assumption.key_path]
        return min(max(number, key.low), key.high)

    return replace(build_file, numbers=_completed(build_file, rules, pick)[0])


def _completed(
    build_file: BuildFile, rules: Sequence[Rule], pick: Callable[[Assumption], float]
) -> tuple[Numbers, tuple[Assumption, ...]]:
    numbers = dict(build_file.numbers)
    if {"engine.bore", "engine.displacement"} <= set(numbers) and "engine.stroke" not in numbers:
        numbers["engine.stroke"] = numbers["engine.displacement"] / (
            numbers["engine.cylinders"] * math.pi / 4.0 * numbers["engine.bore"] ** 2
        )
    assumed: list[Assumption] = []
    for rule in rules:
        if rule.key_path not in numbers and rule.applies(build_file):
            assumption = rule.assumption(numbers, build_file)
            numbers[rule.key_path] = pick(assumption)
            assumed.append(assumption)
    return numbers, tuple(assumed)

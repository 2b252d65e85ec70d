"""A build file: what its keys may say, and the reader that turns it into plain checked numbers, or into all its faults.

Nothing is assumed here: a key that is not in the file is not in the result. `KEYS` is the whole truth about the format.
"""

import difflib
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

from boostwright.errors import Fault, FileError
from boostwright.physics.fuels import fuel_named
from boostwright.units import UnitError, parse_quantity

COUNT, WORD, SWITCH, CURVE = "a count", "a word", "true or false", "a curve"
LEAST_PULLEY = 45e-3  # m, effective diameter of PK pulleys, ISO 9981:2020
LINE_DIFFERENTIAL = 2e-3  # m, PK, nominal effective line differential, ISO 9981:2020
SLOW_PISTON, COMMON_PISTON = 16.0, 20.0  # m/s at top speed: common practice, no source
RATIO_AGREEMENT = 0.01  # a ratio and the pulleys beside it may differ by this much
BORE_AGREEMENT = 0.02  # displacement against bore, stroke and cylinders

CurvePoints = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class Key:
    """One key of the file: where it stands, what it holds, which numbers are possible, and what to do about others."""

    path: str
    holds: str
    phrase: str
    low: float = -math.inf
    high: float = math.inf
    remedy: str = "check the number and its unit"
    required: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class BuildFile:
    """What a build file says, by key path: numbers in SI, words, and the engine's volumetric-efficiency curve."""

    name: str
    numbers: Mapping[str, float]
    words: Mapping[str, str]
    tables: frozenset[str]
    volumetric_efficiency_curve: CurvePoints = ()


def _key(path: str, holds: str, low: float, high: float, phrase: str, **more: Any) -> Key:
    return Key(path=path, holds=holds, phrase=phrase, low=low, high=high, **more)


_POSITIVE = 1e-12
_PULLEY = "ISO 9981 allows PK pulleys of 45 mm effective diameter or more: change the pair of pulleys"
KEYS: tuple[Key, ...] = (
    _key("engine.displacement", "volume", 1e-5, 0.5, "swept volume of all cylinders", required=True),
    _key("engine.cylinders", COUNT, 1, 32, "number of cylinders", required=True),
    _key(
        "engine.compression_ratio",
        "fraction",
        2.0,
        30.0,
        "largest over smallest cylinder volume",
        required=True,
        remedy="give cylinder volume at bottom over top dead centre, such as 9.5",
    ),
    _key("engine.bore", "length", 0.01, 1.0, "cylinder bore"),
    _key("engine.stroke", "length", 0.01, 1.0, "piston stroke"),
    _key("engine.speed_limit", "speed", 5.0, 400.0, "highest speed at which the engine is run"),
    _key("engine.volumetric_efficiency", "fraction", 0.3, 1.3, "at its best speed, residual gas apart"),
    _key("engine.volumetric_efficiency_curve", CURVE, 0.3, 1.3, "against engine speed, residual gas apart"),
    _key("engine.indicated_efficiency_factor", "fraction", 0.3, 1.0, "indicated efficiency over 1 - CR^-0.3"),
    _key("engine.friction_factor", "fraction", 0.1, 5.0, "friction over that of the standard correlation"),
    _key("engine.intake_temperature_exponent", "fraction", -0.5, 1.0, "filling grows with this power of temperature"),
    _key("engine.efficiency_loss_per_kelvin", "fraction", 0.0, 0.01, "indicated efficiency lost to a warmer charge"),
    _key("engine.exhaust_area", "area", _POSITIVE, 1.0, "loss area of the exhaust system"),
    _key("engine.exhaust_temperature", "temperature", 600.0, 1500.0, "gas temperature in the exhaust"),
    _key("engine.peak_pressure_factor", "fraction", 0.5, 5.0, "peak pressure over manifold pressure x CR^1.32"),
    _key("engine.knock_factor", "fraction", 0.01, 100.0, "knock index over that of the reference case"),
    _key("engine.spark_retard", "angle", 0.0, 0.7, "how much later than the best the spark is set"),
    _key("blower.displacement", "volume", 1e-5, 0.5, "volume carried per turn of the drive shaft", required=True),
    _key("blower.kind", WORD, 0, 0, "which type", words=("roots", "screw")),
    _key("blower.internal_volume_ratio", "fraction", 1.0, 4.0, "trapped over outlet-opening volume, 1 for roots"),
    _key("blower.speed_limit", "speed", 10.0, 2000.0, "highest rotor speed that the maker allows"),
    _key("blower.rotor_diameter", "length", 0.01, 1.0, "tip diameter of the faster rotor"),
    _key("blower.filling_loss", "fraction", 0.0, 1.0, "share left unfilled at the speed limit"),
    _key("blower.leakage_area", "area", 0.0, 0.1, "effective clearance area between outlet and inlet"),
    _key("blower.gas_work_factor", "fraction", 0.5, 2.0, "gas work over the ideal work"),
    _key("blower.mechanical_power_at_limit", "power", 0.0, 1e6, "bearing, gear and seal loss at the speed limit"),
    _key("blower.heat_loss_share", "fraction", 0.0, 0.5, "share of the gas power lost through the casing"),
    _key("blower.mechanical_heat_share", "fraction", 0.0, 1.0, "share of the mechanical loss that heats the gas"),
    _key("blower.delivery_factor", "fraction", 0.5, 1.5, "what the delivery is multiplied by beyond the law"),
    _key("drive.ratio", "fraction", 0.1, 30.0, "turns of the blower drive shaft per turn of the crank"),
    _key("drive.driving_pulley", "length", LEAST_PULLEY, 1.0, "effective diameter on the crank", remedy=_PULLEY),
    _key("drive.driven_pulley", "length", LEAST_PULLEY, 1.0, "effective diameter on the blower", remedy=_PULLEY),
    _key("drive.line_differential", "length", 0.0, 0.02, "belt pitch line above the effective diameter, on each side"),
    _key("drive.internal_step", "fraction", 0.1, 10.0, "rotor turns per turn of the drive shaft"),
    _key("drive.ribs", COUNT, 1, 40, "ribs of the belt"),
    _key("drive.centre_distance", "length", 0.01, 3.0, "between crank and blower, for an open belt"),
    _key("drive.wrap", "angle", 0.5, 2.0 * math.pi, "angle of belt on the blower pulley"),
    _key("drive.friction_coefficient", "fraction", 0.05, 2.0, "belt on pulley, in the groove"),
    _key("drive.installed_tension", "force", 0.0, 1e5, "of one strand of the belt at rest, or held by the tensioner"),
    _key("drive.rib_mass_kg_per_m", "fraction", 0.0, 1.0, "mass of one rib of belt per metre"),
    _key("drive.belt_slip", "fraction", 0.0, 0.3, "share by which the blower pulley turns slower than its ratio"),
    _key("drive.efficiency", "fraction", 0.5, 1.0, "power at the blower pulley over power at the crank pulley"),
    _key("inlet.throttle_bore", "length", 0.005, 1.0, "bore at the throttle plate; several: that of one of equal area"),
    _key("inlet.throttle_shaft", "length", 0.0, 0.1, "diameter of the throttle shaft"),
    _key("inlet.throttle_angle", "angle", 0.0, math.pi / 2, "of the plate, 90 deg wide open"),
    _key("inlet.throttle_discharge_coefficient", "fraction", 0.3, 1.0, "effective over open area of the throttle"),
    _key("inlet.throttle_area", "area", _POSITIVE, 1.0, "effective area of the throttle"),
    _key("inlet.flow_area", "area", _POSITIVE, 1.0, "loss area of filter, elbow and casting up to the rotors"),
    _key("inlet.heating", "temperature_difference", -20.0, 60.0, "warming of the air by the metal of the inlet"),
    _key("bypass.area", "area", 0.0, 0.1, "effective area of the open bypass"),
    _key("bypass.opening", "fraction", 0.0, 1.0, "how far the bypass stands open"),
    _key("bypass.manifold_pressure_cap", "pressure", 2e4, 1e6, "absolute manifold pressure at which it opens"),
    _key("cooler.effectiveness", "fraction", 0.0, 0.99, "cooling over its greatest possible, at the reference flow"),
    _key("cooler.reference_flow", "mass_flow", 1e-3, 20.0, "air mass flow at which the effectiveness holds"),
    _key("cooler.transfer_exponent", "fraction", 0.0, 1.0, "transfer units fall with this power of the flow"),
    _key("cooler.flow_area", "area", _POSITIVE, 1.0, "loss area of the cooler"),
    _key("cooler.coolant_temperature", "temperature", 230.0, 400.0, "of the coolant that enters, at the start"),
    _key("cooler.coolant_warming", "temperature_difference", 0.0, 60.0, "of the coolant over one full pull"),
    _key("fuel.blend", WORD, 0, 0, "E0 to E100 by volume, methanol, propane or methane"),
    _key("fuel.excess_air_ratio", "fraction", 0.5, 2.0, "lambda"),
    _key("fuel.octane_number", "fraction", 40.0, 150.0, "research octane number, or its effective value"),
    _key("fuel.evaporated_share", "fraction", 0.0, 1.0, "share of the fuel that cools and fills the charge"),
    _key("fuel.upstream_evaporation", "fraction", 0.0, 1.0, "share of the fuel that evaporates ahead of the blower"),
    _key("fuel.injectors.count", COUNT, 1, 64, "number of injectors"),
    _key("fuel.injectors.flow", "volume_flow", 1e-8, 1e-3, "of one injector, open, at the rail pressure"),
    _key("fuel.injectors.rail_pressure", "pressure_difference", 1e4, 5e7, "of the rail above the surroundings"),
    _key("fuel.injectors.referenced", SWITCH, 0, 0, "whether the rail pressure follows the manifold"),
    _key("fuel.pump_flow", "volume_flow", 1e-7, 1e-2, "of the pump against the highest rail pressure"),
    _key("limits.charge_temperature", "temperature", 273.15, 600.0, "highest allowed behind the cooler"),
    _key("limits.blower_outlet_temperature", "temperature", 273.15, 800.0, "highest allowed"),
    _key("limits.manifold_pressure", "pressure", 2e4, 1e6, "highest allowed, absolute"),
    _key("limits.tip_speed", "velocity", 10.0, 400.0, "highest allowed at the rotor tips"),
    _key("limits.rib_tension", "force", 1.0, 1e4, "highest allowed effective tension per rib"),
    _key("limits.rib_power", "power", 1.0, 1e5, "highest allowed power per rib, from the maker's tables"),
    _key("limits.injector_duty", "fraction", 0.1, 1.0, "highest share of the time that the injectors may be open"),
    _key("limits.mean_piston_speed", "velocity", 1.0, 40.0, "highest allowed"),
    _key("limits.peak_cylinder_pressure", "pressure", 1e6, 5e7, "highest allowed"),
    _key("limits.knock_index", "fraction", 0.01, 10.0, "highest allowed, on the scale of `match`"),
)
_BY_PATH = {key.path: key for key in KEYS}
_TABLES = tuple(dict.fromkeys(key.path.rpartition(".")[0] for key in KEYS))


def read_build_file(path: Path) -> BuildFile:
    """Return what a build file says, in SI units.

    Raises
    ------
    FileError
        With every fault of the file, each at its key path.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as wrong:
        raise FileError([_unreadable(path, wrong)]) from wrong
    except UnicodeDecodeError as wrong:
        raise FileError([Fault(problem="is not UTF-8 text", remedy="save it as UTF-8", file=str(path))]) from wrong
    except tomllib.TOMLDecodeError as wrong:
        raise FileError([_not_toml(path, wrong)]) from wrong
    return build_from_document(document, str(path))


def build_from_document(document: Mapping[str, Any], name: str) -> BuildFile:
    """Return what a TOML document says; `name` is how its faults call it.

    Raises
    ------
    FileError
        With every fault of the document, each at its key path.
    """
    said = dict(_leaves(document))
    faults: list[Fault] = [*_unknown(said), *_missing(said, document)]
    values: dict[str, Any] = {}
    for path, raw in said.items():
        if key := _BY_PATH.get(path):
            try:
                values[path] = _value(key, raw)
            except UnitError as wrong:
                faults.append(replace(wrong.fault, key=path))
    faults += _contradictions(values)
    if faults:
        order = {path: place for place, path in enumerate(_BY_PATH)}
        faults.sort(key=lambda fault: order.get(fault.key, len(order)))
        raise FileError([replace(fault, file=name) for fault in faults])
    return BuildFile(
        name=name,
        numbers={path: value for path, value in values.items() if isinstance(value, float)},
        words={path: value for path, value in values.items() if isinstance(value, str)},
        tables=frozenset(document),
        volumetric_efficiency_curve=values.get("engine.volumetric_efficiency_curve", ()),
    )


def _leaves(document: Mapping[str, Any], head: str = "") -> Iterator[tuple[str, Any]]:
    """Every key of the document with its value; a table that we know is walked into, any other is a leaf."""
    for name, value in document.items():
        path = f"{head}{name}"
        if isinstance(value, dict) and path in _TABLES:
            yield from _leaves(cast("Mapping[str, Any]", value), f"{path}.")
        elif not (isinstance(value, dict) and not value and path in _TABLES):
            yield path, value


def _unknown(said: Mapping[str, Any]) -> Iterator[Fault]:
    for path in said:
        if path not in _BY_PATH:
            yield Fault(problem="is not a key that we know", remedy=_suggestion(path), key=path)


def _suggestion(path: str) -> str:
    table, _, last = path.rpartition(".")
    within = {key.rpartition(".")[2]: key for key in _BY_PATH if key.rpartition(".")[0] == table}
    near = [within[name] for name in difflib.get_close_matches(last, within, n=2, cutoff=0.6)]
    near = near or [key for key in _BY_PATH if key.rpartition(".")[2] == last]
    near = near or difflib.get_close_matches(path, [*_BY_PATH, *_TABLES], n=2, cutoff=0.7)
    if near:
        return f"did you mean {' or '.join(near[:2])}?"
    return f"known here are {', '.join(within or _TABLES)}"


def _missing(said: Mapping[str, Any], document: Mapping[str, Any]) -> Iterator[Fault]:
    for key in KEYS:
        if key.required and key.path not in said:
            table = key.path.split(".")[0]
            problem = f"is missing: {key.phrase}" if table in document else f"is missing with its table [{table}]"
            yield Fault(problem=problem, remedy=_example(key), key=key.path)
    if not {"drive.ratio", "drive.driving_pulley", "drive.driven_pulley"} & set(said):
        remedy = 'write ratio = 2.8, or driving_pulley = "190 mm" and driven_pulley = "68 mm"'
        yield Fault(problem="says nothing of the ratio", remedy=remedy, key="drive")


def _example(key: Key) -> str:
    examples = {"engine.displacement": '"4.2 L"', "engine.cylinders": "6", "engine.compression_ratio": "9.5"}
    table, _, name = key.path.partition(".")
    return f"write {name} = {examples.get(key.path, chr(34) + '1.6 L' + chr(34))} under [{table}]"


def _value(key: Key, raw: Any) -> float | str | CurvePoints:
    """The value of one key, checked by itself; what is wrong with it comes as a `UnitError`."""
    if key.holds == WORD:
        return _word(key, raw)
    if key.holds == SWITCH:
        if not isinstance(raw, bool):
            raise _wrong(raw, "is neither true nor false", f"write {key.path.rpartition('.')[2]} = true, or false")
        return float(raw)
    if key.holds == CURVE:
        return _curve(key, raw)
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        raise _wrong(raw, "is not a number with a unit", 'write one in quotes, such as "4.2 L"')
    number = _count(raw) if key.holds == COUNT else parse_quantity(raw, dimension=key.holds)
    return _within(key, number, raw)


def _wrong(raw: Any, problem: str, remedy: str) -> UnitError:
    shown = f'"{raw}"' if isinstance(raw, str) else str(raw).lower() if isinstance(raw, bool) else str(raw)
    return UnitError(shown, problem, remedy)


def _count(raw: float | str) -> float:
    if not isinstance(raw, int):
        raise _wrong(raw, "is not a whole number", "write a whole number without a unit")
    return float(raw)


def _within(key: Key, number: float, raw: Any) -> float:
    if key.low <= number <= key.high:
        return number
    signless = number <= 0.0 < key.low
    problem = "is not positive" if signless else "is too small" if number < key.low else "is too large"
    name = key.path.rpartition(".")[2].replace("_", " ")
    raise _wrong(raw, problem if signless else f"{problem} to be the {name}", key.remedy)


def _word(key: Key, raw: Any) -> str:
    if not isinstance(raw, str):
        raise _wrong(raw, "is not a word in quotes", f"write {key.phrase}")
    if key.path == "fuel.blend":
        try:
            fuel_named(raw)
        except ValueError as wrong:
            raise _wrong(raw, "is not a fuel that we know", str(wrong).partition("; ")[2]) from wrong
    elif raw not in key.words:
        raise _wrong(raw, "is not a word that we know here", f"write {' or '.join(key.words)}")
    return raw


def _curve(key: Key, raw: Any) -> CurvePoints:
    remedy = 'write [["2000 rpm", 0.90], ["4000 rpm", 0.95]], the speeds rising'
    try:
        points = [(parse_quantity(speed, dimension="speed"), float(value)) for speed, value in raw]
    except UnitError:
        raise
    except (TypeError, ValueError) as wrong:
        raise _wrong(raw, "is not a list of pairs of speed and value", remedy) from wrong
    speeds = [speed for speed, _ in points]
    if len(points) < 2 or speeds != sorted(set(speeds)) or not all(key.low <= value <= key.high for _, value in points):
        raise _wrong(raw, "does not rise in speed, or holds an efficiency outside 0.3 to 1.3", remedy)
    return tuple(points)


def top_engine_speed(displacement: float, cylinders: float, stroke: float | None, piston_speed: float) -> float:
    """Engine speed at a mean piston speed [1/s]; where the stroke is not known, bore and stroke are taken as equal."""
    return piston_speed / (2.0 * (stroke or square_stroke(displacement, cylinders)))


def square_stroke(displacement: float, cylinders: float) -> float:
    """Stroke of an engine whose bore equals its stroke [m]."""
    return (4.0 * displacement / (math.pi * cylinders)) ** (1.0 / 3.0)


def pitch_ratio(driving_pulley: float, driven_pulley: float, line_differential: float) -> float:
    """Turns of the driven pulley per turn of the driving one, on the pitch line of the belt."""
    return (driving_pulley + 2.0 * line_differential) / (driven_pulley + 2.0 * line_differential)


def _contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    """What is wrong between keys; a key that is wrong by itself is not here, and asks no more questions."""
    yield from _blower_contradictions(values)
    yield from _drive_contradictions(values)
    yield from _overspeed(values)
    if {"engine.bore", "engine.stroke", "engine.displacement", "engine.cylinders"} <= set(values):
        bore, stroke, cylinders = values["engine.bore"], values["engine.stroke"], values["engine.cylinders"]
        swept = math.pi / 4.0 * bore**2 * stroke * cylinders
        if abs(swept / values["engine.displacement"] - 1.0) > BORE_AGREEMENT:
            problem = f"does not agree with bore, stroke and cylinders, which sweep {swept * 1e3:.3f} L"
            yield Fault(problem=problem, remedy="correct the one that is wrong", key="engine.displacement")
    if {"inlet.throttle_area", "inlet.throttle_bore"} <= set(values):
        yield Fault(problem="stands beside throttle_bore", remedy="give one of the two", key="inlet.throttle_area")
    if values.get("inlet.throttle_shaft", 0.0) >= values.get("inlet.throttle_bore", math.inf):
        yield Fault(problem="is not below throttle_bore", remedy="check both", key="inlet.throttle_shaft")


def _blower_contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    kind, ratio = values.get("blower.kind"), values.get("blower.internal_volume_ratio")
    if ratio is None:
        return
    if kind == "roots" and ratio != 1.0:
        problem = "contradicts kind = roots, which does not compress inside"
        yield Fault(
            value=f"{ratio:g}",
            problem=problem,
            remedy='write 1.0, or kind = "screw"',
            key="blower.internal_volume_ratio",
        )
    if kind == "screw" and ratio == 1.0:
        problem = "contradicts kind = screw, which compresses inside"
        yield Fault(
            value="1",
            problem=problem,
            remedy='write it, such as 1.3, or kind = "roots"',
            key="blower.internal_volume_ratio",
        )


def _drive_contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    pulleys = [values.get("drive.driving_pulley"), values.get("drive.driven_pulley")]
    if "drive.ratio" in values and None not in pulleys:
        ratio = values["drive.ratio"]
        nominal, pitch = _ratios(values)
        if min(abs(ratio / nominal - 1.0), abs(ratio / pitch - 1.0)) > RATIO_AGREEMENT:
            problem = f"contradicts the pulleys, which give {pitch:.4g} on the pitch line of the belt"
            yield Fault(value=f"{ratio:g}", problem=problem, remedy="give the ratio or the pulleys", key="drive.ratio")
    elif "drive.ratio" not in values and pulleys.count(None) == 1:
        missing = "drive.driven_pulley" if pulleys[1] is None else "drive.driving_pulley"
        yield Fault(problem="is missing beside the other pulley", remedy="give both pulleys, or the ratio", key=missing)


def _ratios(values: Mapping[str, Any]) -> tuple[float, float]:
    driving, driven = values["drive.driving_pulley"], values["drive.driven_pulley"]
    differential = values.get("drive.line_differential", LINE_DIFFERENTIAL)
    return driving / driven, pitch_ratio(driving, driven, differential)


def _overspeed(values: Mapping[str, Any]) -> Iterator[Fault]:
    """A ratio too high for the blower: at the engine's stated limit, or, if none is stated, at any usual top speed."""
    if (top := _certain_top_speed(values)) is None or "blower.speed_limit" not in values:
        return
    if "drive.ratio" in values:
        place, ratio = "drive.ratio", values["drive.ratio"]
    elif {"drive.driving_pulley", "drive.driven_pulley"} <= set(values):
        place, ratio = "drive.driven_pulley", _ratios(values)[1]
    else:
        return
    rotor, limit = top * ratio * values.get("drive.internal_step", 1.0), values["blower.speed_limit"]
    if rotor > limit:
        stated = "its speed_limit" if "engine.speed_limit" in values else "a low top speed for its stroke"
        problem = (
            f"turns the rotor at {60 * rotor:.0f} rpm with the engine at {60 * top:.0f} rpm, {stated}, "
            f"where the blower allows {60 * limit:.0f} rpm"
        )
        remedy = f"a ratio of {ratio * limit / rotor:.3g} is the most; or lower engine.speed_limit"
        yield Fault(value=f"{ratio:.4g}", problem=problem, remedy=remedy, key=place)


def _certain_top_speed(values: Mapping[str, Any]) -> float | None:
    """An engine speed that the engine reaches for certain, if that much can be said."""
    if "engine.speed_limit" in values:
        return values["engine.speed_limit"]
    if {"engine.displacement", "engine.cylinders"} <= set(values):
        size = values["engine.displacement"], values["engine.cylinders"]
        return top_engine_speed(*size, values.get("engine.stroke"), SLOW_PISTON)
    return None


def _unreadable(path: Path, wrong: OSError) -> Fault:
    problem = f"cannot be read ({wrong.strerror or wrong})"
    return Fault(problem=problem, remedy="check the name of the build file", file=str(path))


def _not_toml(path: Path, wrong: tomllib.TOMLDecodeError) -> Fault:
    place = re.search(r"\(at line (\d+), column \d+\)", str(wrong))
    said = re.sub(r"\s*\(at .*\)$", "", str(wrong))
    remedy = 'write key = "value with unit" under a [table]'
    return Fault(problem=f"is not TOML: {said}", remedy=remedy, file=str(path), row=int(place[1]) if place else None)

"""A build file: what its keys may say, and the reader that turns it into plain checked numbers, or into all its faults.

Nothing is assumed here: what the file does not say is not in the result. `build_keys.py` is the whole truth about it.
"""

import difflib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

from boostwright.errors import Fault, FileError
from boostwright.physics.belt import pitch_line_ratio
from boostwright.physics.fuels import fuel_named
from boostwright.records.build_keys import COUNT, CURVE, KEYS, LINE_DIFFERENTIAL, SWITCH, WORD, Key
from boostwright.records.toml import read_toml
from boostwright.units import UnitError, format_quantity, parse_quantity

SLOW_PISTON, COMMON_PISTON = 16.0, 20.0  # m/s at top speed: common practice, no source
RATIO_AGREEMENT = 0.01  # a ratio and the pulleys beside it may differ by this much
_MOST_COUNTED = 1_000_000  # of whatever is counted
BORE_AGREEMENT = 0.02  # displacement against bore, stroke and cylinders

CurvePoints = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class BuildFile:
    """What a build file says, by key path: numbers in SI, words, and the engine's volumetric-efficiency curve."""

    name: str
    numbers: Mapping[str, float]
    words: Mapping[str, str]
    tables: frozenset[str]
    volumetric_efficiency_curve: CurvePoints = ()


_BY_PATH = {key.path: key for key in KEYS}
_TABLES = tuple(dict.fromkeys(key.path.rpartition(".")[0] for key in KEYS))


def read_build_file(path: Path) -> BuildFile:
    """Return what a build file says, in SI units.

    Raises
    ------
    FileError
        With every fault of the file, each at its key path.
    """
    document = read_toml(path, "check the name of the build file")
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


def changed(build_file: BuildFile, changes: Mapping[str, float]) -> BuildFile:
    """The same build with other numbers in SI, checked as if its file said them.

    Raises
    ------
    FileError
        With every fault of the numbers by themselves and against one another.
    """
    numbers = {**build_file.numbers, **changes}
    faults = [*_out_of_range(changes), *_contradictions({**numbers, **build_file.words})]
    if faults:
        raise FileError([replace(fault, file=build_file.name) for fault in faults])
    tables = build_file.tables | {path.split(".")[0] for path in changes}
    return replace(build_file, numbers=numbers, tables=tables)


def _out_of_range(changes: Mapping[str, float]) -> Iterator[Fault]:
    for path, number in changes.items():
        key = _BY_PATH[path]
        if not key.low <= number <= key.high:
            shown = format_quantity(number, dimension=key.holds, decimals=3) if key.holds != COUNT else f"{number:g}"
            yield Fault(value=shown, problem="is outside what is possible", remedy=key.remedy, key=path)


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
    near = near or (difflib.get_close_matches(path, [*_BY_PATH, *_TABLES], n=2, cutoff=0.7) if not within else [])
    if near:
        return f"did you mean {' or '.join(near[:2])}?"
    return f"known here are {', '.join(within or _TABLES)}"


def _missing(said: Mapping[str, Any], document: Mapping[str, Any]) -> Iterator[Fault]:
    for key in KEYS:
        if key.required and key.path not in said:
            table = key.path.split(".")[0]
            problem = f"is missing: {key.phrase}" if table in document else f"is missing with its table [{table}]"
            yield Fault(problem=problem, remedy=_example(key), key=key.path)
    if "drive.ratio" not in said:
        yield from _missing_pulleys(said)


def _missing_pulleys(said: Mapping[str, Any]) -> Iterator[Fault]:
    missing = [path for path in ("drive.driving_pulley", "drive.driven_pulley") if path not in said]
    if len(missing) == 2:
        remedy = 'write ratio = 2.8, or driving_pulley = "190 mm" and driven_pulley = "68 mm"'
        yield Fault(problem="says nothing of the ratio", remedy=remedy, key="drive")
    for path in missing if len(missing) == 1 else ():
        yield Fault(problem="is missing beside the other pulley", remedy="give both pulleys, or the ratio", key=path)


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
    if not isinstance(raw, int) or abs(raw) > _MOST_COUNTED:
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
    except (TypeError, ValueError, OverflowError) as wrong:
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


def _contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    """What is wrong between keys; a key that is wrong by itself is not here, and asks no more questions."""
    yield from _blower_contradictions(values)
    yield from _port_contradictions(values)
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


_ONE_AFTER_ANOTHER = (
    ("inlet.port_opening_angle", "inlet.port_closing_angle"),
    ("inlet.port_closing_angle", "blower.compression_start_angle"),
    ("blower.fill_end_angle", "blower.compression_start_angle"),
    ("blower.compression_start_angle", "blower.discharge_end_angle"),
)


def _port_contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    """What of a chamber's life does not come after what it must; angles that nobody states are not asked here."""
    for first, second in _ONE_AFTER_ANOTHER:
        if first in values and second in values and values[first] > values[second]:
            early, late = (f"{math.degrees(values[path]):.4g} deg" for path in (first, second))
            problem = f"comes after {second}, {late}"
            yield Fault(value=early, problem=problem, remedy="check both angles on the drawing", key=first)


def _drive_contradictions(values: Mapping[str, Any]) -> Iterator[Fault]:
    pulleys = [values.get("drive.driving_pulley"), values.get("drive.driven_pulley")]
    if "drive.ratio" in values and None not in pulleys:
        ratio = values["drive.ratio"]
        nominal, pitch = _ratios(values)
        if min(abs(ratio / nominal - 1.0), abs(ratio / pitch - 1.0)) > RATIO_AGREEMENT:
            problem = f"contradicts the pulleys, which give {pitch:.4g} on the pitch line of the belt"
            yield Fault(value=f"{ratio:g}", problem=problem, remedy="give the ratio or the pulleys", key="drive.ratio")


def _ratios(values: Mapping[str, Any]) -> tuple[float, float]:
    driving, driven = values["drive.driving_pulley"], values["drive.driven_pulley"]
    differential = values.get("drive.line_differential", LINE_DIFFERENTIAL)
    return driving / driven, float(pitch_line_ratio(driving, driven, differential))


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

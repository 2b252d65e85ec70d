"""What a person types to have a build varied: numbers with their ends and steps, the goal, and the study of them."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault, FileError
from boostwright.machine.build import build_of
from boostwright.machine.chamber_build import CHAMBER_KEYS, numbers_with_chambers
from boostwright.machine.operating_point import Ambient, build_points
from boostwright.machine.parameter_sets import ParameterSets, drawn_chamber_sets, drawn_sets
from boostwright.records.build_file import BuildFile, changed
from boostwright.records.build_keys import COUNT, CURVE, KEYS, SWITCH, WORD, Key
from boostwright.studies.match import CHAMBER, round_speeds
from boostwright.studies.vary import Search, Variation, VaryStudy, known_limits
from boostwright.studies.vary_result import AllowedLoss, VaryGoal
from boostwright.studies.vary_run import Plan
from boostwright.units import Unit, UnitError, display_unit, find_unit, parse_quantity, suitable_unit

Floats: TypeAlias = NDArray[np.float64]

SEED = 20260412
GRID_STEPS = 5  # where nobody says how many
MOST_DESIGNS = 1_000_000
SLIP_LAW = "slip law"
_SPEED_STRIDE = 2  # of the round speeds of a match: every 500 rev/min
_KEYS = {key.path: key for key in KEYS}
_CHAMBER_ONLY = frozenset(CHAMBER_KEYS.values())
_SLIP_ONLY = frozenset(
    ("blower.filling_loss", "blower.gas_work_factor", "blower.heat_loss_share", "blower.delivery_factor")
)
_DRIVE = ("drive.ratio", "drive.driving_pulley", "drive.driven_pulley", "drive.internal_step")
_KNOTS, _FEW_KNOTS = 10, 6
_ROTOR_ROOM = (0.95, 1.03)  # belt slip and pitch line differ from set to set by less
_COOL, _WARM = 0.98, 1.15  # of the air around: how cool and warm it reaches the rotors
_ENDS = re.compile(r"\s*([^:]+?)\s*:\s*([^:]+?)\s*(?::\s*(\d+)\s*(\S.*?)?)?\s*")


def variation_from_text(text: str, build_file: BuildFile, search: Search) -> Variation:
    """One varied number from a text such as `inlet.port_closing_angle=200:240:9` or `drive.driven_pulley=64mm:72mm:5`.

    A number without a unit is in the unit in which the program prints such a thing, as degrees, mm or cm2.

    Raises
    ------
    UnitError
        If the key is not a number of a build file, the ends are not possible, or the build has no such number.
    """
    path, equals, ends = (part.strip() for part in text.partition("="))
    shown = f'--vary "{text}"'
    if not equals or not (found := _ENDS.fullmatch(ends)):
        raise UnitError(shown, "does not say what is varied from where to where", f"write {_EXAMPLE}")
    key = _numeric_key(path, shown)
    low_text, high_text, steps, common = found.groups()
    unit = _unit(key, common or _spelling(low_text) or _spelling(high_text))
    low, high = (_end(key, end, unit, shown) for end in (low_text, high_text))
    if steps is not None and search is not Search.GRID:
        raise UnitError(shown, "says how many steps, which only a grid has", f"write {path}={low_text}:{high_text}")
    amount = int(steps) if steps else GRID_STEPS
    if not low < high or amount < 2:
        raise UnitError(shown, "is not a rising range of at least two steps", f"write {_EXAMPLE}")
    if key.holds == COUNT and (search is not Search.GRID or np.any(np.linspace(low, high, amount) % 1.0 != 0.0)):
        raise UnitError(shown, "takes steps between whole numbers", "take a grid whose steps are whole")
    return Variation(
        key_path=path, unit=unit, low=low, high=high, steps=amount, present=_present(path, build_file, shown)
    )


_EXAMPLE = "KEY=LOW:HIGH:STEPS, such as inlet.port_closing_angle=200:240:9"


def _numeric_key(path: str, shown: str) -> Key:
    key = _KEYS.get(path)
    if key is None:
        last = path.rpartition(".")[2]
        near = [known for known in _KEYS if last and last in known] or ["inlet.port_closing_angle", "inlet.flow_area"]
        raise UnitError(shown, f"names no key of a build file, {path}", f"did you mean {' or '.join(near[:3])}?")
    if key.holds in (WORD, CURVE, SWITCH):
        raise UnitError(shown, f"names {path}, which is not a number", "vary a number")
    return key


def _spelling(end: str) -> str:
    return re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*", "", end)


def _unit(key: Key, spelling: str) -> Unit:
    if key.holds == COUNT:
        return display_unit("fraction", "metric")
    return suitable_unit(spelling, "", key.holds) if spelling else display_unit(key.holds, "metric")


def _end(key: Key, text: str, unit: Unit, shown: str) -> float:
    if _spelling(text):
        number = parse_quantity(text, dimension="fraction" if key.holds == COUNT else key.holds)
    else:
        try:
            number = float(unit.to_si(float(text)))
        except ValueError as wrong:
            raise UnitError(shown, f"has an end that is no number, {text}", f"write {_EXAMPLE}") from wrong
    if not key.low <= number <= key.high:
        raise UnitError(shown, f"has an end outside what is possible, {text}", key.remedy)
    return number


def _present(path: str, build_file: BuildFile, shown: str) -> float:
    numbers = numbers_with_chambers(build_file)
    if path not in numbers:
        remedy = f"write {path.rpartition('.')[2]} into the file as it is now"
        raise UnitError(shown, "is a number that the build does not have", remedy)
    return numbers[path]


def search_from_text(text: str, design_count: int | None) -> Search:
    """How designs are chosen.

    Raises
    ------
    UnitError
        If it is not one of the three, or a grid is given a number of designs.
    """
    if text not in set(Search):
        raise UnitError(f'--search "{text}"', "is no way to choose designs", "write grid, latin or optimise")
    if text == Search.GRID.value and design_count is not None:
        raise UnitError(f"--designs {design_count}", "is for latin and optimise", "say the steps of a grid in --vary")
    return Search(text)


def plan_of(study: VaryStudy, goal: VaryGoal, search: Search, design_count: int) -> Plan:
    """The plan of a study; on a grid the number of designs is that of its steps.

    Raises
    ------
    DataError
        If there are more designs than anybody would wait for.
    """
    if search is Search.GRID:
        design_count = math.prod(variation.steps for variation in study.variations)
    if design_count > MOST_DESIGNS:
        raise DataError(
            f"{design_count} designs are asked for, {MOST_DESIGNS} are the most; take fewer steps, or --search latin"
        )
    return Plan(study=study, goal=goal, search=search, design_count=design_count)


def goal_from_text(objective: str, allowed_losses: Sequence[str], risk: float) -> VaryGoal:
    """The goal from `average` or a speed such as `5500 rpm`, and losses such as `2000 rpm, 1 %` or `2000 rpm, 2 kW`.

    Raises
    ------
    UnitError
        If one of them cannot be understood.
    """
    if not 0.0 <= risk < 1.0:
        raise UnitError(f"--risk {risk:g}", "is not a chance", "write one from 0 to below 1, such as 0.05")
    speed = None if objective.strip() == "average" else _speed(objective, "--objective")
    return VaryGoal(
        objective_speed=speed, allowed_losses=tuple(_allowed_loss(text) for text in allowed_losses), risk=risk
    )


def _speed(text: str, option: str) -> float:
    try:
        speed = parse_quantity(text, dimension="speed")
    except UnitError as wrong:
        remedy = 'write average, or an engine speed such as "5500 rpm"'
        raise UnitError(f"{option} {wrong.fault.value}", wrong.fault.problem, remedy) from wrong
    if not speed > 0.0:
        raise UnitError(f'{option} "{text}"', "is no engine speed", 'write one such as "5500 rpm"')
    return speed


def _allowed_loss(text: str) -> AllowedLoss:
    shown, remedy = f'--allowed-loss "{text}"', 'write speed and loss, such as "2000 rpm, 1 %" or "2000 rpm, 2 kW"'
    speed, comma, loss = text.partition(",")
    unit = find_unit(_spelling(loss.strip())) if comma else None
    if unit is None or unit.dimension not in ("fraction", "power"):
        raise UnitError(shown, "is not an engine speed and a loss of power", remedy)
    number = parse_quantity(loss.strip(), dimension=unit.dimension)
    if not number >= 0.0:
        raise UnitError(shown, "is a loss below nothing", remedy)
    share, power = (number, 0.0) if unit.dimension == "fraction" else (0.0, number)
    return AllowedLoss(engine_speed=_speed(speed, "--allowed-loss"), share=share, power=power)


def study_speeds(build_file: BuildFile, asked: Floats | None, goal: VaryGoal) -> Floats:
    """Engine speeds of a study: those asked, or round ones, and every speed that the goal names."""
    speeds = round_speeds(build_file)[::_SPEED_STRIDE] if asked is None else asked
    named = [loss.engine_speed for loss in goal.allowed_losses]
    if goal.objective_speed is not None:
        named.append(goal.objective_speed)
    further = [speed for speed in named if not np.any(np.isclose(speeds, speed, rtol=1e-9))]
    return np.unique(np.concatenate([speeds, further]))


def vary_study(
    build_file: BuildFile,
    variations: Sequence[Variation],
    engine_speed: Floats,
    ambient: Ambient,
    blower_form: str,
    set_count: int,
) -> VaryStudy:
    """The study of these variations, with sets of what nobody has said of the build drawn from their documented ranges.

    Raises
    ------
    FileError
        If a variation cannot matter to this form of blower, or the ports of the build contradict its chambers.
    """
    has_chambers = blower_form == CHAMBER
    held = replace(build_file, numbers={**build_file.numbers, **{v.key_path: v.present for v in variations}})
    generator = np.random.default_rng(SEED)
    draw = drawn_chamber_sets if has_chambers else drawn_sets
    try:
        sets = draw(held, engine_speed, ambient, set_count, generator)
    except ValueError as wrong:
        fault = Fault(file=build_file.name, problem=str(wrong), remedy="check the angles under [inlet] and [blower]")
        raise FileError([fault]) from wrong
    return study_with_sets(build_file, variations, engine_speed, ambient, sets, is_calibrated=False)


def study_with_sets(
    build_file: BuildFile,
    variations: Sequence[Variation],
    engine_speed: Floats,
    ambient: Ambient,
    sets: ParameterSets,
    *,
    is_calibrated: bool,
) -> VaryStudy:
    """The study of these variations with sets that are there already."""
    has_chambers = sets.reference_geometry is not None
    _refuse_idle(build_file, variations, has_chambers=has_chambers)
    build = build_of(build_file)
    return VaryStudy(
        build_file=build_file,
        variations=tuple(variations),
        engine_speed=tuple(float(speed) for speed in engine_speed),
        ambient=ambient,
        blower_form=CHAMBER if has_chambers else SLIP_LAW,
        corrected_speeds=_knots(build_file, variations, engine_speed, ambient) if has_chambers else (),
        sets=sets,
        is_calibrated=is_calibrated,
        limit_names=known_limits(build, build_points(build, engine_speed, ambient)),
    )


def chosen_form(asked: str | None, variations: Sequence[Variation]) -> str:
    """The form of blower: what is asked, else chambers where ports or chambers are varied, and the slip law elsewhere.

    Raises
    ------
    UnitError
        If it is neither of the two.
    """
    if asked is None:
        ports = any(variation.key_path in _CHAMBER_ONLY for variation in variations)
        return CHAMBER if ports else SLIP_LAW
    if asked not in ("slip", "chamber"):
        raise UnitError(f'--blower "{asked}"', "is no form of blower that can be varied", "write slip or chamber")
    return CHAMBER if asked == "chamber" else SLIP_LAW


def _refuse_idle(build_file: BuildFile, variations: Sequence[Variation], *, has_chambers: bool) -> None:
    idle = _SLIP_ONLY if has_chambers else _CHAMBER_ONLY
    remedy = "use --blower slip, or vary ports and clearances" if has_chambers else "use --blower chamber"
    form = "chambers" if has_chambers else "a slip law"
    faults = [
        Fault(file=build_file.name, key=v.key_path, problem=f"changes nothing of a blower with {form}", remedy=remedy)
        for v in variations
        if v.key_path in idle
    ]
    twice = {v.key_path for v in variations if sum(other.key_path == v.key_path for other in variations) > 1}
    faults += [Fault(key=path, problem="is varied twice", remedy="vary it once") for path in sorted(twice)]
    if faults:
        raise FileError(faults)


def _knots(
    build_file: BuildFile, variations: Sequence[Variation], engine_speed: Floats, ambient: Ambient
) -> tuple[float, ...]:
    """Corrected speeds of the maps: what the rotors turn at in any design, closer where leakage rules."""
    varied = [v for v in variations if v.key_path in _DRIVE]
    ratios = [_rotor_ratio(build_file, {})]
    ratios += [
        _rotor_ratio(build_file, {v.key_path: end for v, end in zip(varied, ends, strict=True)})
        for ends in product(*((v.low, v.high) for v in varied))
    ]
    known = [ratio for ratio in ratios if not math.isnan(ratio)]
    low = _ROTOR_ROOM[0] * min(known) * float(np.min(engine_speed)) / math.sqrt(_WARM * ambient.air_temperature)
    high = _ROTOR_ROOM[1] * max(known) * float(np.max(engine_speed)) / math.sqrt(_COOL * ambient.air_temperature)
    count = _FEW_KNOTS if high < 1.5 * low else _KNOTS
    return tuple((np.linspace(math.sqrt(low), math.sqrt(high), count) ** 2).tolist())


def _rotor_ratio(build_file: BuildFile, changes: dict[str, float]) -> float:
    try:
        drive = build_of(changed(build_file, changes)).drive
    except FileError:
        return math.nan
    return drive.drive_ratio * drive.internal_step

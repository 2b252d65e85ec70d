"""Where a tested blower goes: the points of both setups on another build, and what is the tested one's there."""

from collections.abc import Iterator, Set
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.inference.calibrate import CalibrationData
from boostwright.inference.priors import Known, Points, Scope
from boostwright.machine.build import Build
from boostwright.machine.operating_point import Ambient, build_points
from boostwright.studies.explain_data import stated_words
from boostwright.units import format_quantity

Floats: TypeAlias = NDArray[np.float64]

SPEED_COUNT = 13
SAME_SIZE = 0.005  # relative difference up to which two displacements are those of one blower
_ROUND_SPEED = 50 / 60
_BLOWER_COLUMNS = (
    "blower_displacement",
    "internal_step",
    "internal_volume_ratio",
    "speed_limit",
    "filling_loss",
    "leakage_area",
    "gas_work_factor",
    "mechanical_power_at_limit",
    "heat_loss_share",
    "mechanical_heat_share",
    "delivery_factor",
    "added_outlet_temperature",
    "added_shaft_power",
    "inlet_area",
    "inlet_heating",
)
_THROTTLE_KEYS = {"inlet.throttle_bore", "inlet.throttle_area"}


@dataclass(frozen=True, kw_only=True)
class CarrySource:
    """A test to carry from: its data, and the builds of its baseline and its candidate."""

    data: CalibrationData
    baseline: str
    candidate: str
    baseline_build: Build
    candidate_build: Build

    @property
    def ambient(self) -> Ambient:
        """Mean weather of the test."""
        tables = self.data.baseline, self.data.candidate
        words = ("ambient_pressure", "air_temperature", "humidity_ratio")
        return Ambient(**{word: float(np.mean([table[word] for table in tables])) for word in words})


@dataclass(frozen=True, kw_only=True)
class CarryTarget:
    """A build to carry to, in one weather, at some engine speeds.

    An engine written as the tested one's is taken for that engine itself, unless it `is_another_specimen`.
    """

    build: Build
    ambient: Ambient
    engine_speed: Floats
    is_another_specimen: bool = False


def carry_target(
    tested: CarrySource,
    build: Build,
    ambient: Ambient | None = None,
    engine_speed: Floats | None = None,
    *,
    is_another_specimen: bool = False,
) -> CarryTarget:
    """A build to carry to; what is not given is that of the test, speeds as a share of the engine's top speed.

    Raises
    ------
    DataError
        If the build has another blower than the test, or is asked beyond the top speed of its engine.
    """
    faults = list(_blower_faults(tested, build))
    top = build.engine.engine_speed_limit
    if engine_speed is not None and float(engine_speed.max()) > top * 1.001:
        problem = f"is above the top speed of the engine, {60 * top:.0f} rpm"
        remedy = "ask for less, or state engine.speed_limit"
        value = f"{60 * float(engine_speed.max()):.0f} rpm"
        faults.append(Fault(file=build.name, key="engine.speed_limit", value=value, problem=problem, remedy=remedy))
    if faults:
        raise DataError("\n".join(str(fault) for fault in faults))
    return CarryTarget(
        build=build,
        ambient=tested.ambient if ambient is None else ambient,
        engine_speed=_usual_speeds(tested, build) if engine_speed is None else engine_speed,
        is_another_specimen=is_another_specimen,
    )


def _usual_speeds(tested: CarrySource, build: Build) -> Floats:
    """The tested speeds on the tested engine; on another one the same shares of its top speed, in round figures."""
    speeds = tested.data.engine_speed
    if build.engine == tested.baseline_build.engine:
        return speeds
    share = build.engine.engine_speed_limit / tested.baseline_build.engine.engine_speed_limit
    spread = np.linspace(share * speeds[0], share * speeds[-1], SPEED_COUNT)
    return np.unique(np.round(spread / _ROUND_SPEED)) * _ROUND_SPEED


def _blower_faults(tested: CarrySource, build: Build) -> Iterator[Fault]:
    """What says that the build has another blower than both setups of the test."""
    builds = tested.baseline_build, tested.candidate_build
    remedy = "carry to a build with the tested blower, or test this blower"
    sizes = [other.blower.blower_displacement for other in builds]
    own = build.blower.blower_displacement
    if all(abs(own / size - 1.0) > SAME_SIZE for size in sizes):
        value, was = (format_quantity(v, dimension="volume", decimals=3) for v in (own, sizes[0]))
        problem = f"is another blower than the tested one of {was}: nothing is known of its filling and leakage"
        yield Fault(file=build.name, key="blower.displacement", value=value, problem=problem, remedy=remedy)
    ratios = [other.blower.internal_volume_ratio for other in builds]
    own = build.blower.internal_volume_ratio
    if all(abs(own / ratio - 1.0) > SAME_SIZE for ratio in ratios):
        problem = f"is another blower than the tested one of {ratios[0]:.3g}"
        key = "blower.internal_volume_ratio"
        yield Fault(file=build.name, key=key, value=f"{own:.3g}", problem=problem, remedy=remedy)
    steps = [other.drive.internal_step for other in builds]
    own = build.drive.internal_step
    if all(abs(own / step - 1.0) > SAME_SIZE for step in steps):
        problem = f"is another gear step inside the blower than the tested {steps[0]:.3g}"
        yield Fault(file=build.name, key="drive.internal_step", value=f"{own:.3g}", problem=problem, remedy=remedy)


def is_tested_engine(tested: CarrySource, target: CarryTarget) -> bool:
    """Whether the engine of the build is the one of the test."""
    return not target.is_another_specimen and target.build.engine == tested.baseline_build.engine


def kept_scopes(tested: CarrySource, target: CarryTarget) -> Set[Scope]:
    """What of the test holds on the build beside the blower."""
    if not is_tested_engine(tested, target):
        return frozenset()
    same_cooler = target.build.cooler == tested.baseline_build.cooler
    return frozenset({Scope.ENGINE, Scope.DRIVE, *([Scope.COOLER] if same_cooler else [])})


def target_knowledge(target: CarryTarget) -> Known:
    """What the build file of the other engine states."""
    return Known(stated=stated_words([target.build]))


def target_points(
    tested: CarrySource, target: CarryTarget, engine_speed: Floats | None = None
) -> tuple[Points, Points]:
    """Nominal points of baseline and candidate on the build: blower and inlet of each, all else the build's own."""
    speeds = target.engine_speed if engine_speed is None else engine_speed
    own = build_points(target.build, speeds, target.ambient)
    if is_tested_engine(tested, target) and "excess_air_ratio" in tested.data.known.logged:
        tables = tested.data.baseline, tested.data.candidate
        logged = np.mean([table["excess_air_ratio"] for table in tables], axis=0)
        own["excess_air_ratio"] = np.interp(speeds, tested.data.engine_speed, logged)
    words = _BLOWER_COLUMNS if _has_own_throttle(tested, target) else (*_BLOWER_COLUMNS, "throttle_area")
    return _with_columns(own, tested.data.baseline, words), _with_columns(own, tested.data.candidate, words)


def _has_own_throttle(tested: CarrySource, target: CarryTarget) -> bool:
    """Whether the build states its throttle, and the throttle is not itself what the test has changed."""
    changed = tested.data.baseline["throttle_area"][0] != tested.data.candidate["throttle_area"][0]
    return bool(_THROTTLE_KEYS & target.build.stated) and not changed


def _with_columns(own: Points, setup: Points, words: tuple[str, ...]) -> Points:
    points = own.copy()
    for word in words:
        points[word] = setup[word][0]
    return points


def left_behind(tested: CarrySource) -> tuple[str, ...]:
    """What the setups of the test differ in that does not go along, as a person says it."""
    a, b = tested.baseline_build, tested.candidate_build
    parts = {
        "drive ratio": a.drive.drive_ratio == b.drive.drive_ratio,
        "engine": a.engine == b.engine,
        "charge cooler": a.cooler == b.cooler,
        "fuel": a.fuel_system.fuel == b.fuel_system.fuel,
        "bypass": (a.inlet.bypass_area, a.inlet.bypass_opening) == (b.inlet.bypass_area, b.inlet.bypass_opening),
    }
    return tuple(part for part, same in parts.items() if not same)

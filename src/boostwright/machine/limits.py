"""Which part gives first: every limit with its highest value, its margin, and the speed where the margin is least.

A limit that nobody has stated, or a value that cannot be computed from what is known, is "not known", never "ok".
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.blower import DRY_AIR_HEAT_CAPACITY_RATIO
from boostwright.machine.build import Build
from boostwright.machine.operating_point import OperatingPoints
from boostwright.physics.crank import mean_piston_speed
from boostwright.physics.restriction import critical_pressure_ratio, flow_function

NEAR = 0.10  # of the limit: a margin below this is said to be near
_LEAST_RISE = 1.0  # K
Floats: TypeAlias = NDArray[np.float64]


class LimitStatus(StrEnum):
    """How a value stands to its limit."""

    OK = "ok"
    NEAR = "near"
    OVER = "over"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, kw_only=True)
class LimitMargin:
    """One limit: the value where its margin is least, the limit, the margin as a share of it, and where that is.

    NaN stands for what is not known; `needs` names the keys of the build file that would make it known. The margin of a
    temperature is a share of what the limit lies above the air around.
    """

    name: str
    dimension: str
    value: float
    limit: float
    margin: float
    engine_speed: float
    status: LimitStatus
    needs: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LimitUse:
    """One limit at every point of a table: what is there and what is allowed.

    NaN stands for what is not known, and for points where nothing was matched; `needs` names the keys of the build file
    that would make it known. What is used of a temperature limit counts from the air around, `zero`, upwards.
    """

    name: str
    dimension: str
    values: Floats
    limit: float
    zero: float
    needs: tuple[str, ...]

    @property
    def is_known(self) -> bool:
        """Whether there are a limit and values to hold against it."""
        return not math.isnan(self.limit) and not bool(np.isnan(self.values).all())

    @property
    def share(self) -> Floats:
        """How much of the limit is used: 1 at the limit, infinite where the part could not do it at all."""
        return (self.values - self.zero) / (self.limit - self.zero)

    def margin(self, engine_speed: Floats) -> LimitMargin:
        """What is left of the limit over points at these engine speeds [1/s], of the shape of its values."""
        value = speed = math.nan
        if not np.isnan(self.values).all():
            worst = int(np.nanargmax(self.values))
            value, speed = float(self.values.flat[worst]), float(engine_speed.flat[worst])
        margin = (self.limit - value) / (self.limit - self.zero)
        status = LimitStatus.OVER if margin < 0.0 else LimitStatus.NEAR if margin < NEAR else LimitStatus.OK
        return LimitMargin(
            name=self.name,
            dimension=self.dimension,
            value=value,
            limit=self.limit,
            margin=margin,
            engine_speed=speed,
            status=status if self.is_known else LimitStatus.NOT_KNOWN,
            needs=self.needs,
        )


@dataclass(frozen=True, kw_only=True)
class _Question:
    """What is asked of one part: the value at every point (`None` if unknown), its limit, and where it counts from."""

    name: str
    dimension: str
    values: Floats | None
    limit: float | None
    keys: tuple[str, ...]
    base: float = 0.0


def limit_margins(build: Build, operating: OperatingPoints) -> tuple[LimitMargin, ...]:
    """Every limit over all matched points, in the order of the air's path."""
    uses = limit_uses(build, operating, build.drive.friction_coefficient)
    return tuple(use.margin(operating["engine_speed"]) for use in uses)


def limit_uses(build: Build, operating: OperatingPoints, friction_coefficient: ArrayLike) -> tuple[LimitUse, ...]:
    """Every limit at every point, in the order of the air's path.

    Parameters
    ----------
    build : Build
        What the points were made from; it says what the parts bear.
    operating : OperatingPoints
        Matched points of any shape, in one weather.
    friction_coefficient : array_like, shape broadcast to that of the points
        Of the belt in its grooves; it may differ from draw to draw, as the points do. [-]
    """
    return tuple(_use(question, operating, build) for question in _questions(build, operating, friction_coefficient))


def _use(question: _Question, operating: OperatingPoints, build: Build) -> LimitUse:
    open_keys = tuple(key for key in question.keys if not build.stated & set(key.split(" or ")))
    values = np.full(operating.points.shape, np.nan) if question.values is None else question.values
    use = LimitUse(
        name=question.name,
        dimension=question.dimension,
        values=np.where(operating.is_matched, values, np.nan),
        limit=math.nan if question.limit is None else question.limit,
        zero=question.base,
        needs=(),
    )
    return use if use.is_known else replace(use, needs=open_keys)


def _questions(build: Build, operating: OperatingPoints, friction_coefficient: ArrayLike) -> Iterator[_Question]:
    yield from _speed_questions(build, operating)
    yield from _air_questions(build, operating)
    yield from _belt_questions(build, operating, friction_coefficient)
    yield from _fuel_questions(build, operating)
    yield from _cylinder_questions(build, operating)


def _speed_questions(build: Build, operating: OperatingPoints) -> Iterator[_Question]:
    limits, N = build.limits, operating["engine_speed"]
    diameter = build.rotor_diameter
    yield _Question(
        name="rotor speed",
        dimension="speed",
        values=operating["rotor_speed"],
        limit=limits.rotor_speed_limit,
        keys=("blower.speed_limit",),
    )
    yield _Question(
        name="rotor tip speed",
        dimension="velocity",
        values=None if diameter is None else math.pi * diameter * operating["rotor_speed"],
        limit=limits.tip_speed,
        keys=("blower.rotor_diameter", "limits.tip_speed"),
    )
    yield _Question(
        name="mean piston speed",
        dimension="velocity",
        values=mean_piston_speed(operating["stroke"], N),
        limit=limits.mean_piston_speed,
        keys=("limits.mean_piston_speed",),
    )


def _air_questions(build: Build, operating: OperatingPoints) -> Iterator[_Question]:
    limits, around = build.limits, float(np.max(operating["air_temperature"]))
    yield _Question(
        name="throttle flow over its choked flow",
        dimension="fraction",
        values=_throttle_share(operating),
        limit=1.0,
        keys=(),
    )
    yield _Question(
        name="inlet flow over its choked flow", dimension="fraction", values=_inlet_share(operating), limit=1.0, keys=()
    )
    yield _Question(
        name="blower outlet temperature",
        dimension="temperature",
        values=operating["blower_outlet_temperature"],
        limit=limits.blower_outlet_temperature,
        keys=("limits.blower_outlet_temperature",),
        base=_zero_below(limits.blower_outlet_temperature, around),
    )
    yield _Question(
        name="charge temperature",
        dimension="temperature",
        values=operating["charge_temperature"],
        limit=limits.charge_temperature,
        keys=("limits.charge_temperature",),
        base=_zero_below(limits.charge_temperature, around),
    )
    yield _Question(
        name="manifold pressure",
        dimension="pressure",
        values=operating["manifold_pressure"],
        limit=limits.manifold_pressure,
        keys=("limits.manifold_pressure",),
    )


def _belt_questions(build: Build, operating: OperatingPoints, friction_coefficient: ArrayLike) -> Iterator[_Question]:
    limits, drive, N, power = build.limits, build.drive, operating["engine_speed"], operating["blower_drive_power"]
    tension, greatest = drive.rib_tension(power, N), drive.greatest_tension(N, friction_coefficient)
    slips = (
        None if tension is None or greatest is None or drive.ribs is None else _share(tension * drive.ribs, greatest)
    )
    yield _Question(
        name="belt tension per rib",
        dimension="force",
        values=tension,
        limit=limits.rib_tension,
        keys=("drive.driving_pulley", "drive.ribs", "limits.rib_tension"),
    )
    yield _Question(
        name="belt power per rib",
        dimension="power",
        values=None if drive.ribs is None else power / drive.ribs,
        limit=limits.rib_power,
        keys=("drive.ribs", "limits.rib_power"),
    )
    yield _Question(
        name="belt tension over that at which it slips",
        dimension="fraction",
        values=slips,
        limit=1.0,
        keys=(
            "drive.driving_pulley",
            "drive.ribs",
            "drive.wrap or drive.centre_distance",
            "drive.installed_tension",
            "drive.rib_mass_kg_per_m",
        ),
    )


def _fuel_questions(build: Build, operating: OperatingPoints) -> Iterator[_Question]:
    system, p0 = build.fuel_system, float(np.max(operating["ambient_pressure"]))
    yield _Question(
        name="injector duty",
        dimension="fraction",
        values=system.duty(operating["fuel_mass_flow"], operating["manifold_pressure"], p0),
        limit=build.limits.injector_duty,
        keys=tuple(f"fuel.injectors.{name}" for name in ("count", "flow", "rail_pressure", "referenced")),
    )
    yield _Question(
        name="fuel flow",
        dimension="volume_flow",
        values=operating["fuel_mass_flow"] / system.fuel.fuel_density,
        limit=system.pump_flow,
        keys=("fuel.pump_flow",),
    )


def _cylinder_questions(build: Build, operating: OperatingPoints) -> Iterator[_Question]:
    yield _Question(
        name="peak cylinder pressure",
        dimension="pressure",
        values=operating["peak_cylinder_pressure"],
        limit=build.limits.peak_cylinder_pressure,
        keys=("limits.peak_cylinder_pressure",),
    )
    yield _Question(
        name="knock index",
        dimension="fraction",
        values=operating["knock_index"],
        limit=build.limits.knock_index,
        keys=("limits.knock_index",),
    )


def _zero_below(limit: float | None, around: float) -> float:
    """The air around, from which a temperature limit counts; absolute zero for one that the air itself is over."""
    return around if limit is None or limit > around + _LEAST_RISE else 0.0


def _share(value: Floats, greatest: Floats) -> Floats:
    """Value over the greatest possible; infinite where nothing at all is possible."""
    return np.divide(value, greatest, out=np.full(value.shape, np.inf), where=greatest > 0.0)


def _throttle_share(operating: OperatingPoints) -> Floats:
    ratio = operating["throttle_outlet_pressure"] / operating["ambient_pressure"]
    return flow_function(ratio, DRY_AIR_HEAT_CAPACITY_RATIO) / _choked_flow_function()


def _inlet_share(operating: OperatingPoints) -> Floats:
    """Flow number of the inlet casting over that of a choked orifice of the same area."""
    R, T, p = operating["specific_gas_constant"], operating["air_temperature"], operating["throttle_outlet_pressure"]
    number = operating["air_mass_flow"] * np.sqrt(R * T) / (operating["inlet_area"] * p)
    return number / _choked_flow_function()


def _choked_flow_function() -> float:
    k = DRY_AIR_HEAT_CAPACITY_RATIO
    return float(flow_function(critical_pressure_ratio(k), k))

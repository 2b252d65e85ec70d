"""What if the tested build had another pulley, other air or another fuel: curves that follow a slider.

The build is drawn once, from the ranges of what its file leaves open or, once its pulls have been explained, from the
machines that fit them; every setting is tried on the same draws. So what nobody knows of the build cancels out of the
difference as far as it acts alike on both, and a slider that moves a little moves the curves a little.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError
from boostwright.inference.calibrate import Calibration
from boostwright.inference.posterior_draws import SPREAD_FACTOR, PosteriorDraws
from boostwright.machine.assumptions import drawn, fuel_of
from boostwright.machine.build import build_of
from boostwright.machine.limits import LimitMargin, LimitUse, limit_uses
from boostwright.machine.operating_point import Ambient, OperatingPoints, Points, ambient_air, build_points, matched
from boostwright.physics.fuels import fuel_named
from boostwright.records.build_file import BuildFile
from boostwright.records.build_keys import LINE_DIFFERENTIAL
from boostwright.records.weather import Weather
from boostwright.studies.match import COLUMNS, CONFIDENCE, SEED, limits_sentence

Floats: TypeAlias = NDArray[np.float64]

DRAWS = 128  # against 1000 draws the ends of the ranges of the example move by up to 15 % of their width
SPEEDS = 17
SHOWN = ("brake_torque_nm", "brake_power_kw", "boost_kpa", "charge_temperature_degC", "blower_drive_power_kw")
STANDARD_WEATHER = Weather(barometer=100e3, air_temperature=298.15, relative_humidity=0.4)
# Our own choice of how far a setting may lie from the tested one before the page says that it is far.
FAR_RATIO, FAR_PRESSURE, FAR_TEMPERATURE = 0.10, 8e3, 15.0
_OF_THE_FUEL = ("fuel.octane_number", "fuel.evaporated_share")


class Basis(StrEnum):
    """What the draws come of: the build file alone, or the pulls as well."""

    BUILD = "build"
    PULLS = "pulls"

    @property
    def spread(self) -> float:
        """By how much the draws' own ranges are widened: measured for draws that fit pulls."""
        return SPREAD_FACTOR if self is Basis.PULLS else 1.0


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What can be turned without a new build: the drive ratio, the air around, and the fuel."""

    drive_ratio: float
    ambient_pressure: float
    air_temperature: float
    relative_humidity: float
    fuel_blend: str


@dataclass(frozen=True, kw_only=True)
class WhatIfCurve:
    """One quantity in its own unit, as tested and as asked, each with its 95 % range, and that of the difference."""

    name: str
    unit: str
    tested: Floats
    tested_lower: Floats
    tested_upper: Floats
    asked: Floats
    lower: Floats
    upper: Floats
    difference_lower: Floats
    difference_upper: Floats


@dataclass(frozen=True, kw_only=True)
class LimitRange:
    """How much of a limit is used, 1 at the limit: at each speed, and at most over all speeds with its 95 % range."""

    margin: LimitMargin
    share: Floats
    most: float
    lower: float
    upper: float


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """A build in two settings. The ranges hold what the basis leaves open, not what the model gets wrong."""

    basis: Basis
    tested: Setting
    asked: Setting
    engine_speed: Floats
    curves: tuple[WhatIfCurve, ...]
    pressure_ratio: Floats
    volume_flow: Floats
    tested_pressure_ratio: Floats
    tested_volume_flow: Floats
    limits: tuple[LimitRange, ...]
    limits_headline: str
    is_far: bool
    warnings: tuple[str, ...]


def tested_setting(build_file: BuildFile, weather: Sequence[Weather]) -> Setting:
    """The setting of the pulls: the build as it stands, in the mean of their weather, or in standard air."""
    known = weather or (STANDARD_WEATHER,)
    return Setting(
        drive_ratio=build_of(build_file).drive.drive_ratio,
        ambient_pressure=float(np.mean([reading.barometer for reading in known])),
        air_temperature=float(np.mean([reading.air_temperature for reading in known])),
        relative_humidity=float(np.mean([reading.relative_humidity for reading in known])),
        fuel_blend=fuel_of(build_file).name,
    )


def range_speeds(speed_range: tuple[float, float]) -> Floats:
    """Engine speeds at which the curves of a page are computed: enough for straight lines between them."""
    return np.linspace(*speed_range, SPEEDS)


def with_fuel(build_file: BuildFile, fuel_blend: str) -> BuildFile:
    """The build on another fuel; what was said of the old fuel alone is not said of the new one."""
    if fuel_blend == fuel_of(build_file).name:
        return build_file
    try:
        fuel_named(fuel_blend)
    except ValueError as wrong:
        raise DataError(str(wrong)) from wrong
    numbers = {path: value for path, value in build_file.numbers.items() if path not in _OF_THE_FUEL}
    return replace(build_file, numbers=numbers, words={**build_file.words, "fuel.blend": fuel_blend})


def possible_points(build_file: BuildFile, engine_speed: Floats) -> Points:
    """The build as its file says it (first row), and as it may be (the other rows), at each engine speed."""
    generator = np.random.default_rng(SEED)
    files = [build_file, *(drawn(build_file, generator) for _ in range(DRAWS))]
    return np.stack([build_points(build_of(file), engine_speed, _air(STANDARD_WEATHER)) for file in files])


def fitted_points(calibration: Calibration, draws: PosteriorDraws) -> tuple[Points, Points]:
    """The machines of baseline and candidate that fit their pulls: the most probable first, then the other draws."""
    vectors = np.vstack([calibration.fit.estimates[None], draws.vectors[:DRAWS]])
    points = calibration.predictor.space.points(vectors)
    speeds = points.shape[1] // 2
    return points[:, :speeds].copy(), points[:, speeds:].copy()


def refuelled(points: Points, build_file: BuildFile, fuel_blend: str) -> Points:
    """Fitted points on another fuel: what the build file says of both fuels moves each column by as much."""
    if fuel_blend == fuel_of(build_file).name:
        return points
    speeds = np.asarray(points["engine_speed"][0], dtype=np.float64)
    before, after = (
        build_points(build_of(file), speeds, _air(STANDARD_WEATHER))
        for file in (build_file, with_fuel(build_file, fuel_blend))
    )
    own = points.copy()
    for word in points.dtype.names or ():
        if not np.array_equal(before[word], after[word]):
            own[word] += after[word] - before[word]
    return own


def matched_in(points: Points, setting: Setting) -> OperatingPoints:
    """The points of `possible_points` or `fitted_points`, on the fuel of this setting, matched in it."""
    air = ambient_air(setting.ambient_pressure, setting.air_temperature, setting.relative_humidity)
    own = points.copy()
    own["drive_ratio"] = setting.drive_ratio
    own["ambient_pressure"] = air.ambient_pressure
    own["air_temperature"] = air.air_temperature
    own["humidity_ratio"] = air.humidity_ratio
    return matched(own)


def what_if(
    build_file: BuildFile,
    before: OperatingPoints,
    tested: Setting,
    after: OperatingPoints,
    asked: Setting,
    basis: Basis = Basis.BUILD,
) -> WhatIf:
    """Compare a build in two settings, matched in each by `matched_in`."""
    build = build_of(_turned(build_file, asked))
    uses = limit_uses(build, after, build.drive.friction_coefficient)
    margins = tuple(replace(use, values=use.values[0]).margin(after["engine_speed"][0]) for use in uses)
    return WhatIf(
        basis=basis,
        tested=tested,
        asked=asked,
        engine_speed=before["engine_speed"][0],
        curves=tuple(_curve(name, before, after, basis) for name in SHOWN),
        pressure_ratio=after.pressure_ratio[0],
        volume_flow=_volume_flow(after)[0],
        tested_pressure_ratio=before.pressure_ratio[0],
        tested_volume_flow=_volume_flow(before)[0],
        limits=tuple(_limit_range(margin, use, basis) for margin, use in zip(margins, uses, strict=True)),
        limits_headline=limits_sentence(margins),
        is_far=_is_far(tested, asked),
        warnings=() if bool(after.is_matched[0].all()) else ("At some speeds there is no operating point.",),
    )


def _limit_range(margin: LimitMargin, use: LimitUse, basis: Basis) -> LimitRange:
    if not use.is_known:
        nothing = np.full(use.values.shape[1], np.nan)
        return LimitRange(margin=margin, share=nothing, most=np.nan, lower=np.nan, upper=np.nan)
    share = use.share
    lower, upper = _tails(np.asarray(share.max(axis=1), dtype=np.float64), basis)
    return LimitRange(margin=margin, share=share[0], most=1.0 - margin.margin, lower=float(lower), upper=float(upper))


def _air(weather: Weather) -> Ambient:
    return ambient_air(weather.barometer, weather.air_temperature, weather.relative_humidity)


def _turned(build_file: BuildFile, setting: Setting) -> BuildFile:
    """The build with the blower pulley that gives the asked ratio on the pitch line."""
    said = with_fuel(build_file, setting.fuel_blend)
    numbers = {**said.numbers, "drive.ratio": setting.drive_ratio}
    if {"drive.driving_pulley", "drive.driven_pulley"} <= set(numbers):
        pitch = 2.0 * numbers.get("drive.line_differential", LINE_DIFFERENTIAL)
        numbers["drive.driven_pulley"] = (numbers["drive.driving_pulley"] + pitch) / setting.drive_ratio - pitch
    return replace(said, numbers=numbers)


def _curve(name: str, before: OperatingPoints, after: OperatingPoints, basis: Basis) -> WhatIfCurve:
    column = next(column for column in COLUMNS if column.name == name)
    tested = np.where(before.is_matched, column.shown(before), np.nan)
    asked = np.where(after.is_matched, column.shown(after), np.nan)
    lower, upper = _tails(np.stack([tested, asked, asked - tested], axis=1), basis)
    return WhatIfCurve(
        name=name,
        unit=column.unit,
        tested=tested[0],
        tested_lower=lower[0],
        tested_upper=upper[0],
        asked=asked[0],
        lower=lower[1],
        upper=upper[1],
        difference_lower=lower[2],
        difference_upper=upper[2],
    )


def _tails(draws: Floats, basis: Basis) -> tuple[Floats, Floats]:
    """Ends of the 95 % range of draws along their first axis; NaN where some draw has no operating point."""
    tail = (1.0 - CONFIDENCE) / 2.0
    lower, middle, upper = np.quantile(draws, [tail, 0.5, 1.0 - tail], axis=0)
    return middle + basis.spread * (lower - middle), middle + basis.spread * (upper - middle)


def _volume_flow(operating: OperatingPoints) -> Floats:
    """What the blower takes in at its inlet [m3/s]."""
    R, T = operating["specific_gas_constant"], operating["blower_inlet_temperature"]
    return operating["blower_mass_flow"] * R * T / operating["blower_inlet_pressure"]


def _is_far(tested: Setting, asked: Setting) -> bool:
    return (
        abs(asked.drive_ratio / tested.drive_ratio - 1.0) > FAR_RATIO
        or abs(asked.ambient_pressure - tested.ambient_pressure) > FAR_PRESSURE
        or abs(asked.air_temperature - tested.air_temperature) > FAR_TEMPERATURE
        or asked.fuel_blend != tested.fuel_blend
    )

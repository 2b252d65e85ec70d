"""A build at work as its file says it and as it may be: one value, and the same draws for every pulley and weather.

Because a draw stands for the same engine, blower and belt everywhere, what two pulleys have in common cancels out of
their difference, and the chance of breaking a limit rises with the ratio as smoothly as the limit does.
"""

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.assumptions import HALF_RANGE, drawn
from boostwright.machine.build import Build, build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.match_table import MATCH_STATE
from boostwright.machine.operating_point import (
    Ambient,
    BlowerForm,
    FinerModel,
    OperatingPoints,
    Points,
    build_points,
    matched,
    matched_with,
)
from boostwright.physics.belt import pitch_line_ratio
from boostwright.records.build_file import BuildFile
from boostwright.records.build_keys import LINE_DIFFERENTIAL

Floats: TypeAlias = NDArray[np.float64]

_FRICTION = "drive.friction_coefficient"
_UNJUDGED = {  # key path and column of what pulls with torque and boost say nothing about
    "engine.knock_factor": "knock_factor",
    "engine.peak_pressure_factor": "peak_pressure_factor",
    "fuel.octane_number": "octane_number",
}
_BY_RATIO = ("knock_index", "peak_cylinder_pressure")  # what a finer engine multiplies; it adds to everything else
_AS_THEY_ARE = ("outcome", "flow_residual", "within_range")


@dataclass(frozen=True, kw_only=True)
class DrawnOperation:
    """A build at its engine speeds in one weather: the value that is printed, (speeds), and the draws, (draws, speeds).

    The draws are moved by what lies between `closed`, the value by the closed forms, and the value of the finer models.
    `spread_factor` widens the draws about their median; draws of a calibration need it (`posterior_draws`), draws of
    what a build file leaves open do not.
    """

    central: OperatingPoints
    closed: OperatingPoints
    draws: OperatingPoints
    friction_coefficient: Floats
    spread_factor: float

    def __post_init__(self) -> None:
        amount, *speeds = self.draws.points.shape
        if tuple(speeds) != self.central.points.shape or self.friction_coefficient.shape != (amount,):
            raise ValueError(
                f"draws of shape {self.draws.points.shape} do not go with values of shape {self.central.points.shape} "
                f"and {self.friction_coefficient.shape} belts: give (draws, speeds), (speeds) and (draws)"
            )

    def spread(self, values: Floats) -> Floats:
        """Values of the draws, (draws, ...), spread about their median."""
        if self.spread_factor == 1.0:
            return values
        middle = np.median(values, axis=0)
        return np.where(np.isfinite(values), middle + self.spread_factor * (values - middle), values)


@dataclass(frozen=True, kw_only=True)
class DrawnBuild:
    """A build file drawn once, to be operated with many pulleys and in many weathers.

    The points, in no particular weather, hold what does not change with the pulley: (speeds) as the file says it,
    (draws, speeds) as it may be. Without a blower form, the slip law stands.
    """

    nominal: Points
    points: Points
    line_differential: Floats
    friction_coefficient: Floats
    blower: BlowerForm | None = None

    def operation(self, build: Build, ambient: Ambient) -> DrawnOperation:
        """The build, with the pulley that this one has, in one weather; its engine over the crank angle.

        The draws are matched by the closed forms and moved onto the result of the finer models, as in a match.
        """
        nominal, points = in_air(self.nominal, ambient), in_air(self.points, ambient)
        nominal["drive_ratio"], points["drive_ratio"] = build.drive.drive_ratio, self._ratios(build)
        engine = cycle_engine(build)
        finer_models: tuple[FinerModel, ...] = (engine,) if self.blower is None else (self.blower, engine)
        closed, fine = matched(nominal), matched_with(nominal, finer_models)
        return DrawnOperation(
            central=fine,
            closed=closed,
            draws=moved(matched(points), closed, fine),
            friction_coefficient=self.friction_coefficient,
            spread_factor=1.0,
        )

    def _ratios(self, build: Build) -> Floats:
        """The ratio of each draw, (draws, 1): where it follows from pulleys, the belt's pitch line is uncertain."""
        drive = build.drive
        if "drive.ratio" in build.stated or drive.driving_pulley is None or drive.driven_pulley is None:
            return np.full((len(self.points), 1), drive.drive_ratio)
        return pitch_line_ratio(drive.driving_pulley, drive.driven_pulley, self.line_differential)[:, None]


def drawn_build(
    build_file: BuildFile,
    engine_speed: Floats,
    draw_count: int,
    generator: np.random.Generator,
    blower: BlowerForm | None = None,
) -> DrawnBuild:
    """Draw everything that a build file leaves open, each number by itself from its range."""
    files = [drawn(build_file, generator) for _ in range(draw_count)]
    anywhere = Ambient(ambient_pressure=100e3, air_temperature=298.15, humidity_ratio=0.0)
    return DrawnBuild(
        nominal=build_points(build_of(build_file), engine_speed, anywhere),
        points=np.stack([build_points(build_of(file), engine_speed, anywhere) for file in files]),
        line_differential=np.array([file.numbers.get("drive.line_differential", LINE_DIFFERENTIAL) for file in files]),
        friction_coefficient=np.array([file.numbers[_FRICTION] for file in files]),
        blower=blower,
    )


def operation_of_draws(
    draws: OperatingPoints, build: Build, generator: np.random.Generator, spread_factor: float
) -> DrawnOperation:
    """An operation from draws made elsewhere, (draws, speeds): its values are medians, its belts those of the build."""
    points, states = draws.points[0].copy(), draws.states[0].copy()
    for table, every in ((points, draws.points), (states, draws.states)):
        for word in table.dtype.names or ():
            table[word] = np.median(np.asarray(every[word], dtype=np.float64), axis=0)
    central = OperatingPoints(points=points, states=states)
    return DrawnOperation(
        central=central,
        closed=central,
        draws=draws,
        friction_coefficient=_drawn_number(
            build, _FRICTION, build.drive.friction_coefficient, len(draws.points), generator
        ),
        spread_factor=spread_factor,
    )


def with_unjudged(points: Points, build: Build, generator: np.random.Generator) -> Points:
    """Draws of a calibration, (draws, speeds), with what no pull has judged drawn from the ranges of the build.

    Knock and peak pressure are in no channel of a log, so a calibration leaves their factors where they stood.
    """
    own, assumed = points.copy(), {assumption.key_path for assumption in build.assumptions}
    for key_path, word in _UNJUDGED.items():
        if key_path in assumed:
            own[word] = _drawn_number(build, key_path, np.nan, len(own), generator)[:, None]
    return own


def with_pulley(build_file: BuildFile, driven_pulley: float) -> BuildFile:
    """The build with another pulley on the blower [m, effective diameter]; its ratio is that of the pitch line.

    Raises
    ------
    ValueError
        If the build does not say what turns on the crank.
    """
    if "drive.driving_pulley" not in build_file.numbers:
        raise ValueError(
            "drive.driving_pulley is not given, so that a pulley says no ratio: give it, or ask for ratios"
        )
    numbers = {path: number for path, number in build_file.numbers.items() if path != "drive.ratio"}
    return replace(build_file, numbers={**numbers, "drive.driven_pulley": driven_pulley})


def with_ratio(build_file: BuildFile, drive_ratio: float) -> BuildFile:
    """The build with another ratio; where it says its pulleys, with the one on the blower that gives it."""
    numbers = {**build_file.numbers, "drive.ratio": drive_ratio}
    if "drive.driving_pulley" in numbers:
        pitch = 2.0 * numbers.get("drive.line_differential", LINE_DIFFERENTIAL)
        numbers["drive.driven_pulley"] = (numbers["drive.driving_pulley"] + pitch) / drive_ratio - pitch
    return replace(build_file, numbers=numbers)


def in_air(points: Points, ambient: Ambient) -> Points:
    """The same points in another weather."""
    own = points.copy()
    for word in ("ambient_pressure", "air_temperature", "humidity_ratio"):
        own[word] = getattr(ambient, word)
    return own


def moved(draws: OperatingPoints, closed: OperatingPoints, fine: OperatingPoints) -> OperatingPoints:
    """Draws of the closed forms, moved by how far a finer model lies from them where both are matched."""
    states = draws.states.copy()
    both = closed.is_matched & fine.is_matched
    for word in MATCH_STATE.names or ():
        if word in _BY_RATIO:
            states[word] *= np.divide(fine[word], closed[word], out=np.ones(both.shape), where=both)
        elif word not in _AS_THEY_ARE:
            states[word] += np.where(both, fine.states[word] - closed.states[word], 0.0)
    return OperatingPoints(points=draws.points, states=states)


def _drawn_number(build: Build, key_path: str, stated: float, amount: int, generator: np.random.Generator) -> Floats:
    """Draws of one number: from its range if nobody gave it, else what was stated."""
    z = generator.standard_normal(amount)
    for assumption in build.assumptions:
        if assumption.key_path == key_path:
            side = np.where(z > 0.0, assumption.high - assumption.value, assumption.value - assumption.low)
            return assumption.value + z * side / HALF_RANGE
    return np.full(amount, stated)

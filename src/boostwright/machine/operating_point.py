"""Operating points of a build: arrays of speeds and conditions in, the state of the whole chain out.

The closed forms answer first and fast. A finer model of one part (a blower map, a crank-angle cycle) then corrects the
closed form of that part where it stands, and the match is repeated until both say the same: the search itself never
changes, and never has to wait for the finer model.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT, DRY_AIR_HEAT_CAPACITY_RATIO, Blower, BlowerDelivery
from boostwright.machine.build import Build
from boostwright.machine.match_kernel import match_points
from boostwright.machine.match_table import LAST_MATCHED, MATCH_POINT, MATCH_STATE, MatchOutcome
from boostwright.physics import moist_air

BLOWER_AGREEMENT = 1e-7  # between the slip law and the form that corrects it
ROUNDS = 40

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Indices: TypeAlias = NDArray[np.int_]
Points: TypeAlias = NDArray[np.void]


@dataclass(frozen=True, kw_only=True)
class Ambient:
    """The air around a build."""

    ambient_pressure: float
    air_temperature: float
    humidity_ratio: float

    def __post_init__(self) -> None:
        if not self.ambient_pressure > 0.0 or not self.air_temperature > 0.0:
            raise ValueError(
                f"ambient_pressure {self.ambient_pressure:g} Pa and air_temperature {self.air_temperature:g} K "
                "must be positive: give them in Pa absolute and K"
            )


def ambient_air(ambient_pressure: float, air_temperature: float, relative_humidity: float) -> Ambient:
    """The air around a build, from the three readings of a weather station."""
    vapour = moist_air.vapour_pressure(air_temperature, relative_humidity)
    return Ambient(
        ambient_pressure=ambient_pressure,
        air_temperature=air_temperature,
        humidity_ratio=float(moist_air.humidity_ratio(ambient_pressure, vapour)),
    )


@dataclass(frozen=True, kw_only=True)
class OperatingPoints:
    """Matched points: what was asked (`points`) and what came out (`states`), tables of one shape."""

    points: Points
    states: Points

    def __getitem__(self, word: str) -> Floats:
        """The column of a word: of the states, or if they have none, of the points."""
        table = self.states if word in (MATCH_STATE.names or ()) else self.points
        return np.asarray(table[word], dtype=np.float64)

    def at(self, rows: NDArray[np.intp]) -> "OperatingPoints":
        """Some of the points of a table with one axis."""
        return OperatingPoints(points=self.points[rows], states=self.states[rows])

    @property
    def is_matched(self) -> NDArray[np.bool_]:
        """Where there is an operating point at all."""
        return self["outcome"] <= LAST_MATCHED

    @property
    def boost(self) -> Floats:
        """Manifold pressure above the surroundings [Pa]."""
        return self["manifold_pressure"] - self["ambient_pressure"]

    @property
    def pressure_ratio(self) -> Floats:
        """Of the blower."""
        return self["blower_outlet_pressure"] / self["blower_inlet_pressure"]

    @property
    def isentropic_efficiency(self) -> Floats:
        """Of the blower, on its shaft power: isentropic compression of what it delivers over what its shaft takes."""
        return shaft_isentropic_efficiency(
            self["blower_mass_flow"],
            self["specific_gas_constant"],
            self["blower_inlet_temperature"],
            self.pressure_ratio,
            self["shaft_power"],
        )

    @property
    def bmep(self) -> Floats:
        """Brake mean effective pressure of a four-stroke engine [Pa]."""
        return 4.0 * np.pi * self["torque"] / self["engine_displacement"]


def shaft_isentropic_efficiency(
    mass_flow: Floats,
    specific_gas_constant: ArrayLike,
    inlet_temperature: ArrayLike,
    pressure_ratio: Floats,
    shaft_power: Floats,
) -> Floats:
    """Power of compressing the delivered gas isentropically, over what the shaft takes."""
    k = DRY_AIR_HEAT_CAPACITY_RATIO
    rise = np.multiply(inlet_temperature, pressure_ratio ** ((k - 1.0) / k) - 1.0)
    return mass_flow * np.multiply(specific_gas_constant, k / (k - 1.0)) * rise / shaft_power


def build_points(build: Build, engine_speed: ArrayLike, ambient: Ambient) -> Points:
    """The table of points of a build at these engine speeds; every column is a field of one of its parts.

    For many builds, stack their tables: `np.stack([build_points(b, speeds, ambient) for b in builds])`.
    """
    N = np.asarray(engine_speed, dtype=np.float64)
    if not np.all(N > 0.0):
        raise ValueError(f"engine speed {N.min():g} 1/s must be positive")
    points = np.zeros(N.shape, MATCH_POINT)
    for part in (build.engine, build.blower, build.drive, build.inlet, build.cooler, build.fuel_system, ambient):
        for word in MATCH_POINT.names or ():
            if hasattr(part, word):
                points[word] = getattr(part, word)
    points["engine_speed"] = N
    points["engine_volumetric_efficiency"] = build.engine.volumetric_efficiency(N)
    points["knock_index_limit"] = np.inf
    return points


def matched(points: Points) -> OperatingPoints:
    """Match every point of a table of any shape by the closed forms."""
    states = np.zeros(points.shape, MATCH_STATE)
    own = points.copy()
    match_points(own.reshape(-1), states.reshape(-1))
    return OperatingPoints(points=own, states=states)


@dataclass(frozen=True, kw_only=True)
class Correction:
    """How a finer model moves the closed form of its part at given states.

    With `points` the closed form says what the finer model says there. `disagreement` is by how much they differed,
    over what the model calls agreement. `shifts` are added to states that no column of the points can move.
    """

    points: Points
    disagreement: Floats
    shifts: Mapping[str, Floats]


class FinerModel(ABC):
    """A model of one part that is better than its closed form, and slower."""

    @abstractmethod
    def correction(self, operating: OperatingPoints) -> Correction:
        """How the closed form has to move to say, at these states, what this model says."""


def matched_with(points: Points, finer_models: Sequence[FinerModel]) -> OperatingPoints:
    """Match every point with finer models of some parts; where they do not settle, the outcome says so.

    Each round shrinks the disagreement of a point by a factor that its last two rounds show; a round that would only
    confirm agreement is not run, and points that agree are not run again.
    """
    operating = matched(points.reshape(-1))
    shifts = {word: np.zeros(points.size) for word in MATCH_STATE.names or ()}
    rows, before = np.flatnonzero(operating.is_matched), np.full(points.size, np.inf)
    for _ in range(ROUNDS):
        if rows.size == 0:
            break
        correction = _correction(operating.at(rows), finer_models)
        for word, shift in correction.shifts.items():
            shifts[word][rows] = shift
        operating.points[rows] = correction.points
        operating.states[rows] = matched(correction.points).states
        rows = rows[is_apart(correction.disagreement, before, rows)]
    for word, shift in shifts.items():
        operating.states[word] += shift
    operating.states["outcome"][rows] = MatchOutcome.NO_BALANCE
    return OperatingPoints(points=operating.points.reshape(points.shape), states=operating.states.reshape(points.shape))


def is_apart(disagreement: Floats, before: Floats, rows: Indices) -> Flags:
    """Which of these rows need one more round; keeps their disagreement in `before`, shape of the whole batch.

    Every point goes by its own course, so that its state does not depend on what it is matched beside.
    """
    last = before[rows]
    before[rows] = disagreement
    rate = np.divide(disagreement, last, out=np.ones(rows.size), where=np.isfinite(last) & (last > disagreement))
    return ~(disagreement * rate <= 1.0)  # what is no number is no agreement


def _correction(operating: OperatingPoints, finer_models: Sequence[FinerModel]) -> Correction:
    """What all models move together, each from where the one before has left the points."""
    disagreement, shifts = np.zeros(operating.points.shape), dict[str, Floats]()
    for model in finer_models:
        moved = model.correction(operating)
        operating = OperatingPoints(points=moved.points, states=operating.states)
        disagreement = np.maximum(disagreement, moved.disagreement)
        shifts |= moved.shifts
    return Correction(points=operating.points, disagreement=disagreement, shifts=shifts)


@dataclass(frozen=True, kw_only=True)
class BlowerForm(FinerModel):
    """A blower of any form in place of the slip law; its displacement is per turn of the driving rotor."""

    name: str
    blower: Blower

    def correction(self, operating: OperatingPoints) -> Correction:
        """Delivery, outlet temperature and shaft power of the slip law moved to those of the form."""
        delivery = self._delivery(operating)
        carried = operating["blower_displacement"] / operating["internal_step"] * operating["rotor_speed"]
        filled = operating["filled_volume_flow"] / operating["delivery_factor"]
        VE = delivery.blower_volumetric_efficiency - operating["blower_volumetric_efficiency"]
        true_temperature = delivery.outlet_temperature * DRY_AIR_GAS_CONSTANT / operating["specific_gas_constant"]
        T2 = true_temperature - operating["blower_outlet_temperature"]
        power = delivery.shaft_power - operating["shaft_power"]
        points = operating.points.copy()
        points["delivery_factor"] += VE * carried / filled
        points["added_outlet_temperature"] += T2
        points["added_shaft_power"] += power
        size = np.abs(delivery.shaft_power) + 1e-3 * operating["ambient_pressure"] * carried
        parts = ((VE, 1.0), (T2, operating["blower_outlet_temperature"]), (power, size))
        by = np.max([np.abs(difference) / scale for difference, scale in parts], axis=0)
        shifted = ("leakage_flow", "gas_power", "mechanical_power", "within_range")
        shifts = {word: getattr(delivery, word) - operating[word] for word in shifted}
        return Correction(points=points, disagreement=by / BLOWER_AGREEMENT, shifts=shifts)

    def _delivery(self, operating: OperatingPoints) -> BlowerDelivery:
        """Delivery of dry air that is as light as the moist air: at its virtual temperature."""
        return self.blower.delivery(
            operating["blower_inlet_pressure"],
            operating["blower_inlet_temperature"] * operating["specific_gas_constant"] / DRY_AIR_GAS_CONSTANT,
            operating["blower_outlet_pressure"],
            operating["rotor_speed"],
        )

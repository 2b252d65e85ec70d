"""The crank-angle cycle as a table around the points of a match: what it says of power, friction, pressure and knock.

A fit asks for ten thousands of points that differ little from the nominal ones. The cycle is run at 27 of each engine
speed, and between these the logarithm of cycle over closed form is a polynomial of second degree in manifold pressure,
charge temperature and excess air ratio; the spark is that of the build.
"""

from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.cycle_engine import CycleEngine
from boostwright.machine.operating_point import OperatingPoints, matched

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]

_MOVED = {  # column that the cycle corrects: state that goes with it
    "indicated_efficiency_factor": "indicated_power",
    "friction_factor": "friction_power",
    "peak_pressure_factor": "peak_cylinder_pressure",
    "knock_factor": "knock_index",
}
_PRESSURE, _TEMPERATURE, _MIXTURE = 0.1, 20.0, 0.05  # a step of the table: relative, in K, in excess air ratio
_FURTHEST = 3.0  # steps from the nominal point at which the table is held
_SAME_SPEED = 1e-9


@dataclass(frozen=True, kw_only=True)
class CycleTable:
    """Logarithms of cycle over closed form: coefficients (speeds, terms, quantities) about nominal states."""

    engine_speed: Floats
    manifold_pressure: Floats
    charge_temperature: Floats
    excess_air_ratio: Floats
    coefficients: Floats

    def ratios(self, operating: OperatingPoints) -> dict[str, Floats]:
        """By what each state of the closed form is multiplied.

        Raises
        ------
        ValueError
            If a point has an engine speed that the table was not made for.
        """
        rows = np.clip(np.searchsorted(self.engine_speed, operating["engine_speed"] * (1 - _SAME_SPEED)), 0, None)
        rows = np.minimum(rows, self.engine_speed.size - 1)
        off = np.abs(self.engine_speed[rows] / operating["engine_speed"] - 1)
        if np.any(off > 2 * _SAME_SPEED):
            speed = float(operating["engine_speed"][off > 2 * _SAME_SPEED].ravel()[0])
            raise ValueError(f"engine speed {speed:g} 1/s is not in the table: make it for the speeds that are matched")
        terms = _terms(
            operating, self.manifold_pressure[rows], self.charge_temperature[rows], self.excess_air_ratio[rows]
        )
        logarithms = np.einsum("...t,...tq->...q", terms, self.coefficients[rows])
        return {state: np.exp(logarithms[..., q]) for q, state in enumerate(_MOVED.values())}


def _terms(operating: OperatingPoints, pressure: Floats, temperature: Floats, mixture: Floats) -> Floats:
    x = np.log(operating["manifold_pressure"] / pressure) / _PRESSURE
    y = (operating["charge_temperature"] - temperature) / _TEMPERATURE
    z = (operating["excess_air_ratio"] - mixture) / _MIXTURE
    x, y, z = (np.clip(along, -_FURTHEST, _FURTHEST) for along in (x, y, z))
    return np.stack([np.ones_like(x), x, y, z, x * x, y * y, z * z, x * y, x * z, y * z], axis=-1)


def cycle_table(engine: CycleEngine, points: Points) -> CycleTable:
    """The table of an engine about nominal points, one of each engine speed, rising."""
    engine = CycleEngine(engine=engine.engine, fuel=engine.fuel, is_filling_known=True)  # a fit knows the air
    table = np.repeat(points[None], 27, axis=0)
    for row, (pressure, warmth, mixture) in zip(table, product((-1, 0, 1), repeat=3), strict=True):
        row["ambient_pressure"] *= 1 + 1.5 * _PRESSURE * pressure
        row["coolant_temperature"] += 1.5 * _TEMPERATURE * warmth
        row["excess_air_ratio"] += _MIXTURE * mixture
    operating, middle = matched(table), matched(points)
    corrected = engine.correction(operating).points
    logarithms = np.stack([np.log(corrected[word] / operating.points[word]) for word in _MOVED], axis=-1)
    nominal = (middle["manifold_pressure"], middle["charge_temperature"], middle["excess_air_ratio"])
    terms = _terms(operating, *nominal)
    fits = [np.linalg.lstsq(terms[:, k], logarithms[:, k], rcond=None)[0] for k in range(points.size)]
    return CycleTable(
        engine_speed=np.asarray(points["engine_speed"], float),
        manifold_pressure=nominal[0],
        charge_temperature=nominal[1],
        excess_air_ratio=nominal[2],
        coefficients=np.array(fits, dtype=np.float64),
    )


def with_cycle(operating: OperatingPoints, table: CycleTable) -> OperatingPoints:
    """Matched points with work, friction, peak pressure and knock of the cycle; air and temperatures stay."""
    states = operating.states.copy()
    for state, ratio in table.ratios(operating).items():
        states[state] *= ratio
    engine_power = states["indicated_power"] + states["pumping_power"] - states["friction_power"]
    states["brake_power"] = engine_power - states["blower_drive_power"]
    states["torque"] = states["brake_power"] / (2 * np.pi * operating["engine_speed"])
    return OperatingPoints(points=operating.points, states=states)

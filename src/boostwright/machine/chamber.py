"""The geometry of a blower's chambers and ports: what a drawing says, what is assumed while there is no drawing.

Angles are those of the driving rotor, counted from where a chamber begins to fill.
"""

from dataclasses import dataclass, fields
from math import ceil, pi
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from boostwright.machine.chamber_kernel import ChamberConstants, ChamberTables

FULL_TURN = 2.0 * pi


@dataclass(frozen=True, kw_only=True)
class ChamberGeometry:
    """A blower as a ring of chambers with an inlet port, an outlet port and clearances.

    The inlet port is the one that `port_...` speaks of: it opens and closes along smooth ramps, its open area (of one
    chamber, times its discharge coefficient) is `port_effective_area`, and its gas has inertia, `port_inertance`.
    Ahead of it lie the plenum in the casting and the tract that leads there from the flange, where the inlet state is
    measured. The outlet opens where the chamber is compressed to its built-in volume ratio.
    """

    blower_displacement: float
    speed_limit: float
    internal_volume_ratio: float
    chambers_per_turn: int
    sealing_pitches: int
    fill_end_angle: float
    compression_start_angle: float
    discharge_end_angle: float
    volume_rounding: float
    dead_volume_share: float
    port_opening_angle: float
    port_opening_ramp: float
    port_closing_angle: float
    port_closing_ramp: float
    port_effective_area: float
    port_inertance: float
    outlet_opening_advance: float
    outlet_ramp: float
    outlet_effective_area: float
    tract_effective_area: float
    tract_length: float
    plenum_volume: float
    tip_leakage_area: float
    mesh_leakage_area: float
    heat_conductance: float
    wall_temperature_share: float
    mechanical_power_at_limit: float
    mechanical_heat_share: float

    def __post_init__(self) -> None:
        _check_positive(self)
        _check_shares(self)
        _check_angles(self)

    @property
    def swept_volume(self) -> float:
        """Volume that one chamber carries. [m3]"""
        return self.blower_displacement / self.chambers_per_turn

    @property
    def pitch(self) -> float:
        """Angle from one chamber to the next. [rad]"""
        return FULL_TURN / self.chambers_per_turn

    @property
    def chambers_alive(self) -> int:
        """Chambers that are between the begin of filling and the end of discharge at one time."""
        return ceil(self.discharge_end_angle / self.pitch - 1e-9)

    @property
    def outlet_opening_angle(self) -> float:
        """Where the outlet begins to open: at the built-in volume ratio, less the advance. [rad]"""
        start, end = self.compression_start_angle, self.discharge_end_angle
        if self.internal_volume_ratio == 1.0:
            return start - self.outlet_opening_advance
        target = self.swept_volume * (1.0 + self.dead_volume_share) / self.internal_volume_ratio

        def excess(angle: float) -> float:
            return float(self.volume(angle)) - target

        return float(cast(float, brentq(excess, start, end))) - self.outlet_opening_advance

    def volume(self, angle: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Volume of a chamber at an angle of its life, the dead pocket included. [m3]"""
        start, end = self.compression_start_angle, self.discharge_end_angle
        filled = self._swept_share(np.divide(angle, self.fill_end_angle))
        emptied = self._swept_share(np.divide(np.subtract(angle, start), end - start))
        return self.swept_volume * (self.dead_volume_share + filled - emptied)

    def port_area(self, angle: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Effective inlet area of a chamber at an angle of its life. [m2]"""
        opened = _smooth_step(np.subtract(angle, self.port_opening_angle) / self.port_opening_ramp)
        closed = _smooth_step(np.subtract(self.port_closing_angle, angle) / self.port_closing_ramp)
        return self.port_effective_area * opened * closed

    def outlet_area(self, angle: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Effective outlet area of a chamber at an angle of its life. [m2]"""
        opened = _smooth_step(np.subtract(angle, self.outlet_opening_angle) / self.outlet_ramp)
        closed = _smooth_step(np.subtract(self.discharge_end_angle, angle) / self.outlet_ramp)
        return self.outlet_effective_area * opened * closed

    def _swept_share(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        x = np.clip(share, 0.0, 1.0)
        return x - self.volume_rounding * np.sin(FULL_TURN * x) / FULL_TURN


def _smooth_step(share: NDArray[np.float64]) -> NDArray[np.float64]:
    x = np.clip(share, 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)


_MAY_BE_ZERO = {
    "port_opening_angle",
    "outlet_opening_advance",
    "tip_leakage_area",
    "mesh_leakage_area",
    "heat_conductance",
    "mechanical_power_at_limit",
    "mechanical_heat_share",
    "volume_rounding",
    "wall_temperature_share",
}


def _check_positive(geometry: ChamberGeometry) -> None:
    for field in fields(geometry):
        value = getattr(geometry, field.name)
        if field.name in _MAY_BE_ZERO and not value >= 0.0:
            raise ValueError(f"{field.name} {value:g} must not be negative")
        if field.name not in _MAY_BE_ZERO and not value > 0.0:
            raise ValueError(f"{field.name} {value:g} must be positive")


def _check_shares(geometry: ChamberGeometry) -> None:
    for name in ("volume_rounding", "dead_volume_share", "wall_temperature_share", "mechanical_heat_share"):
        if not getattr(geometry, name) <= 1.0:
            raise ValueError(f"{name} {getattr(geometry, name):g} is a share: it lies between 0 and 1")
    if not geometry.internal_volume_ratio >= 1.0:
        raise ValueError(f"internal_volume_ratio {geometry.internal_volume_ratio:g} must be 1 (roots) or more (screw)")


def _check_angles(geometry: ChamberGeometry) -> None:
    degrees = 360.0 / FULL_TURN
    order = (
        ("port_opening_angle", "port_closing_angle"),
        ("fill_end_angle", "compression_start_angle"),
        ("compression_start_angle", "discharge_end_angle"),
        ("port_closing_angle", "outlet_opening_angle"),
    )
    for first, second in order:
        a, b = getattr(geometry, first), getattr(geometry, second)
        if a > b or (a == b and first != "fill_end_angle"):
            raise ValueError(f"{first} {a * degrees:.1f} deg must come before {second} {b * degrees:.1f} deg")


def chamber_tables(geometry: ChamberGeometry, steps: int) -> ChamberTables:
    """Volumes and areas of all chambers alive, over one pitch in that many steps; speed and pressures do not enter.

    An area is the mean over its step by Simpson's rule: a port that closes inside a step is then still open in it.
    """
    half_steps = np.arange(2 * steps + 1)[:, np.newaxis] / (2 * steps)
    angle = (np.arange(geometry.chambers_alive) + half_steps) * geometry.pitch
    inlet, outlet = geometry.port_area(angle), geometry.outlet_area(angle)
    return ChamberTables(geometry.volume(angle[::2]), _step_means(inlet), _step_means(outlet))


def _step_means(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return (values[:-2:2] + 4.0 * values[1::2] + values[2::2]) / 6.0


def chamber_constants(geometry: ChamberGeometry) -> ChamberConstants:
    """What does not turn, for the kernels."""
    numbers = (
        geometry.swept_volume,
        geometry.tip_leakage_area,
        geometry.mesh_leakage_area,
        geometry.port_inertance,
        geometry.tract_length / geometry.tract_effective_area,
        geometry.tract_effective_area,
        geometry.plenum_volume,
        geometry.heat_conductance,
        geometry.wall_temperature_share,
    )
    return ChamberConstants(
        int(geometry.chambers_per_turn),
        int(geometry.sealing_pitches),
        *(float(number) for number in numbers),  # a whole number would have the kernels compiled anew
    )

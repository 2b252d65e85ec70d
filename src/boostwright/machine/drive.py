"""The belt between crank and blower: its ratio, the tension that a power asks for, and when it slips."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics import belt

PK_GROOVE_ANGLE = math.radians(40.0)  # ISO 9981, from memory


@dataclass(frozen=True, kw_only=True)
class Drive:
    """How the crank turns the rotors; what only a belt has is `None` where nobody has said it.

    Diameters are effective ones; the belt's pitch line lies `line_differential` further out on each side.
    `installed_tension` is that of the slack strand, as a tensioner holds it.
    """

    drive_ratio: float
    internal_step: float
    belt_slip: float
    belt_efficiency: float
    driving_pulley: float | None
    driven_pulley: float | None
    line_differential: float
    ribs: int | None
    wrap_angle: float | None
    friction_coefficient: float
    installed_tension: float | None
    rib_mass_per_length: float | None

    def __post_init__(self) -> None:
        if not self.drive_ratio > 0.0 or not self.internal_step > 0.0:
            raise ValueError(
                f"drive_ratio {self.drive_ratio:g} and internal_step {self.internal_step:g} must be positive"
            )
        if not 0.0 <= self.belt_slip < 1.0:
            raise ValueError(f"belt_slip {self.belt_slip:g} must be a share from 0 to below 1")
        if not 0.0 < self.belt_efficiency <= 1.0:
            raise ValueError(f"belt_efficiency {self.belt_efficiency:g} must be a share above 0 to 1")

    def belt_speed(self, engine_speed: ArrayLike) -> NDArray[np.float64] | None:
        """Speed of the belt [m/s], if the crank pulley is known."""
        if self.driving_pulley is None:
            return None
        return belt.belt_speed(self.driving_pulley + 2.0 * self.line_differential, engine_speed)

    def rib_tension(self, blower_drive_power: ArrayLike, engine_speed: ArrayLike) -> NDArray[np.float64] | None:
        """Effective tension, tight less slack, that each rib carries [N]."""
        v = self.belt_speed(engine_speed)
        if v is None or self.ribs is None:
            return None
        return belt.effective_tension(blower_drive_power, v) / self.ribs

    def greatest_tension(self, engine_speed: ArrayLike, friction_coefficient: ArrayLike) -> NDArray[np.float64] | None:
        """Effective tension at which the whole belt begins to slip on the blower pulley, with this friction [N]."""
        v = self.belt_speed(engine_speed)
        if v is None or self.ribs is None or self.wrap_angle is None:
            return None
        if self.installed_tension is None or self.rib_mass_per_length is None:
            return None
        friction = belt.wedged_friction(friction_coefficient, PK_GROOVE_ANGLE)
        thrown_off = belt.centrifugal_tension(self.rib_mass_per_length * self.ribs, v)
        pressed = np.maximum(self.installed_tension - thrown_off, 0.0)
        return np.asarray(pressed * (belt.tension_ratio(friction, self.wrap_angle) - 1.0))


def open_belt_wrap(driving_pulley: float, driven_pulley: float, centre_distance: float) -> float:
    """Angle of belt on the blower pulley of an open belt without idlers [rad]."""
    wrap = belt.small_pulley_wrap if driven_pulley < driving_pulley else belt.large_pulley_wrap
    large, small = max(driving_pulley, driven_pulley), min(driving_pulley, driven_pulley)
    return float(wrap(large, small, centre_distance))

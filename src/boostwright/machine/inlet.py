"""The air path ahead of the rotors: throttle, filter and casting, and the bypass that returns air to them."""

import math
from dataclasses import dataclass

from boostwright.physics.throttle import throttle_open_area

CLOSED_PLATE = math.radians(7.0)  # at which a plate touches its bore: common practice, no source


@dataclass(frozen=True, kw_only=True)
class Inlet:
    """Throttle and inlet by their effective areas, the bypass, and the manifold pressure at which it opens."""

    throttle_area: float
    inlet_area: float
    inlet_heating: float
    upstream_evaporation: float
    bypass_area: float
    bypass_opening: float
    manifold_pressure_cap: float

    def __post_init__(self) -> None:
        for name in ("throttle_area", "inlet_area", "manifold_pressure_cap"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} {getattr(self, name):g} must be positive")
        if not 0.0 <= self.bypass_opening <= 1.0 or not self.bypass_area >= 0.0:
            raise ValueError(
                f"bypass_opening {self.bypass_opening:g} must be from 0 to 1, and bypass_area not negative"
            )


def effective_throttle_area(
    throttle_bore: float, throttle_shaft_diameter: float, plate_angle: float, throttle_discharge_coefficient: float
) -> float:
    """Discharge coefficient times what plate and shaft leave open [m2]."""
    open_area = float(throttle_open_area(throttle_bore, throttle_shaft_diameter, plate_angle, CLOSED_PLATE))
    return throttle_discharge_coefficient * open_area

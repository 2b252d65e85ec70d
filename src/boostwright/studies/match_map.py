"""The map on which the operating line of a match is drawn: flow and efficiency over rotor speed and pressure ratio."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT
from boostwright.machine.operating_point import shaft_isentropic_efficiency
from boostwright.studies.match import MatchResult

Floats: TypeAlias = NDArray[np.float64]

SPEEDS, RATIOS = 40, 36
SLOWEST, FASTEST = 0.12, 1.12  # of the speed limit, or of the highest speed matched
LOWEST_RATIO, LEAST_TOP_RATIO, ROOM = 1.02, 2.0, 1.12


@dataclass(frozen=True, kw_only=True)
class BlowerMapGrid:
    """A blower on a grid of rotor speeds (first axis) and pressure ratios; NaN where its form does not reach.

    It breathes at the mean inlet state of the operating line. Flow is the volume at the inlet, efficiency that of the
    shaft power.
    """

    rotor_speed: Floats
    pressure_ratio: Floats
    volume_flow: Floats
    isentropic_efficiency: Floats

    def along_speed(self, rotor_speed: float) -> Floats:
        """Volume flow at every pressure ratio for one rotor speed."""
        return np.array([np.interp(rotor_speed, self.rotor_speed, column) for column in self.volume_flow.T])


def blower_map_grid(result: MatchResult) -> BlowerMapGrid:
    """The result's blower over the speeds and ratios around its operating line."""
    operating, known = result.operating, result.operating.is_matched
    p1 = float(np.mean(operating["blower_inlet_pressure"][known]))
    T1 = float(np.mean(operating["blower_inlet_temperature"][known]))
    fastest = max(float(np.max(operating["rotor_speed"][known])), result.build.limits.rotor_speed_limit or 0.0)
    speeds = np.linspace(SLOWEST, FASTEST, SPEEDS) * fastest
    highest = max(LEAST_TOP_RATIO, ROOM * float(np.max(operating.pressure_ratio[known])))
    ratios = np.linspace(LOWEST_RATIO, highest, RATIOS)
    N, PR = np.meshgrid(speeds, ratios, indexing="ij")
    delivery = result.blower.delivery(p1, T1, PR * p1, N)
    efficiency = shaft_isentropic_efficiency(delivery.mass_flow, DRY_AIR_GAS_CONSTANT, T1, PR, delivery.shaft_power)
    inside = (delivery.within_range > 0.0) & (delivery.mass_flow > 0.0)
    return BlowerMapGrid(
        rotor_speed=speeds,
        pressure_ratio=ratios,
        volume_flow=np.where(inside, delivery.mass_flow * DRY_AIR_GAS_CONSTANT * T1 / p1, np.nan),
        isentropic_efficiency=np.where(inside, efficiency, np.nan),
    )

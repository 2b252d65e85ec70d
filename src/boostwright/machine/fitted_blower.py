"""A mapped blower with the factors that a fit has found on it: on delivery and work, and what its casing gives away."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.blower import (
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    Blower,
    BlowerDelivery,
    delivery_from_table,
    operating_points,
)
from boostwright.machine.blower_map import BlowerMap, similar_delivery

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]


@dataclass(frozen=True, kw_only=True)
class BlowerFactors:
    """What a fit multiplies delivery and work by at some rotor speeds; the heat that the casing gives away of the work.

    All have the shape (speeds,), the speeds rising; beyond them the last factor holds.
    """

    rotor_speed: Floats
    delivery_factor: Floats
    gas_work_factor: Floats
    heat_loss_share: Floats
    mechanical_power_at_limit: float
    mechanical_heat_share: float


def factors_of(points: Points) -> BlowerFactors:
    """The factors in the rows of one draw, a table of the match over rising engine speeds."""
    turning = points["engine_speed"] * points["drive_ratio"] * points["internal_step"] * (1.0 - points["belt_slip"])
    return BlowerFactors(
        rotor_speed=turning,
        delivery_factor=np.array(points["delivery_factor"]),
        gas_work_factor=np.array(points["gas_work_factor"]),
        heat_loss_share=np.array(points["heat_loss_share"]),
        mechanical_power_at_limit=float(points["mechanical_power_at_limit"][0]),
        mechanical_heat_share=float(points["mechanical_heat_share"][0]),
    )


@dataclass(frozen=True, kw_only=True)
class FittedBlower(Blower):
    """A map and the factors of a fit; the factors go by rotor speed, so that they travel to another pulley."""

    blower: BlowerMap
    factors: BlowerFactors

    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What the fit says of dry air; the four arguments broadcast against one another."""
        points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
        p1, T1, _, N = points
        mapped, factors = self.blower.delivery(*points), self.factors
        displaced = self.blower.blower_displacement * N
        carried = displaced * p1 / (DRY_AIR_GAS_CONSTANT * T1)
        delivery, work, heat = (
            np.interp(N, factors.rotor_speed, values)
            for values in (factors.delivery_factor, factors.gas_work_factor, factors.heat_loss_share)
        )
        work_ratio = work * mapped.gas_power / (p1 * displaced)
        rows = zip(
            p1,
            T1,
            N,
            delivery * mapped.blower_volumetric_efficiency,
            work_ratio,
            heat * work_ratio,
            mapped.leakage_flow / carried,
            mapped.within_range,
            strict=True,
        )
        table = [
            similar_delivery(
                p,
                T,
                n,
                DRY_AIR_GAS_CONSTANT,
                DRY_AIR_HEAT_CAPACITY_RATIO,
                self.blower.blower_displacement,
                self.blower.speed_limit,
                factors.mechanical_power_at_limit,
                factors.mechanical_heat_share,
                *ratios,
            )
            for p, T, n, *ratios in rows
        ]
        return delivery_from_table(np.array(table, dtype=np.float64).T, shape)

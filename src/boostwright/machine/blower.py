"""A blower delivers: the interface that every form shares, and the slip-law form, which needs no ports drawn."""

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.default import Default
from boostwright.physics.blower_work import internal_compression_work_kernel
from boostwright.physics.compiled import compiled

DRY_AIR_GAS_CONSTANT = 287.05  # J/kg/K
DRY_AIR_HEAT_CAPACITY_RATIO = 1.4  # constant: good to 0.4 K against cp(T) over the pressure ratios of a blower
LEAKAGE_PRESSURE_FLOOR = 2e3  # Pa: below this difference the square root of the leakage law is rounded off
LEAST_THROUGH_FLOW = 0.05  # of the displaced mass flow: with less, leaking gas is heated round and round without bound


class DeliveryParts(NamedTuple):
    """What one blower delivers at one point, in the order of the fields of `BlowerDelivery`."""

    mass_flow: float
    outlet_temperature: float
    shaft_power: float
    leakage_flow: float
    gas_power: float
    mechanical_power: float
    heat_loss: float
    blower_volumetric_efficiency: float
    within_range: float


DELIVERY_NUMBERS = len(DeliveryParts._fields)


@dataclass(frozen=True, kw_only=True)
class BlowerDelivery:
    """What a blower delivers and takes, point by point; shaft power = mass flow x enthalpy rise + heat loss.

    `within_range` is 1 where the form holds, and 0 where it had to be continued: nothing is extrapolated in silence.
    """

    mass_flow: NDArray[np.float64]
    outlet_temperature: NDArray[np.float64]
    shaft_power: NDArray[np.float64]
    leakage_flow: NDArray[np.float64]
    gas_power: NDArray[np.float64]
    mechanical_power: NDArray[np.float64]
    heat_loss: NDArray[np.float64]
    blower_volumetric_efficiency: NDArray[np.float64]
    within_range: NDArray[np.float64]


class Blower(ABC):
    """A positive-displacement blower: inlet state, outlet pressure and rotor speed in, delivery out."""

    @abstractmethod
    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What the blower delivers of dry air; the four arguments broadcast against one another."""


@compiled
def slip_law_leakage_flow(inlet_density: float, pressure_rise: float, leakage_area: float) -> float:
    """Flow back through the clearances: the square root of the pressure rise, rounded off near zero and odd in it."""
    rounded = math.sqrt(pressure_rise * pressure_rise + LEAKAGE_PRESSURE_FLOOR * LEAKAGE_PRESSURE_FLOOR)
    return leakage_area * math.sqrt(2.0 * inlet_density / rounded) * pressure_rise


@compiled
def slip_law_displaced_flow(
    inlet_density: float,
    rotor_speed: float,
    blower_displacement: float,
    speed_limit: float,
    filling_loss: float,
    delivery_factor: float,
) -> float:
    """Flow that the rotors would carry if nothing leaked: displacement, less what fast rotors fail to fill."""
    filled = np.exp(-filling_loss * (rotor_speed / speed_limit) ** 2)
    return inlet_density * blower_displacement * rotor_speed * filled * delivery_factor


@compiled
def slip_law_delivery(
    inlet_pressure: float,
    inlet_temperature: float,
    outlet_pressure: float,
    rotor_speed: float,
    specific_gas_constant: float,
    heat_capacity_ratio: float,
    blower_displacement: float,
    internal_volume_ratio: float,
    speed_limit: float,
    filling_loss: float,
    leakage_area: float,
    gas_work_factor: float,
    mechanical_power_at_limit: float,
    heat_loss_share: float,
    mechanical_heat_share: float,
    delivery_factor: float,
) -> DeliveryParts:
    """Everything the slip law says about one point; total for positive pressures, temperature, speed and sizes.

    Where less than a twentieth of the displaced flow goes through, the outlet temperature is that of a twentieth and
    `within_range` is 0; the heat loss then takes up the difference, so that the energy account still closes.
    """
    p1, T1, N, g = inlet_pressure, inlet_temperature, rotor_speed, heat_capacity_ratio
    rho = p1 / (specific_gas_constant * T1)
    cp = specific_gas_constant * g / (g - 1.0)
    carried = rho * blower_displacement * N
    leakage = slip_law_leakage_flow(rho, outlet_pressure - p1, leakage_area)
    m = slip_law_displaced_flow(rho, N, blower_displacement, speed_limit, filling_loss, delivery_factor) - leakage
    work = internal_compression_work_kernel(p1, outlet_pressure, blower_displacement, internal_volume_ratio, g)
    gas_power = gas_work_factor * N * work
    mechanical_power = mechanical_power_at_limit * (N / speed_limit) ** 2
    heating = gas_power * (1.0 - heat_loss_share) + mechanical_heat_share * mechanical_power
    least = LEAST_THROUGH_FLOW * carried
    through = m if m > least else least
    T2 = T1 + heating / (through * cp)
    shaft_power = gas_power + mechanical_power
    return DeliveryParts(
        m,
        T2,
        shaft_power,
        leakage,
        gas_power,
        mechanical_power,
        shaft_power - m * cp * (T2 - T1),
        m / carried,
        1.0 if m > least else 0.0,
    )


@compiled
def _slip_law_table(points: NDArray[np.float64], law: NDArray[np.float64]) -> NDArray[np.float64]:
    """The law at every column of `points` (inlet pressure and temperature, outlet pressure, rotor speed)."""
    table = np.empty((DELIVERY_NUMBERS, points.shape[1]))
    for i in range(points.shape[1]):
        parts = slip_law_delivery(
            points[0, i],
            points[1, i],
            points[2, i],
            points[3, i],
            DRY_AIR_GAS_CONSTANT,
            DRY_AIR_HEAT_CAPACITY_RATIO,
            law[0],
            law[1],
            law[2],
            law[3],
            law[4],
            law[5],
            law[6],
            law[7],
            law[8],
            law[9],
        )
        for j in range(DELIVERY_NUMBERS):
            table[j, i] = parts[j]
    return table


def operating_points(
    inlet_pressure: ArrayLike, inlet_temperature: ArrayLike, outlet_pressure: ArrayLike, rotor_speed: ArrayLike
) -> tuple[NDArray[np.float64], tuple[int, ...]]:
    """The four arguments of a delivery as rows of one array, and the shape in which the answer is wanted.

    Raises
    ------
    ValueError
        If one of them is not positive somewhere: gauge pressure and degrees Celsius are caught here.
    """
    broadcast = np.broadcast_arrays(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
    names = ("inlet pressure", "inlet temperature", "outlet pressure", "rotor speed")
    for name, unit, array in zip(names, ("Pa absolute", "K", "Pa absolute", "1/s"), broadcast, strict=True):
        if np.any(wrong := ~(array > 0.0)):
            i = tuple(np.argwhere(wrong)[0].tolist())
            raise ValueError(f"{name} {array[i]:g} at {i} is not a positive number of {unit}: give it in {unit}")
    return np.array([array.ravel() for array in broadcast], dtype=np.float64), broadcast[0].shape


def delivery_from_table(table: NDArray[np.float64], shape: tuple[int, ...]) -> BlowerDelivery:
    """The noun from rows in the order of `DeliveryParts`."""
    rows = {field.name: row.reshape(shape) for field, row in zip(fields(BlowerDelivery), table, strict=True)}
    return BlowerDelivery(**rows)


@dataclass(frozen=True, kw_only=True)
class SlipLawBlower(Blower):
    """A blower known by its size and four losses: filling, leakage, gas work above the ideal, bearings and gears.

    Notes
    -----
    Leakage follows the square root of the pressure rise at inlet density (handbook practice, from memory); at a
    pressure ratio of 1.5 that is about 10 % more than the same clearance passes as a compressible leak.
    Gas work is the ideal work with internal compression times `gas_work_factor`. The mechanical loss and the filling
    loss grow with the square of rotor speed over the blower's own `speed_limit`.
    """

    blower_displacement: float
    internal_volume_ratio: float
    speed_limit: float
    filling_loss: float
    leakage_area: float
    gas_work_factor: float
    mechanical_power_at_limit: float
    heat_loss_share: float
    mechanical_heat_share: float
    delivery_factor: float

    def __post_init__(self) -> None:
        for name in ("blower_displacement", "speed_limit", "gas_work_factor", "delivery_factor"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} {getattr(self, name):g} must be positive")
        for name in ("filling_loss", "leakage_area", "mechanical_power_at_limit"):
            if not getattr(self, name) >= 0.0:
                raise ValueError(f"{name} {getattr(self, name):g} must not be negative")
        for name in ("heat_loss_share", "mechanical_heat_share"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"{name} {getattr(self, name):g} must be a share from 0 to 1")
        if not self.internal_volume_ratio >= 1.0:
            raise ValueError(f"internal_volume_ratio {self.internal_volume_ratio:g} must be 1 (roots) or more (screw)")

    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What the slip law delivers of dry air; the four arguments broadcast against one another."""
        points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
        law = np.array([getattr(self, field.name) for field in fields(self)], dtype=np.float64)
        return delivery_from_table(_slip_law_table(points, law), shape)


REFERENCE_DISPLACEMENT = 2.3e-3  # m3 per turn: the size at which the defaults below are stated

_OWN = "assumed, to be replaced from the maker's own archive"
FILLING_LOSS = Default(
    word="filling_loss",
    value=0.06,
    low=0.03,
    high=0.12,
    scaling="times (rotor speed / speed limit)^2",
    source="with the leakage it leaves 0.85 to 0.95 of the displacement near the limit: common practice, no source",
)
LEAKAGE_AREA = Default(
    word="leakage_area",
    value=58e-6,
    low=32e-6,
    high=105e-6,
    scaling="times (displacement / 2.3 L)^(2/3): clearances in proportion to rotor size",
    source=f"{_OWN}; a slip test of 150 turns per minute at 6.9 kPa on 2.1 L is 49 mm2",
)
GAS_WORK_FACTOR = Default(
    word="gas_work_factor", value=1.03, low=1.0, high=1.09, scaling="none", source=f"outlet port losses: {_OWN}"
)
MECHANICAL_POWER_AT_LIMIT = Default(
    word="mechanical_power_at_limit",
    value=6.1e3,
    low=2.5e3,
    high=15e3,
    scaling="times displacement x speed limit over 2.3 L x 233 1/s: the same drag per volume swept",
    source=f"4.5 kW at 200 1/s for 2.3 L, which is 6.1 kW at 233 1/s: {_OWN}",
)
HEAT_LOSS_SHARE = Default(
    word="heat_loss_share", value=0.06, low=0.0, high=0.12, scaling="none", source=f"of the gas power: {_OWN}"
)
MECHANICAL_HEAT_SHARE = Default(
    word="mechanical_heat_share",
    value=0.3,
    low=0.1,
    high=0.5,
    scaling="none",
    source=f"seals and rotor ends heat the gas, gears heat the oil: {_OWN}",
)
DELIVERY_FACTOR = Default(
    word="delivery_factor", value=1.0, low=0.97, high=1.03, scaling="none", source=f"what the law leaves out: {_OWN}"
)
SLIP_LAW_DEFAULTS = (
    FILLING_LOSS,
    LEAKAGE_AREA,
    GAS_WORK_FACTOR,
    MECHANICAL_POWER_AT_LIMIT,
    HEAT_LOSS_SHARE,
    MECHANICAL_HEAT_SHARE,
    DELIVERY_FACTOR,
)


def mechanical_size(blower_displacement: float, speed_limit: float) -> float:
    """Volume swept per second at the speed limit, over that of the blower that the mechanical default is stated for."""
    return blower_displacement * speed_limit / (REFERENCE_DISPLACEMENT * 233.0)


def typical_slip_law_blower(
    blower_displacement: float, speed_limit: float, internal_volume_ratio: float
) -> SlipLawBlower:
    """A blower of which only size, speed limit and built-in volume ratio are known; the rest: `SLIP_LAW_DEFAULTS`."""
    size = blower_displacement / REFERENCE_DISPLACEMENT
    return SlipLawBlower(
        blower_displacement=blower_displacement,
        internal_volume_ratio=internal_volume_ratio,
        speed_limit=speed_limit,
        filling_loss=FILLING_LOSS.value,
        leakage_area=LEAKAGE_AREA.value * size ** (2 / 3),
        gas_work_factor=GAS_WORK_FACTOR.value,
        mechanical_power_at_limit=MECHANICAL_POWER_AT_LIMIT.value * mechanical_size(blower_displacement, speed_limit),
        heat_loss_share=HEAT_LOSS_SHARE.value,
        mechanical_heat_share=MECHANICAL_HEAT_SHARE.value,
        delivery_factor=DELIVERY_FACTOR.value,
    )

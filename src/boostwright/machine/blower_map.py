"""A blower as a map over corrected speed and pressure ratio: smooth inside, and it says when a point lies outside."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from boostwright.machine.blower import (
    DELIVERY_NUMBERS,
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    LEAST_THROUGH_FLOW,
    Blower,
    BlowerDelivery,
    DeliveryParts,
    delivery_from_table,
    operating_points,
)
from boostwright.physics.compiled import compiled

EDGE = 1e-9  # of a coordinate: a point on the border of the map is inside it

Slopes = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
_Weights = tuple[float, float, float, float]


@compiled
def _cell(knots: NDArray[np.float64], place: float) -> int:
    """The interval of `knots` in which `place` lies, by bisection."""
    low, high = 0, knots.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if place < knots[middle]:
            high = middle
        else:
            low = middle
    return low


@compiled
def _value_weights(t: float, h: float) -> _Weights:
    """Cubic Hermite weights of value and slope at the left knot, then at the right one."""
    s = 1.0 - t
    return (1.0 + 2.0 * t) * s * s, h * t * s * s, t * t * (3.0 - 2.0 * t), -h * t * t * s


@compiled
def _border_slope_weights(t: float) -> _Weights:
    """Slope weights at the left knot, t = 0, or the right one, t = 1: the curve has the slope of the knot."""
    return 0.0, 1.0 - t, 0.0, t


@compiled
def _blend(nodes: NDArray[np.float64], i: int, j: int, along_x: _Weights, along_y: _Weights) -> float:
    """One cell's bicubic polynomial; `nodes` holds value, x slope, y slope and cross slope of every node."""
    total = 0.0
    for a in range(2):
        for b in range(2):
            node = nodes[i + a, j + b]
            total += along_x[2 * a] * (along_y[2 * b] * node[0] + along_y[2 * b + 1] * node[2])
            total += along_x[2 * a + 1] * (along_y[2 * b] * node[1] + along_y[2 * b + 1] * node[3])
    return total


@compiled
def map_value(
    nodes: NDArray[np.float64],
    corrected_speeds: NDArray[np.float64],
    pressure_ratios: NDArray[np.float64],
    corrected_speed: float,
    pressure_ratio: float,
) -> float:
    """One mapped quantity at one point: bicubic inside the grid, straight on along the border's slope outside it."""
    xs, ys = corrected_speeds, pressure_ratios
    x = min(max(corrected_speed, xs[0]), xs[-1])
    y = min(max(pressure_ratio, ys[0]), ys[-1])
    i, j = _cell(xs, x), _cell(ys, y)
    hx, hy = xs[i + 1] - xs[i], ys[j + 1] - ys[j]
    tx, ty = (x - xs[i]) / hx, (y - ys[j]) / hy
    along_x, along_y = _value_weights(tx, hx), _value_weights(ty, hy)
    value = _blend(nodes, i, j, along_x, along_y)
    if x != corrected_speed:
        value += (corrected_speed - x) * _blend(nodes, i, j, _border_slope_weights(tx), along_y)
    if y != pressure_ratio:
        value += (pressure_ratio - y) * _blend(nodes, i, j, along_x, _border_slope_weights(ty))
    return value


@compiled
def map_covers(
    corrected_speeds: NDArray[np.float64],
    pressure_ratio_range: NDArray[np.float64],
    corrected_speed: float,
    pressure_ratio: float,
) -> float:
    """1 where the map was made from runs or measurements on all sides of the point, else 0."""
    xs = corrected_speeds
    if corrected_speed < xs[0] * (1.0 - EDGE) or corrected_speed > xs[-1] * (1.0 + EDGE):
        return 0.0
    i = _cell(xs, corrected_speed)
    t = (corrected_speed - xs[i]) / (xs[i + 1] - xs[i])
    lowest = pressure_ratio_range[0, i] * (1.0 - t) + pressure_ratio_range[0, i + 1] * t
    highest = pressure_ratio_range[1, i] * (1.0 - t) + pressure_ratio_range[1, i + 1] * t
    return 1.0 if lowest * (1.0 - EDGE) <= pressure_ratio <= highest * (1.0 + EDGE) else 0.0


@compiled
def map_corrected_speed(rotor_speed: float, inlet_temperature: float, specific_gas_constant: float) -> float:
    """Rotor speed over the root of inlet temperature, for a gas that differs from dry air in its gas constant only."""
    return rotor_speed / (inlet_temperature * specific_gas_constant / DRY_AIR_GAS_CONSTANT) ** 0.5


@compiled
def similar_delivery(
    inlet_pressure: float,
    inlet_temperature: float,
    rotor_speed: float,
    specific_gas_constant: float,
    heat_capacity_ratio: float,
    blower_displacement: float,
    speed_limit: float,
    mechanical_power_at_limit: float,
    mechanical_heat_share: float,
    blower_volumetric_efficiency: float,
    work_ratio: float,
    heat_ratio: float,
    leakage_ratio: float,
    within_range: float,
) -> DeliveryParts:
    """What numbers free of size and weather mean for one blower in one weather.

    The outlet temperature follows from the energy account of flow, work and heat, so that interpolation of these cannot
    break it. Below a twentieth of the displaced flow it is held, as the slip law does, and `within_range` is 0.
    """
    T1, N, g, VE = inlet_temperature, rotor_speed, heat_capacity_ratio, blower_volumetric_efficiency
    flow_work = inlet_pressure * blower_displacement * N
    gas_power = flow_work * work_ratio
    mechanical_power = mechanical_power_at_limit * (N / speed_limit) ** 2
    cp = specific_gas_constant * g / (g - 1.0)
    carried = flow_work / (specific_gas_constant * T1)
    through = carried * (VE if VE > LEAST_THROUGH_FLOW else LEAST_THROUGH_FLOW)
    T2 = T1 + (gas_power - flow_work * heat_ratio + mechanical_heat_share * mechanical_power) / (through * cp)
    shaft_power = gas_power + mechanical_power
    return DeliveryParts(
        VE * carried,
        T2,
        shaft_power,
        carried * leakage_ratio,
        gas_power,
        mechanical_power,
        shaft_power - VE * carried * cp * (T2 - T1),
        VE,
        within_range if VE > LEAST_THROUGH_FLOW else 0.0,
    )


@compiled
def map_delivery(
    inlet_pressure: float,
    inlet_temperature: float,
    outlet_pressure: float,
    rotor_speed: float,
    specific_gas_constant: float,
    heat_capacity_ratio: float,
    blower_displacement: float,
    speed_limit: float,
    mechanical_power_at_limit: float,
    mechanical_heat_share: float,
    corrected_speeds: NDArray[np.float64],
    pressure_ratios: NDArray[np.float64],
    pressure_ratio_range: NDArray[np.float64],
    nodes: NDArray[np.float64],
) -> DeliveryParts:
    """Everything the map says about one point; `nodes` as in `BlowerMap`."""
    pr = outlet_pressure / inlet_pressure
    x = map_corrected_speed(rotor_speed, inlet_temperature, specific_gas_constant)
    return similar_delivery(
        inlet_pressure,
        inlet_temperature,
        rotor_speed,
        specific_gas_constant,
        heat_capacity_ratio,
        blower_displacement,
        speed_limit,
        mechanical_power_at_limit,
        mechanical_heat_share,
        map_value(nodes[0], corrected_speeds, pressure_ratios, x, pr),
        map_value(nodes[1], corrected_speeds, pressure_ratios, x, pr),
        map_value(nodes[2], corrected_speeds, pressure_ratios, x, pr),
        map_value(nodes[3], corrected_speeds, pressure_ratios, x, pr),
        map_covers(corrected_speeds, pressure_ratio_range, x, pr),
    )


@compiled
def _map_table(
    points: NDArray[np.float64],
    sizes: NDArray[np.float64],
    corrected_speeds: NDArray[np.float64],
    pressure_ratios: NDArray[np.float64],
    pressure_ratio_range: NDArray[np.float64],
    nodes: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The map at every column of `points` (inlet pressure and temperature, outlet pressure, rotor speed)."""
    table = np.empty((DELIVERY_NUMBERS, points.shape[1]))
    for i in range(points.shape[1]):
        parts = map_delivery(
            points[0, i],
            points[1, i],
            points[2, i],
            points[3, i],
            DRY_AIR_GAS_CONSTANT,
            DRY_AIR_HEAT_CAPACITY_RATIO,
            sizes[0],
            sizes[1],
            sizes[2],
            sizes[3],
            corrected_speeds,
            pressure_ratios,
            pressure_ratio_range,
            nodes,
        )
        for j in range(DELIVERY_NUMBERS):
            table[j, i] = parts[j]
    return table


@dataclass(frozen=True, kw_only=True)
class BlowerMap(Blower):
    """A blower as tables over corrected speed N/sqrt(T1) and pressure ratio, which serve all weather by similarity.

    `nodes` has shape (4, speeds, ratios, 4): volumetric efficiency; gas work and heat lost from the gas, both over
    inlet pressure and displacement; leakage over displaced flow; each with its value, its slope along either axis and
    its cross slope. `pressure_ratio_range`, shape (2, speeds), holds the lowest and highest ratio known at each speed.
    `mechanical_power_at_limit` is what bearings and gears take besides, and 0 if the mapped work holds it already.
    """

    blower_displacement: float
    speed_limit: float
    mechanical_power_at_limit: float
    mechanical_heat_share: float
    corrected_speeds: NDArray[np.float64]
    pressure_ratios: NDArray[np.float64]
    pressure_ratio_range: NDArray[np.float64]
    nodes: NDArray[np.float64]

    def __post_init__(self) -> None:
        for name in ("corrected_speeds", "pressure_ratios"):
            knots = getattr(self, name)
            if knots.size < 2 or not np.all(np.diff(knots) > 0.0):
                raise ValueError(f"{name} {knots} must rise and hold at least two values: sort them, drop repeats")
        expected = (4, self.corrected_speeds.size, self.pressure_ratios.size, 4)
        if self.nodes.shape != expected or self.pressure_ratio_range.shape != (2, self.corrected_speeds.size):
            raise ValueError(f"nodes of a map with this grid have shape {expected}, not {self.nodes.shape}")

    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What the map says for dry air; the four arguments broadcast against one another."""
        points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
        sizes = np.array(
            [self.blower_displacement, self.speed_limit, self.mechanical_power_at_limit, self.mechanical_heat_share]
        )
        table = _map_table(
            points, sizes, self.corrected_speeds, self.pressure_ratios, self.pressure_ratio_range, self.nodes
        )
        return delivery_from_table(table, shape)


@dataclass(frozen=True, kw_only=True)
class MapError:
    """How far a map lies from what it stands for: the largest error, and the one that 95 % of the points stay below."""

    volumetric_efficiency_largest: float
    volumetric_efficiency_usual: float
    work_largest: float
    work_usual: float
    outlet_temperature_largest: float
    outlet_temperature_usual: float

    @classmethod
    def of(
        cls,
        blower_volumetric_efficiency: NDArray[np.float64],
        gas_power: NDArray[np.float64],
        outlet_temperature: NDArray[np.float64],
    ) -> "MapError":
        """Of the errors at many points: relative ones of efficiency and power, and of the temperature in kelvins."""
        errors = (blower_volumetric_efficiency, gas_power, outlet_temperature)
        largest = [float(np.abs(error).max()) for error in errors]
        usual = [float(np.quantile(np.abs(error), 0.95)) for error in errors]
        return cls(
            volumetric_efficiency_largest=largest[0],
            volumetric_efficiency_usual=usual[0],
            work_largest=largest[1],
            work_usual=usual[1],
            outlet_temperature_largest=largest[2],
            outlet_temperature_usual=usual[2],
        )


def spline_slopes(knots: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slopes at the knots, along the first axis of `values`, of the cubic spline through them (not-a-knot ends)."""
    return cast(NDArray[np.float64], CubicSpline(knots, values)(knots, 1))


def map_nodes(
    corrected_speeds: NDArray[np.float64],
    pressure_ratios: NDArray[np.float64],
    tables: NDArray[np.float64],
    slopes: Slopes,
) -> NDArray[np.float64]:
    """Nodes from tables of shape (quantities, speeds, ratios), and the rule that draws the slopes."""
    nodes = np.empty((*tables.shape, 4))
    for quantity, table in enumerate(tables):
        along_ratio = slopes(pressure_ratios, table.T).T
        nodes[quantity, ..., 0] = table
        nodes[quantity, ..., 1] = slopes(corrected_speeds, table)
        nodes[quantity, ..., 2] = along_ratio
        nodes[quantity, ..., 3] = slopes(corrected_speeds, along_ratio)
    return nodes

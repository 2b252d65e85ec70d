"""A blower as somebody has measured it: speed lines of operating points, made into a map."""

from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT, DRY_AIR_HEAT_CAPACITY_RATIO
from boostwright.machine.blower_map import BlowerMap, MapError, map_nodes
from boostwright.records.blower_map_file import BlowerMapRecord

SAME_LINE = 0.02  # relative difference of corrected speed up to which neighbours belong to one speed line
LEAST_COLUMNS = 6
IMPOSSIBLE_GAIN = 0.05  # of the shaft power: a gas that takes up more than the shaft gives was measured wrongly

Floats = NDArray[np.float64]


def pchip_slopes(knots: Floats, values: Floats) -> Floats:
    """Slopes at the knots, along the first axis, of the curve that never swings out between measured points."""
    return cast(Floats, PchipInterpolator(knots, values)(knots, 1))


def measured_map(record: BlowerMapRecord, blower_displacement: float, speed_limit: float) -> BlowerMap:
    """The map of measured speed lines; a point beyond the ends of its lines is marked as outside.

    The shaft power of the record holds the mechanical loss, which is mapped with the gas work; leakage is not known
    and stays not a number.

    Raises
    ------
    ValueError
        If there are fewer than two speed lines, a line has fewer than two points, or a point breaks the energy balance.
    """
    numbers = _size_free(record, blower_displacement)
    _refuse_gain(record, numbers)
    lines = _speed_lines(record)
    columns = max(LEAST_COLUMNS, *(line.size for line in lines))
    ratios = np.linspace(record.pressure_ratio.min(), record.pressure_ratio.max(), columns)
    speeds = np.array([_corrected_speed(record)[line].mean() for line in lines])
    tables = np.stack([_resampled(record.pressure_ratio[line], numbers[:, line], ratios) for line in lines], axis=1)
    nodes = map_nodes(speeds, ratios, tables, pchip_slopes)
    return BlowerMap(
        blower_displacement=blower_displacement,
        speed_limit=speed_limit,
        mechanical_power_at_limit=0.0,
        mechanical_heat_share=0.0,
        corrected_speeds=speeds,
        pressure_ratios=ratios,
        pressure_ratio_range=np.array([[record.pressure_ratio[line[end]] for line in lines] for end in (0, -1)]),
        nodes=np.concatenate([nodes, np.full((1, *nodes.shape[1:]), np.nan)]),
    )


def measured_map_error(record: BlowerMapRecord, blower_map: BlowerMap) -> MapError:
    """How far the map lies from the points that it was made of."""
    m = blower_map.delivery(
        record.inlet_pressure,
        record.inlet_temperature,
        record.inlet_pressure * record.pressure_ratio,
        record.rotor_speed,
    )
    return MapError.of(
        blower_volumetric_efficiency=m.mass_flow / record.mass_flow - 1.0,
        gas_power=m.shaft_power / record.shaft_power - 1.0,
        outlet_temperature=m.outlet_temperature - record.outlet_temperature,
    )


def _corrected_speed(record: BlowerMapRecord) -> Floats:
    return record.rotor_speed / np.sqrt(record.inlet_temperature)


def _size_free(record: BlowerMapRecord, blower_displacement: float) -> Floats:
    """Volumetric efficiency, work ratio and heat ratio of every point, shape (3, points)."""
    flow_work = record.inlet_pressure * blower_displacement * record.rotor_speed
    efficiency = record.mass_flow * DRY_AIR_GAS_CONSTANT * record.inlet_temperature / flow_work
    work, g = record.shaft_power / flow_work, DRY_AIR_HEAT_CAPACITY_RATIO
    taken_up = g / (g - 1.0) * efficiency * (record.outlet_temperature / record.inlet_temperature - 1.0)
    return np.array([efficiency, work, work - taken_up])


def _refuse_gain(record: BlowerMapRecord, numbers: Floats) -> None:
    _, work, heat = numbers
    if np.any(wrong := heat < -IMPOSSIBLE_GAIN * work):
        i = int(np.argmax(wrong))
        raise ValueError(
            f"{record.file}, row {record.rows[i]}: the gas takes up {100 * (1 - heat[i] / work[i]):.0f} % of the shaft "
            "power by its temperature rise; check shaft power, flow, outlet thermometer, and the units of the three"
        )


def _speed_lines(record: BlowerMapRecord) -> list[NDArray[np.intp]]:
    """The points of each speed line by rising pressure ratio, the slowest line first."""
    corrected = _corrected_speed(record)
    order = np.argsort(corrected)
    cuts = np.flatnonzero(np.diff(corrected[order]) > SAME_LINE * corrected[order][1:]) + 1
    lines = [line[np.argsort(record.pressure_ratio[line])] for line in np.split(order, cuts)]
    if len(lines) < 2:
        raise ValueError(f"{record.file}: all points are of one speed; a map needs two speed lines or more")
    for line in lines:
        if line.size < 2 or np.any(np.diff(record.pressure_ratio[line]) <= 0.0):
            speed = 60.0 * record.rotor_speed[line].mean()
            rows = ", ".join(str(row) for row in np.sort(record.rows[line]))
            raise ValueError(
                f"{record.file}, rows {rows}: the speed line at {speed:.0f} rpm needs two points or more, each at a "
                "pressure ratio of its own; add points, or leave the line out"
            )
    return lines


def _resampled(pressure_ratio: Floats, numbers: Floats, ratios: Floats) -> Floats:
    """One line at the map's pressure ratios: between its points a curve through them, beyond them straight on."""
    curve = PchipInterpolator(pressure_ratio, numbers, axis=1)
    inside = np.clip(ratios, pressure_ratio[0], pressure_ratio[-1])
    return cast(Floats, curve(inside) + curve(inside, 1) * (ratios - inside))

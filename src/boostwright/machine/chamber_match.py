"""The match with a chamber blower whose ports differ from row to row: the closed form corrected until both agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.blower import (
    DELIVERY_NUMBERS,
    DRY_AIR_GAS_CONSTANT,
    DRY_AIR_HEAT_CAPACITY_RATIO,
    Blower,
    BlowerDelivery,
    delivery_from_table,
    operating_points,
)
from boostwright.machine.blower_map import map_corrected_speed, map_value, similar_delivery
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_ports import PORT_WORDS, ports_of
from boostwright.machine.chamber_response import ChamberResponse
from boostwright.machine.match_table import MATCH_POINT, MATCH_STATE, MatchOutcome
from boostwright.machine.operating_point import BlowerForm, OperatingPoints, is_apart, matched
from boostwright.physics.compiled import compiled

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]

_ADDED_WORDS = tuple(word for word in PORT_WORDS if word not in (MATCH_POINT.names or ()))
CHAMBER_POINT = np.dtype([(word, np.float64) for word in (*(MATCH_POINT.names or ()), *_ADDED_WORDS, "drawing")])
"""A point of the match with the port of a chamber blower besides; its `leakage_area` is that of tips and mesh.

`drawing` is the number of the drawing that says everything else of the chambers.
"""

ROUNDS = 40
FINE_AGREEMENT = 0.1  # of what is agreement else: the derivatives of a fit are differences of nearly equal points
_SIZES = (
    "blower_displacement",
    "delivery_factor",
    "gas_work_factor",
    "heat_loss_share",
    "speed_limit",
    "mechanical_power_at_limit",
    "mechanical_heat_share",
)


def chamber_points(points: Points, drawing: ChamberGeometry, number: int) -> Points:
    """The same points with a chamber blower: its ports, nothing lost but what its chambers lose, no factors on them."""
    table = np.zeros(points.shape, CHAMBER_POINT)
    for word in MATCH_POINT.names or ():
        table[word] = points[word]
    ports = ports_of(drawing)
    for word in PORT_WORDS:
        table[word] = getattr(ports, word)
    table["filling_loss"], table["gas_work_factor"], table["delivery_factor"] = 0.0, 1.0, 1.0
    table["internal_volume_ratio"], table["drawing"] = drawing.internal_volume_ratio, number
    return table


def without_ports(points: Points) -> Points:
    """The columns that the match of the closed form has."""
    columns = np.ascontiguousarray(points).view(np.float64).reshape(*points.shape, -1)
    held = np.ascontiguousarray(columns[..., : len(MATCH_POINT.names or ())])
    return held.view(MATCH_POINT)[..., 0]


@dataclass(frozen=True, kw_only=True)
class _DrawnBlower(Blower):
    """A chamber blower that is another one at each point, read from a response: one set of nodes a group of points."""

    response: ChamberResponse
    nodes: Floats  # (groups, quantities, speeds, ratios, 4)
    group: NDArray[np.intp]  # (points,)
    sizes: Floats  # (points, as _SIZES), the displacement per turn of the driving rotor

    def delivery(
        self,
        inlet_pressure: ArrayLike,
        inlet_temperature: ArrayLike,
        outlet_pressure: ArrayLike,
        rotor_speed: ArrayLike,
    ) -> BlowerDelivery:
        """What each point's own blower delivers of dry air."""
        points, shape = operating_points(inlet_pressure, inlet_temperature, outlet_pressure, rotor_speed)
        response = self.response
        table = _delivered(
            points, self.sizes, self.group, self.nodes, response.corrected_speeds, response.pressure_ratios
        )
        return delivery_from_table(table, shape)

    def at(self, rows: NDArray[np.intp]) -> "_DrawnBlower":
        """The blowers of some of the points."""
        return _DrawnBlower(response=self.response, nodes=self.nodes, group=self.group[rows], sizes=self.sizes[rows])


@compiled
def _delivered(
    points: Floats,
    sizes: Floats,
    group: NDArray[np.intp],
    nodes: Floats,
    corrected_speeds: Floats,
    pressure_ratios: Floats,
) -> Floats:
    """Every column of `points` (inlet pressure and temperature, outlet pressure, rotor speed) by its own map."""
    R, k, xs, rs = DRY_AIR_GAS_CONSTANT, DRY_AIR_HEAT_CAPACITY_RATIO, corrected_speeds, pressure_ratios
    table = np.empty((DELIVERY_NUMBERS, points.shape[1]))
    for i in range(points.shape[1]):
        p1, T1, p2, N = points[0, i], points[1, i], points[2, i], points[3, i]
        own, x, pr = nodes[group[i]], map_corrected_speed(N, T1, R), p2 / p1
        VE = sizes[i, 1] * map_value(own[0], xs, rs, x, pr)
        work = sizes[i, 2] * map_value(own[1], xs, rs, x, pr)
        leakage = map_value(own[2], xs, rs, x, pr)
        inside = 1.0 if xs[0] <= x <= xs[-1] and rs[0] <= pr <= rs[-1] else 0.0
        parts = similar_delivery(
            p1,
            T1,
            N,
            R,
            k,
            sizes[i, 0],
            sizes[i, 4],
            sizes[i, 5],
            sizes[i, 6],
            VE,
            work,
            sizes[i, 3] * work,
            leakage,
            inside,
        )
        for j in range(DELIVERY_NUMBERS):
            table[j, i] = parts[j]
    return table


def chamber_matched(points: Points, responses: Sequence[ChamberResponse]) -> OperatingPoints:
    """Match every point of a table of `CHAMBER_POINT` with the blower that its drawing and its ports make.

    `delivery_factor` multiplies what the chambers deliver, `gas_work_factor` the work they take and `heat_loss_share`
    is what their casing gives away of it.
    """
    own = points.reshape(-1)
    states = np.zeros(own.shape, MATCH_STATE)
    for number, response in enumerate(responses):
        rows = np.flatnonzero(own["drawing"] == number)
        states[rows] = _matched(own[rows], response)
    return OperatingPoints(points=points.copy(), states=states.reshape(points.shape))


def _matched(points: Points, response: ChamberResponse) -> Points:
    """States of points of one drawing: rounds of closed form and correction, for those that do not agree yet."""
    operating = matched(without_ports(points))
    rows, blower = np.flatnonzero(operating.is_matched), _drawn_blower(points, response)
    before = np.full(points.size, np.inf)
    for _ in range(ROUNDS):
        if rows.size == 0:
            break
        now = operating.at(rows)
        correction = BlowerForm(name="chambers", blower=blower.at(rows)).correction(now)
        operating.points[rows] = correction.points
        operating.states[rows] = matched(correction.points).states
        for word, shift in correction.shifts.items():
            operating.states[word][rows] = now[word] + shift
        left = is_apart(correction.disagreement / FINE_AGREEMENT, before, rows)
        rows = rows[left & operating.is_matched[rows]]
    operating.states["outcome"][rows] = MatchOutcome.NO_BALANCE
    return operating.states


def _drawn_blower(points: Points, response: ChamberResponse) -> _DrawnBlower:
    ports = np.stack([np.asarray(points[word], float) for word in PORT_WORDS], axis=-1)
    fresh = np.append(True, np.any(ports[1:] != ports[:-1], axis=1))[: len(points)]
    sizes = np.stack([np.asarray(points[word], float) for word in _SIZES], axis=-1)
    sizes[:, 0] /= points["internal_step"]
    return _DrawnBlower(response=response, nodes=response.nodes(ports[fresh]), group=np.cumsum(fresh) - 1, sizes=sizes)

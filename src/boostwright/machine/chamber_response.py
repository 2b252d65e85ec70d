"""What a chamber blower answers when its ports and its leakage move: a map whose every node is a polynomial in them.

A fit asks for the blower at ten thousands of geometries that differ little. The chambers are run at a few hundred of
them, over the speeds and pressure ratios of the pulls; between these a polynomial of the fourth degree in the four
numbers of `ChamberPorts` takes their place.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from boostwright.machine.blower_map import map_nodes, spline_slopes
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_map import MAP_INLET, MAP_STEPS, MAP_TOLERANCE, run_chambers
from boostwright.machine.chamber_ports import PORT_WORDS, ChamberPorts, geometry_with, ports_of

Floats: TypeAlias = NDArray[np.float64]

DEGREE = 4
GEOMETRIES = 200  # for 70 terms
REACH = 3.0  # prior standard deviations from the drawing to the border of a range
DESIGN_SD = 0.42  # of the runs, where the prior has 1/3: a third of the error that evenly spread runs leave
LEAST_EFFICIENCY = 0.3  # a run that delivers less has more than one periodic state, and is left out
CLEAR_OF_OUTLET = np.pi / 180  # by how much the inlet closes before the outlet opens, at the latest
QUANTITIES = ("blower_volumetric_efficiency", "work_ratio", "leakage_ratio")
_NEAR = 0.01  # of half a range: at its border
_EXPONENTS = np.array([e for e in product(range(DEGREE + 1), repeat=len(PORT_WORDS)) if sum(e) <= DEGREE])
_LOGARITHMIC = np.array([word != "port_closing_angle" for word in PORT_WORDS])


@dataclass(frozen=True, kw_only=True)
class PortRange:
    """The ports over which a response is run: least and largest values, in the order of `PORT_WORDS`."""

    lower: Floats
    upper: Floats

    def coordinates(self, ports: Floats) -> Floats:
        """Ports (..., 4) as numbers from -1 to 1 over the range; those outside are held at its border."""
        low, high, at = _scaled(self.lower), _scaled(self.upper), _scaled(ports)
        return np.clip(2 * (at - low) / (high - low) - 1, -1.0, 1.0)

    def held(self, ports: Floats) -> tuple[str, ...]:
        """Words of the ports (..., 4) that lie at the border or beyond it somewhere."""
        furthest = np.abs(self.coordinates(ports)).reshape(-1, len(PORT_WORDS)).max(axis=0, initial=0.0)
        return tuple(word for word, at in zip(PORT_WORDS, furthest.tolist(), strict=True) if at > 1 - _NEAR)

    def ports(self, coordinates: Floats) -> Floats:
        """The ports at coordinates (..., 4)."""
        low, high = _scaled(self.lower), _scaled(self.upper)
        at = low + (coordinates + 1) / 2 * (high - low)
        return np.where(_LOGARITHMIC, np.exp(at), at)


def _scaled(ports: Floats) -> Floats:
    """Angles as they are, the others by their logarithm."""
    return np.where(_LOGARITHMIC, np.log(np.where(_LOGARITHMIC, ports, 1.0)), ports)


def port_range(geometry: ChamberGeometry, angle_reach: float, log_reach: Floats) -> PortRange:
    """A range about a drawing: so far either way in the closing angle [rad], so far in logarithms of the others."""
    middle = np.array([float(getattr(ports_of(geometry), word)) for word in PORT_WORDS])
    lower, upper = (
        np.append(middle[0] + side * angle_reach, middle[1:] * np.exp(side * log_reach)) for side in (-1, 1)
    )
    upper[0] = min(upper[0], geometry.outlet_opening_angle - CLEAR_OF_OUTLET)
    lower[0] = max(lower[0], geometry.port_opening_angle + geometry.port_opening_ramp)
    return PortRange(lower=lower, upper=upper)


@dataclass(frozen=True, kw_only=True)
class ChamberResponse:
    """Volumetric efficiency, work ratio and leakage ratio of one drawing over speed, pressure ratio and ports.

    `coefficients`, (terms, nodes), are those of the nodes of a map as `BlowerMap` has them, with the quantities in the
    order of `QUANTITIES`. `efficiency_error` is the root mean square of what the polynomial misses of the volumetric
    efficiency at a geometry that it was not fitted to, relative.
    """

    drawing: ChamberGeometry
    range: PortRange
    corrected_speeds: Floats
    pressure_ratios: Floats
    coefficients: Floats
    efficiency_error: float

    def nodes(self, ports: Floats) -> Floats:
        """Nodes of the maps of geometries whose ports are (geometries, 4)."""
        shape = (len(QUANTITIES), self.corrected_speeds.size, self.pressure_ratios.size, 4)
        return (_terms(self.range.coordinates(ports)) @ self.coefficients).reshape(len(ports), *shape)


def _terms(coordinates: Floats) -> Floats:
    """Products of Legendre polynomials up to the degree, (points, terms)."""
    one = np.polynomial.legendre.legvander(coordinates, DEGREE)
    return np.asarray(np.prod([one[:, k, _EXPONENTS[:, k]] for k in range(len(PORT_WORDS))], axis=0), float)


def _silent(_: float) -> None:
    """Nobody wants to know how far it is."""


def chamber_response(
    drawing: ChamberGeometry,
    ports: PortRange,
    corrected_speeds: Floats,
    pressure_ratios: Floats,
    advance: Callable[[float], None] = _silent,
) -> ChamberResponse:
    """Run the chambers over a range of ports and fit the polynomial; `advance` is told the share that is done.

    Raises
    ------
    ValueError
        If the walls exchange heat, which breaks the similarity, or so many runs do not settle that too few are left.
    """
    if drawing.heat_conductance > 0.0:
        raise ValueError(
            f"heat_conductance {drawing.heat_conductance:g} W/K: a fit takes the walls as without effect; set it to 0"
        )
    coordinates = _design()
    tables, sound = [], []
    for number, at in enumerate(ports.ports(coordinates)):
        table, settled = _run(drawing, at, corrected_speeds, pressure_ratios)
        tables.append(table)
        sound.append(settled)
        advance((number + 1) / len(coordinates))
    kept = np.array(sound)
    if kept.sum() < 1.5 * len(_EXPONENTS):
        raise ValueError(
            f"{int(kept.sum())} of {len(kept)} geometries deliver steadily at all speeds and pressure ratios: leave "
            "out the lowest speeds, or check the leakage and the ports of the drawing"
        )
    return _fitted(drawing, ports, corrected_speeds, pressure_ratios, coordinates[kept], np.array(tables)[kept])


def _design() -> Floats:
    """Geometries spread as a normal prior is, a little wider: what is likely is met best."""
    even = qmc.Sobol(len(PORT_WORDS), scramble=False).random_base2(8)[1 : GEOMETRIES + 1]
    return np.clip(DESIGN_SD * ndtri(even), -1.0, 1.0)


def _run(
    drawing: ChamberGeometry, at: Floats, corrected_speeds: Floats, pressure_ratios: Floats
) -> tuple[Floats, bool]:
    """Tables (quantities, speeds, ratios) of one geometry, and whether all of it may be used."""
    geometry = geometry_with(drawing, ChamberPorts(**dict(zip(PORT_WORDS, at, strict=True))))
    p1, T1 = MAP_INLET
    speeds = corrected_speeds[:, np.newaxis] * np.sqrt(T1)
    runs = run_chambers(geometry, p1, T1, p1 * pressure_ratios, speeds, MAP_STEPS, MAP_TOLERANCE)
    steady = np.all(runs.residual <= MAP_TOLERANCE)
    usable = bool(steady and np.all(runs.blower_volumetric_efficiency >= LEAST_EFFICIENCY))
    return np.array([getattr(runs, name) for name in QUANTITIES]), usable


def _fitted(
    drawing: ChamberGeometry,
    ports: PortRange,
    corrected_speeds: Floats,
    pressure_ratios: Floats,
    coordinates: Floats,
    tables: Floats,
) -> ChamberResponse:
    basis = _terms(coordinates)
    Q, triangle = np.linalg.qr(basis)
    nodes = np.array([map_nodes(corrected_speeds, pressure_ratios, table, spline_slopes) for table in tables])
    coefficients = np.linalg.solve(triangle, Q.T @ nodes.reshape(len(nodes), -1))
    efficiency = tables[:, 0].reshape(len(tables), -1)
    missed = (efficiency - Q @ (Q.T @ efficiency)) / (1 - np.sum(Q**2, axis=1))[:, None]  # each left out in turn
    return ChamberResponse(
        drawing=drawing,
        range=ports,
        corrected_speeds=corrected_speeds,
        pressure_ratios=pressure_ratios,
        coefficients=np.asarray(coefficients, float),
        efficiency_error=float(np.sqrt(np.mean((missed / efficiency) ** 2))),
    )

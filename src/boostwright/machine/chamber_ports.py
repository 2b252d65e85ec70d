"""The few numbers of a chamber blower that pulls can tell: its port, and the sum of its leakage."""

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.chamber import ChamberGeometry

Floats: TypeAlias = NDArray[np.float64]

PORT_WORDS = ("port_closing_angle", "port_inertance", "port_effective_area", "leakage_area")
"""In the order of `ChamberPorts`; `leakage_area` is that of tips and mesh together."""


@dataclass(frozen=True, kw_only=True)
class ChamberPorts:
    """Port and leakage of a chamber blower, one number or one number a draw each.

    No pull tells the tips' leakage from the mesh's, nor the ramps, the dead volume or the walls' heat from the rest:
    `leakage_area` is the sum of tips and mesh, and everything else stays as the drawing has it.
    """

    port_closing_angle: Floats
    port_inertance: Floats
    port_effective_area: Floats
    leakage_area: Floats

    def draw(self, number: int) -> "ChamberPorts":
        """One of the draws."""
        return ChamberPorts(**{word: np.asarray(getattr(self, word)[number], float) for word in PORT_WORDS})


def ports_of(geometry: ChamberGeometry) -> ChamberPorts:
    """Port and leakage of a drawing."""
    leakage = geometry.tip_leakage_area + geometry.mesh_leakage_area
    angle, inertance, area = geometry.port_closing_angle, geometry.port_inertance, geometry.port_effective_area
    return ChamberPorts(
        port_closing_angle=np.asarray(angle, float),
        port_inertance=np.asarray(inertance, float),
        port_effective_area=np.asarray(area, float),
        leakage_area=np.asarray(leakage, float),
    )


def geometry_with(geometry: ChamberGeometry, ports: ChamberPorts) -> ChamberGeometry:
    """The drawing with other ports and another sum of leakage, shared between tips and mesh as the drawing has it."""
    factor = float(ports.leakage_area) / (geometry.tip_leakage_area + geometry.mesh_leakage_area)
    return replace(
        geometry,
        port_closing_angle=float(ports.port_closing_angle),
        port_inertance=float(ports.port_inertance),
        port_effective_area=float(ports.port_effective_area),
        tip_leakage_area=geometry.tip_leakage_area * factor,
        mesh_leakage_area=geometry.mesh_leakage_area * factor,
    )

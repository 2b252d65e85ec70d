"""The chamber blower of a setup as its pulls leave it: every set of parameters that fits, never the best one alone."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.priors import Points
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_ports import PORT_WORDS, ChamberPorts, geometry_with

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class CalibratedChamber:
    """Draws of one setup's chamber blower, with the rest of its machine as each draw has it.

    `drawing` is the geometry around which was fitted. `points`, (draws, speeds), is the table of the match with the
    columns of `PORT_WORDS` besides: ports and leakage are the same at all speeds of a draw. Its `inlet_area` is the
    loss area upstream of the blower, its `delivery_factor` multiplies what the chambers deliver, and its
    `gas_work_factor` their work. A prediction is made with all draws; its spread is the prediction's.
    """

    setup: str
    drawing: ChamberGeometry
    points: Points

    @property
    def draw_count(self) -> int:
        """How many sets of parameters there are."""
        return len(self.points)

    @property
    def ports(self) -> ChamberPorts:
        """Port and leakage of every draw, each of shape (draws,)."""
        return ChamberPorts(**{word: np.asarray(self.points[word][:, 0], float) for word in PORT_WORDS})

    def geometries(self) -> tuple[ChamberGeometry, ...]:
        """The whole geometry of every draw."""
        ports = self.ports
        return tuple(geometry_with(self.drawing, ports.draw(number)) for number in range(self.draw_count))

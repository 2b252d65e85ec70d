"""What a pulley asks of fuel system, belt and inlet: the most of each over speeds and places, with its range."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.build import Build
from boostwright.machine.operating_point import OperatingPoints
from boostwright.studies.drawn_operation import DrawnOperation
from boostwright.studies.limit_curves import CONFIDENCE, Estimate


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """The most that is asked of one part: its name, its dimension, and the value in SI with its range."""

    name: str
    dimension: str
    greatest: Estimate


def requirements(build: Build, operations: Sequence[DrawnOperation]) -> tuple[Requirement, ...]:
    """What a build asks for at its hardest, over all speeds of the places in which it works."""
    density = build.fuel_system.fuel.fuel_density
    asked: list[tuple[str, str, Callable[[OperatingPoints], NDArray[np.float64]]]] = [
        ("fuel flow", "volume_flow", lambda operating: operating["fuel_mass_flow"] / density),
        ("fuel mass flow", "mass_flow", lambda operating: operating["fuel_mass_flow"]),
        ("air mass flow", "mass_flow", lambda operating: operating["air_mass_flow"]),
        ("manifold pressure", "pressure", lambda operating: operating["manifold_pressure"]),
        ("blower outlet temperature", "temperature", lambda operating: operating["blower_outlet_temperature"]),
        ("blower drive power", "power", lambda operating: operating["blower_drive_power"]),
    ]
    if (ribs := build.drive.ribs) is not None:
        asked.append(("belt power per rib", "power", lambda operating: operating["blower_drive_power"] / ribs))
    return tuple(
        Requirement(name=name, dimension=dimension, greatest=_greatest(operations, values_of))
        for name, dimension, values_of in asked
    )


def _greatest(
    operations: Sequence[DrawnOperation], values_of: Callable[[OperatingPoints], NDArray[np.float64]]
) -> Estimate:
    """The most over speeds and places: of the value that is printed, and draw by draw for its range."""
    value = max(float(np.nanmax(values_of(operation.central))) for operation in operations)
    drawn = [np.nanmax(operation.spread(values_of(operation.draws)), axis=1) for operation in operations]
    tail = (1.0 - CONFIDENCE) / 2.0
    lower, upper = np.nanquantile(np.max(drawn, axis=0), [tail, 1.0 - tail])
    return Estimate(value=value, lower=float(lower), upper=float(upper))

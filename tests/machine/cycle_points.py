"""Random engines and conditions for checks of the cycle, and the reference solutions that are kept beside them."""

import csv
import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.stats import qmc

from boostwright.machine.engine import CycleConditions, Engine, engine_with_defaults
from boostwright.physics.fuels import fuel_named

REFERENCE = Path(__file__).with_name("cycle_reference.csv")
FUELS = ("E0", "E85", "methanol", "methane")
DEGREE = math.pi / 180
RANGES = {  # in the units of the engine, angles in degrees, speed per minute
    "compression_ratio": (8.0, 13.0),
    "bore_stroke_ratio": (0.85, 1.2),
    "intake_opening": (315.0, 375.0),
    "intake_closing": (565.0, 625.0),
    "exhaust_opening": (105.0, 150.0),
    "exhaust_closing": (350.0, 400.0),
    "intake_discharge_coefficient": (0.6, 0.8),
    "burn_centre": (4.0, 20.0),
    "burn_duration": (18.0, 38.0),
    "wall_heat_factor": (0.7, 1.3),
    "engine_speed": (2000.0, 7500.0),
    "manifold_pressure": (0.9e5, 2.8e5),
    "exhaust_pressure": (1.0e5, 1.9e5),
    "charge_temperature": (295.0, 350.0),
    "excess_air_ratio": (0.78, 1.15),
    "evaporated_share": (0.1, 0.6),
    "humidity_ratio": (0.0, 0.02),
}
ANGLES = ("intake_opening", "intake_closing", "exhaust_opening", "exhaust_closing", "burn_centre", "burn_duration")
OUTCOMES = ("imep", "gross_imep", "trapped_mass", "peak_cylinder_pressure", "residual_share")


@dataclass(frozen=True, kw_only=True)
class PointSet:
    """Engines and conditions with one fuel, and what the reference says of them where it is known."""

    engine: Engine
    conditions: CycleConditions
    outcomes: dict[str, np.ndarray]


def random_rows(count):
    """One row a point: fuel, then the values in the order of `RANGES`."""
    sample = qmc.scale(qmc.Sobol(len(RANGES), seed=20).random(count), *np.array(list(RANGES.values())).T)
    return [[FUELS[i % len(FUELS)], *map(float, np.round(row, 6))] for i, row in enumerate(sample)]


def point_set(rows, outcomes):
    """Points of one fuel from rows as `random_rows` gives them."""
    columns = dict(zip(RANGES, np.array([row[1:] for row in rows]).T, strict=True))
    columns |= {name: columns[name] * DEGREE for name in ANGLES}
    columns["engine_speed"] = columns["engine_speed"] / 60
    engine = engine_with_defaults(4.2e-3, 6, columns["compression_ratio"])
    names = [name for name in RANGES if hasattr(engine, name)]
    return PointSet(
        engine=replace(engine, **{name: columns[name] for name in names}),
        conditions=CycleConditions(
            fuel=fuel_named(rows[0][0]),
            octane_number=98.0,
            spark_retard=0.0,
            **{name: columns[name] for name in RANGES if name not in names},
        ),
        outcomes=outcomes,
    )


def reference_points():
    """The kept points with their reference solutions, fuel by fuel."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        _, _, *rows = csv.reader(file)  # what the file is, and the names of the columns
    for fuel in FUELS:
        own = [row for row in rows if row[0] == fuel]
        values = np.array([[float(x) for x in row[1:]] for row in own])
        outcomes = dict(zip(OUTCOMES, values[:, len(RANGES) :].T, strict=True))
        yield point_set([[fuel, *row] for row in values[:, : len(RANGES)]], outcomes)

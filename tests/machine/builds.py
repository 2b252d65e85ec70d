"""Builds for the tests: the workboat six and what can be changed of it."""

from typing import Any

import numpy as np

from boostwright.machine.build import Build, build_of
from boostwright.machine.operating_point import Ambient, OperatingPoints, build_points, matched
from boostwright.records.build_file import BuildFile, build_from_document

DRY_AIR = Ambient(ambient_pressure=100e3, air_temperature=298.15, humidity_ratio=0.0)
SPEEDS = np.arange(2000.0, 5801.0, 200.0) / 60.0


def document(**changes: dict[str, Any]) -> dict[str, Any]:
    """The document of a build, table by table; a change replaces keys of its table, and `None` takes a key away."""
    tables: dict[str, dict[str, Any]] = {
        "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
        "blower": {"displacement": "1.6 L", "kind": "roots", "speed_limit": "18000 rpm"},
        "drive": {"driving_pulley": "190 mm", "driven_pulley": "68 mm", "ribs": 8},
        "inlet": {"throttle_bore": "105 mm"},
        "cooler": {"effectiveness": 0.8, "coolant_temperature": "38 degC"},
        "fuel": {"blend": "E10", "excess_air_ratio": 0.86},
    }
    for table, keys in changes.items():
        tables.setdefault(table, {}).update(keys)
        tables[table] = {key: value for key, value in tables[table].items() if value is not None}
    return tables


def build_file(**changes: dict[str, Any]) -> BuildFile:
    return build_from_document(document(**changes), "build.toml")


def build(**changes: dict[str, Any]) -> Build:
    return build_of(build_file(**changes))


def match_of(build: Build, speeds: Any = SPEEDS, ambient: Ambient = DRY_AIR, **columns: Any) -> OperatingPoints:
    """A build matched, with columns of its points set to other values."""
    points = build_points(build, speeds, ambient)
    for word, values in columns.items():
        points[word] = values
    return matched(points)

"""Two setups of the scenario engine as points of the match, and curves that the chain itself makes of them."""

import numpy as np

from boostwright.inference.calibrate import (
    LOGARITHMIC,
    TYPICAL_SENSOR_ERRORS,
    CalibrationData,
    calibration_data,
    sensor_covariance,
)
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import ambient_air, build_points, matched
from boostwright.records.build_file import build_from_document

SPEEDS = np.linspace(3000, 5800, 11) / 60
ALL_CHANNELS = (
    "torque",
    "manifold_pressure",
    "charge_temperature",
    "blower_inlet_pressure",
    "air_mass_flow",
    "rotor_speed",
)
BUILD = {
    "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
    "blower": {"displacement": "1.6 L", "kind": "roots", "speed_limit": "18000 rpm"},
    "drive": {"ratio": 2.75},
    "cooler": {},
}


def baseline_points():
    """Points of the scenario build at 25 degC and 1000 hPa."""
    build = build_of(build_from_document(BUILD, "scenario"))
    return build_points(build, SPEEDS, ambient_air(1e5, 298.15, 0.5))


def curves_of(baseline, candidate, generator=None, size=1.0):
    """Curves of both setups, (2, speeds) a channel, with the usual errors if a generator is given."""
    states = matched(np.stack([baseline, candidate])).states
    curves = {channel: np.array(states[channel]) for channel in TYPICAL_SENSOR_ERRORS}
    for channel, errors in TYPICAL_SENSOR_ERRORS.items() if generator else ():
        root = size * np.linalg.cholesky(sensor_covariance(errors, np.asarray(baseline["engine_speed"], float)))
        noise = (root @ generator.standard_normal(len(root))).reshape(2, -1)
        curves[channel] = curves[channel] * np.exp(noise) if channel in LOGARITHMIC else curves[channel] + noise
    return curves


def data_of(baseline, candidate, curves, channels) -> CalibrationData:
    """Calibration data of some of the curves."""
    return calibration_data(baseline, candidate, {name: curves[name] for name in channels}, TYPICAL_SENSOR_ERRORS)

"""Synthetic logs of known truth, for the tests of the reduction."""

from collections.abc import Mapping
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from boostwright.records.pull import RawPull, Weather

Floats = NDArray[np.float64]

RPM = 1 / 60
WEATHER = Weather(barometer=97e3, air_temperature=301.15, relative_humidity=0.45)


def true_torque(engine_speed: Floats) -> Floats:
    """An invented full-load curve [N*m] with its peak near 4000 rpm."""
    n = engine_speed * 60
    return 620.0 - 60.0 * ((n - 4000) / 2000) ** 2 + 12.0 * np.sin(n / 350)


def raw_pull(channels: Mapping[str, Floats], weather: Weather | None = WEATHER, soak: float | None = None) -> RawPull:
    return RawPull(
        file="pulls/03.csv",
        setup="cast",
        session="2026-03-14",
        installation=1,
        started=datetime(2026, 3, 14, 9, 12),
        elapsed=420.0,
        weather=weather,
        soak_temperature=soak,
        channels=dict(channels),
    )


def sweep_channels(
    low: float = 2500.0, high: float = 6000.0, rate: float = 300.0, sampling: float = 100.0, held: float = 1.0
) -> dict[str, Floats]:
    """A clean log: speed held at full throttle, swept at a steady rate, then throttle shut and speed falling."""
    swept, after = (high - low) / rate, 1.5
    t = np.arange(0.0, held + swept + after, 1 / sampling)
    n = np.clip(low + rate * (t - held), low, high)
    n = np.where(t > held + swept, high - 400.0 * (t - held - swept), n)
    open_throttle = t <= held + swept
    N = n * RPM
    torque = np.where(open_throttle, true_torque(N), -40.0)
    return {
        "time": t,
        "engine_speed": N,
        "torque": torque,
        "power": 2 * np.pi * N * torque,
        "manifold_pressure": np.where(open_throttle, 150e3 + 4e3 * (n - 2500) / 3500, 40e3),
        "throttle_position": np.where(open_throttle, 0.99, 0.0),
        "charge_temperature": 310.0 + 15.0 * (n - 2500) / 3500,
        "rotor_speed": 2.794 * N,
    }


def with_noise(channels: Mapping[str, Floats], generator: np.random.Generator) -> dict[str, Floats]:
    """The same log as a logger writes it: jitter of the toothed wheel, noise of torque meter and sensors."""
    size = channels["time"].size
    noisy = dict(channels)
    noisy["engine_speed"] = channels["engine_speed"] + 6 * RPM * generator.standard_normal(size)
    noisy["torque"] = channels["torque"] * (1 + 0.01 * generator.standard_normal(size))
    noisy["power"] = 2 * np.pi * noisy["engine_speed"] * noisy["torque"]
    noisy["manifold_pressure"] = channels["manifold_pressure"] + 300.0 * generator.standard_normal(size)
    noisy["throttle_position"] = channels["throttle_position"] + 0.004 * generator.standard_normal(size)
    noisy["rotor_speed"] = channels["rotor_speed"] + 15 * RPM * generator.standard_normal(size)
    return noisy

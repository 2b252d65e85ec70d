"""An invented day on a dyno: the machine model with numbers that nobody measured, and what a day brings on top.

The scripts that make the examples share this; each states the truth of its own example. On the truth lie the level of
each pull, heat soak, weather, torque ripple, a shape of each pull, sensor noise, a throttle that takes its time to open
and, where a pull says so, a belt that slips.
"""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from boostwright.machine.build import Build, build_of
from boostwright.machine.operating_point import OperatingPoints, ambient_air, build_points, matched
from boostwright.records.build_file import build_from_document

Hidden = Mapping[str, Mapping[str, Any]]
Log = dict[str, np.ndarray]


@dataclass(frozen=True, kw_only=True)
class Pull:
    """One pull of the day; `belt_slip` is the share that the belt loses at the top of the pull."""

    file: str
    clock: str
    barometer_hpa: float
    air_degc: float
    humidity: float
    soak_degc: float
    belt_slip: float = 0.0

    @property
    def setup(self) -> str:
        """The setup, as the file's name says it."""
        return self.file.removesuffix(Path(self.file).suffix).split("-", 1)[1]


Writer = Callable[[Path, Log, Pull], None]


@dataclass(frozen=True, kw_only=True)
class Day:
    """A stand with an engine on it: how a pull runs there, how much it scatters, and the truth behind it.

    `hidden` is what the build files do not tell and both setups share, `setups` what each setup really is; both are
    tables of a build file. Scatter is a standard deviation of the logarithm of torque.
    """

    builds: Path
    seed: int
    rate: float  # samples a second
    start_rpm: float
    end_rpm: float
    sweep_rpm_per_s: float
    inertia: float  # kg m2, what the stand's torque cell does not see
    excess_air_ratio: float
    warming_rpm: tuple[float, float]  # between these the coolant of a pull warms by 4 K
    slip_rpm: float  # where a slipping belt has lost half of what it loses
    hidden: Hidden
    setups: Mapping[str, Hidden]
    level_sd: float = 0.003
    shape_sd: float = 0.0022
    ripple_sd: float = 0.0035
    torque_noise: float = 2.2  # N m


def build_in_truth(day: Day, setup: str) -> Build:
    """The build of a setup as it really was."""
    document = tomllib.loads((day.builds / f"{setup}.toml").read_text(encoding="utf-8"))
    for table, numbers in (*day.hidden.items(), *day.setups[setup].items()):
        document[table] = document.get(table, {}) | numbers
    return build_of(build_from_document(document, setup))


def truth(day: Day, pull: Pull, rpm, slipping) -> OperatingPoints:
    """The operating points of a pull as they really were: the machine model with its hidden numbers."""
    air = ambient_air(100.0 * pull.barometer_hpa, pull.air_degc + 273.15, pull.humidity)
    points = build_points(build_in_truth(day, pull.setup), np.maximum(rpm, 0.6 * day.start_rpm) / 60.0, air)
    low, high = day.warming_rpm
    points["belt_slip"] += slipping
    points["coolant_temperature"] += 0.2 * (pull.soak_degc - 30.0)
    points["coolant_temperature"] += 4.0 * np.clip((rpm - low) / (high - low), 0, 1) ** 1.3
    return matched(points)


def true_gain(day: Day, baseline: Pull, candidate: Pull, rpm) -> np.ndarray:
    """Relative gain in power of one setup over the other in the baseline's weather, without slip or scatter."""
    there = Pull(**{**baseline.__dict__, "file": candidate.file})
    return truth(day, there, rpm, 0.0)["brake_power"] / truth(day, baseline, rpm, 0.0)["brake_power"] - 1.0


def correlated(grid, covariance, rpm, generator, size):
    """Scatter along engine speed with this correlation on a grid of speeds."""
    return size * np.interp(rpm, grid, np.linalg.cholesky(covariance) @ generator.standard_normal(grid.size))


def ripple(day: Day, rpm, generator):
    """Torque ripple inside a pull: correlated over about 80 rev/min."""
    grid = np.arange(day.start_rpm - 200.0, day.end_rpm + 300.0, 8.0)
    lag = np.abs(grid[:, None] - grid[None, :]) / 80.0
    return correlated(grid, np.exp(-lag) + 1e-9 * np.eye(grid.size), rpm, generator, day.ripple_sd)


def bend(day: Day, rpm, generator):
    """Smooth change of a pull's shape: correlated over about 700 rev/min."""
    grid = np.arange(day.start_rpm - 200.0, day.end_rpm + 300.0, 100.0)
    lag = (grid[:, None] - grid[None, :]) / 700.0
    return correlated(grid, np.exp(-0.5 * lag**2) + 1e-6 * np.eye(grid.size), rpm, generator, day.shape_sd)


def log_of(day: Day, pull: Pull, generator) -> Log:
    """The channels of one pull as the sensors saw them, in rev/min, N m, kPa, degC."""
    time = np.arange(0.0, 1.2 + (day.end_rpm - day.start_rpm) / day.sweep_rpm_per_s, 1.0 / day.rate)
    rpm = day.start_rpm + day.sweep_rpm_per_s * np.clip(time - 0.6, 0.0, None)
    rpm = np.minimum(rpm, day.end_rpm) - 400.0 * np.clip(time - time[-1] + 0.5, 0.0, None)
    throttle = np.clip(np.minimum((time + 0.05) / 0.5, (time[-1] - time) / 0.3 + 0.05), 0.12, 1.0)
    slipping = pull.belt_slip / (1.0 + np.exp(-(rpm - day.slip_rpm) / 90.0))
    filling = 1.0 - np.exp(-np.clip(time, 0.0, None) / 0.18)

    found = truth(day, pull, rpm, slipping)
    soak = -0.0009 * (pull.soak_degc - pull.air_degc - 9.0)
    level = day.level_sd * generator.standard_normal() + soak
    shape = bend(day, rpm, generator) + ripple(day, rpm, generator)
    torque = found["torque"] * np.exp(level + shape) * (0.25 + 0.75 * filling * throttle)
    torque -= day.inertia * np.gradient(rpm, time) * 2.0 * np.pi / 60.0
    torque += day.torque_noise * generator.standard_normal(time.size)

    barometer = pull.barometer_hpa / 10.0
    charged = found["manifold_pressure"] / 1e3 * np.exp(0.25 * level + 0.1 * shape)
    manifold = 0.6 * barometer + (charged - 0.6 * barometer) * filling * throttle
    depression = (barometer - found["blower_inlet_pressure"] / 1e3) * filling * throttle
    return {
        "time": time,
        "engine_speed": rpm * (1.0 + 0.0008 * generator.standard_normal()) + 2.5 * generator.standard_normal(time.size),
        "torque": torque,
        "manifold": manifold + 0.25 * generator.standard_normal(time.size),
        "inlet": barometer - depression + 0.06 * generator.standard_normal(time.size),
        "charge": found["charge_temperature"] - 273.15 + 0.4 * generator.standard_normal(time.size),
        "rotor_speed": 60.0 * found["rotor_speed"] + 6.0 * generator.standard_normal(time.size),
        "excess_air_ratio": day.excess_air_ratio + 0.004 * generator.standard_normal(time.size),
        "throttle": 100.0 * throttle,
    }


def write_day(day: Day, pulls: Sequence[Pull], writers: Mapping[str, Writer], folder: Path, campaign: str) -> None:
    """Write every pull by the writer of its ending, and the campaign file."""
    (folder / "pulls").mkdir(parents=True, exist_ok=True)
    for pull, seed in zip(pulls, np.random.SeedSequence(day.seed).spawn(len(pulls)), strict=True):
        path = folder / "pulls" / pull.file
        writers[path.suffix](path, log_of(day, pull, np.random.default_rng(seed)), pull)
    (folder / "campaign.toml").write_text(campaign, encoding="utf-8")


def lines_of(columns: Mapping[str, tuple[np.ndarray, int]], between: str, decimal: str) -> list[str]:
    """A header and the rows of a text log; each column has its values and how many decimals it prints."""
    printed = ([f"{x:.{digits}f}".replace(".", decimal) for x in values] for values, digits in columns.values())
    return [between.join(columns), *(between.join(row) for row in zip(*printed, strict=True))]

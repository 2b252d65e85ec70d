"""Makes the campaigns of `examples/workboat-family`: invented data, seeded, from a known truth.

Five engines of the invented workboat family, each pulled with its cast inlet elbow and with a machined one by another
shop. The truth: the machined elbow brings 0.2 % and 10 % more for every kg/s of air that the engine takes, with a
spread of 0.5 % from engine to engine. On top lies what a dyno day brings: the level of each pull and each installation,
drift, ripple and noise.

    python examples/make_workboat_family.py [FOLDER]
"""

import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

SEED = 20260502
RATE = 10.0  # samples a second
SWEEP_RPM_PER_S = 200.0
ORDER = "ABBAAB"
NAMES = {"A": "cast", "B": "machined"}


@dataclass(frozen=True, kw_only=True)
class Engine:
    """One engine of the family and the day on which it was pulled."""

    name: str
    words: str
    litres: float
    boost_kpa: float
    range_rpm: tuple[int, int]
    stand: str
    started: datetime
    barometer_hpa: float
    air_degc: float


FAMILY = (
    Engine(
        name="four", words="2.8-litre four", litres=2.8, boost_kpa=42.0, range_rpm=(2800, 5600), stand="harbour bench",
        started=datetime(2025, 9, 16, 8, 40), barometer_hpa=1011.0, air_degc=18.0,
    ),
    Engine(
        name="five", words="3.5-litre five", litres=3.5, boost_kpa=55.0, range_rpm=(2800, 5700), stand="north bench",
        started=datetime(2025, 11, 4, 9, 5), barometer_hpa=998.0, air_degc=14.0,
    ),
    Engine(
        name="six", words="4.2-litre six", litres=4.2, boost_kpa=48.0, range_rpm=(3000, 5800), stand="bench 2",
        started=datetime(2026, 3, 20, 9, 10), barometer_hpa=1006.0, air_degc=21.0,
    ),
    Engine(
        name="eight", words="5.6-litre eight", litres=5.6, boost_kpa=60.0, range_rpm=(2600, 5400), stand="bench 2",
        started=datetime(2026, 3, 27, 10, 0), barometer_hpa=1002.0, air_degc=23.0,
    ),
    Engine(
        name="big-six", words="6.4-litre six", litres=6.4, boost_kpa=66.0, range_rpm=(2400, 5000), stand="quay bench",
        started=datetime(2026, 4, 15, 8, 30), barometer_hpa=1014.0, air_degc=16.0,
    ),
)  # fmt: skip


def air_flow(engine: Engine, rpm):
    """Air into the engine [kg/s] from displacement, speed and manifold density, with a filling of 0.97."""
    pressure = 100.0 * engine.barometer_hpa + 1e3 * engine.boost_kpa * (0.75 + 0.25 * rpm / engine.range_rpm[1])
    return 0.97 * pressure / (287.05 * 330.0) * engine.litres * 1e-3 * rpm / 120.0


def ripple(rpm, generator, size):
    """Torque ripple inside a pull: correlated over about 80 rev/min."""
    grid = np.arange(1800.0, 6400.0, 16.0)
    lag = np.abs(grid[:, None] - grid[None, :]) / 80.0
    values = np.linalg.cholesky(np.exp(-lag) + 1e-9 * np.eye(grid.size)) @ generator.standard_normal(grid.size)
    return size * np.interp(rpm, grid, values)


def log_of(engine: Engine, gain: float, level: float, generator) -> str:
    """One pull as a logger wrote it."""
    first, last = engine.range_rpm[0] - 350.0, engine.range_rpm[1] + 350.0
    time = np.arange(0.0, (last - first) / SWEEP_RPM_PER_S + 1.6, 1.0 / RATE)
    rpm = np.clip(first + SWEEP_RPM_PER_S * (time - 0.8), first, last)
    throttle = np.clip(np.minimum(time / 0.5, (time[-1] - time) / 0.3), 0.12, 1.0)
    flow = air_flow(engine, rpm)
    bow = -0.12 * (rpm / 4200.0 - 1.0) ** 2
    relative = level + gain + bow + ripple(rpm, generator, 0.003) + 0.003 * generator.standard_normal(time.size)
    torque = 1.36e6 * flow / (rpm / 60.0) / (2.0 * np.pi) * np.exp(relative) * throttle
    columns = {
        "Time [s]": (time, 1),
        "Engine speed [rpm]": (rpm + 2.0 * generator.standard_normal(time.size), 0),
        "Torque [N*m]": (torque, 1),
        "MAP [kPa abs]": (flow * np.exp(0.5 * gain + 0.5 * level) / air_flow(engine, rpm) * manifold(engine, rpm), 1),
        "Air flow [kg/s]": (flow * np.exp(0.8 * (gain + level)) * throttle, 4),
        "Throttle [%]": (100.0 * throttle, 0),
    }
    rows = zip(*([f"{x:.{digits}f}" for x in values] for values, digits in columns.values()), strict=True)
    return "\n".join([",".join(columns), *(",".join(row) for row in rows), ""])


def manifold(engine: Engine, rpm):
    """Manifold pressure [kPa abs]: the boost named at the top of the range, three quarters of it at rest."""
    return engine.barometer_hpa / 10.0 + engine.boost_kpa * (0.75 + 0.25 * rpm / engine.range_rpm[1])


HEAD = """# Invented data: no such boat, engine, shop or dyno exists. Made by examples/make_workboat_family.py.
title = "Machined inlet elbow against the cast one, {engine.words}"
baseline = "cast"
candidate = "machined"
speed_range_rpm = [{engine.range_rpm[0]}, {engine.range_rpm[1]}]
correction = "none"
units = "metric"

[stand]
name = "{engine.stand}"
kind = "engine"

[setups.cast]
[setups.machined]
"""

ENTRY = """
[[pulls]]
file = "pulls/{file}"
setup = "{setup}"
started = {started}
barometer = "{engine.barometer_hpa} hPa"
air_temperature = "{engine.air_degc} degC"
relative_humidity = 0.55
"""


def write_campaign(engine: Engine, folder: Path, generator) -> None:
    """One engine's day: its campaign file and its pulls."""
    (folder / "pulls").mkdir(parents=True, exist_ok=True)
    middle = np.linspace(*engine.range_rpm, 50)
    gain = 0.002 + 0.1 * float(air_flow(engine, middle).mean()) + 0.005 * generator.standard_normal()
    text, clock, installed = HEAD.format(engine=engine), engine.started, 0.0
    for number, letter in enumerate(ORDER):
        changed = number == 0 or letter != ORDER[number - 1]
        installed = 0.0025 * generator.standard_normal() if changed else installed
        clock += timedelta(minutes=0 if number == 0 else 36 if changed else 7)
        drift = -0.001 * (clock - engine.started).total_seconds() / 3600.0
        level = installed + drift + 0.005 * generator.standard_normal()
        file = f"{number + 1:02d}-{NAMES[letter]}.csv"
        log = log_of(engine, gain if letter == "B" else 0.0, level, generator)
        (folder / "pulls" / file).write_text(log, encoding="utf-8")
        text += ENTRY.format(engine=engine, file=file, setup=NAMES[letter], started=clock.isoformat())
    (folder / "campaign.toml").write_text(text, encoding="utf-8")


def main() -> None:
    """Write every campaign of the family."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "workboat-family"
    for engine, seed in zip(FAMILY, np.random.SeedSequence(SEED).spawn(len(FAMILY)), strict=True):
        write_campaign(engine, folder / engine.name, np.random.default_rng(seed))


if __name__ == "__main__":
    main()

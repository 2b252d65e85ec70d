"""Reduced pulls with a known truth, for tests of the studies: invented data."""

from dataclasses import replace

import numpy as np

from boostwright.records.weather import Weather
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.compare import Question

SPEED_RANGE = (50.0, 95.0)
CENTRES = np.linspace(51.0, 94.0, 22)
WEATHER = Weather(barometer=100_500.0, air_temperature=296.0, relative_humidity=0.5)
QUESTION = Question(
    title="elbow",
    baseline="cast",
    candidate="machined",
    quantity="torque",
    speed_range=SPEED_RANGE,
    units="metric",
)


def pull(number: int, setup: str, generator: np.random.Generator, gain=0.0, **changes) -> ReducedPull:
    """One pull of a smooth torque curve with a level, a bend and noise of its own."""
    shape = 540.0 * np.exp(-0.05 * ((CENTRES - 72.0) / 25.0) ** 2)
    level = 0.004 * generator.standard_normal() + 0.002 * generator.standard_normal() * (CENTRES - 72.0) / 25.0
    noise = 0.003 * generator.standard_normal(CENTRES.size)
    torque = shape * np.exp(level + noise + (gain if setup != "cast" else 0.0))
    made = ReducedPull(
        file=f"pulls/{number:02d}.csv",
        setup=setup,
        session="2026-03-14",
        installation=number,
        elapsed=900.0 * number,
        weather=WEATHER,
        soak=8.0,
        engine_speed=CENTRES,
        values={
            "torque": torque,
            "power": torque * 2 * np.pi * CENTRES,
            "manifold_pressure": 165e3 * np.exp(0.5 * (np.log(torque / shape))),
            "charge_temperature": 320.0 + 0.2 * (CENTRES - 50.0) + 0.3 * generator.standard_normal(CENTRES.size),
        },
        counts=np.full(CENTRES.size, 18),
        correction_rule="none",
        correction_factor=1.0,
        outside_range=(),
        sweep_rate=5.5,
        masked={"throttle not fully open": 12},
        faults=(),
    )
    return replace(made, **changes)


def campaign(order: str, gain=0.0, seed: int = 1) -> list[ReducedPull]:
    """Pulls in an order such as ABBA; a setup is installed anew whenever the letter changes."""
    generator = np.random.default_rng(seed)
    names = {"A": "cast", "B": "machined", "C": "polished"}
    pulls, installation = [], 0
    for number, letter in enumerate(order):
        installation += number == 0 or letter != order[number - 1]
        pulls.append(pull(number, names[letter], generator, gain, installation=installation))
    return pulls

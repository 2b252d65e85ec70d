"""One comparison of 3+3 pulls of 10 s at 100 Hz with 10 channels, from CSV to JSON, part by part.

Each part is reported as a ratio to Polars merely parsing the same files in the same process, best of several rounds.

    python -m benchmarks.compare_speed
"""

import json
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from benchmarks.timing import best
from boostwright.publish.compare_figure import compare_figure
from boostwright.publish.figure_style import svg
from boostwright.records.campaign import read_campaign
from boostwright.records.pull import read_pulls
from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReductionSettings
from boostwright.studies.compare import compare_setups, question_of

ROUNDS = 7
HEAD = """title = "benchmark"
baseline = "a"
candidate = "b"
speed_range_rpm = [3000, 5800]
[setups.a]
[setups.b]
"""
ENTRY = """[[pulls]]
file = "{i}.csv"
setup = "{setup}"
started = 2026-03-14T09:{minute:02d}:00
barometer = "1006 hPa"
air_temperature = "24 degC"
relative_humidity = 0.5
"""


def write_campaign(folder: Path) -> list[Path]:
    """Invented pulls, 1000 rows of 10 channels each, in the order ABBAAB."""
    generator = np.random.default_rng(7)
    text, files = HEAD, []
    for i, setup in enumerate("abbaab"):
        time_s = np.arange(0.0, 10.0, 0.01)
        rpm = 2600.0 + 350.0 * time_s
        level = (1.03 if setup == "b" else 1.0) * (1 + 0.004 * generator.standard_normal())
        noise = generator.standard_normal((8, time_s.size))
        frame = pl.DataFrame({
            "time [s]": time_s,
            "engine_speed [rpm]": rpm + noise[0],
            "torque [N*m]": level * (540 - 2e-5 * (rpm - 4200) ** 2) + noise[1],
            "manifold_pressure [kPa abs]": 165 * level + 0.2 * noise[2],
            "blower_inlet_pressure [kPa abs]": 98 + 0.05 * noise[3],
            "charge_temperature [degC]": 45 + 0.2 * noise[4],
            "rotor_speed [rpm]": 2 * rpm + 5 * noise[5],
            "excess_air_ratio": 0.86 + 0.003 * noise[6],
            "throttle_position [%]": np.full(time_s.size, 100.0),
            "coolant_temperature [degC]": 35 + 0.1 * noise[7],
        })  # fmt: skip
        path = folder / f"{i}.csv"
        frame.with_columns(pl.all().round(4)).write_csv(path)
        files.append(path)
        text += ENTRY.format(i=i, setup=setup, minute=5 * i)
    (folder / "campaign.toml").write_text(text)
    return files


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = write_campaign(folder)
        reference = best(lambda: [pl.read_csv(file) for file in files], ROUNDS, time.perf_counter)
        campaign = read_campaign(folder)
        raw = read_pulls(campaign)
        settings = ReductionSettings(speed_range=campaign.speed_range)
        pulls = [reduce_pull(pull, settings) for pull in raw]
        question = question_of(campaign, "power")
        result = compare_setups(pulls, question)
        parts = {
            "read": best(lambda: read_pulls(read_campaign(folder)), ROUNDS, time.perf_counter),
            "reduce": best(lambda: [reduce_pull(pull, settings) for pull in raw], ROUNDS, time.perf_counter),
            "infer": best(lambda: compare_setups(pulls, question), ROUNDS, time.perf_counter),
            "write JSON": best(lambda: json.dumps(result.as_json()), ROUNDS, time.perf_counter),
            "draw": best(lambda: svg(compare_figure(result)), ROUNDS, time.perf_counter),
        }
    print(f"reference: Polars parses the 6 files in {1e3 * reference:.2f} ms")
    for part, seconds in (parts | {"all": sum(parts.values())}).items():
        print(f"{part:>12}: {seconds / reference:8.2f} times the reference ({1e3 * seconds:.1f} ms)")


if __name__ == "__main__":
    main()

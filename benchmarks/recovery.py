"""How often the printed intervals hold the truth, and how large the errors are, on campaigns of a richer engine.

    python benchmarks/recovery.py --campaigns 150 --first-seed 1000 --write docs/recovery.md

Three logger cases: torque and boost only; charge temperature and inlet pressure too; air flow and rotor speed as well.
"""

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.synthetic_engine import CAUSES as TRUE_CAUSES
from benchmarks.synthetic_engine import SyntheticCampaign, solved, synthetic_campaign
from boostwright.inference.attribution import CAUSES, CauseShares, cause_shares
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS, calibrate, calibration_data
from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.machine.operating_point import matched

Floats = NDArray[np.float64]

CASES = {
    "torque + boost": ("torque", "manifold_pressure"),
    "+ charge temperature, inlet pressure": (
        "torque",
        "manifold_pressure",
        "charge_temperature",
        "blower_inlet_pressure",
    ),
    "+ air flow, rotor speed": (
        "torque",
        "manifold_pressure",
        "charge_temperature",
        "blower_inlet_pressure",
        "air_mass_flow",
        "rotor_speed",
    ),
}
NAMES = ("inlet", "filling", "leakage", "belt slip", "drive loss", "charge cooling", "weather", "mixture")
MERGED = {
    "inlet + filling": ("inlet", "filling"),
    "filling + leakage": ("filling", "leakage"),
    "inlet + filling + leakage": ("inlet", "filling", "leakage"),
}
DRAWS = 160


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A reported quantity: the truth, (speeds,), and its draws, (draws, speeds), in the unit it is reported in."""

    name: str
    unit: str
    truth: Floats
    draws: Floats


def reported(points: NDArray[np.void], states: NDArray[np.void], shares: CauseShares) -> dict[str, tuple[str, Floats]]:
    """What is reported of two setups whose states are (2, draws, speeds)."""
    A, B = states
    percent = 100.0 / A["brake_power"]
    by_name = {cause.name: share * percent for cause, share in zip(shares.causes, shares.shares, strict=True)}
    by_name = {name: by_name.get(name, np.zeros(percent.shape)) for name in NAMES}
    by_name |= {name: sum(by_name[part] for part in parts) for name, parts in MERGED.items()}
    air = 100 * np.log(B["air_mass_flow"] / A["air_mass_flow"])
    boost = 100 * np.log(B["manifold_pressure"] / A["manifold_pressure"])
    found: dict[str, tuple[str, Floats]] = {
        "air-flow gain": ("%", air),
        "air gain - pressure gain": ("%", air - boost),
        "power gain": ("%", (B["brake_power"] - A["brake_power"]) * percent),
        "air flow of A": ("%", 100 * np.log(A["air_mass_flow"])),
        "drive power of A": ("kW", A["blower_drive_power"] / 1e3),
        "drive power B - A": ("kW", (B["blower_drive_power"] - A["blower_drive_power"]) / 1e3),
        "blower outlet of A": ("K", A["blower_outlet_temperature"]),
        "inlet depression of A": ("kPa", (points[0]["ambient_pressure"] - A["blower_inlet_pressure"]) / 1e3),
    }
    return found | {f"cause {name}": ("% of power", by_name[name]) for name in by_name}


def truth_of(campaign: SyntheticCampaign) -> dict[str, tuple[str, Floats]]:
    points = np.stack([campaign.true_baseline, campaign.true_candidate])[:, None]
    shares = cause_shares(points[0], points[1], TRUE_CAUSES, lambda table: solved(table)["brake_power"])
    return reported(points, solved(points), shares)


def fitted(campaign: SyntheticCampaign, channels: tuple[str, ...], generator: np.random.Generator):
    """Draws of everything reported, and the fit's own account."""
    curves = {channel: campaign.curves[channel] for channel in channels}
    data = calibration_data(campaign.baseline, campaign.candidate, curves, TYPICAL_SENSOR_ERRORS)
    started = time.perf_counter()
    calibration = calibrate(data)
    fitting = time.perf_counter()
    draws = randomised_maximum_likelihood(calibration, DRAWS, generator)
    drawing = time.perf_counter()
    n = campaign.baseline.size
    points = calibration.predictor.space.points(draws.vectors)
    points = np.stack([points[:, :n], points[:, n:]])
    shares = cause_shares(points[0], points[1], CAUSES, lambda table: matched(table).states["brake_power"])
    splitting = time.perf_counter()
    found = reported(points, matched(points).states, shares)
    return found, calibration, (fitting - started, drawing - fitting, splitting - drawing)


def campaign_record(seed: int) -> list[tuple[str, list[Quantity], float, tuple[float, ...]]]:
    generator = np.random.default_rng(seed)
    campaign = synthetic_campaign(generator)
    truth = truth_of(campaign)
    record = []
    for case, channels in CASES.items():
        found, calibration, seconds = fitted(campaign, channels, generator)
        quantities = [
            Quantity(name=name, unit=unit, truth=truth[name][1][0], draws=draws)
            for name, (unit, draws) in found.items()
        ]
        record.append((case, quantities, calibration.misfit, seconds))
    return record


def held(truth: Floats, draws: Floats, factor: float, confidence: float = 0.95) -> Floats:
    """1 where the interval of the draws, spread about their median, holds the truth."""
    middle = np.median(draws, axis=0)
    low, high = np.quantile(draws, [0.5 - confidence / 2, 0.5 + confidence / 2], axis=0)
    return ((truth - middle >= factor * (low - middle)) & (truth - middle <= factor * (high - middle))) * 1.0


FACTORS = (1.0, 1.1, 1.2, 1.3, 1.4)


def tables(records: list) -> list[str]:
    lines: list[str] = []
    for index, case in enumerate(CASES):
        misfits = np.array([record[index][2] for record in records])
        seconds = np.array([record[index][3] for record in records])
        lines += [f"### {case}", ""]
        lines += [
            f"Whitened misfit a datum: median {np.median(misfits):.2f}, "
            f"95th percentile {np.quantile(misfits, 0.95):.2f}. "
            f"Seconds, median: fit {np.median(seconds[:, 0]):.3f}, {DRAWS} draws {np.median(seconds[:, 1]):.3f}, "
            f"attribution {np.median(seconds[:, 2]):.3f}.",
            "",
            "| quantity | unit | median abs. truth | error median | error 95th | bias | half-width | "
            + " | ".join(f"x{f}" for f in FACTORS)
            + " | mean x1.2 |",
            "|---" * (8 + len(FACTORS)) + "|",
        ]
        for k, quantity in enumerate(records[0][index][1]):
            rows = [record[index][1][k] for record in records]
            truth = np.array([row.truth.mean() for row in rows])
            means = [row.draws.mean(axis=1) for row in rows]
            error = np.array([np.mean(mean) for mean in means]) - truth
            width = np.array([np.subtract(*np.quantile(mean, [0.975, 0.025])) / 2 for mean in means])
            cover = [100 * np.mean([held(row.truth, row.draws, f).mean() for row in rows]) for f in FACTORS]
            cover_mean = 100 * np.mean([held(np.array(t), m, 1.2) for t, m in zip(truth, means, strict=True)])
            lines.append(
                f"| {quantity.name} | {quantity.unit} "
                f"| {np.median(np.abs(truth)):.2f} | {np.median(np.abs(error)):.2f} "
                f"| {np.quantile(np.abs(error), 0.95):.2f} | {error.mean():+.2f} | {1.2 * np.median(width):.2f} | "
                + " | ".join(f"{c:.0f}" for c in cover)
                + f" | {cover_mean:.0f} |"
            )
        lines.append("")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=150)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--write", type=Path)
    arguments = parser.parse_args()
    records = [campaign_record(arguments.first_seed + i) for i in range(arguments.campaigns)]
    text = "\n".join(tables(records))
    if arguments.write:
        arguments.write.write_text(text + "\n", encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()

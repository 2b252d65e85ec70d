"""How well a carried gain, and absolute boost and power elsewhere, hit the truth of another, richer engine.

    python -m benchmarks.carried --campaigns 150 --first-seed 60000 --partial FOLDER --write docs/carried.md

Each invented campaign is carried to its own engine with another pulley and to three other engines, near and far,
without and with a baseline pull there. Finished campaigns are kept in the partial folder, where an interrupted run
goes on.
"""

import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.campaign_run import asked_campaigns, tell
from benchmarks.pulley_choice import pulley_lines, pulley_record
from benchmarks.synthetic_engine import SyntheticCampaign, synthetic_campaign
from benchmarks.synthetic_targets import TARGETS, SyntheticTarget, baseline_pulls
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS, Calibration, calibrate, calibration_data
from boostwright.inference.posterior_draws import PosteriorDraws, randomised_maximum_likelihood
from boostwright.inference.priors import Known
from boostwright.inference.transfer import (
    GAIN_SPREAD,
    LEVEL_SPREAD,
    OTHER_ENGINE,
    TESTED_ENGINE,
    calibrate_jointly,
    carried_space,
    joint_draws,
)
from boostwright.machine.operating_point import matched
from boostwright.records.atomic import write_atomically

Floats = NDArray[np.float64]

CASES = {
    "torque + boost": ("torque", "manifold_pressure"),
    "+ charge temperature, inlet pressure": (
        "torque",
        "manifold_pressure",
        "charge_temperature",
        "blower_inlet_pressure",
    ),
}
DRAWS = 160
MIXTURE_LOGGED = Known(logged=frozenset({"excess_air_ratio"}))
ALONE, WITH_BASELINE = "no pull there", "with a baseline there"
QUANTITIES = {  # name: unit
    "gain in air": "%",
    "gain in power": "%",
    "boost of A": "kPa",
    "power of A": "%",
    "air flow of A": "%",
    "blower outlet of A": "K",
}
FOREIGN = tuple(TARGETS)[1:]
TABLE_HEAD = (
    "| quantity | unit | true size | error | 95th | prototype | half-width | held, raw | held | mean held |",
    "|---|---|---|---|---|---|---|---|---|---|",
)
_BASIC, _WARM = CASES
_PULLEY, _PETROL, _, _METHANOL = TARGETS
PROTOTYPE = {  # case, build, way: gain in power, boost, power, blower outlet; median and 95th percentile of the error
    (_BASIC, _PULLEY, ALONE): ("0.41/1.0", "1.5/3.5", "1.4/3.8", "4.8/17"),
    (_BASIC, _PETROL, ALONE): ("0.37/1.3", "5.8/17", "7.9/20", ""),
    (_BASIC, _METHANOL, ALONE): ("0.53/1.8", "13/30", "7.0/19", ""),
    (_BASIC, _PETROL, WITH_BASELINE): ("0.41/1.2", "0.62/1.6", "1.1/3.1", ""),
    (_BASIC, _METHANOL, WITH_BASELINE): ("0.56/3.4", "1.0/4.2", "1.2/4.4", ""),
    (_WARM, _PULLEY, ALONE): ("0.34/1.1", "1.0/3.1", "1.2/3.2", "4.3/15"),
    (_WARM, _PETROL, ALONE): ("0.37/1.2", "5.5/15", "8.2/21", ""),
    (_WARM, _METHANOL, ALONE): ("0.37/2.0", "12/28", "6.9/19", ""),
    (_WARM, _PETROL, WITH_BASELINE): ("0.40/1.2", "0.69/1.8", "1.1/3.3", ""),
    (_WARM, _METHANOL, WITH_BASELINE): ("0.38/2.5", "1.0/2.7", "1.2/4.1", ""),
}
COMPARED = ("gain in power", "boost of A", "power of A", "blower outlet of A")


def reported(points: NDArray[np.void], states: NDArray[np.void]) -> dict[str, Floats]:
    """What is reported of two setups whose points and states are (2, draws, speeds)."""
    A, B = states
    return {
        "gain in air": 100 * np.log(B["air_mass_flow"] / A["air_mass_flow"]),
        "gain in power": 100 * (B["brake_power"] / A["brake_power"] - 1),
        "boost of A": (A["manifold_pressure"] - points[0]["ambient_pressure"]) / 1e3,
        "power of A": 100 * np.log(np.maximum(A["brake_power"], 1e3)),
        "air flow of A": 100 * np.log(A["air_mass_flow"]),
        "blower outlet of A": np.asarray(A["blower_outlet_temperature"], float),
    }


def truth_of(target: SyntheticTarget) -> dict[str, Floats]:
    points = np.stack([target.true_baseline, target.true_candidate])
    return reported(points, target.true_states)


def summary(truth: Floats, draws: Floats) -> dict[str, Any]:
    """Truth, middle and raw 95 % ends at every speed, then of the mean over speeds."""
    rows = np.column_stack([draws, draws.mean(axis=1)])
    lower, middle, upper = np.quantile(rows, [0.025, 0.5, 0.975], axis=0)
    return {
        "truth": [*truth.tolist(), float(truth.mean())],
        "middle": middle.tolist(),
        "lower": lower.tolist(),
        "upper": upper.tolist(),
    }


def carried(space: Any, vectors: Floats) -> dict[str, Floats]:
    points = space.points(vectors)
    points = np.stack(np.split(points, 2, axis=1))
    return reported(points, matched(points).states)


@dataclass(frozen=True, kw_only=True)
class Source:
    """A fitted campaign and its draws."""

    calibration: Calibration
    draws: PosteriorDraws


def alone(source: Source, target: SyntheticTarget, generator: np.random.Generator) -> dict[str, Floats]:
    data = source.calibration.predictor.data
    scopes = TESTED_ENGINE if target.is_tested_engine else OTHER_ENGINE
    space = carried_space(data, target.baseline, target.candidate, scopes=scopes)
    return carried(space.space, space.vectors(source.draws.vectors, generator))


def with_baseline(
    source: Source, target: SyntheticTarget, channels: tuple[str, ...], generator: np.random.Generator
) -> dict[str, Floats]:
    joint = calibrate_jointly(source.calibration, baseline_pulls(target, channels, generator))
    _, vectors = joint_draws(joint, DRAWS, generator)
    data = source.calibration.predictor.data
    space = carried_space(data, target.baseline, target.candidate)
    return carried(space.space, vectors)


def fitted(campaign: SyntheticCampaign, channels: tuple[str, ...], generator: np.random.Generator) -> Source:
    curves = {channel: campaign.curves[channel] for channel in channels}
    data = calibration_data(campaign.baseline, campaign.candidate, curves, TYPICAL_SENSOR_ERRORS, MIXTURE_LOGGED)
    calibration = calibrate(data)
    return Source(calibration=calibration, draws=randomised_maximum_likelihood(calibration, DRAWS, generator))


def campaign_record(seed: int) -> dict[str, Any]:
    """Everything that the tables need of one campaign, and the processor time of its parts."""
    generator = np.random.default_rng(seed)
    campaign = synthetic_campaign(generator)
    targets = {name: make(campaign, generator) for name, make in TARGETS.items()}
    record: dict[str, Any] = {"seed": seed}
    for case, channels in CASES.items():
        source = fitted(campaign, channels, generator)
        for name, target in targets.items():
            truth = truth_of(target)
            started = time.process_time()
            found = {ALONE: alone(source, target, generator)}
            middle = time.process_time()
            if not target.is_tested_engine:
                found[WITH_BASELINE] = with_baseline(source, target, CASES["torque + boost"], generator)
            seconds = {ALONE: middle - started, WITH_BASELINE: time.process_time() - middle}
            for way, draws in found.items():
                record[f"{case}|{name}|{way}"] = {
                    "seconds": seconds[way],
                    **{quantity: summary(truth[quantity], draws[quantity]) for quantity in QUANTITIES},
                }
    return record


def records(
    make: Callable[[int], dict[str, Any]], stem: str, seeds: range, partial: Path | None
) -> Iterator[dict[str, Any]]:
    """The records of all campaigns, those read that an earlier run has finished."""
    started = time.monotonic()
    for i, seed in enumerate(seeds):
        kept = None if partial is None else partial / f"{stem}-{seed}.json"
        if kept is not None and kept.exists():
            yield json.loads(kept.read_text(encoding="utf-8"))
            continue
        record = make(seed)
        if kept is not None:
            write_atomically(kept, json.dumps(record).encode("utf-8"))
        sys.stderr.write(f"\r{stem}: {i + 1} of {len(seeds)} campaigns, {time.monotonic() - started:.0f} s")
        sys.stderr.flush()
        yield record


def held(of: dict[str, Any], factor: float) -> NDArray[np.bool_]:
    """Where the interval, spread about its middle, holds the truth; the last is that of the mean over speeds."""
    truth, middle, lower, upper = (np.array(of[key]) for key in ("truth", "middle", "lower", "upper"))
    return (truth >= middle + factor * (lower - middle)) & (truth <= middle + factor * (upper - middle))


def row(case: str, name: str, way: str, quantity: str, found: list[dict[str, Any]]) -> str:
    each = [record[f"{case}|{name}|{way}"][quantity] for record in found]
    errors = np.abs([of["middle"][-1] - of["truth"][-1] for of in each])
    factor = GAIN_SPREAD if quantity.startswith("gain") else LEVEL_SPREAD
    widths = [factor * (of["upper"][-1] - of["lower"][-1]) / 2 for of in each]
    raw = 100 * np.mean([held(of, 1.0)[:-1].mean() for of in each])
    spread = 100 * np.mean([held(of, factor)[:-1].mean() for of in each])
    mean = 100 * np.mean([held(of, factor)[-1] for of in each])
    size = f"{np.median(np.abs([of['truth'][-1] for of in each])):.1f}" if QUANTITIES[quantity] != "K" else ""
    size = "" if quantity in ("power of A", "air flow of A") else size
    compared = dict(zip(COMPARED, PROTOTYPE.get((case, name, way), ("",) * len(COMPARED)), strict=True))
    return (
        f"| {quantity} | {QUANTITIES[quantity]} | {size} | {np.median(errors):.2f} | {np.quantile(errors, 0.95):.2f} "
        f"| {compared.get(quantity, '')} | {np.median(widths):.2f} | {raw:.0f} | {spread:.0f} | {mean:.0f} |"
    )


def tables(found: list[dict[str, Any]]) -> list[str]:
    lines: list[str] = []
    for case in CASES:
        lines += [f"## {case}", ""]
        for name in TARGETS:
            for way in (ALONE, WITH_BASELINE) if name in FOREIGN else (ALONE,):
                seconds = np.median([record[f"{case}|{name}|{way}"]["seconds"] for record in found])
                heading = name if name not in FOREIGN else f"{name}, {way}"
                lines += [f"### {heading}", "", f"Processor seconds, median: {seconds:.2f}.", ""]
                lines += list(TABLE_HEAD)
                lines += [row(case, name, way, quantity, found) for quantity in QUANTITIES]
                lines += [""]
    return lines


HEAD = """# How well a gain is carried to other engines

Made by `python -m benchmarks.carried --campaigns {campaigns} --first-seed {first_seed} --write docs/carried.md`.

{campaigns} invented campaigns of two setups, 13 engine speeds each, their truth an engine of other laws than the chain
that is fitted (`benchmarks/synthetic_engine.py`). Each is carried to four builds (`benchmarks/synthetic_targets.py`):
its own engine with another pulley, and three other engines with their own filling, friction, exhaust, cooler, belt and
mixture. "With a baseline there" adds torque and boost of two pulls of the baseline on that engine, and fits both
engines at once with one blower.

Errors are those of the mean over the speed range, median and 95th percentile. "Prototype" gives the same two of an
earlier prototype of the method on 122 other invented campaigns; its truths were made alike and are not the same, and
its rows with a baseline are of two fits in a row, not of one of both engines.
"Held" is how often, in per cent, a 95 % interval holds the truth: raw, and spread about the median as the program does
it (gains by {gain}, levels of one setup by {level}, both fixed on 150 other campaigns), pointwise over speed and for
the mean. Over {campaigns} campaigns the standard error of a coverage is about {error:.1f} points. All of it is
simulation, none of it a measurement on a real engine: absolute levels hang on how well the assumed spreads describe
real engines.
"""

PULLEYS = """## Pulley for a boost target

{campaigns} further campaigns: of nine ratios, the tested one to 1.4 times it, the one is taken whose predicted boost at
top speed is 25 kPa above the tested boost (on the straight line between pulleys). The error is the true boost there
less the target. Limits are put where the true engine reaches them somewhere among the ratios; a place 13 K hotter at
0.95 of the pressure is judged too. The Brier score is the mean square of chance less what happened (0 perfect, 0.25
for saying one half always), over all ratios in both places; below it, how often a limit was truly broken by the chance
said.
"""


def main() -> None:
    parser = asked_campaigns(__doc__, 150, 60000)
    parser.add_argument("--pulley-campaigns", type=int, default=120)
    parser.add_argument("--partial", type=Path)
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.campaigns)
    found = list(records(campaign_record, "carried", seeds, asked.partial))
    seeds = range(asked.first_seed + 10_000, asked.first_seed + 10_000 + asked.pulley_campaigns)
    chosen = list(records(lambda seed: pulley_record(seed, CASES), "pulley", seeds, asked.partial))
    head = HEAD.format(
        campaigns=asked.campaigns,
        first_seed=asked.first_seed,
        gain=GAIN_SPREAD,
        level=LEVEL_SPREAD,
        error=100 * np.sqrt(0.95 * 0.05 / asked.campaigns),
    )
    pulleys = [PULLEYS.format(campaigns=asked.pulley_campaigns), *pulley_lines(chosen, CASES)]
    text = "\n".join([head, *tables(found), *pulleys])
    tell(text, asked.write)


if __name__ == "__main__":
    main()

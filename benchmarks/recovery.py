"""How often the printed intervals hold the truth, and how large the errors are, on campaigns of a richer engine.

    python -m benchmarks.recovery --campaigns 150 --first-seed 20000 --write docs/recovery.md

Three logger cases: torque and boost only; charge temperature and inlet pressure too; air flow and rotor speed as well.
"""

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.campaign_run import asked_campaigns, tell
from benchmarks.synthetic_engine import CAUSES as TRUE_CAUSES
from benchmarks.synthetic_engine import SyntheticCampaign, solved, synthetic_campaign
from boostwright.inference.attribution import CAUSES, CauseShares, cause_shares
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS, calibrate, calibration_data
from boostwright.inference.posterior_draws import SPREAD_FACTOR, central_interval, randomised_maximum_likelihood
from boostwright.inference.priors import Known
from boostwright.machine.operating_point import matched, shaft_isentropic_efficiency

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
MIXTURE_LOGGED = Known(logged=frozenset({"excess_air_ratio"}))


Reported = dict[str, tuple[str, Floats]]  # name: unit and values, (draws, speeds)


def reported(points: NDArray[np.void], states: NDArray[np.void], shares: CauseShares) -> Reported:
    """What is reported of two setups whose states are (2, draws, speeds)."""
    A, B = states
    percent = 100.0 / A["brake_power"]
    by_name = {cause.name: share * percent for cause, share in zip(shares.causes, shares.shares, strict=True)}
    by_name = {name: by_name.get(name, np.zeros(percent.shape)) for name in NAMES}
    by_name |= {name: sum(by_name[part] for part in parts) for name, parts in MERGED.items()}
    air = 100 * np.log(B["air_mass_flow"] / A["air_mass_flow"])
    boost = 100 * np.log(B["manifold_pressure"] / A["manifold_pressure"])
    found: Reported = {
        "air-flow gain": ("%", air),
        "air gain - pressure gain": ("%", air - boost),
        "power gain": ("%", (B["brake_power"] - A["brake_power"]) * percent),
        "air flow of A": ("%", 100 * np.log(A["air_mass_flow"])),
        "drive power of A": ("kW", A["blower_drive_power"] / 1e3),
        "drive power B - A": ("kW", (B["blower_drive_power"] - A["blower_drive_power"]) / 1e3),
        "blower volumetric efficiency of A": ("% of volume", 100 * A["blower_volumetric_efficiency"]),
        "blower volumetric efficiency B - A": (
            "% of volume",
            100 * (B["blower_volumetric_efficiency"] - A["blower_volumetric_efficiency"]),
        ),
        "isentropic efficiency of A": ("% of power", isentropic_percent(A)),
        "isentropic efficiency B - A": ("% of power", isentropic_percent(B) - isentropic_percent(A)),
        "blower outlet of A": ("K", A["blower_outlet_temperature"]),
        "inlet depression of A": ("kPa", (points[0]["ambient_pressure"] - A["blower_inlet_pressure"]) / 1e3),
    }
    return found | {f"cause {name}": ("% of power", by_name[name]) for name in by_name}


def isentropic_percent(states: NDArray[np.void]) -> Floats:
    """Power of compressing the delivered air isentropically over what the blower's shaft takes."""
    ratio = states["blower_outlet_pressure"] / states["blower_inlet_pressure"]
    of_air = (states["specific_gas_constant"], states["blower_inlet_temperature"], ratio)
    return 100 * shaft_isentropic_efficiency(states["blower_mass_flow"], *of_air, states["shaft_power"])


def truth_of(campaign: SyntheticCampaign) -> Reported:
    """The same of the true engine, with the measured gain and what its causes leave of it."""
    points = np.stack([campaign.true_baseline, campaign.true_candidate])[:, None]
    shares = cause_shares(points[0], points[1], TRUE_CAUSES, lambda table: solved(table)["brake_power"])
    states = solved(points)
    gain = 100 * (states[1]["brake_power"] / states[0]["brake_power"] - 1)
    left = gain - 100 * shares.shares.sum(axis=0) / states[0]["brake_power"]
    return reported(points, states, shares) | {"unexplained": ("% of power", left)}


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """What a fit reports of a campaign, and how long fit, draws and attribution took. [s]"""

    draws: Reported
    misfit: float
    seconds: tuple[float, float, float]


def fitted(campaign: SyntheticCampaign, channels: tuple[str, ...], generator: np.random.Generator) -> Fitted:
    curves = {channel: campaign.curves[channel] for channel in channels}
    data = calibration_data(campaign.baseline, campaign.candidate, curves, TYPICAL_SENSOR_ERRORS, MIXTURE_LOGGED)
    started = time.process_time()
    calibration = calibrate(data)
    fitting = time.process_time()
    draws = randomised_maximum_likelihood(calibration, DRAWS, generator)
    drawing = time.process_time()
    points = calibration.predictor.space.points(draws.vectors)
    points = np.stack(np.split(points, 2, axis=1))
    shares = cause_shares(points[0], points[1], CAUSES, lambda table: matched(table).states["brake_power"])
    splitting = time.process_time()
    states = matched(points).states
    observed = np.exp(draws.observations.reshape(DRAWS, *data.observations.shape)[:, data.channels.index("torque")])
    chain = 100 * (states[1]["brake_power"] - states[0]["brake_power"]) / states[0]["brake_power"]
    left = 100 * (observed[:, 1] / observed[:, 0] - 1) - chain
    return Fitted(
        draws=reported(points, states, shares) | {"unexplained": ("% of power", left)},
        misfit=calibration.misfit,
        seconds=(fitting - started, drawing - fitting, splitting - drawing),
    )


def campaign_record(seed: int) -> tuple[Reported, dict[str, Fitted]]:
    generator = np.random.default_rng(seed)
    campaign = synthetic_campaign(generator)
    return truth_of(campaign), {case: fitted(campaign, channels, generator) for case, channels in CASES.items()}


def held(truth: Floats, draws: Floats, factor: float) -> Floats:
    """1 where the 95 % interval of the draws, spread about their median, holds the truth."""
    middle = np.median(draws, axis=0)
    lower, upper = central_interval(draws, 0.95)
    return ((truth - middle >= factor * (lower - middle)) & (truth - middle <= factor * (upper - middle))) * 1.0


def case_table(case: str, records: list[tuple[Reported, dict[str, Fitted]]]) -> list[str]:
    fits = [fits[case] for _, fits in records]
    seconds = np.median([fit.seconds for fit in fits], axis=0)
    misfit = np.quantile([fit.misfit for fit in fits], [0.5, 0.95])
    lines = [
        f"## {case}",
        "",
        f"Misfit a datum {misfit[0]:.2f} (median), {misfit[1]:.2f} (95th percentile). Processor seconds on one core,",
        f"median: fit {seconds[0]:.2f}, {DRAWS} draws {seconds[1]:.2f}, attribution {seconds[2]:.2f}.",
        "",
        "| quantity | unit | true size | error, median | error, 95th | half-width | held, raw | held | mean held |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    return [*lines, *[case_row(case, name, records) for name in records[0][0]], ""]


def case_row(case: str, name: str, records: list[tuple[Reported, dict[str, Fitted]]]) -> str:
    truths = [truth[name][1][0] for truth, _ in records]
    draws = [fits[case].draws[name][1] for _, fits in records]
    means, mean_truth = [d.mean(axis=1) for d in draws], np.array([t.mean() for t in truths])
    error = np.abs([m.mean() for m in means] - mean_truth)
    widths = [SPREAD_FACTOR * np.subtract(*central_interval(m, 0.95)[::-1]) / 2 for m in means]
    pairs = list(zip(truths, draws, strict=True))
    raw, spread = (100 * np.mean([held(t, d, f).mean() for t, d in pairs]) for f in (1.0, SPREAD_FACTOR))
    mean_held = 100 * np.mean([held(t, m, SPREAD_FACTOR) for t, m in zip(mean_truth, means, strict=True)])
    size = "" if "of A" in name else f"{np.median(np.abs(mean_truth)):.2f}"
    return (
        f"| {name} | {records[0][0][name][0]} | {size} | {np.median(error):.2f} | {np.quantile(error, 0.95):.2f} "
        f"| {np.median(widths):.2f} | {raw:.0f} | {spread:.0f} | {mean_held:.0f} |"
    )


HEAD = """# How well an explanation recovers the truth

Made by `python -m benchmarks.recovery --campaigns {campaigns} --first-seed {first_seed} --write docs/recovery.md`.

{campaigns} invented campaigns of two setups, 13 engine speeds each. The truth is an engine of other laws than the chain
that is fitted (`benchmarks/synthetic_engine.py` lists them); noise has the size of two pulls a setup, off by a random
factor (0.3 in its logarithm) for each channel, and weather, coolant, mixture and belt differ between the setups.

Errors are those of the mean over the speed range. "Held" is how often, in per cent, a 95 % interval holds the truth:
raw, and spread about the median by the factor {factor} that the program uses; pointwise over speed, and for the mean.
The standard error of a coverage over {campaigns} campaigns is about {error:.1f} points. All of it is simulation, none
of it a measurement on a real engine: absolute levels hang on how well the assumed spreads describe real engines.
"""


def main() -> None:
    parser = asked_campaigns(__doc__, 150, 20000)
    asked = parser.parse_args()
    records = [campaign_record(asked.first_seed + i) for i in range(asked.campaigns)]
    head = HEAD.format(
        campaigns=asked.campaigns,
        first_seed=asked.first_seed,
        factor=SPREAD_FACTOR,
        error=100 * np.sqrt(0.95 * 0.05 / asked.campaigns),
    )
    text = "\n".join([head, *[line for case in CASES for line in case_table(case, records)]])
    tell(text, asked.write)


if __name__ == "__main__":
    main()

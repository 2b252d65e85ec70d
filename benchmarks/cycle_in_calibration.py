"""What the engine's crank-angle cycle changes in a calibration, in place of the closed forms.

    python -m benchmarks.cycle_in_calibration --campaigns 60 --first-seed 30000 --write docs/cycle-in-calibration.md

Three tables: what either says of the sensitivities of brake power, how either explains the example campaign, and how
either recovers the truth of synthetic campaigns.
"""

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from benchmarks.campaign_run import asked_campaigns, tell
from benchmarks.recovery import CASES, DRAWS, MIXTURE_LOGGED, Reported, held, reported, truth_of
from benchmarks.synthetic_engine import SyntheticCampaign, synthetic_campaign
from boostwright.inference.attribution import cause_shares
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS, CalibrationData, calibrate, calibration_data
from boostwright.inference.cycle_form import with_cycle_engine
from boostwright.inference.posterior_draws import SPREAD_FACTOR, central_interval, randomised_maximum_likelihood
from boostwright.machine.build import Build, build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.cycle_table import cycle_table, with_cycle
from boostwright.machine.operating_point import OperatingPoints, ambient_air, build_points, matched
from boostwright.records.build_file import build_from_document, read_build_file
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import campaign_data

Floats = NDArray[np.float64]
EXAMPLE = "inlet-elbow"
CASE = "+ charge temperature, inlet pressure"
MOVES = (
    ("air temperature +10 K", "air_temperature", 10.0),
    ("coolant +10 K", "coolant_temperature", 10.0),
    ("ambient pressure +1 kPa", "ambient_pressure", 1e3),
    ("excess air ratio +0.03", "excess_air_ratio", 0.03),
)


def example_build() -> Build:
    """The baseline build of the example."""
    return build_of(read_build_file(example_folder(EXAMPLE) / "builds" / "cast.toml"))


def sensitivities() -> list[str]:
    """How brake power follows what a pull's conditions move, and the levels, by both."""
    build = example_build()
    points = build_points(build, np.linspace(3200, 5600, 13) / 60, ambient_air(1e5, 298.15, 0.5))
    table = cycle_table(cycle_engine(build), points)

    def cycle(rows: NDArray[np.void]) -> OperatingPoints:
        return with_cycle(matched(rows), table)

    lines = ["## What either says", "", "| of the example's build | closed forms | cycle |", "|---|---|---|"]
    for name, word, step in MOVES:
        moved = points.copy()
        moved[word] += step
        percent = [100 * float(np.mean(_power_ratio(form, moved, points))) for form in (matched, cycle)]
        lines.append(f"| brake power, {name}, % | {percent[0]:+.2f} | {percent[1]:+.2f} |")
    for word, scale, unit in (
        ("brake_power", 1e3, "kW"),
        ("peak_cylinder_pressure", 1e5, "bar"),
        ("knock_index", 1, "-"),
    ):
        ends = [" to ".join(f"{v:.3g}" for v in form(points)[word][[0, -1]] / scale) for form in (matched, cycle)]
        lines.append(f"| {word.replace('_', ' ')}, lowest to highest speed, {unit} | {ends[0]} | {ends[1]} |")
    return [*lines, ""]


def _power_ratio(
    form: Callable[[NDArray[np.void]], OperatingPoints], moved: NDArray[np.void], points: NDArray[np.void]
) -> Floats:
    return form(moved)["brake_power"] / form(points)["brake_power"] - 1


def example() -> list[str]:
    """The example campaign explained with either."""
    campaign = read_campaign(example_folder(EXAMPLE))
    data = campaign_data(campaign)
    forms = (data, with_cycle_engine(data, cycle_engine(example_build())))
    results = [explain(form, campaign.baseline, campaign.candidate) for form in forms]
    lines = [
        "## The example campaign",
        "",
        "Mean over the range, % of power, with half of the 95 % interval.",
        "",
        "| | closed forms | cycle |",
        "|---|---|---|",
        f"| misfit a datum | {results[0].fit.misfit:.3f} | {results[1].fit.misfit:.3f} |",
    ]
    terms = [{term.name: term.relative_gain for term in result.causes} for result in results]
    rows = {"gain in air, %": [result.air_gain for result in results]} | {
        name: [term.get(name) for term in terms] for name in terms[0]
    }
    for name, bands in rows.items():
        cells = [f"{100 * b.mean:+.2f} ± {100 * b.half_width:.2f}" if b else "merged otherwise" for b in bands]
        lines.append(f"| {name} | {cells[0]} | {cells[1]} |")
    return [*lines, ""]


def synthetic_build(campaign: SyntheticCampaign) -> Build:
    """A build with the sizes of a synthetic campaign's engine."""
    point = campaign.baseline[0]
    size = {word: float(point[word]) for word in ("engine_displacement", "compression_ratio", "blower_displacement")}
    return build_of(
        build_from_document(
            {
                "engine": {
                    "displacement": f"{1e3 * size['engine_displacement']} L",
                    "cylinders": 6,
                    "compression_ratio": size["compression_ratio"],
                    "stroke": f"{1e3 * float(point['stroke'])} mm",
                },
                "blower": {"displacement": f"{1e3 * size['blower_displacement']} L", "kind": "roots"},
                "drive": {"ratio": float(point["drive_ratio"])},
                "fuel": {"blend": "E0"},
            },
            "synthetic",
        )
    )


def fitted(data: CalibrationData, generator: np.random.Generator) -> tuple[Reported, float, float]:
    """What a fit reports, its misfit, and its processor time [s]."""
    begun = time.process_time()
    calibration = calibrate(data)
    draws = randomised_maximum_likelihood(calibration, DRAWS, generator)
    points = np.stack(np.split(calibration.predictor.space.points(draws.vectors), 2, axis=1))
    form = data.form
    shares = cause_shares(points[0], points[1], form.causes, lambda table: form.matched(table)["brake_power"])
    found = reported(points, form.matched(points).states, shares)
    return found, calibration.misfit, time.process_time() - begun


def recovery(campaigns: int, first_seed: int) -> list[str]:
    """Errors and coverage of either on the same campaigns."""
    truths: list[Reported] = []
    fits: list[tuple[tuple[Reported, float, float], ...]] = []
    for seed in range(first_seed, first_seed + campaigns):
        campaign = synthetic_campaign(np.random.default_rng(seed))
        curves = {channel: campaign.curves[channel] for channel in CASES[CASE]}
        data = calibration_data(campaign.baseline, campaign.candidate, curves, TYPICAL_SENSOR_ERRORS, MIXTURE_LOGGED)
        forms = (data, with_cycle_engine(data, cycle_engine(synthetic_build(campaign))))
        truths.append(truth_of(campaign))
        fits.append(tuple(fitted(form, np.random.default_rng(seed)) for form in forms))
    misfits = np.median([[misfit for _, misfit, _ in pair] for pair in fits], axis=0)
    seconds = np.median([[spent for _, _, spent in pair] for pair in fits], axis=0)
    lines = [
        f"## {campaigns} synthetic campaigns, logged: torque, boost {CASE}",
        "",
        f"Misfit a datum {misfits[0]:.2f} and {misfits[1]:.2f}; processor seconds a campaign {seconds[0]:.2f} and "
        f"{seconds[1]:.2f} (medians).",
        "",
        "| error of the mean: median / 95th percentile; held, % | closed forms | cycle |",
        "|---|---|---|",
    ]
    return [*lines, *(_row(name, truths, fits) for name in fits[0][0][0]), ""]


def _row(name: str, truths: list[Reported], fits: list[tuple[tuple[Reported, float, float], ...]]) -> str:
    truth = np.array([reported_truth[name][1].mean() for reported_truth in truths])
    cells = [_cell(truth, [pair[form][0][name][1].mean(axis=1) for pair in fits]) for form in (0, 1)]
    return f"| {name}, {truths[0][name][0]} | {cells[0]} | {cells[1]} |"


def _cell(truth: Floats, draws: list[Floats]) -> str:
    error = np.abs([d.mean() for d in draws] - truth)
    width = np.median([np.subtract(*central_interval(d, 0.95)[::-1]) / 2 for d in draws]) * SPREAD_FACTOR
    share = 100 * np.mean([held(t, d, SPREAD_FACTOR) for t, d in zip(truth, draws, strict=True)])
    return f"{np.median(error):.2f} / {np.quantile(error, 0.95):.2f} ± {width:.2f}; {share:.0f}"


HEAD = """# What the engine's cycle changes in a calibration

Made by `python -m benchmarks.cycle_in_calibration --campaigns {campaigns} --first-seed {first_seed}
--write docs/cycle-in-calibration.md`.

A fit may take indicated efficiency, friction, peak pressure and knock from the crank-angle cycle in place of the closed
forms (`boostwright.inference.cycle_form`). The cycle is tabulated for it around the nominal points: 27 cycles at each
engine speed, in manifold pressure, charge temperature and mixture. What the fit itself moves, it moves about that.

The truth of the synthetic campaigns is an engine of yet other correlations (`benchmarks/synthetic_engine.py`), closer
in kind to the closed forms than to a cycle; no real engine stands behind any of it.
"""


def main() -> None:
    """Measure and write."""
    parser = asked_campaigns(__doc__, 60, 30000)
    asked = parser.parse_args()
    head = HEAD.format(campaigns=asked.campaigns, first_seed=asked.first_seed)
    text = "\n".join([head, *sensitivities(), *example(), *recovery(asked.campaigns, asked.first_seed)])
    tell(text, asked.write)


if __name__ == "__main__":
    main()

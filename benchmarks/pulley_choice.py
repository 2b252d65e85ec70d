"""Pulley choice for a boost target on synthetic campaigns: how far the boost misses, and whether chances hold.

Each tested engine gets nine pulleys; limits are put where the true engine breaks them somewhere among the pulleys. All
data are invented.
"""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.synthetic_engine import SyntheticCampaign, nominal_points, solved, synthetic_campaign
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS, calibrate, calibration_data
from boostwright.inference.posterior_draws import SPREAD_FACTOR, randomised_maximum_likelihood
from boostwright.inference.priors import Known
from boostwright.inference.transfer import TESTED_ENGINE, carried_space
from boostwright.machine.build import Build, build_of
from boostwright.machine.operating_point import Ambient, matched
from boostwright.records.build_file import build_from_document
from boostwright.studies.drawn_operation import DrawnOperation, in_air, operation_of_draws
from boostwright.studies.pulleys import Pulley, PulleyChart, PulleyQuestion, PulleyTarget, pulley_chart

Floats = NDArray[np.float64]

RATIOS = np.linspace(1.0, 1.4, 9)  # of the tested drive ratio
DRAWS = 160
RIBS = 8
MORE_BOOST = 25e3
LIMITS = ("rotor speed", "blower outlet temperature", "charge temperature", "manifold pressure", "belt power per rib")
HOTTER, THINNER = 13.0, 0.95


def _greatest(states: NDArray[np.void]) -> dict[str, float]:
    """Greatest true value of what is limited, over the speeds."""
    return {
        "rotor speed": float(states["rotor_speed"].max()),
        "blower outlet temperature": float(states["blower_outlet_temperature"].max()),
        "charge temperature": float(states["charge_temperature"].max()),
        "manifold pressure": float(states["manifold_pressure"].max()),
        "belt power per rib": float(states["blower_drive_power"].max() / RIBS),
    }


def _true_states(campaign: SyntheticCampaign, ratio: float, *, is_hot: bool) -> NDArray[np.void]:
    truth = campaign.true_baseline.copy()
    truth["drive_ratio"] *= ratio
    if is_hot:
        truth["air_temperature"] += HOTTER
        truth["ambient_pressure"] *= THINNER
    return solved(truth)


def _limited_build(campaign: SyntheticCampaign, generator: np.random.Generator) -> Build:
    truth = campaign.true_baseline
    document = {
        "engine": {
            "displacement": f"{1e3 * truth['engine_displacement'][0]} L",
            "cylinders": 6,
            "compression_ratio": float(truth["compression_ratio"][0]),
        },
        "blower": {"displacement": f"{1e3 * truth['blower_displacement'][0]} L", "kind": "roots"},
        "drive": {"ratio": float(truth["drive_ratio"][0]), "ribs": RIBS},
        "cooler": {},
    }
    build = build_of(build_from_document(document, "invented"))
    at = {name: _greatest(_true_states(campaign, generator.uniform(1.1, 1.5), is_hot=False))[name] for name in LIMITS}
    limits = replace(
        build.limits,
        rotor_speed_limit=at["rotor speed"],
        blower_outlet_temperature=at["blower outlet temperature"],
        charge_temperature=at["charge temperature"],
        manifold_pressure=at["manifold pressure"],
        rib_power=at["belt power per rib"],
        injector_duty=None,
        mean_piston_speed=None,
    )
    return replace(build, limits=limits)


def _chart(
    campaign: SyntheticCampaign, channels: tuple[str, ...], build: Build, target: float, generator: np.random.Generator
) -> PulleyChart:
    curves = {channel: campaign.curves[channel] for channel in channels}
    known = Known(logged=frozenset({"excess_air_ratio"}))
    data = calibration_data(campaign.baseline, campaign.candidate, curves, TYPICAL_SENSOR_ERRORS, known)
    draws = randomised_maximum_likelihood(calibrate(data), DRAWS, generator).vectors
    seed = int(generator.integers(2**31))
    n = data.engine_speed.size

    def operation_of(pulley_build: Build, ambient: Ambient) -> DrawnOperation:
        points = in_air(campaign.baseline, ambient)
        points["drive_ratio"] = pulley_build.drive.drive_ratio
        space = carried_space(data, points, points, scopes=TESTED_ENGINE)
        drawn = space.space.points(space.vectors(draws, np.random.default_rng(seed)))[:, :n]
        return operation_of_draws(matched(drawn), pulley_build, np.random.default_rng(seed), SPREAD_FACTOR)

    nominal = nominal_points(campaign.true_baseline)[0]
    reference = Ambient(**{
        word: float(nominal[word]) for word in ("ambient_pressure", "air_temperature", "humidity_ratio")
    })  # fmt: skip
    hot = replace(
        reference,
        ambient_pressure=THINNER * reference.ambient_pressure,
        air_temperature=HOTTER + reference.air_temperature,
    )
    base = build.drive.drive_ratio
    pulleys = [
        Pulley(label=f"{r:.2f}", build=replace(build, drive=replace(build.drive, drive_ratio=base * r))) for r in RATIOS
    ]
    question = PulleyQuestion(
        target_speed=float(data.engine_speed[-1]),
        reference=reference,
        hot=hot,
        target=PulleyTarget(word="boost", value=target),
    )
    return pulley_chart(pulleys, operation_of, question)


def pulley_record(seed: int, cases: dict[str, tuple[str, ...]]) -> dict[str, Any]:
    """Everything that the table needs of one campaign."""
    generator = np.random.default_rng(seed)
    campaign = synthetic_campaign(generator)
    ambient = campaign.true_baseline["ambient_pressure"][-1]
    truths = [[_true_states(campaign, r, is_hot=hot) for hot in (False, True)] for r in RATIOS]
    boost = np.array([float(pair[0]["manifold_pressure"][-1] - ambient) for pair in truths])
    build = _limited_build(campaign, generator)
    limits = dict(zip(LIMITS, _values(build), strict=True))
    broken = [[{name: v > limits[name] for name, v in _greatest(s).items()} for s in pair] for pair in truths]
    record: dict[str, Any] = {"seed": seed}
    for case, channels in cases.items():
        chart = _chart(campaign, channels, build, boost[0] + MORE_BOOST, generator)
        record[case] = _scores(chart, boost, broken)
    return record


def _values(build: Build) -> list[float]:
    of = build.limits
    found = (
        of.rotor_speed_limit, of.blower_outlet_temperature, of.charge_temperature, of.manifold_pressure, of.rib_power,
    )  # fmt: skip
    return [float(value) for value in found if value is not None]


def _scores(chart: PulleyChart, boost: Floats, broken: list[list[dict[str, bool]]]) -> dict[str, Any]:
    """Boost at the ratio whose predicted boost is the target, and every chance with what truly happened."""
    target = chart.question.target
    assert target is not None
    predicted, lower, upper = (
        np.array([getattr(row.reference.boost, end) for row in chart.rows]) for end in ("value", "lower", "upper")
    )
    at = float(np.interp(target.value, predicted, RATIOS))
    true = float(np.interp(at, RATIOS, boost))
    ends = [float(np.interp(at, RATIOS, end)) for end in (lower, upper)]
    chances = [
        [name, curve.chance, int(truth[name])]
        for row, pair in zip(chart.rows, broken, strict=True)
        for place, truth in zip((row.reference, row.hot), pair, strict=True)
        for name in LIMITS
        for curve in place.limits
        if curve.name == name
    ]
    within = [row for row in chart.rows if row.chance <= chart.question.risk]
    most = chart.rows.index(within[-1]) if within else None
    return {
        "error_kpa": (true - target.value) / 1e3,
        "held": bool(ends[0] <= true <= ends[1]),
        "half_width_kpa": (ends[1] - ends[0]) / 2e3,
        "reached": bool(predicted[-1] >= target.value),
        "chances": chances,
        "broke": None if most is None else any(any(truth.values()) for truth in broken[most]),
    }


def pulley_lines(found: list[dict[str, Any]], cases: dict[str, tuple[str, ...]]) -> list[str]:
    """The tables of the document."""
    lines = [
        "| channels | campaigns | error, median, kPa | error, 95th, kPa | bias, kPa | half-width, kPa | held |",
        "|---|---|---|---|---|---|---|",
    ]
    for case in cases:
        reached = [record[case] for record in found if record[case]["reached"]]
        errors = np.array([of["error_kpa"] for of in reached])
        width = np.median([of["half_width_kpa"] for of in reached])
        held = 100 * np.mean([of["held"] for of in reached])
        lines.append(
            f"| {case} | {len(reached)} | {np.median(np.abs(errors)):.2f} | {np.quantile(np.abs(errors), 0.95):.2f} "
            f"| {errors.mean():+.2f} | {width:.2f} | {held:.0f} |"
        )
    lines += ["", "| limit | Brier, " + " | Brier, ".join(cases) + " |", "|---|" + "---|" * len(cases)]
    for name in LIMITS:
        rows = [[r for record in found for r in record[case]["chances"] if r[0] == name] for case in cases]
        cells = [f"{_brier(each):.3f}" for each in rows]
        lines.append(f"| {name} | {' | '.join(cells)} |")
    lines += ["", "| chance said | " + " | ".join(cases) + " |", "|---|" + "---|" * len(cases)]
    for low, high in ((0.0, 0.02), (0.02, 0.1), (0.1, 0.3), (0.3, 0.7), (0.7, 0.9), (0.9, 0.98), (0.98, 1.0001)):
        cells = [_share_broken([r for record in found for r in record[case]["chances"]], low, high) for case in cases]
        lines.append(f"| {100 * low:.0f} to {100 * min(high, 1):.0f} % | {' | '.join(cells)} |")
    lines.append("")
    for case in cases:
        told = [record[case]["broke"] for record in found if record[case]["broke"] is not None]
        lines.append(
            f"{case}: of the largest pulleys kept at a risk of 5 %, {100 * np.mean(told):.1f} % truly break a limit in "
            f"one of the two places ({len(told)} campaigns)."
        )
    return [*lines, ""]


def _brier(rows: list[list[Any]]) -> float:
    return float(np.mean([(chance - broke) ** 2 for _, chance, broke in rows]))


def _share_broken(rows: list[list[Any]], low: float, high: float) -> str:
    inside = [broke for _, chance, broke in rows if low <= chance < high]
    return f"{100 * np.mean(inside):.0f} % broke ({len(inside)})" if inside else "none"

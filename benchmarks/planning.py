"""Whether plans keep what they promise, against full fits: python -m benchmarks.planning --campaigns 200 --write PAGE.

Pulls are drawn by the assumptions of the gain-curve model, on stands whose disturbances are drawn from its priors.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.stats import t as student

from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    Disturbances,
    Floats,
    RunOrder,
    disturbances_from,
    level_covariance,
    pull_covariance,
)
from boostwright.inference.gain_budget import likely_disturbances
from boostwright.inference.gain_curve import GainPosterior, fit_gain_curve
from boostwright.inference.gain_model import GainData
from boostwright.inference.gain_summary import Interval, range_average
from boostwright.inference.run_order import (
    EFFECTIVE_DEGREES_OF_FREEDOM,
    rest_of_average,
    standard_uncertainty,
    timed_order,
)

SEED = 11
ORDERS = ("AB", "ABA", "ABBA", "ABAB", "ABBAAB", "ABABAB", "AABBBBAA", "ABBAABBA")
CONTINUED = (("AB", "BA"), ("ABB", "A"), ("ABBA", "AB"), ("ABBA", "BAAB"))
PULL, CHANGE = 360.0, 2100.0  # [s]
SPEED = np.linspace(51.0, 95.0, 23)
WIDEST_GAIN = 0.06  # true gains are as likely anywhere within plus and minus this


@dataclass(frozen=True, kw_only=True)
class Promise:
    """Means over campaigns: half-widths promised and fitted, and for pulls that follow, how often a gain was shown."""

    promised: float
    fitted: float
    probability_of_showing: float = 0.0
    shown: float = 0.0


def planned(letters: str, campaigns: int) -> Promise:
    """The closed form of an order, over the same drawn stands as the fits, so that few campaigns suffice."""
    generator, run = np.random.default_rng([SEED, len(letters)]), timed_order(letters, PULL, CHANGE)
    widths: list[tuple[float, float]] = []
    for _ in range(campaigns):
        stand = _stand(generator)
        found = _average(_fit(_pulls(run, stand, 0.0, generator), run, generator))
        closed = _shown_quantile() * standard_uncertainty(run, stand, rest_of_average(SPEED, stand))
        widths.append((closed, (found.upper - found.lower) / 2))
    promised, fitted = np.mean(widths, axis=0).tolist()
    return Promise(promised=promised, fitted=fitted)


def continued(made: str, further: str, campaigns: int) -> Promise:
    """What the pulls made promise of those that follow, against the fit of all of them."""
    generator, run = np.random.default_rng([SEED, len(made), len(further)]), timed_order(made + further, PULL, CHANGE)
    first = _first(run, len(made))
    rows: list[tuple[float, ...]] = []
    for _ in range(campaigns):
        gain = generator.uniform(-WIDEST_GAIN, WIDEST_GAIN)
        values = _pulls(run, _stand(generator), gain, generator)
        before = _fit(values[: len(made)], first, generator)
        now, later = _average(before), _average(_fit(values, run, generator))
        likely = likely_disturbances(before)
        rest = rest_of_average(SPEED, likely)
        ratio = standard_uncertainty(run, likely, rest) / standard_uncertainty(first, likely, rest)
        half, wide = (now.upper - now.lower) / 2, _shown_quantile()
        step = half / wide * np.sqrt(1 - ratio**2)
        chance = student.cdf((now.estimate - ratio * half) / step, EFFECTIVE_DEGREES_OF_FREEDOM)
        rows.append((ratio * half, (later.upper - later.lower) / 2, float(chance), float(later.lower > 0)))
    promised, fitted, chance, shown = np.mean(rows, axis=0).tolist()
    return Promise(promised=promised, fitted=fitted, probability_of_showing=chance, shown=shown)


def _stand(generator: np.random.Generator) -> Disturbances:
    priors = DisturbancePriors()
    medians, spreads = np.array([(getattr(priors, n).median, getattr(priors, n).log_sd) for n in FITTED]).T
    return disturbances_from(np.log(medians) + spreads * generator.standard_normal(len(FITTED)), priors)


def _pulls(run: RunOrder, stand: Disturbances, gain: float, generator: np.random.Generator) -> Floats:
    level = generator.multivariate_normal(np.zeros(run.is_candidate.size), level_covariance(run, stand))
    within = generator.multivariate_normal(np.zeros(SPEED.size), pull_covariance(SPEED, stand), level.size)
    return 6.2 - 0.1 * ((SPEED - 70.0) / 25.0) ** 2 + (level + gain * run.is_candidate)[:, None] + within


def _fit(values: Floats, run: RunOrder, generator: np.random.Generator) -> GainPosterior:
    data = GainData(engine_speed=SPEED, values=values, counts=np.full(values.shape, 18), order=run)
    return fit_gain_curve(data, DisturbancePriors(), generator)


def _average(posterior: GainPosterior) -> Interval:
    return range_average(posterior.gain, posterior.gain_draws, 0.95)


def _first(run: RunOrder, pulls: int) -> RunOrder:
    return replace(
        run,
        is_candidate=run.is_candidate[:pulls],
        session=run.session[:pulls],
        installation=run.installation[:pulls],
        elapsed=run.elapsed[:pulls],
    )


def _shown_quantile() -> float:
    return float(student.ppf(0.975, EFFECTIVE_DEGREES_OF_FREEDOM))


INTRODUCTION = """\
# Plans against full fits

Made by `python -m benchmarks.planning --campaigns {campaigns}` (seed {seed}). Do not edit; run the command again.

Every row is the mean of {campaigns} invented campaigns whose pulls follow the assumptions of the model, each on a stand
whose disturbances are drawn from the priors. Pulls are 6 minutes apart, a change of setup takes 29 minutes more.
Half-widths are of the average gain at 95 %.

## Before a session

| order | promised ± % | fitted ± % | promised over fitted |
|---|---|---|---|"""

CONTINUED_TEXT = """
## During a session

From the pulls made the half-width after the further ones is promised, and the probability that a gain is then shown;
the true gain is as likely anywhere between -{widest:.0f} and +{widest:.0f} %. The standard error of a share is at most
{error:.1f} %.

| made | further | promised ± % | fitted ± % | promised over fitted | gain shown, promised, % | shown, % |
|---|---|---|---|---|---|---|"""


def page(campaigns: int) -> Iterator[str]:
    """The lines of the page."""
    yield INTRODUCTION.format(campaigns=campaigns, seed=SEED)
    for letters in ORDERS:
        p = planned(letters, campaigns)
        yield f"| {letters} | {100 * p.promised:.2f} | {100 * p.fitted:.2f} | {p.promised / p.fitted:.2f} |"
    yield CONTINUED_TEXT.format(widest=100 * WIDEST_GAIN, error=50 / np.sqrt(campaigns))
    for made, further in CONTINUED:
        p = continued(made, further, campaigns)
        widths = f"{100 * p.promised:.2f} | {100 * p.fitted:.2f} | {p.promised / p.fitted:.2f}"
        yield f"| {made} | {further} | {widths} | {100 * p.probability_of_showing:.0f} | {100 * p.shown:.0f} |"


def main() -> None:
    """Run every row and write the page."""
    options = argparse.ArgumentParser(description="Plans against full fits")
    options.add_argument("--campaigns", type=int, default=200)
    options.add_argument("--write", type=Path, help="the page to write")
    chosen = options.parse_args()
    lines: list[str] = []
    for line in page(chosen.campaigns):
        print(line, flush=True)
        lines.append(line)
    if chosen.write:
        chosen.write.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

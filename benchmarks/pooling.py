"""How often the pooled interval and that of the next engine hold the truth: python -m benchmarks.pooling --write PAGE.

Campaigns are drawn as effects with standard errors: what a pool sees of them.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from scipy.stats import t as student

from boostwright.inference.meta_analysis import fitted_interval, mean_of, next_study_interval, random_effects

SEED = 20260410
CONFIDENCE = 0.95
TRUE_GAIN = 0.02
CAMPAIGNS = (3, 4, 5, 8, 15)
BETWEEN = (0.0, 0.005, 0.01, 0.02)
_MEAN = np.ones(1)


@dataclass(frozen=True, kw_only=True)
class Pooling:
    """How many campaigns are pooled, and how their true gains and standard errors are spread.

    Standard errors are log-normal about 0.7 %, that of ABBA, with the factor `unevenness`.
    """

    campaigns: int
    between_sd: float
    unevenness: float = 1.5


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """Shares of pools whose interval holds the truth, and mean half-widths; `plain` is Knapp-Hartung as published."""

    mean_holds: float
    plain_mean_holds: float
    next_holds: float
    plugged_in_next_holds: float
    mean_half_width: float
    next_half_width: float
    plugged_in_half_width: float
    between_is_zero: float


def coverage(pooling: Pooling, pools: int) -> Coverage:
    """Count over many pools; `plugged_in_next_holds` is the usual formula with k - 2 degrees of freedom."""
    generator = np.random.default_rng([SEED, pooling.campaigns, round(1e4 * pooling.between_sd)])
    rows = np.array([_outcome(pooling, generator) for _ in range(pools)])
    names = Coverage.__dataclass_fields__
    return Coverage(**dict(zip(names, rows.mean(0).tolist(), strict=True)))


def _outcome(pooling: Pooling, generator: np.random.Generator) -> list[float]:
    k = pooling.campaigns
    errors = 0.007 * np.exp(np.log(pooling.unevenness) * generator.standard_normal(k))
    effects = TRUE_GAIN + pooling.between_sd * generator.standard_normal(k) + errors * generator.standard_normal(k)
    following = TRUE_GAIN + pooling.between_sd * generator.standard_normal()
    studies = mean_of(effects, errors)
    fit = random_effects(studies)
    mean, after = fitted_interval(fit, _MEAN, CONFIDENCE), next_study_interval(studies, fit, _MEAN, CONFIDENCE)
    half = (mean.upper - mean.lower) / 2
    plain = half * np.sqrt(min(1.0, fit.spread_ratio))
    error_of_mean = plain / student.ppf(0.975, k - 1)
    plugged_in = student.ppf(0.975, k - 2) * np.hypot(np.sqrt(fit.between_variance), error_of_mean)
    return [
        abs(mean.estimate - TRUE_GAIN) <= half,
        abs(mean.estimate - TRUE_GAIN) <= plain,
        after.lower <= following <= after.upper,
        abs(mean.estimate - following) <= plugged_in,
        half,
        (after.upper - after.lower) / 2,
        plugged_in,
        fit.between_variance == 0.0,
    ]


INTRODUCTION = """\
# Coverage of pooled gains

Made by `python -m benchmarks.pooling --pools {pools}` (seed {seed}). Do not edit; run the command again.

Every row counts {pools} pools of invented campaigns. The true gains of the engines are normal about 2 % with the
standard deviation named; each campaign's standard error is drawn about 0.7 % (that of two pulls of each setup in the
order ABBA) with a factor of {unevenness} up or down, and is taken as known. Stated is 95 %; one standard error of a
share of 95 % is {error:.1f} %.

"Mean" is the interval of the average gain as `pool` prints it: restricted likelihood, Knapp-Hartung, never narrower
than the campaigns' own errors allow. "As published" is the same without that floor. "Next" is the interval that should
hold the true gain of one further engine: as `pool` prints it, from all spreads that the campaigns leave possible, and
by the usual formula, which plugs in one spread and takes Student's t with k - 2 degrees of freedom.
"""

HEADER = (
    "| campaigns | spread of true gains, % | mean holds, % | as published, % | next holds, % | plugged in, % "
    "| mean ± % | next ± % | plugged in ± % | spread found to be zero, % |",
    "|---|---|---|---|---|---|---|---|---|---|",
)


def page(pools: int) -> Iterator[str]:
    """The lines of the page."""
    error = 100 * np.sqrt(CONFIDENCE * (1 - CONFIDENCE) / pools)
    yield INTRODUCTION.format(pools=pools, seed=SEED, unevenness=Pooling.unevenness, error=error)
    yield from HEADER
    for campaigns, between in product(CAMPAIGNS, BETWEEN):
        c = coverage(Pooling(campaigns=campaigns, between_sd=between), pools)
        shares = (c.mean_holds, c.plain_mean_holds, c.next_holds, c.plugged_in_next_holds)
        cells = [f"{100 * share:.1f}" for share in shares]
        widths = [f"{100 * w:.2f}" for w in (c.mean_half_width, c.next_half_width, c.plugged_in_half_width)]
        row = [str(campaigns), f"{100 * between:.1f}", *cells, *widths, f"{100 * c.between_is_zero:.0f}"]
        yield f"| {' | '.join(row)} |"


def main() -> None:
    """Count every row and write the page."""
    options = argparse.ArgumentParser(description="Coverage of pooled gains")
    options.add_argument("--pools", type=int, default=4000)
    options.add_argument("--write", type=Path, help="the page to write")
    chosen = options.parse_args()
    lines: list[str] = []
    for line in page(chosen.pools):
        print(line, flush=True)
        lines.append(line)
    if chosen.write:
        chosen.write.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

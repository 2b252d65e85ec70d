"""How often the stated intervals of a gain hold the truth, and how often a gain is shown that is not there.

    python -m benchmarks.coverage --campaigns 400 --processes 2 --write docs/coverage.md

Campaigns are invented by `benchmarks.synthetic_pulls`, each on a stand of its own, whose disturbances are drawn about
the population's medians. The same seed and number of campaigns give the same page.
"""

import argparse
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import product
from pathlib import Path

import numpy as np

from benchmarks.synthetic_pulls import (
    POPULATION,
    Campaign,
    Gain,
    World,
    as_modelled,
    beyond_the_model,
    broad_gain,
    crossing_gain,
    no_gain,
    random_order,
    random_stand,
)
from boostwright.inference.disturbances import DisturbancePriors, Repeatability
from boostwright.inference.gain_curve import fit_gain_curve
from boostwright.inference.gain_summary import crossovers, range_average, shown_ranges, simultaneous_band
from boostwright.inference.importance import effective_draws

SEED = 20260314
CONFIDENCE = 0.95
ARCHIVE_DEGREES_OF_FREEDOM = 20.0
DESIGNS = ("AB", "ABBA", "ABAB", "ABBAAB")


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """One way of making campaigns; `archive` is the archive's repeatability over the stand's true one, 0 for none."""

    letters: str
    sessions: int
    world: World
    gains: tuple[Gain, ...]
    archive: float = 0.0
    spread: float = 1.0
    scatter: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What one campaign gave, or the mean over many; widths and gains on the logarithmic scale."""

    band_holds: float
    average_holds: float
    shown_without_gain: float
    average_shown_without_gain: float
    without_gain: float
    false_crossover: float
    without_crossover: float
    half_width: float
    average_half_width: float
    critical_value: float
    largest_estimate_without_gain: float
    effective_draws: float
    archive_probability: float


def outcome(scenario: Scenario, index: int) -> Outcome:
    """Invent campaign number `index` of a scenario, fit it and compare with the truth."""
    generator = np.random.default_rng([SEED, *_place(scenario), index])
    gain = scenario.gains[index % len(scenario.gains)]
    order = random_order(scenario.letters, scenario.sessions, generator)
    stand = random_stand(scenario.spread, scenario.scatter, generator)
    campaign = scenario.world(order, gain, stand, generator)
    return _judged(campaign, gain, _priors(scenario, campaign), generator)


def _place(scenario: Scenario) -> tuple[int, ...]:
    """Numbers that seed a scenario. The archive is not among them: with and without it the pulls are the same."""
    worlds = (as_modelled, beyond_the_model)
    return (
        DESIGNS.index(scenario.letters),
        scenario.sessions,
        worlds.index(scenario.world),
        round(100 * scenario.scatter),
        len(scenario.gains),
    )


def _priors(scenario: Scenario, campaign: Campaign) -> DisturbancePriors:
    if not scenario.archive:
        return POPULATION
    figure = scenario.archive * float(campaign.disturbances.pull_level_sd)
    archive = Repeatability(pull_level_sd=figure, degrees_of_freedom=ARCHIVE_DEGREES_OF_FREEDOM)
    return replace(POPULATION, repeatability=archive)


def _judged(campaign: Campaign, gain: Gain, priors: DisturbancePriors, generator: np.random.Generator) -> Outcome:
    posterior = fit_gain_curve(campaign.data, priors, generator)
    band = simultaneous_band(posterior, CONFIDENCE)
    average = range_average(posterior.gain, posterior.gain_draws, CONFIDENCE)
    true_average = float(campaign.true_gain.mean())
    is_none, crosses = gain is no_gain, gain is crossing_gain
    return Outcome(
        band_holds=bool(np.all((band.lower <= campaign.true_gain) & (campaign.true_gain <= band.upper))),
        average_holds=average.lower <= true_average <= average.upper,
        shown_without_gain=is_none and len(shown_ranges(band)) > 0,
        average_shown_without_gain=is_none and not average.lower <= 0 <= average.upper,
        without_gain=is_none,
        false_crossover=not crosses and len(crossovers(posterior, band)) > 0,
        without_crossover=not crosses,
        half_width=float((band.upper - band.lower).mean()) / 2,
        average_half_width=(average.upper - average.lower) / 2,
        critical_value=band.critical_value,
        largest_estimate_without_gain=is_none * float(band.estimate.max()),
        effective_draws=effective_draws(posterior.weights),
        archive_probability=posterior.archive_probability,
    )


def simulated(scenario: Scenario, campaigns: int, run: Callable[..., Iterator[Outcome]] = map) -> list[Outcome]:
    """Outcomes of many campaigns; `run` maps over them, in this process or several."""
    return list(run(partial(outcome, scenario), range(campaigns)))


def mean_outcome(outcomes: Sequence[Outcome]) -> Outcome:
    """The mean of every entry."""
    return Outcome(**{f.name: float(np.mean([getattr(one, f.name) for one in outcomes])) for f in fields(Outcome)})


def standard_error(share: float, count: float) -> float:
    """Binomial standard error of a share."""
    return float(np.sqrt(share * (1 - share) / count))


# The page


def main() -> None:
    """Run every scenario and write the page."""
    options = argparse.ArgumentParser(description="Coverage of the gain curve's intervals on invented campaigns")
    options.add_argument("--campaigns", type=int, default=400, help="campaigns for each design and gain")
    options.add_argument("--processes", type=int, default=1)
    options.add_argument("--write", type=Path, help="the page to write")
    chosen = options.parse_args()
    lines: list[str] = []
    with ProcessPoolExecutor(chosen.processes) as pool:
        for line in _page(chosen.campaigns, partial(pool.map, chunksize=10)):
            print(line, flush=True)
            lines.append(line)
    if chosen.write:
        chosen.write.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main_scenarios() -> Iterator[Scenario]:
    """Every design in one session and in two, in both worlds."""
    for world, sessions, letters in product((as_modelled, beyond_the_model), (1, 2), DESIGNS):
        yield Scenario(letters=letters, sessions=sessions, world=world, gains=(no_gain, broad_gain, crossing_gain))


def archive_scenarios() -> Iterator[Scenario]:
    """With no archive figure, the right one and one half as large as the stand's scatter."""
    stands = ((as_modelled, 1.0, 1.0), (beyond_the_model, 1.0, 1.0), (as_modelled, 0.0, 1.0), (as_modelled, 0.0, 2.0))
    for (world, spread, scatter), letters, archive in product(stands, ("ABBA", "ABBAAB"), (0.0, 1.0, 0.5)):
        yield Scenario(
            letters=letters,
            sessions=1,
            world=world,
            gains=(broad_gain,),
            archive=archive,
            spread=spread,
            scatter=scatter,
        )


def _page(campaigns: int, run: Callable[..., Iterator[Outcome]]) -> Iterator[str]:
    yield INTRODUCTION.format(campaigns=campaigns, seed=SEED, in_a_row=3 * campaigns)
    yield from MAIN_HEADER
    pooled: dict[World, list[Outcome]] = {as_modelled: [], beyond_the_model: []}
    for scenario in main_scenarios():
        outcomes = simulated(scenario, 3 * campaigns, run)
        pooled[scenario.world].extend(outcomes)
        sessions = "one" if scenario.sessions == 1 else "two"
        yield _main_row(f"{WORLDS[scenario.world]} | {scenario.letters} | {sessions}", outcomes)
    for world, outcomes in pooled.items():
        yield _main_row(f"{WORLDS[world]} | all | both", outcomes)
    yield ARCHIVE_TEXT.format(campaigns=campaigns + campaigns // 3)
    yield from ARCHIVE_HEADER
    for scenario in archive_scenarios():
        yield _archive_row(scenario, simulated(scenario, campaigns + campaigns // 3, run))


def _main_row(name: str, outcomes: Sequence[Outcome]) -> str:
    m, count = mean_outcome(outcomes), len(outcomes)
    none, one_sign = m.without_gain * count, m.without_crossover * count
    cells = (
        _percent(m.band_holds, count),
        _percent(m.average_holds, count),
        _percent(m.shown_without_gain / m.without_gain, none),
        _percent(m.average_shown_without_gain / m.without_gain, none),
        _percent(m.false_crossover / m.without_crossover, one_sign),
        f"{100 * m.half_width:.2f}",
        f"{100 * m.average_half_width:.2f}",
        f"{m.critical_value:.2f}",
        f"{100 * m.largest_estimate_without_gain / m.without_gain:.2f}",
        f"{m.effective_draws:.0f}",
    )
    return f"| {name} | {count} | {' | '.join(cells)} |"


def _archive_row(scenario: Scenario, outcomes: Sequence[Outcome]) -> str:
    m, count = mean_outcome(outcomes), len(outcomes)
    archive = {0.0: "none", 1.0: "right", 0.5: "half"}[scenario.archive]
    stand = "drawn" if scenario.spread else ("the median" if scenario.scatter == 1 else "twice the median")
    cells = (
        WORLDS[scenario.world],
        stand,
        scenario.letters,
        archive,
        str(count),
        _percent(m.band_holds, count),
        _percent(m.average_holds, count),
        f"{100 * m.half_width:.2f}",
        f"{100 * m.average_half_width:.2f}",
        f"{m.archive_probability:.2f}" if scenario.archive else "",
    )
    return f"| {' | '.join(cells)} |"


def _percent(share: float, count: float) -> str:
    return f"{100 * share:.1f} ± {100 * standard_error(share, count):.1f}"


WORLDS: dict[World, str] = {as_modelled: "as modelled", beyond_the_model: "beyond the model"}

INTRODUCTION = """\
# Coverage of the gain curve's intervals

Made by `python -m benchmarks.coverage --campaigns {campaigns}` (seed {seed}). Do not edit; run the command again.

Every row counts {in_a_row} invented campaigns whose true gain is known: {campaigns} without any gain, {campaigns} with
a gain of 1 to 4 % and no crossover, {campaigns} with a loss of 3 % at low speed that turns into a gain of 4 %. Each
campaign has a stand of its own; its pull level, shape, ripple, noise, speed axis, installation and drift are drawn
about the medians of the priors, with the priors' own spread. Pulls are 6 minutes apart, a change of setup takes 35
minutes; "two" sessions means that the whole order is run on each of two days, so that ABBA then has 4+4 pulls.

In the world "as modelled" all assumptions of the model hold. "Beyond the model" breaks them, at the same sizes: pull
levels have heavy tails, half of the ripple is a resonance of random phase and the rest follows another kernel, warm-up
levels off, the speed axis is scaled and shifted and takes the gain with it, noise falls with speed, and soak is read
with an error.

Stated is 95 %. Plus or minus is one binomial standard error. Widths are means over speed and campaigns of half the
interval, in percent. "Largest" is the mean of the highest point of the estimated gain where there is none: it shows why
the largest estimate must not be quoted.
"""

MAIN_HEADER = (
    "| world | order | sessions | campaigns | band holds, % | average holds, % | band shows a false gain, % "
    "| average does, % | a false crossover is shown, % | band ± % | average ± % | critical value | largest, % "
    "| effective draws |",
    "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|",
)

ARCHIVE_TEXT = """
## A stand's archive figure, right and wrong

{campaigns} campaigns a row, the same pulls with each archive; the archive figure has 20 degrees of freedom. "Half" is
an archive half as large as the stand's scatter is today. Stands are drawn as above, or fixed at the medians of the
priors, or at the medians but with twice the scatter of pull levels: then archive and population are both wrong by two.
The last column is the probability, after the pulls, that the archive holds (before them: 0.3).
"""

ARCHIVE_HEADER = (
    "| world | stand | order | archive | campaigns | band holds, % | average holds, % | band ± % | average ± % "
    "| archive holds |",
    "|---|---|---|---|---|---|---|---|---|---|",
)

if __name__ == "__main__":
    main()

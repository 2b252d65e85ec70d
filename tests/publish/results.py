"""A small comparison, made by hand, whose numbers the tests of figures and tables know."""

import numpy as np

from boostwright.studies import verdict
from boostwright.studies.compare_result import CompareResult, Crossover, Curves, Evidence, Interval, Peak, PullRow
from boostwright.units import parse_unit

SPEED = np.arange(3060, 5800, 120) / 60
RANGE = (50.0, 5800 / 60)
EVIDENCE = Evidence(
    baseline_pulls=3,
    candidate_pulls=3,
    installations=4,
    share_a_day=True,
    has_archive=False,
    corrected_outside_range=False,
    fit_warnings=(),
)
AVERAGE = Interval(
    value=5300.0, lower=3200.0, upper=7300.0, relative_value=0.017, relative_lower=0.0104, relative_upper=0.0239
)


def gain_of(rpm):
    return 0.052 / (1 + np.exp(-(rpm - 3750) / 330)) - 0.019


def result(baseline: str = "cast", candidate: str = "machined") -> CompareResult:
    rpm = 60 * SPEED
    middle, half = gain_of(rpm), 0.008 + 0.003 * ((rpm - 4400) / 1400) ** 2
    level = (250 + 60 * np.sin((rpm - 2000) / 2500)) * 1e3
    lower, upper = middle - half, middle + half
    curves = Curves(
        engine_speed=SPEED,
        baseline=level,
        candidate=level * np.exp(middle),
        gain=level * np.expm1(middle),
        lower=level * np.expm1(lower),
        upper=level * np.expm1(upper),
        relative_gain=np.expm1(middle),
        relative_lower=np.expm1(lower),
        relative_upper=np.expm1(upper),
    )
    parts = verdict.stretches(SPEED, lower, upper, RANGE)
    names = (baseline, candidate, "power")
    unit = parse_unit("kW")
    pulls = tuple(
        PullRow(
            file=f"{i:02d}-{setup}.csv",
            setup=setup,
            used=i != 4,
            fault="belt slip 5.1 % above 4950 rev/min" if i == 4 else None,
            correction_factor=1.0,
            corrected_outside_range=False,
            masked=(("throttle not fully open", 41),),
            sweep_rate=5.5,
            values=curves.candidate if setup == candidate else curves.baseline,
        )
        for i, setup in enumerate([baseline, candidate, candidate, baseline, baseline, baseline, candidate])
    )
    return CompareResult(
        title="Machined inlet elbow against the cast one",
        quantity="power",
        unit=unit,
        baseline=baseline,
        candidate=candidate,
        confidence=0.95,
        correction="none",
        curves=curves,
        range_from=RANGE[0],
        range_to=RANGE[1],
        average=AVERAGE,
        baseline_peak=Peak(value=310e3, engine_speed=95.0, manifold_pressure=171e3, rotor_speed=190.0),
        candidate_peak=Peak(value=320e3, engine_speed=95.0),
        peak_gain=AVERAGE,
        crossovers=(Crossover(engine_speed=59.5, lower=55.8, upper=61.8, direction="loss to gain"),),
        stretches=parts,
        uncertainty_shares=(("pull level", 0.6), ("drift", 0.4)),
        without_dropping=AVERAGE,
        evidence=EVIDENCE,
        verdict=verdict.verdict(parts, EVIDENCE),
        grade="publishable",
        grade_reason="",
        headline=verdict.headline(parts, curves, EVIDENCE),
        sentence=verdict.sentence(
            parts=parts,
            average=AVERAGE,
            curves=curves,
            speed_range=RANGE,
            names=names,
            unit=unit,
            evidence=EVIDENCE,
        ),
        pulls=pulls,
        warnings=("the weather of pull 3 is that of pull 2",),
    )

"""What a set of pulls may be claimed under: one correction rule, and a plain warning where it over-corrects."""

from collections.abc import Sequence

import numpy as np

from boostwright.errors import DataError, Fault
from boostwright.reduction.atmosphere import NO_CORRECTION
from boostwright.reduction.stages import ReducedPull

_BOOSTED = 1.05  # manifold over barometer; ram and resonance of an unblown engine stay below


def one_correction_rule(pulls: Sequence[ReducedPull]) -> str:
    """The rule under which all the pulls were corrected; a claim never mixes two."""
    rules = sorted({pull.correction_rule for pull in pulls})
    if len(rules) == 1:
        return rules[0]
    first = {pull.correction_rule: pull.file for pull in reversed(pulls)}
    said = ", ".join(f"{first[rule]} by {rule}" for rule in rules)
    problem = f"mixes correction rules ({said}): the rules differ by several per cent in the same weather"
    raise DataError(str(Fault(key="correction", problem=problem, remedy="reduce all pulls with one rule")))


def boosted_engine_warnings(pulls: Sequence[ReducedPull]) -> tuple[str, ...]:
    """A plain warning if the pulls are corrected and show a boosted engine, which no rule here was made for."""
    boost = max((_pressure_ratio(pull) for pull in pulls), default=0.0)
    worst = max((pull for pull in pulls), key=lambda pull: abs(pull.correction_factor - 1), default=None)
    if worst is None or worst.correction_rule == NO_CORRECTION.name or boost < _BOOSTED:
        return ()
    rule, factor = worst.correction_rule, worst.correction_factor
    return (
        f"this engine is boosted to {boost:.2f} times the barometer, and {rule} changes its power by up to "
        f"{abs(factor - 1):.1%} (factor {factor:.4f}, {worst.file}). Where boost is held to an absolute pressure, the "
        "air flow hardly follows the barometer and nearly all of this is over-correction. With a fixed drive ratio the "
        "air flow does follow it, but friction is a smaller part of a boosted engine's power than the rule allows for, "
        "which still over-corrects. Compare setups within one session, where the factor nearly cancels, or set "
        'correction = "none".',
    )


def _pressure_ratio(pull: ReducedPull) -> float:
    pressure = pull.values.get("manifold_pressure")
    if pressure is None or pull.weather is None or not np.isfinite(pressure).any():
        return 0.0
    return float(np.nanmax(pressure)) / pull.weather.barometer

"""From the log to the values that are compared: one step after another, each from one stage to the next."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.physics.rotation import inertia_power, inertia_torque
from boostwright.records.pull import RawPull
from boostwright.reduction.atmosphere import NO_CORRECTION, CorrectionRule, PowerCorrection, power_correction
from boostwright.reduction.bins import LEAST_SAMPLES, bin_centres, bin_of, binned_values, speed_bins
from boostwright.reduction.stages import (
    REASON_WORDS,
    CorrectedPull,
    PullFault,
    Reason,
    Reasons,
    ReducedPull,
    ReductionSettings,
    SteadyPull,
)
from boostwright.reduction.sweep import find_sweep
from boostwright.reduction.within_pull import belt_slip_faults, dent_faults, mask_frozen_sensors

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_AXES = ("time", "engine_speed")
_LEAST_COVERED = 0.5  # of the declared bins


def reduce_pull(raw: RawPull, settings: ReductionSettings) -> ReducedPull:
    """One pull as the studies see it: sweep found, inertia term returned, power corrected, binned, faults named."""
    edges = speed_bins(settings.speed_range)
    steady = mask_outside_bins(mask_frozen_sensors(find_sweep(raw)), edges)
    whole = return_inertia(steady, settings.rotating_inertia)
    reduced = bin_by_speed(correct_power(whole, settings.rule), edges)
    slip = belt_slip_faults(edges, reduced.values, settings.drive_ratio)
    return replace(reduced, faults=(*reduced.faults, *slip, *dent_faults(edges, reduced.values)))


def mask_outside_bins(steady: SteadyPull, edges: Floats) -> SteadyPull:
    """The pull without the steady rows outside the declared range, and without those in bins too sparse to average."""
    used, which = steady.reason == Reason.USED, bin_of(steady.engine_speed, edges)
    outside = (which < 0) | (which >= edges.size - 1)
    counts = np.bincount(which[used & ~outside], minlength=edges.size - 1)
    sparse = counts[which.clip(0, counts.size - 1)] < LEAST_SAMPLES
    reason = steady.reason.copy()
    reason[used & sparse] = Reason.SPARSE_BIN
    reason[used & outside] = Reason.OUTSIDE_RANGE
    faults = _uncovered(steady, np.where(counts < LEAST_SAMPLES, 0, counts), edges)
    return replace(steady, reason=reason, faults=(*steady.faults, *faults))


def return_inertia(steady: SteadyPull, rotating_inertia: float) -> SteadyPull:
    """The pull with what its own acceleration took from the brake added to torque and power again."""
    if rotating_inertia == 0:
        return steady
    if "time" not in steady.channels:
        remedy = "log time, or leave rotating_inertia out if the stand corrects for it"
        raise _error(steady.raw, "has no time, so that its sweep rate is not known", remedy)
    rate, speed = steady.sweep_rate, steady.engine_speed
    taken = {"torque": inertia_torque(rotating_inertia, rate), "power": inertia_power(rotating_inertia, speed, rate)}
    whole = {name: steady.channels[name] + term for name, term in taken.items() if name in steady.channels}
    return replace(steady, channels={**steady.channels, **whole})


def correct_power(steady: SteadyPull, rule: CorrectionRule) -> CorrectedPull:
    """The pull with power and torque restated by the rule, from its weather alone; nothing else is touched."""
    correction = _correction(steady.raw, rule)
    factor = correction.correction_factor
    restated = {name: steady.channels[name] * factor for name in ("torque", "power") if name in steady.channels}
    return CorrectedPull(steady=steady, correction=correction, channels={**steady.channels, **restated})


def bin_by_speed(corrected: CorrectedPull, edges: Floats) -> ReducedPull:
    """The steady rows gathered into bins of engine speed."""
    steady, raw, correction = corrected.steady, corrected.steady.raw, corrected.correction
    channels = {name: values for name, values in corrected.channels.items() if name not in _AXES}
    if not channels:
        raise _error(raw, "holds nothing but time and engine speed", "log torque, power, boost or another quantity")
    used = steady.reason == Reason.USED
    speed = steady.engine_speed[used]
    return ReducedPull(
        file=raw.file,
        setup=raw.setup,
        session=raw.session,
        installation=raw.installation,
        elapsed=raw.elapsed,
        weather=raw.weather,
        soak=_soak(raw),
        engine_speed=bin_centres(edges),
        values=binned_values(speed, {name: values[used] for name, values in channels.items()}, edges),
        counts=np.bincount(bin_of(speed, edges), minlength=edges.size - 1),
        correction_rule=correction.correction_rule,
        correction_factor=correction.correction_factor,
        outside_range=correction.outside_range,
        sweep_rate=float(np.mean(steady.sweep_rate[used])),
        masked=_masked(steady.reason),
        faults=steady.faults,
    )


def _uncovered(steady: SteadyPull, counts: Integers, edges: Floats) -> list[PullFault]:
    missing = np.flatnonzero(counts == 0)
    if not missing.size:
        return []
    short = f"{missing.size} of {counts.size} speed bins of {edges[0] * 60:.0f} to {edges[-1] * 60:.0f} rpm"
    if missing.size > (1 - _LEAST_COVERED) * counts.size:
        speed = steady.engine_speed[steady.reason == Reason.USED]
        covered = f"{speed.min() * 60:.0f} to {speed.max() * 60:.0f} rpm" if speed.size else "no speed"
        problem = f"is steady over {covered} and leaves {short} with fewer than three rows"
        remedy = "sweep the whole declared range, log faster, or declare a smaller speed_range_rpm"
        raise _error(steady.raw, problem, remedy)
    low, high = float(edges[missing[0]]), float(edges[missing[-1] + 1])
    sentence = f"{short} hold fewer than three steady rows, between {low * 60:.0f} and {high * 60:.0f} rpm"
    share = missing.size / counts.size
    return [PullFault(kind="range not covered", from_speed=low, to_speed=high, size=share, sentence=sentence)]


def _correction(raw: RawPull, rule: CorrectionRule) -> PowerCorrection:
    if raw.weather is not None:
        return power_correction(rule, raw.weather)
    if rule == NO_CORRECTION:
        return PowerCorrection(correction_rule=rule.name, correction_factor=1.0, outside_range=())
    remedy = 'give its entry in [[pulls]] all three, or set correction = "none"'
    raise _error(raw, f"has no barometer, air_temperature and relative_humidity, which {rule.name} needs", remedy)


def _soak(raw: RawPull) -> float | None:
    if raw.soak_temperature is None or raw.weather is None:
        return None
    return raw.soak_temperature - raw.weather.air_temperature


def _masked(reason: Reasons) -> dict[str, int]:
    rows = np.bincount(reason, minlength=len(Reason)).tolist()
    return {words: rows[why] for why, words in REASON_WORDS.items() if rows[why]}


def _error(raw: RawPull, problem: str, remedy: str) -> DataError:
    return DataError(str(Fault(file=raw.file, problem=problem, remedy=remedy)))

"""The tables of a comparison: gain at round engine speeds, peaks, pulls; each a list of rows that any page can set."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.studies.compare_result import CompareResult, Peak
from boostwright.studies.words import decimals_for, number, signed, speed_text
from boostwright.units import Unit, display_unit, printed_symbol

_STEPS = (100, 200, 250, 500, 1000)
_MOST_ROWS = 16


@dataclass(frozen=True, kw_only=True)
class SpeedRow:
    """One line of the table at round engine speeds, as printed."""

    engine_speed: str
    baseline: str
    candidate: str
    gain: str
    half_width: str
    percent: str
    percent_half_width: str
    state: str


def round_speeds(from_rpm: float, to_rpm: float) -> list[int]:
    """Round engine speeds inside a range, at the smallest usual step that keeps the table on the page."""

    def multiples(step: int) -> list[int]:
        return list(range(math.ceil(from_rpm / step) * step, math.floor(to_rpm / step) * step + 1, step))

    return next((speeds for step in _STEPS if len(speeds := multiples(step)) <= _MOST_ROWS), multiples(_STEPS[-1]))


def speed_rows(result: CompareResult) -> list[SpeedRow]:
    """The gain at round engine speeds with the half-width of the simultaneous band; nothing beyond the outer bins."""
    return rows_at(result, round_speeds(60 * result.curves.engine_speed[0], 60 * result.curves.engine_speed[-1]))


def rows_at(result: CompareResult, speeds_rpm: Sequence[int]) -> list[SpeedRow]:
    """The gain at these engine speeds, between the bins by straight lines."""
    curves, unit = result.curves, result.unit
    rpm = np.array(speeds_rpm, dtype=np.float64)

    def at(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.interp(rpm / 60, curves.engine_speed, values)

    half = (at(curves.upper) - at(curves.lower)) / 2 / unit.scale
    percent_half = 50 * (at(curves.relative_upper) - at(curves.relative_lower))
    digits = decimals_for(float(np.min(half, initial=np.inf)))
    percent_digits = max(1, decimals_for(float(np.min(percent_half, initial=np.inf))))
    shown = (
        (unit.from_si(at(curves.baseline)), number, digits),
        (unit.from_si(at(curves.candidate)), number, digits),
        (at(curves.gain) / unit.scale, signed, digits),
        (half, number, digits),
        (100 * at(curves.relative_gain), signed, percent_digits),
        (percent_half, number, percent_digits),
    )
    columns = ([say(float(value), places) for value in values] for values, say, places in shown)
    return [
        SpeedRow(
            engine_speed=number(float(speed)),
            baseline=baseline,
            candidate=candidate,
            gain=gain,
            half_width=half_width,
            percent=percent,
            percent_half_width=percent_half_width,
            state=_state_at(float(speed) / 60, result),
        )
        for speed, baseline, candidate, gain, half_width, percent, percent_half_width in zip(rpm, *columns, strict=True)
    ]


def _state_at(engine_speed: float, result: CompareResult) -> str:
    return next(part.state for part in result.stretches if engine_speed <= part.to_speed)


@dataclass(frozen=True, kw_only=True)
class PeakRow:
    """One line of the table of peaks, as printed; a dash where it was not logged."""

    setup: str
    value: str
    engine_speed: str
    manifold_pressure: str
    rotor_speed: str


def peak_rows(result: CompareResult) -> list[PeakRow]:
    """Peak of each curve, the speed it occurs at, and boost and rotor speed there."""
    pressure = display_unit("pressure", "us" if result.unit.symbol in ("hp", "lb-ft", "psi") else "metric")
    digits = decimals_for(result.peak_gain.half_width / result.unit.scale)
    return [
        _peak_row(name, peak, result.unit, pressure, digits)
        for name, peak in ((result.baseline, result.baseline_peak), (result.candidate, result.candidate_peak))
    ]


def _peak_row(name: str, peak: Peak, unit: Unit, pressure: Unit, digits: int) -> PeakRow:
    manifold, rotor = peak.manifold_pressure, peak.rotor_speed
    return PeakRow(
        setup=name,
        value=f"{number(float(unit.from_si(peak.value)), digits)} {printed_symbol(unit)}",
        engine_speed=speed_text(peak.engine_speed),
        manifold_pressure="–" if manifold is None else f"{number(manifold / pressure.scale, 1)} {pressure.symbol} abs",
        rotor_speed="–" if rotor is None else speed_text(rotor),
    )


def pull_notes(result: CompareResult) -> list[tuple[str, str, str, str]]:
    """Every pull: file, setup, what was done with it, and what was masked in it."""
    return [
        (
            pull.file,
            pull.setup,
            "used" if pull.used and not pull.fault else f"{'used' if pull.used else 'left out'}: {pull.fault}",
            ", ".join(f"{amount} {reason}" for reason, amount in pull.masked) or "nothing",
        )
        for pull in result.pulls
    ]

"""The tables of a comparison: gain at round engine speeds, peaks, pulls; each a list of rows that any page can set."""

import math
from dataclasses import dataclass

import numpy as np

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
    """The gain at round engine speeds with the half-width of the simultaneous band."""
    curves, unit = result.curves, result.unit
    rows: list[SpeedRow] = []
    for rpm in round_speeds(60 * result.range_from, 60 * result.range_to):

        def at(values: np.ndarray[tuple[int], np.dtype[np.float64]], rpm: float = rpm) -> float:
            return float(np.interp(rpm / 60, curves.engine_speed, values))

        half = (at(curves.upper) - at(curves.lower)) / 2 / unit.scale
        percent_half = 50 * (at(curves.relative_upper) - at(curves.relative_lower))
        digits, percent_digits = decimals_for(half), decimals_for(percent_half)
        state = next((part.state for part in result.stretches if part.from_speed <= rpm / 60 <= part.to_speed), "open")
        rows.append(
            SpeedRow(
                engine_speed=number(rpm),
                baseline=number(float(unit.from_si(at(curves.baseline))), digits),
                candidate=number(float(unit.from_si(at(curves.candidate))), digits),
                gain=signed(at(curves.gain) / unit.scale, digits),
                half_width=number(half, digits),
                percent=signed(100 * at(curves.relative_gain), percent_digits),
                percent_half_width=number(percent_half, percent_digits),
                state=state,
            )
        )
    return rows


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

"""What an explanation says in words: the answer, what was merged and why, and what to be careful about."""

from boostwright.inference.calibrate import Calibration
from boostwright.studies.explain_result import (
    Band,
    CauseTerm,
    FitAccount,
    FittedChannel,
    ParameterRow,
    SharperChannel,
)
from boostwright.studies.words import NO_BREAK, count, joined, number, quantity_words, signed_plus_minus

FINEST_PERCENT = 0.01  # a pressure that a valve holds comes out of the chain with no spread at all; no valve does that
LARGEST_MISFIT = 2.0  # whitened misfit a datum; synthetic campaigns of another engine stay below 1.9 in 95 of 100 cases


def answer(
    air_gain: Band,
    pressure_gain: Band,
    air_minus_pressure: Band,
    causes: tuple[CauseTerm, ...],
    measured_gain: CauseTerm,
) -> str:
    """The answer to "more air, or only more pressure?", with its numbers, and the causes that are shown."""
    head = _more_air_or_pressure(air_gain, pressure_gain, air_minus_pressure)
    figures = (
        f"air mass flow {_percent(air_gain)}, absolute manifold pressure {_percent(pressure_gain)}, "
        f"air beyond pressure {_percent(air_minus_pressure)}"
    )
    shown = _shown(causes)
    because = f"Shown in power: {joined(shown)}." if shown else "No single cause is shown in power."
    measured = measured_gain.relative_gain
    whole = "" if measured.is_shown or not shown else f" No change of power as a whole is shown: {_percent(measured)}."
    return f"{head}: {figures}. {because}{whole}"


def headline(
    air_gain: Band,
    pressure_gain: Band,
    air_minus_pressure: Band,
    causes: tuple[CauseTerm, ...],
    measured_gain: CauseTerm,
) -> str:
    """The answer and the causes that are shown, short enough to stand over a figure."""
    shown = _shown(causes)
    because = f"in power, {joined(shown)}" if shown else "no single cause is shown in power"
    whole = "" if measured_gain.relative_gain.is_shown or not shown else ", though no change of power as a whole is"
    return f"{_more_air_or_pressure(air_gain, pressure_gain, air_minus_pressure)}: {because}{whole}."


def _shown(causes: tuple[CauseTerm, ...]) -> list[str]:
    return [f"{term.name} {_percent(term.relative_gain)}" for term in causes if term.relative_gain.is_shown]


def fit_sentence(channels: tuple[FittedChannel, ...], fit: FitAccount) -> str:
    """How many measured points the fitted chain meets within their errors."""
    curves = [curve for channel in channels for curve in (channel.baseline, channel.candidate)]
    met, every = sum(int(curve.is_within.sum()) for curve in curves), sum(curve.measured.size for curve in curves)
    return (
        f"The fitted chain meets {met} of {count(every, 'measured point')} in {count(len(channels), 'channel')} within "
        f"the points' own 95{NO_BREAK}% errors; the misfit a point is {number(fit.misfit, 1)}, and 1 is expected."
    )


def parameter_sentence(parameters: tuple[ParameterRow, ...]) -> str:
    """How many unknowns the data determined, and which best."""
    determined = sorted((row for row in parameters if row.is_determined), key=lambda row: -row.share_removed)
    if not determined:
        return f"The data determined none of {count(len(parameters), 'unknown')}: what was assumed still stands."
    best = joined([quantity_words(row.name) for row in determined[:3]])
    return (
        f"The data determined {len(determined)} of {count(len(parameters), 'unknown')}, best {best}; "
        "the others are still much as they were assumed."
    )


def channel_sentence(sharper_channels: tuple[SharperChannel, ...]) -> str:
    """Which channel that was not logged would sharpen the answer most, and by how much."""
    if not sharper_channels:
        return "Every channel that the chain predicts was logged."
    best = sharper_channels[0]
    return (
        f"Of what was not logged, {quantity_words(best.channel)} would sharpen the answer most: it would leave "
        f"{_share(best.air_gain_left)} of the width of the gain in air, {_share(best.causes_left)} of that of all "
        f"causes and {_share(best.sharpest_cause_left)} of that of {best.sharpest_cause}."
    )


def _share(of: float) -> str:
    return f"{number(100 * of)}{NO_BREAK}%"


def _more_air_or_pressure(air: Band, pressure: Band, difference: Band) -> str:
    match _sign(air), _sign(pressure):
        case 1, _ if _sign(difference) > 0:
            return "More air, and more than the pressure says"
        case 1, _ if _sign(difference) < 0:
            return "More air, but less than the pressure says"
        case 1, _:
            return "More air, in step with the pressure"
        case 0, 1:
            return "More pressure; more air is not shown"
        case -1, 1:
            return "Only more pressure: there is less air"
        case -1, _:
            return "Less air"
        case 0, -1:
            return "Less pressure; less air is not shown"
        case _:
            return "Neither more air nor more pressure is shown"


def _sign(of: Band) -> int:
    finest = FINEST_PERCENT / 100
    lower, upper = min(of.mean_lower, of.mean - finest), max(of.mean_upper, of.mean + finest)
    return 1 if lower > 0 else -1 if upper < 0 else 0


def _percent(of: Band) -> str:
    return signed_plus_minus(100 * of.mean, max(100 * of.half_width, FINEST_PERCENT), "%")


def merging_notes(causes: tuple[CauseTerm, ...], channels: tuple[str, ...]) -> tuple[str, ...]:
    """One sentence for each group of causes that the logged channels cannot tell apart."""
    remedy = "" if "blower_inlet_pressure" in channels else "; pressure at the blower inlet would separate the inlet"
    return tuple(
        f"The logged channels do not tell {joined(list(term.parts))} apart: they are given as one{remedy}."
        for term in causes
        if len(term.parts) > 1
    )


def fit_account(calibration: Calibration) -> FitAccount:
    """How well a calibration fits."""
    return FitAccount(
        outcome=calibration.fit.outcome.value,
        advice=calibration.fit.advice,
        misfit=calibration.misfit,
        strained=calibration.strained,
        channels=calibration.predictor.data.channels,
    )


def warnings_of(fit: FitAccount) -> tuple[str, ...]:
    """What the reader should doubt."""
    said: list[str] = []
    if fit.outcome != "converged":
        said.append(f"The calibration ended '{fit.outcome}': {fit.advice}.")
    if fit.misfit > LARGEST_MISFIT:
        said.append(
            f"The chain misses the curves by {fit.misfit:.1f} times what their errors allow: check channels and builds."
        )
    if fit.strained:
        said.append(f"More than three standard deviations from what was assumed: {', '.join(fit.strained)}.")
    return tuple(said)

"""Why did it gain: more air, or only more pressure? The gain in power split into its causes, each with its interval."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from operator import attrgetter, itemgetter
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.attribution import CauseShares, GainPaths, cause_shares, gain_paths
from boostwright.inference.calibrate import LOGARITHMIC, Calibration, CalibrationData, calibrate
from boostwright.inference.posterior_draws import (
    PosteriorDraws,
    Sampler,
    central_interval,
    randomised_maximum_likelihood,
    spread_interval,
)
from boostwright.machine.operating_point import OperatingPoints
from boostwright.physics.moist_air import ICE_POINT
from boostwright.studies.explain_result import (
    Band,
    CauseTerm,
    DerivedQuantity,
    ExplainResult,
    FittedChannel,
    FittedCurve,
)
from boostwright.studies.explain_words import (
    answer,
    channel_sentence,
    fit_account,
    fit_sentence,
    headline,
    merging_notes,
    parameter_sentence,
    warnings_of,
)
from boostwright.studies.weather_factors import weather_factors
from boostwright.studies.what_data_tell import parameter_rows, sharper_channels

Floats: TypeAlias = NDArray[np.float64]
IntervalRule: TypeAlias = Callable[[Floats, float], tuple[Floats, Floats]]

DRAW_COUNT = 200
CONFIDENCE = 0.95
SEED = 20260101
MERGE_RATIO = 0.7  # causes are merged where their sum has less than this share of the variance of the better known one
INLET_CHANNEL = "blower_inlet_pressure"
_REACH = 1.959964  # half-width of a 95 % interval in standard deviations


@dataclass(frozen=True, kw_only=True)
class ExplainedDraws:
    """Everything that an explanation is summarised from: (draws, speeds) of both setups."""

    calibration: Calibration
    draws: PosteriorDraws
    baseline: OperatingPoints
    candidate: OperatingPoints
    shares: CauseShares
    measured_power: Floats  # (2, speeds), as observed
    measured_draws: Floats  # (draws, 2, speeds), each with its own perturbation


def explain(
    data: CalibrationData, baseline: str, candidate: str, sampler: Sampler = randomised_maximum_likelihood
) -> ExplainResult:
    """Explain the gain of a candidate over a baseline; the same data give the same result, digit for digit.

    Parameters
    ----------
    data : CalibrationData
        Measured curves of both setups, torque and manifold pressure at least, and their nominal points.
    baseline, candidate : str
        What the setups are called.
    sampler : callable
        How the unknowns are drawn: `chain_draws` takes seconds more and is meant for what will be published.
    """
    missing = [channel for channel in ("torque", "manifold_pressure") if channel not in data.channels]
    if missing:
        raise ValueError(f"explaining needs {' and '.join(missing)}: log both in every pull")
    return _summarised(_explained_draws(data, sampler), baseline, candidate)


def _explained_draws(data: CalibrationData, sampler: Sampler) -> ExplainedDraws:
    calibration = calibrate(data)
    draws = sampler(calibration, DRAW_COUNT, np.random.default_rng(SEED))
    points = calibration.predictor.space.points(draws.vectors)
    n = data.engine_speed.size
    form = data.form
    shares = cause_shares(points[:, :n], points[:, n:], form.causes, lambda table: form.matched(table)["brake_power"])
    observed = draws.observations.reshape(-1, *data.observations.shape)[:, data.channels.index("torque")]
    turning = 2 * np.pi * data.engine_speed
    return ExplainedDraws(
        calibration=calibration,
        draws=draws,
        baseline=form.matched(points[:, :n]),
        candidate=form.matched(points[:, n:]),
        shares=shares,
        measured_power=turning * np.exp(data.observations[data.channels.index("torque")]),
        measured_draws=turning * np.exp(observed),
    )


def _summarised(explained: ExplainedDraws, baseline: str, candidate: str) -> ExplainResult:
    data = explained.calibration.predictor.data
    causes, measured = _cause_terms(explained), _measured_term(explained)
    paths = gain_paths(explained.baseline.states, explained.candidate.states)
    air, pressure = _band(paths.air_mass_flow), _band(paths.manifold_pressure)
    difference = _band(paths.air_mass_flow - paths.manifold_pressure)
    account = fit_account(explained.calibration)
    channels = _fitted_channels(explained)
    parameters = parameter_rows(explained.calibration, explained.draws)
    sharper = sharper_channels(explained.calibration, explained.draws, paths.air_mass_flow, explained.shares)
    return ExplainResult(
        baseline=baseline,
        candidate=candidate,
        confidence=CONFIDENCE,
        engine_speed=data.engine_speed,
        measured_gain=measured,
        causes=causes,
        interaction=_term("interaction", (), explained.shares.interaction, explained),
        together=_term(
            "together", (), explained.candidate["brake_power"] - explained.baseline["brake_power"], explained
        ),
        unexplained=_unexplained_term(explained),
        air_gain=air,
        pressure_gain=pressure,
        air_minus_pressure=difference,
        paths={name: _band(getattr(paths, name)) for name in GainPaths.__dataclass_fields__},
        derived=tuple(d.quantity(explained.baseline, explained.candidate) for d in _DERIVATIONS),
        channels=channels,
        parameters=parameters,
        sharper_channels=sharper,
        weather_factors=weather_factors(explained.baseline.points, CONFIDENCE, data.form),
        fit=account,
        sentence=answer(air, pressure, difference, causes, measured),
        headline=headline(air, pressure, difference, causes, measured),
        fit_sentence=fit_sentence(channels, account),
        parameter_sentence=parameter_sentence(parameters),
        channel_sentence=channel_sentence(sharper),
        merging=merging_notes(causes, data.channels),
        warnings=warnings_of(account),
    )


def _band(draws: Floats) -> Band:
    """Mean of draws, (draws, speeds), with the interval of each speed and of the mean over speeds."""
    return _band_around(draws, np.asarray(draws.mean(axis=0), float), spread_interval)


def _band_around(draws: Floats, values: Floats, interval: IntervalRule) -> Band:
    """The same around values of which the draws' own mean is only an estimate."""
    shifted = draws + (values - draws.mean(axis=0))
    lower, upper = interval(shifted, CONFIDENCE)
    mean_lower, mean_upper = interval(np.asarray(shifted.mean(axis=1), float), CONFIDENCE)
    return Band(
        values=values,
        lower=lower,
        upper=upper,
        mean=float(values.mean()),
        mean_lower=float(mean_lower),
        mean_upper=float(mean_upper),
    )


def _term(name: str, parts: tuple[str, ...], draws: Floats, explained: ExplainedDraws) -> CauseTerm:
    """A term of the sum; relative to the measured power of the baseline."""
    reference = explained.measured_power[0]
    return CauseTerm(name=name, parts=parts, gain=_band(draws), relative_gain=_band(draws / reference))


def _measured(name: str, draws: Floats, values: Floats, interval: IntervalRule, explained: ExplainedDraws) -> CauseTerm:
    """A term whose value is measured; the draws give its interval alone."""
    reference = explained.measured_power[0]
    gain = _band_around(draws, values, interval)
    relative_gain = _band_around(draws / reference, values / reference, interval)
    return CauseTerm(name=name, parts=(), gain=gain, relative_gain=relative_gain)


def _measured_term(explained: ExplainedDraws) -> CauseTerm:
    draws = explained.measured_draws[:, 1] - explained.measured_draws[:, 0]
    values = explained.measured_power[1] - explained.measured_power[0]
    return _measured("measured gain", draws, values, central_interval, explained)


def _unexplained_term(explained: ExplainedDraws) -> CauseTerm:
    """What the causes leave of the measured gain; its interval holds the noise of the measured gain as well."""
    chain = explained.candidate["brake_power"] - explained.baseline["brake_power"]
    draws = explained.measured_draws[:, 1] - explained.measured_draws[:, 0] - chain
    values = explained.measured_power[1] - explained.measured_power[0] - chain.mean(axis=0)
    return _measured("unexplained", draws, values, spread_interval, explained)


def _cause_terms(explained: ExplainedDraws) -> tuple[CauseTerm, ...]:
    """The causes, largest first, those merged that the data cannot tell apart."""
    shares, names = explained.shares.shares, [cause.name for cause in explained.shares.causes]
    groups = merged_groups(np.asarray(shares.mean(axis=2), float), names, explained.calibration.predictor.data.channels)
    terms = [
        _term(
            " + ".join(names[i] for i in group), tuple(names[i] for i in group), shares[list(group)].sum(0), explained
        )
        for group in groups
    ]
    return tuple(sorted(terms, key=lambda term: -abs(term.gain.mean)))


def merged_groups(draws: Floats, names: list[str], channels: tuple[str, ...]) -> list[tuple[int, ...]]:
    """Groups of causes that can be told apart, from draws (causes, draws) of their mean shares.

    Without the pressure at the blower inlet, inlet and filling (or ports) act on the flow alike and are always one
    group.
    """
    groups = [(i,) for i in range(len(names))]
    filling = "ports" if "ports" in names else "filling"
    if INLET_CHANNEL not in channels and {"inlet", filling} <= set(names):
        together = names.index("inlet"), names.index(filling)
        groups = [together, *[group for group in groups if group[0] not in together]]
    while len(groups) > 1:
        ratio, a, b = min((_merge_ratio(draws, a, b), a, b) for a, b in combinations(groups, 2))
        if ratio > MERGE_RATIO:
            break
        groups = [a + b, *[group for group in groups if group not in (a, b)]]
    return groups


def _merge_ratio(draws: Floats, a: tuple[int, ...], b: tuple[int, ...]) -> float:
    """Variance of the sum of two groups over that of the better known one."""
    first, second = draws[list(a)].sum(axis=0), draws[list(b)].sum(axis=0)
    return float(np.var(first + second) / max(min(np.var(first), np.var(second)), 1e-12))


@dataclass(frozen=True, kw_only=True)
class _Derivation:
    """How a quantity follows from matched points, and the unit that it is read in: its size and its zero in SI."""

    name: str
    of: Callable[[OperatingPoints], Floats]
    unit: str
    scale: float = 1.0
    zero: float = 0.0

    def quantity(self, baseline: OperatingPoints, candidate: OperatingPoints) -> DerivedQuantity:
        return DerivedQuantity(
            name=self.name,
            unit=self.unit,
            scale=self.scale,
            zero=self.zero,
            baseline=_band(self.of(baseline)),
            candidate=_band(self.of(candidate)),
        )


def _depression(at: OperatingPoints) -> Floats:
    return at["ambient_pressure"] - at["blower_inlet_pressure"]


_DERIVATIONS = (
    _Derivation(name="air_mass_flow", of=itemgetter("air_mass_flow"), unit="kg_per_s"),
    _Derivation(name="inlet_depression", of=_depression, unit="kpa", scale=1e3),
    _Derivation(
        name="blower_volumetric_efficiency", of=itemgetter("blower_volumetric_efficiency"), unit="percent", scale=0.01
    ),
    _Derivation(name="isentropic_efficiency", of=attrgetter("isentropic_efficiency"), unit="percent", scale=0.01),
    _Derivation(name="blower_drive_power", of=itemgetter("blower_drive_power"), unit="kw", scale=1e3),
    _Derivation(
        name="blower_outlet_temperature", of=itemgetter("blower_outlet_temperature"), unit="degC", zero=ICE_POINT
    ),
)


_READ_IN = {  # a channel's unit, its size and its zero in SI
    "torque": ("nm", 1.0, 0.0),
    "manifold_pressure": ("kpa", 1e3, 0.0),
    "charge_temperature": ("degC", 1.0, ICE_POINT),
    "blower_inlet_pressure": ("kpa", 1e3, 0.0),
    "blower_outlet_temperature": ("degC", 1.0, ICE_POINT),
    "air_mass_flow": ("kg_per_s", 1.0, 0.0),
    "rotor_speed": ("rpm", 1 / 60, 0.0),
}


def _fitted_channels(explained: ExplainedDraws) -> tuple[FittedChannel, ...]:
    """Every logged channel of both setups against the fitted chain."""
    data = explained.calibration.predictor.data
    sd = np.sqrt(np.diag(data.covariance)).reshape(data.observations.shape)
    found: list[FittedChannel] = []
    for channel, values, error in zip(data.channels, data.observations, sd, strict=True):
        measured = np.exp(values) if channel in LOGARITHMIC else values
        half_width = _REACH * (error * measured if channel in LOGARITHMIC else error)
        curves = [
            FittedCurve(measured=measured[i], measured_half_width=half_width[i], fitted=_band(setup[channel]))
            for i, setup in enumerate((explained.baseline, explained.candidate))
        ]
        unit, scale, zero = _READ_IN[channel]
        found.append(
            FittedChannel(name=channel, unit=unit, scale=scale, zero=zero, baseline=curves[0], candidate=curves[1])
        )
    return tuple(found)

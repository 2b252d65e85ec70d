"""What the data told about each unknown, and which channel, were it logged, would tell most of what is still open."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.attribution import CauseShares
from boostwright.inference.calibrate import (
    CHANNELS,
    TYPICAL_SENSOR_ERRORS,
    Calibration,
    observed_scale,
    sensor_covariance,
)
from boostwright.inference.posterior_draws import SPREAD_FACTOR, PosteriorDraws
from boostwright.inference.priors import Contrast, Law, ParameterSpace, SpeedShape, Unknown
from boostwright.nomenclature import WORDS
from boostwright.studies.explain_result import Estimate, ParameterRow, SharperChannel

Floats: TypeAlias = NDArray[np.float64]

_REACH = 1.959964  # half-width of a 95 % interval in standard deviations


def parameter_rows(calibration: Calibration, draws: PosteriorDraws) -> tuple[ParameterRow, ...]:
    """Every single unknown before and after the data; smooth errors are told by the share removed alone."""
    space = calibration.predictor.space
    return tuple(
        _row(space, unknown, np.asarray(draws.vectors[:, i], float)) for i, unknown in enumerate(space.unknowns)
    )


def _row(space: ParameterSpace, unknown: Unknown, z: Floats) -> ParameterRow:
    middle, reach = float(np.median(z)), min(SPREAD_FACTOR * _REACH * float(np.std(z)), _REACH)
    scale = _Scale.of(space, unknown)
    return ParameterRow(
        name=unknown.name,
        unit=scale.unit,
        prior=scale.estimate(0.0, _REACH),
        posterior=scale.estimate(middle, reach),
        standardised=Estimate(value=middle, lower=middle - reach, upper=middle + reach),
        share_removed=max(0.0, 1 - float(np.var(z))),
    )


@dataclass(frozen=True, kw_only=True)
class _Scale:
    """From a standard normal to the number that an engineer knows: a value, a ratio, or a difference."""

    law: Law
    centre: float
    sd: float
    unit: str

    @staticmethod
    def of(space: ParameterSpace, unknown: Unknown) -> "_Scale":
        """A common level has the unit of its column; a factor between setups or along speed is a ratio."""
        nominal = float(np.mean(space.nominal[unknown.word]))
        is_level = unknown.contrast is Contrast.COMMON and unknown.shape is SpeedShape.LEVEL
        if unknown.law is Law.FACTOR:
            return _Scale(
                law=Law.FACTOR,
                centre=nominal if is_level else np.exp(unknown.centre),
                sd=unknown.sd,
                unit=WORDS[unknown.word].unit if is_level else "-",
            )
        centre = unknown.centre + (nominal if is_level else 0.0)
        return _Scale(law=Law.OFFSET, centre=centre, sd=unknown.sd, unit=WORDS[unknown.word].unit)

    def estimate(self, middle: float, reach: float) -> Estimate:
        value, lower, upper = (self._value(z) for z in (middle, middle - reach, middle + reach))
        return Estimate(value=value, lower=lower, upper=upper)

    def _value(self, z: float) -> float:
        return float(self.centre * np.exp(self.sd * z) if self.law is Law.FACTOR else self.centre + self.sd * z)


def sharper_channels(
    calibration: Calibration, draws: PosteriorDraws, air_gain: Floats, shares: CauseShares
) -> tuple[SharperChannel, ...]:
    """Channels that were not logged, the most useful first, each with the usual errors of its sensor.

    Notes
    -----
    The draws tell how far a channel's level and slope in both setups go with a result; the linear update by those four
    numbers gives the variance that would be left. More of a channel's shape would be fitted to chance in 200 draws.
    """
    data = calibration.predictor.data
    targets = np.vstack([air_gain.mean(axis=1), shares.shares.mean(axis=2)])
    states = calibration.predictor.states(draws.vectors)
    rows = [
        _sharper(
            channel, targets, _features(observed_scale(channel, states[channel]), channel, data.engine_speed), shares
        )
        for channel in CHANNELS
        if channel not in data.channels
    ]
    return tuple(sorted(rows, key=lambda row: row.causes_left + row.air_gain_left))


def _features(predicted: Floats, channel: str, engine_speed: Floats) -> tuple[Floats, Floats]:
    """Level and slope of both setups, (4, draws), with the covariance of their measurement."""
    n = len(engine_speed)
    slope = (engine_speed - engine_speed.mean()) / max(float(np.ptp(engine_speed)), 1e-9)
    weights = np.stack([np.ones(n) / n, slope / max(float(slope @ slope), 1e-9)])
    W = np.kron(np.eye(2), weights)
    return W @ predicted.T, W @ sensor_covariance(TYPICAL_SENSOR_ERRORS[channel], engine_speed) @ W.T


def _sharper(channel: str, targets: Floats, features: tuple[Floats, Floats], shares: CauseShares) -> SharperChannel:
    predicted, errors = features
    joint = np.cov(np.vstack([predicted, targets]))
    m = len(predicted)
    cross = joint[:m, m:]
    before = np.diag(joint)[m:]
    after = before - np.einsum("ij,ij->j", cross, np.linalg.solve(joint[:m, :m] + errors, cross))
    left = np.sqrt(np.clip(after, 0, None) / np.maximum(before, 1e-30))
    best = int(np.argmin(np.where(before[1:] > 0.01 * before[1:].max(), left[1:], 1.0)))
    return SharperChannel(
        channel=channel,
        air_gain_left=float(left[0]),
        causes_left=float(np.sqrt(after[1:].sum() / before[1:].sum())),
        sharpest_cause=shares.causes[best].name,
        sharpest_cause_left=float(left[1 + best]),
    )

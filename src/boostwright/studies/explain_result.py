"""Why a candidate gained: the gain in power by cause, the gain in air and pressure, and what the data determined."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.studies.rounding import json_list, json_number

Floats: TypeAlias = NDArray[np.float64]

DETERMINED = 0.5
"""Share of its variance that the data must remove from an unknown before it counts as determined by them."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """A curve over engine speed with its interval, and its mean over the range with its own interval."""

    values: Floats
    lower: Floats
    upper: Floats
    mean: float
    mean_lower: float
    mean_upper: float

    @property
    def half_width(self) -> float:
        """Half the width of the interval of the mean."""
        return (self.mean_upper - self.mean_lower) / 2

    @property
    def is_shown(self) -> bool:
        """Whether the interval of the mean leaves zero outside."""
        return self.mean_lower > 0 or self.mean_upper < 0

    def as_json(self, scale: float, unit: str, zero: float = 0.0) -> dict[str, object]:
        """The curve in a unit that is `scale` SI units large and begins at `zero`; the unit stands in the keys."""
        return {
            unit: json_list((self.values - zero) / scale),
            f"lower_{unit}": json_list((self.lower - zero) / scale),
            f"upper_{unit}": json_list((self.upper - zero) / scale),
            f"mean_{unit}": json_number((self.mean - zero) / scale),
            f"mean_lower_{unit}": json_number((self.mean_lower - zero) / scale),
            f"mean_upper_{unit}": json_number((self.mean_upper - zero) / scale),
        }


@dataclass(frozen=True, kw_only=True)
class CauseTerm:
    """What one cause, or several that the data cannot tell apart, adds to brake power [W]."""

    name: str
    parts: tuple[str, ...]
    gain: Band
    relative_gain: Band


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A middle value with its interval."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, kw_only=True)
class ParameterRow:
    """An unknown before and after the data, and the share of its variance that they removed.

    `standardised` is the posterior counted from the middle of the prior in the prior's standard deviations.
    """

    name: str
    unit: str
    prior: Estimate
    posterior: Estimate
    standardised: Estimate
    share_removed: float

    @property
    def is_determined(self) -> bool:
        """Whether the data rather than the prior say what it is."""
        return self.share_removed >= DETERMINED


@dataclass(frozen=True, kw_only=True)
class SharperChannel:
    """A channel that was not logged, and what share of each interval's width would be left if it were."""

    channel: str
    air_gain_left: float
    causes_left: float
    sharpest_cause: str
    sharpest_cause_left: float


@dataclass(frozen=True, kw_only=True)
class DerivedQuantity:
    """A quantity that the chain gives for both setups, logged or not, and the unit that it is read in."""

    name: str
    unit: str
    scale: float
    zero: float
    baseline: Band
    candidate: Band


@dataclass(frozen=True, kw_only=True)
class FittedCurve:
    """What a channel logged of one setup, half the width of that measurement's interval, and the fitted chain."""

    measured: Floats
    measured_half_width: Floats
    fitted: Band

    @property
    def residual(self) -> Floats:
        """Measured less fitted."""
        return self.measured - self.fitted.values

    @property
    def is_within(self) -> NDArray[np.bool_]:
        """Where the fitted curve lies within the interval of the measurement."""
        return np.abs(self.residual) <= self.measured_half_width


@dataclass(frozen=True, kw_only=True)
class FittedChannel:
    """A logged channel against the fitted chain, and the unit that it is read in."""

    name: str
    unit: str
    scale: float
    zero: float
    baseline: FittedCurve
    candidate: FittedCurve


@dataclass(frozen=True, kw_only=True)
class WeatherFactor:
    """A rule's factor for power in the baseline's weather, the chain's to the same air, and their ratio less one."""

    correction_rule: str
    standard: float
    chain: Estimate
    excess: Estimate


@dataclass(frozen=True, kw_only=True)
class FitAccount:
    """How the calibration ended and how well it fits."""

    outcome: str
    advice: str
    misfit: float
    strained: tuple[str, ...]
    channels: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ExplainResult:
    """The gain in brake power of a candidate, split into causes that sum to it, and what else the chain tells.

    `causes` and `interaction` sum to `together`, and with `unexplained` to `measured_gain`, at every speed. Gains in
    air and pressure are natural logarithms of ratios; `air_minus_pressure` is their difference. Each `*_sentence`
    goes with one figure or table, as `headline` goes with the causes.
    """

    baseline: str
    candidate: str
    confidence: float
    engine_speed: Floats
    measured_gain: CauseTerm
    causes: tuple[CauseTerm, ...]
    interaction: CauseTerm
    together: CauseTerm
    unexplained: CauseTerm
    air_gain: Band
    pressure_gain: Band
    air_minus_pressure: Band
    paths: Mapping[str, Band]
    derived: tuple[DerivedQuantity, ...]
    channels: tuple[FittedChannel, ...]
    parameters: tuple[ParameterRow, ...]
    sharper_channels: tuple[SharperChannel, ...]
    weather_factors: tuple[WeatherFactor, ...]
    fit: FitAccount
    sentence: str
    headline: str
    fit_sentence: str
    parameter_sentence: str
    channel_sentence: str
    merging: tuple[str, ...]
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The result as JSON, each number with its unit in the key."""
        return {
            "baseline": self.baseline,
            "candidate": self.candidate,
            "confidence": self.confidence,
            "engine_speed_rpm": json_list(60 * self.engine_speed),
            "measured_gain": _term_json(self.measured_gain),
            "causes": [_term_json(term) for term in self.causes],
            "interaction": _term_json(self.interaction),
            "together": _term_json(self.together),
            "unexplained": _term_json(self.unexplained),
            "air_mass_flow_gain": self.air_gain.as_json(0.01, "percent"),
            "manifold_pressure_gain": self.pressure_gain.as_json(0.01, "percent"),
            "air_minus_pressure": self.air_minus_pressure.as_json(0.01, "percent"),
            "paths": {name: _path_json(name, band) for name, band in self.paths.items()},
            "derived": {quantity.name: _derived_json(quantity) for quantity in self.derived},
            "channels": {channel.name: _fitted_json(channel) for channel in self.channels},
            "parameters": [_parameter_json(row) for row in self.parameters],
            "sharper_channels": [_channel_json(row) for row in self.sharper_channels],
            "weather_factors": [_weather_json(row) for row in self.weather_factors],
            "fit": _fit_json(self.fit),
            "sentence": self.sentence,
            "headline": self.headline,
            "fit_sentence": self.fit_sentence,
            "parameter_sentence": self.parameter_sentence,
            "channel_sentence": self.channel_sentence,
            "merging": list(self.merging),
            "warnings": list(self.warnings),
        }

    def as_frame(self) -> pl.DataFrame:
        """One row for each term and engine speed: the gain in kW with its interval."""
        terms = (self.measured_gain, *self.causes, self.interaction, self.unexplained)
        return pl.DataFrame(
            {
                "term": [term.name for term in terms for _ in self.engine_speed],
                "engine_speed_rpm": np.tile(60 * self.engine_speed, len(terms)),
                "gain_kw": np.concatenate([term.gain.values for term in terms]) / 1e3,
                "lower_kw": np.concatenate([term.gain.lower for term in terms]) / 1e3,
                "upper_kw": np.concatenate([term.gain.upper for term in terms]) / 1e3,
            }
        )


def _term_json(term: CauseTerm) -> dict[str, object]:
    gain, relative = term.gain.as_json(1e3, "kw"), term.relative_gain.as_json(0.01, "percent")
    return {"name": term.name, "parts": list(term.parts), **gain, **relative}


def _path_json(name: str, band: Band) -> dict[str, object]:
    return band.as_json(1e3, "kw") if name.endswith("power") else band.as_json(0.01, "percent")


def _parameter_json(row: ParameterRow) -> dict[str, object]:
    return {
        "name": row.name,
        "unit": row.unit,
        "prior": _estimate_json(row.prior),
        "posterior": _estimate_json(row.posterior),
        "standardised": _estimate_json(row.standardised),
        "share_removed": json_number(row.share_removed),
        "determined": row.is_determined,
    }


def _derived_json(of: DerivedQuantity) -> dict[str, object]:
    return {
        "baseline": of.baseline.as_json(of.scale, of.unit, of.zero),
        "candidate": of.candidate.as_json(of.scale, of.unit, of.zero),
    }


def _fitted_json(of: FittedChannel) -> dict[str, object]:
    def curve(setup: FittedCurve) -> dict[str, object]:
        return {
            f"measured_{of.unit}": json_list((setup.measured - of.zero) / of.scale),
            f"measured_half_width_{of.unit}": json_list(setup.measured_half_width / of.scale),
            f"residual_{of.unit}": json_list(setup.residual / of.scale),
            "fitted": setup.fitted.as_json(of.scale, of.unit, of.zero),
        }

    return {"baseline": curve(of.baseline), "candidate": curve(of.candidate)}


def _channel_json(row: SharperChannel) -> dict[str, object]:
    return {
        "channel": row.channel,
        "air_gain_left": json_number(row.air_gain_left),
        "causes_left": json_number(row.causes_left),
        "sharpest_cause": row.sharpest_cause,
        "sharpest_cause_left": json_number(row.sharpest_cause_left),
    }


def _weather_json(row: WeatherFactor) -> dict[str, object]:
    return {
        "correction": row.correction_rule,
        "factor": json_number(row.standard),
        "chain": _estimate_json(row.chain),
        "excess": _estimate_json(row.excess),
    }


def _fit_json(fit: FitAccount) -> dict[str, object]:
    return {
        "outcome": fit.outcome,
        "advice": fit.advice,
        "misfit": json_number(fit.misfit),
        "strained": list(fit.strained),
        "channels": list(fit.channels),
    }


def _estimate_json(of: Estimate) -> dict[str, float | None]:
    return {"value": json_number(of.value), "lower": json_number(of.lower), "upper": json_number(of.upper)}

"""The machine's unknowns from the measured curves of two setups together: data, fit, and how well it fits."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import FitError
from boostwright.inference.chain_form import SLIP_LAW_FORM, ChainForm
from boostwright.inference.nonlinear_fit import (
    QUICK,
    BatchResiduals,
    NonlinearFit,
    Parameter,
    nonlinear_fit,
    standard_normal_prior,
)
from boostwright.inference.priors import NOTHING_KNOWN, Known, ParameterSpace, Points, parameter_space
from boostwright.machine.operating_point import OperatingPoints

Floats: TypeAlias = NDArray[np.float64]

CHANNELS = (
    "torque",
    "manifold_pressure",
    "charge_temperature",
    "blower_inlet_pressure",
    "blower_outlet_temperature",
    "air_mass_flow",
    "rotor_speed",
)
"""Quantities that the chain predicts and a log may carry."""

LOGARITHMIC = ("torque", "manifold_pressure", "air_mass_flow", "rotor_speed")
"""Those that are compared by their logarithm; the others on their own scale."""

LARGEST_STEP = 2.0  # prior standard deviations
TYPICAL_FREEDOM = 5.6  # degrees of freedom of a usual sensor error, off by 0.3 in its logarithm: 1/(2 0.3^2)
_LEAST_VALUE = 1e-6  # keeps the logarithm of a quantity that a wild trial drives below zero finite


@dataclass(frozen=True, kw_only=True)
class SensorErrors:
    """Standard deviations of one channel: shared by both setups, of each setup's level, smooth along speed, of a point.

    The shared part is the sensor's or the stand's own; it makes absolute levels weak and leaves differences strong.
    """

    common_sd: float
    level_sd: float
    curve_sd: float
    noise_sd: float
    curve_length: float = 800 / 60


TYPICAL_SENSOR_ERRORS: Mapping[str, SensorErrors] = {  # assumed of two pulls a setup: 1 is 100 % where logarithmic
    "torque": SensorErrors(common_sd=0.015, level_sd=0.0047, curve_sd=0.0025, noise_sd=0.002),
    "manifold_pressure": SensorErrors(common_sd=0.003, level_sd=0.0016, curve_sd=0.0012, noise_sd=0.0012),
    "charge_temperature": SensorErrors(common_sd=3.0, level_sd=1.2, curve_sd=0.6, noise_sd=0.8),
    "blower_outlet_temperature": SensorErrors(common_sd=5.0, level_sd=2.0, curve_sd=1.0, noise_sd=1.0),
    "blower_inlet_pressure": SensorErrors(common_sd=250.0, level_sd=100.0, curve_sd=50.0, noise_sd=60.0),
    "air_mass_flow": SensorErrors(common_sd=0.025, level_sd=0.005, curve_sd=0.003, noise_sd=0.004),
    "rotor_speed": SensorErrors(common_sd=0.0007, level_sd=0.0005, curve_sd=0.0002, noise_sd=0.001),
}


def sensor_covariance(errors: SensorErrors, engine_speed: Floats) -> Floats:
    """Covariance of one channel over both setups, baseline first; shape (2 speeds, 2 speeds)."""
    n = len(engine_speed)
    near = np.exp(-0.5 * ((engine_speed[:, None] - engine_speed) / errors.curve_length) ** 2)
    own = errors.level_sd**2 + errors.curve_sd**2 * near + errors.noise_sd**2 * np.eye(n)
    return np.asarray(np.kron(np.eye(2), own) + errors.common_sd**2, float)


@dataclass(frozen=True, kw_only=True)
class CalibrationData:
    """Measured curves of a baseline and a candidate at the same engine speeds, with what is nominally known of both.

    `observations` (channels, 2, speeds) are logarithms where the channel is `LOGARITHMIC`; `covariance` is that of the
    flattened observations, its shared parts included. `baseline` and `candidate` are the nominal points of the match,
    and `known` says which of their columns are more than defaults. `degrees_of_freedom` stand behind the size of each
    channel's errors. `form` is the form of the blower: how points are matched, and what is uncertain of them.
    """

    baseline: Points
    candidate: Points
    channels: tuple[str, ...]
    observations: Floats
    covariance: Floats
    known: Known = NOTHING_KNOWN
    degrees_of_freedom: float = TYPICAL_FREEDOM
    form: ChainForm = SLIP_LAW_FORM

    def __post_init__(self) -> None:
        unknown = [channel for channel in self.channels if channel not in CHANNELS]
        if unknown:
            raise ValueError(f"{', '.join(unknown)}: the chain predicts {', '.join(CHANNELS)} only")
        expected = (len(self.channels), 2, self.baseline.size)
        if self.observations.shape != expected:
            raise ValueError(f"observations have shape {self.observations.shape}, not {expected}")
        if self.covariance.shape != (self.observations.size, self.observations.size):
            raise ValueError(f"covariance has shape {self.covariance.shape} for {self.observations.size} observations")
        if not np.all(np.isfinite(self.observations)):
            raise ValueError("an observation is not a number: leave its speed out")

    @property
    def engine_speed(self) -> Floats:
        """Engine speeds of the points."""
        return np.asarray(self.baseline["engine_speed"], float)


def calibration_data(
    baseline: Points,
    candidate: Points,
    curves: Mapping[str, Floats],
    errors: Mapping[str, SensorErrors],
    known: Known = NOTHING_KNOWN,
) -> CalibrationData:
    """Data from plain curves, (2, speeds) a channel with the baseline first, and the errors of their sensors."""
    channels = tuple(channel for channel in CHANNELS if channel in curves)
    blocks = [sensor_covariance(errors[channel], np.asarray(baseline["engine_speed"], float)) for channel in channels]
    return CalibrationData(
        baseline=baseline,
        candidate=candidate,
        channels=channels,
        observations=np.stack([observed_scale(channel, curves[channel]) for channel in channels]),
        covariance=block_diagonal(blocks),
        known=known,
    )


def observed_scale(name: str, values: Floats) -> Floats:
    """Values of a channel on the scale on which it is compared."""
    return np.log(np.maximum(values, _LEAST_VALUE)) if name in LOGARITHMIC else np.asarray(values, float)


def block_diagonal(blocks: list[Floats]) -> Floats:
    """Square blocks along the diagonal of a matrix that is zero elsewhere."""
    first = np.cumsum([0, *[len(block) for block in blocks]])
    matrix = np.zeros((first[-1], first[-1]))
    for i, block in enumerate(blocks):
        matrix[first[i] : first[i + 1], first[i] : first[i + 1]] = block
    return matrix


class Predictor:
    """What the chain predicts of the data: from vectors of unknowns, many at a time."""

    def __init__(self, data: CalibrationData) -> None:
        """Lay out the unknowns around the data's nominal points and whiten its covariance."""
        self.data = data
        self.space: ParameterSpace = parameter_space(data.baseline, data.candidate, data.known, prior=data.form.prior)
        self.whitening: Floats = np.asarray(np.linalg.inv(np.linalg.cholesky(data.covariance)), float)

    def matched(self, points: Points) -> OperatingPoints:
        """Points matched with the blower in the form that the data ask for."""
        return self.data.form.matched(points)

    def states(self, vectors: Floats) -> Points:
        """Matched states, shape (vectors, points of both setups)."""
        return self.matched(self.space.points(vectors)).states

    def predictions(self, vectors: Floats) -> Floats:
        """Observations that the vectors predict, shape (vectors, observations)."""
        states = self.states(vectors)
        return np.hstack([observed_scale(channel, states[channel]) for channel in self.data.channels])

    def residuals(self, observations: Floats) -> BatchResiduals:
        """Whitened differences of predictions and these observations, one row for each vector or one for all."""

        def whitened(vectors: Floats) -> Floats:
            return (self.predictions(vectors) - observations) @ self.whitening.T

        return whitened


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """The most probable unknowns given the data, and the curvature there."""

    predictor: Predictor
    fit: NonlinearFit

    @property
    def misfit(self) -> float:
        """Sum of squares of residuals and unknowns over the number of observations: near 1 when the model serves."""
        z, r = self.fit.estimates, self.fit.residuals
        return float((r @ r + z @ z) / r.size)

    @property
    def strained(self) -> tuple[str, ...]:
        """Unknowns that lie more than three prior standard deviations from their nominal value, or are held there."""
        space, estimates = self.predictor.space, self.fit.estimates
        far = [name for name, z in zip(space.names, estimates, strict=True) if abs(z) > 3]
        return tuple(dict.fromkeys([*far, *self.predictor.data.form.held(space.points(estimates[None])[0])]))


def calibrate(data: CalibrationData) -> Calibration:
    """Fit the unknowns of both setups to all curves at once, from their priors.

    Notes
    -----
    Levenberg-Marquardt from the nominal values, all differences of a Jacobian in one batch of points. The size of each
    channel's errors is itself uncertain: the first fit's residuals rescale it, and a second fit follows from there.

    Raises
    ------
    FitError
        If the builds as stated have no operating point somewhere.
    """
    _refuse_unmatched(data)
    first = _fitted(data, np.zeros(Predictor(data).space.size))
    return _fitted(_rescaled(first), first.fit.estimates)


def _refuse_unmatched(data: CalibrationData) -> None:
    for setup, points in (("baseline", data.baseline), ("candidate", data.candidate)):
        lost = ~data.form.matched(points).is_matched
        if np.any(lost):
            speeds = ", ".join(f"{60 * speed:.0f}" for speed in data.engine_speed[lost])
            raise FitError(
                f"the build of the {setup} has no operating point at {speeds} rpm: check its drive and sizes"
            )


def _fitted(data: CalibrationData, start: Floats) -> Calibration:
    predictor = Predictor(data)
    names = predictor.space.names
    parameters = [Parameter(name=n, start=z, largest_step=LARGEST_STEP) for n, z in zip(names, start, strict=True)]
    residuals = predictor.residuals(data.observations.ravel())
    fit = nonlinear_fit(residuals, parameters, standard_normal_prior(len(parameters)), QUICK)
    return Calibration(predictor=predictor, fit=fit)


def _rescaled(calibration: Calibration) -> CalibrationData:
    """The data with each channel's covariance scaled by what its residuals say of the size of its errors."""
    data, fit = calibration.predictor.data, calibration.fit
    J = fit.jacobian
    leverage = np.einsum("ij,jk,ik->i", J, fit.covariance, J)
    each = scaled_errors(fit.residuals, leverage, len(data.channels), data.degrees_of_freedom)
    return replace(data, covariance=data.covariance * np.outer(each, each))


def scaled_errors(residuals: Floats, leverage: Floats, channel_count: int, degrees_of_freedom: float) -> Floats:
    """Factors of the errors of observations, one a channel, repeated: what residuals say beyond what was assumed."""
    squares = residuals.reshape(channel_count, -1) ** 2
    spare = squares.shape[1] - leverage.reshape(channel_count, -1).sum(axis=1)
    scale = np.sqrt((degrees_of_freedom + squares.sum(axis=1)) / (degrees_of_freedom + spare))
    return np.asarray(np.repeat(scale, squares.shape[1]), float)

"""What makes two pulls of the same setup differ: its size, its prior, and the covariance that follows.

Standard deviations are on the scale of the compared values: the natural logarithm of the quantity, so that 0.006 is
0.6 %, or the quantity itself after `priors_on_linear_scale`.
"""

from dataclasses import dataclass, fields, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Indices: TypeAlias = NDArray[np.int64]
Flags: TypeAlias = NDArray[np.bool_]
Number: TypeAlias = float | Floats

FITTED = (
    "pull_level_sd",
    "shape_sd",
    "shape_length",
    "ripple_sd",
    "ripple_length",
    "noise_sd",
    "speed_axis_sd",
    "installation_sd",
    "random_drift",
)
"""The disturbances that the pulls inform, in the order of a parameter vector."""

_LENGTHS = ("shape_length", "ripple_length")
_DIMENSIONLESS = ("speed_axis_sd",)  # a relative error of speed, whatever the compared quantity
_RPM = 1 / 60
_SOAKED_QUANTITIES = frozenset({"torque", "power", "air_mass_flow", "fuel_mass_flow"})
_INLET_SENSOR_SHARE = 0.22  # 0.1 kPa in 95 where the level of torque has 0.47 %: assumed, as those are
_SMALLER_AT_THE_INLET = (
    "pull_level_sd",
    "shape_sd",
    "ripple_sd",
    "noise_sd",
    "installation_sd",
    "random_drift",
    "linear_drift_sd",
)


@dataclass(frozen=True, kw_only=True)
class Disturbances:
    """Sizes of the disturbances of a pull; each a number, or an array of many candidates at once."""

    pull_level_sd: Number
    shape_sd: Number
    shape_length: Number
    ripple_sd: Number
    ripple_length: Number
    noise_sd: Number
    speed_axis_sd: Number
    installation_sd: Number
    random_drift: Number
    linear_drift_sd: Number
    soak_sensitivity_sd: Number
    session_sd: Number

    def __post_init__(self) -> None:
        for field in fields(self):
            value = np.asarray(getattr(self, field.name))
            if not np.all(np.isfinite(value) & (value >= 0)):
                raise ValueError(
                    f"{field.name} is {value}: a disturbance is finite and not negative; give 0 to leave it out"
                )
        for name in _LENGTHS:
            if not np.all(np.asarray(getattr(self, name)) > 0):
                raise ValueError(f"{name} is {getattr(self, name)}: a correlation length is above zero")


@dataclass(frozen=True, kw_only=True)
class LogNormal:
    """Prior of a positive number: its logarithm is normal about that of the median."""

    median: float
    log_sd: float

    def __post_init__(self) -> None:
        if not (self.median > 0 and self.log_sd > 0):
            raise ValueError(f"median {self.median} and log_sd {self.log_sd} of a prior must both be above zero")


@dataclass(frozen=True, kw_only=True)
class Repeatability:
    """A stand's own archive figure: scatter of the mean level of repeated pulls of one setup in one installation."""

    pull_level_sd: float
    degrees_of_freedom: float

    def __post_init__(self) -> None:
        if not (self.pull_level_sd > 0 and self.degrees_of_freedom > 0):
            raise ValueError(
                f"repeatability {self.pull_level_sd} on {self.degrees_of_freedom} degrees of freedom: both are above 0"
            )


@dataclass(frozen=True, kw_only=True)
class DisturbancePriors:
    """What is known of the disturbances before the pulls; the archive figure sharpens `pull_level_sd`.

    The defaults are assumptions of our own simulation studies, not measurements; a firm's archive replaces them as it
    fills.
    """

    pull_level_sd: LogNormal = LogNormal(median=0.006, log_sd=0.5)
    shape_sd: LogNormal = LogNormal(median=0.003, log_sd=0.45)
    shape_length: LogNormal = LogNormal(median=700 * _RPM, log_sd=0.4)
    ripple_sd: LogNormal = LogNormal(median=0.004, log_sd=0.6)
    ripple_length: LogNormal = LogNormal(median=80 * _RPM, log_sd=0.5)
    noise_sd: LogNormal = LogNormal(median=0.003, log_sd=0.7)
    speed_axis_sd: LogNormal = LogNormal(median=0.0015, log_sd=0.45)
    installation_sd: LogNormal = LogNormal(median=0.0025, log_sd=0.45)
    random_drift: LogNormal = LogNormal(median=0.003 / 60, log_sd=0.45)  # 0.3 % in the square root of an hour
    linear_drift_sd: float = 0.004 / 3600  # 0.4 % an hour
    soak_sensitivity: float = -0.0009
    soak_sensitivity_sd: float = 0.0004
    session_sd: float = 0.012
    repeatability: Repeatability | None = None


@dataclass(frozen=True, kw_only=True)
class RunOrder:
    """When and how the pulls were made: one entry a pull.

    `elapsed` counts within its session from any start; `soak` is taken just before the pull, never in it: what the
    blower itself does to the temperature in the pull is part of its gain, and adjusting for it would remove that.
    """

    is_candidate: Flags
    session: Indices
    installation: Indices
    elapsed: Floats
    soak: Floats | None = None

    def __post_init__(self) -> None:
        pulls = self.is_candidate.shape
        for name in ("session", "installation", "elapsed", "soak"):
            value = getattr(self, name)
            if value is not None and value.shape != pulls:
                raise ValueError(f"{name} has shape {value.shape}, is_candidate {pulls}: give one entry a pull to each")
            if value is not None and not np.all(np.isfinite(value)):
                raise ValueError(f"{name} holds a value that is not a number: leave the pull out, or soak altogether")


def priors_of_quantity(priors: DisturbancePriors, quantity: str) -> DisturbancePriors:
    """Priors that are meant of torque, as they hold of the logarithm of another compared quantity.

    Heat soak takes charge from the engine, so air, fuel, torque and power share its expected effect. Of anything else
    not even its sign is known: nothing is expected, and the spread holds an effect as large as that on torque.
    """
    if quantity in _SOAKED_QUANTITIES:
        return priors
    unknown_sd = float(np.hypot(priors.soak_sensitivity, priors.soak_sensitivity_sd))
    return replace(priors, soak_sensitivity=0.0, soak_sensitivity_sd=unknown_sd)


def priors_at_the_inlet(priors: DisturbancePriors, depression_share: float) -> DisturbancePriors:
    """The same for the pressure at the blower inlet, in which pulls agree better than in torque.

    `depression_share` is the greatest depression over the pressure left. Air flow scatters as torque does, and the
    depression twice as much, with its square; the sensor's own part comes on top. Between days the pressure changes
    with the barometer, so that spread stays.
    """
    share = min(float(np.hypot(_INLET_SENSOR_SHARE, 2.0 * depression_share)), 1.0)
    return replace(priors, **{name: _scaled(getattr(priors, name), share) for name in _SMALLER_AT_THE_INLET})


def priors_on_linear_scale(priors: DisturbancePriors, level: float) -> DisturbancePriors:
    """The same priors for a quantity compared by difference, whose typical size is `level` in its own unit."""
    if not level > 0:
        raise ValueError(f"level {level} must be above zero: it is the typical size of the compared quantity")
    sizes = [f.name for f in fields(priors) if f.name not in (*_LENGTHS, *_DIMENSIONLESS)]
    return replace(priors, **{name: _scaled(getattr(priors, name), level) for name in sizes})


def median_disturbances(priors: DisturbancePriors) -> Disturbances:
    """Every disturbance at its prior median; the archive figure counts as the median of `pull_level_sd`."""
    medians = {name: getattr(priors, name).median for name in FITTED}
    if priors.repeatability is not None:
        medians["pull_level_sd"] = priors.repeatability.pull_level_sd
    return disturbances_from(np.log([medians[name] for name in FITTED]), priors)


def disturbances_from(log_parameters: Floats, priors: DisturbancePriors) -> Disturbances:
    """Disturbances from logarithms, shape (..., 9) in the order of FITTED; the rest is taken from the priors."""
    fitted = dict(zip(FITTED, np.moveaxis(np.exp(log_parameters), -1, 0), strict=True))
    return Disturbances(
        **fitted,
        linear_drift_sd=priors.linear_drift_sd,
        soak_sensitivity_sd=priors.soak_sensitivity_sd,
        session_sd=priors.session_sd,
    )


def only(disturbances: Disturbances, name: str) -> Disturbances:
    """The same with every other size at zero: covariances of independent disturbances add, so this isolates one."""
    sizes = [field.name for field in fields(disturbances) if field.name not in (name, *_LENGTHS)]
    return replace(disturbances, **dict.fromkeys(sizes, 0.0))


def pull_covariance(engine_speed: Floats, disturbances: Disturbances) -> Floats:
    """Covariance of the values of one pull at the speeds (bins,) [1/s], its level apart; shape (..., bins, bins).

    A smooth deviation (squared exponential), ripple (exponential) and white noise; the error of the speed axis needs
    the slope of the curve and is added by `speed_axis_covariance`.
    """
    d = disturbances
    apart = np.abs(engine_speed[:, None] - engine_speed)
    shape = _matrix(d.shape_sd) ** 2 * np.exp(-0.5 * (apart / _matrix(d.shape_length)) ** 2)
    ripple = _matrix(d.ripple_sd) ** 2 * np.exp(-apart / _matrix(d.ripple_length))
    noise = _matrix(d.noise_sd) ** 2 * np.eye(engine_speed.size)
    return shape + ripple + noise


def speed_axis_covariance(slope: Floats, disturbances: Disturbances) -> Floats:
    """Covariance from a relative error of the speed axis; `slope` (bins,) is the curve's derivative by ln(speed)."""
    return _matrix(disturbances.speed_axis_sd) ** 2 * np.outer(slope, slope)


def level_covariance(order: RunOrder, disturbances: Disturbances) -> Floats:
    """Covariance of the levels of the pulls, shape (..., pulls, pulls).

    Drift starts anew each session; the offset between sessions counts only when there is more than one.
    """
    d = disturbances
    t = session_time(order)
    together = order.session[:, None] == order.session
    soak = np.zeros(t.size) if order.soak is None else order.soak - order.soak.mean()
    return (
        _matrix(d.pull_level_sd) ** 2 * np.eye(t.size)
        + _matrix(d.installation_sd) ** 2 * (order.installation[:, None] == order.installation)
        + _matrix(d.random_drift) ** 2 * np.minimum(t[:, None], t) * together
        + _matrix(d.linear_drift_sd) ** 2 * np.outer(t, t) * together
        + _matrix(d.soak_sensitivity_sd) ** 2 * np.outer(soak, soak)
        + _matrix(d.session_sd) ** 2 * (together & ~together.all())
    )


def session_time(order: RunOrder) -> Floats:
    """Time since the first pull of the same session, shape (pulls,) [s]."""
    starts = {session: order.elapsed[order.session == session].min() for session in np.unique(order.session).tolist()}
    return order.elapsed - np.array([starts[session] for session in order.session.tolist()], dtype=np.float64)


def _matrix(size: Number) -> Floats:
    return np.asarray(size, dtype=np.float64)[..., None, None]


def _scaled(prior: LogNormal | Repeatability | float | None, level: float) -> LogNormal | Repeatability | float | None:
    match prior:
        case LogNormal():
            return replace(prior, median=prior.median * level)
        case Repeatability():
            return replace(prior, pull_level_sd=prior.pull_level_sd * level)
        case None:
            return None
        case _:
            return prior * level

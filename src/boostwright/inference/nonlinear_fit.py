"""Nonlinear least squares by damped steps whose residuals come in batches, and how such a fit ended.

The fit asks its residual function for many parameter vectors at once: one batch holds all the differences of a
Jacobian, another all the dampings tried from one point, so that a model which computes cases in lanes is used fully.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BatchResiduals = Callable[[Array], Array]  # (lanes, parameters) to (lanes, residuals)
Jacobian = Callable[[BatchResiduals, Array, Array], Array]  # at a vector, with scales: (residuals, parameters)

_FORWARD_STEP = 1e-4
_DAMPINGS = 10.0 ** np.arange(-3, 5)  # tried in one batch, relative to the last that helped
_LEAST_DAMPING, _LARGEST_DAMPING = 1e-14, 1e12
_NOTHING = 1e-300  # keeps a ratio to a vanishing sum of squares finite
_SINGULAR = 1e-10  # below this ratio of singular values central differences are rounding noise
# Of the promised decrease; taking the deepest lane instead zigzags in curved valleys (Lanczos sets: 300 steps, not 8).
_KEPT = 0.25
_COST_ROUNDING = 1e-10  # relative; nearer to the minimum the sum of squares cannot tell a better point from a worse one
_SMALL_STEP = 1e-11  # of the parameter; a full Gauss-Newton step shorter than this changes no printed digit


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """An unknown of a nonlinear fit: where it starts, how far it may go, and a size that differences are scaled by."""

    name: str
    start: float
    scale: float = 1.0
    lower: float = -np.inf
    upper: float = np.inf
    largest_step: float = np.inf

    def __post_init__(self) -> None:
        if not self.lower <= self.start <= self.upper:
            raise ValueError(
                f"{self.name}: start {self.start:g} is outside its bounds {self.lower:g} to {self.upper:g}"
            )
        if not (self.scale > 0 and self.largest_step > 0):
            raise ValueError(f"{self.name}: scale and largest step must be positive")


@dataclass(frozen=True, kw_only=True)
class NormalPrior:
    """What is known beforehand: a mean, and a root W of the precision W'W (no rows: nothing is known)."""

    mean: Array
    precision_root: Array


def standard_normal_prior(parameter_count: int) -> NormalPrior:
    """Independent parameters of mean 0 and standard deviation 1."""
    return NormalPrior(mean=np.zeros(parameter_count), precision_root=np.eye(parameter_count))


def no_prior(parameter_count: int) -> NormalPrior:
    """Nothing known beforehand: plain least squares."""
    return NormalPrior(mean=np.zeros(parameter_count), precision_root=np.zeros((0, parameter_count)))


class Outcome(StrEnum):
    """How a fit ended; only a converged one is free of doubt."""

    CONVERGED = "converged"
    AT_A_BOUND = "at a bound"
    NOT_IDENTIFIABLE = "not identifiable"
    RAN_OUT_OF_STEPS = "ran out of steps"


_ADVICE = {
    Outcome.CONVERGED: "the fit has converged",
    Outcome.AT_A_BOUND: "{names} stopped at a bound: widen it if values beyond are possible, else fix it and say so",
    Outcome.NOT_IDENTIFIABLE: "the data do not separate {names}: log another channel, fix one or give it a prior",
    Outcome.RAN_OUT_OF_STEPS: "no minimum was reached: start nearer, cap the steps, or look for contradicting data",
}


@dataclass(frozen=True, kw_only=True)
class FittedParameter:
    """A parameter with its estimate and standard error."""

    parameter: Parameter
    estimate: float
    standard_error: float


@dataclass(frozen=True, kw_only=True)
class NonlinearFit:
    """Result of a nonlinear fit; the covariance takes the residuals as whitened, with standard deviation 1."""

    parameters: tuple[FittedParameter, ...]
    covariance: Array
    jacobian: Array
    residuals: Array
    outcome: Outcome
    doubtful: tuple[str, ...]
    steps: int

    @property
    def estimates(self) -> Array:
        """Estimates of all parameters."""
        return np.array([fitted.estimate for fitted in self.parameters])

    @property
    def standard_errors(self) -> Array:
        """Square roots of the covariance's diagonal."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def advice(self) -> str:
        """One sentence on what to try."""
        return _ADVICE[self.outcome].format(names=", ".join(self.doubtful))


def forward_differences(residuals: BatchResiduals, vector: Array, scale: Array) -> Array:
    """Derivatives by forward differences, one lane a parameter; a step far above the tolerance of a solver inside."""
    h = _FORWARD_STEP * np.maximum(np.abs(vector), scale)
    lanes = residuals(np.vstack([vector, vector + np.diag(h)]))
    return ((lanes[1:] - lanes[0]) / h[:, None]).T


def central_differences(residuals: BatchResiduals, vector: Array, scale: Array) -> Array:
    """Derivatives by central differences, two lanes a parameter, good to about ten digits of an explicit function."""
    h = np.cbrt(np.finfo(float).eps) * np.maximum(np.abs(vector), scale)
    lanes = residuals(np.vstack([vector + np.diag(h), vector - np.diag(h)]))
    return ((lanes[: len(vector)] - lanes[len(vector) :]) / (2 * h[:, None])).T


@dataclass(frozen=True, kw_only=True)
class FitSettings:
    """How derivatives are taken, the relative decrease not worth another step, and the most steps."""

    jacobian: Jacobian
    tolerance: float
    most_steps: int


PRECISE = FitSettings(jacobian=central_differences, tolerance=1e-18, most_steps=3000)
QUICK = FitSettings(jacobian=forward_differences, tolerance=1e-6, most_steps=60)


def nonlinear_fit(
    residuals: BatchResiduals, parameters: Sequence[Parameter], prior: NormalPrior, settings: FitSettings = PRECISE
) -> NonlinearFit:
    """Minimise the sum of squared residuals and of the whitened distance to the prior.

    Parameters
    ----------
    residuals : callable
        From parameter vectors, shape (lanes, parameters), to whitened residuals, shape (lanes, residuals).
    parameters : sequence of Parameter
        Start, bounds, scale and largest step of each.
    prior : NormalPrior
        What is known beforehand; `no_prior` for plain least squares.
    settings : FitSettings
        `PRECISE` for the last digits, `QUICK` when whitened residuals make them worthless.

    Notes
    -----
    Levenberg-Marquardt with the running-maximum scaling of [1]_; instead of steering one damping, eight are evaluated
    in one batch and the boldest that keeps a quarter of its promised decrease is taken. A parameter at a bound is held
    while the gradient pushes it outward.

    References
    ----------
    .. [1] J. J. More, The Levenberg-Marquardt algorithm: implementation and theory, Lecture Notes in Mathematics 630,
       1978 (from memory).
    """
    return _finished(_minimised(_Problem(residuals, tuple(parameters), prior, settings)))


class _Problem:
    """Residuals with the prior's rows below, and arrays of the parameters' limits."""

    def __init__(
        self, residuals: BatchResiduals, parameters: tuple[Parameter, ...], prior: NormalPrior, settings: FitSettings
    ) -> None:
        self.of_data, self.parameters, self.prior, self.settings = residuals, parameters, prior, settings
        self.scale = np.array([p.scale for p in parameters])
        self.lower = np.array([p.lower for p in parameters])
        self.upper = np.array([p.upper for p in parameters])
        self.largest_step = np.array([p.largest_step for p in parameters])

    def residuals(self, points: Array) -> Array:
        with np.errstate(all="ignore"):  # a trial may leave the range of the function: its cost is then not finite
            of_data = self.of_data(points)
        return np.hstack([of_data, (points - self.prior.mean) @ self.prior.precision_root.T])

    def jacobian(self, point: Array) -> Array:
        with np.errstate(all="ignore"):
            of_data = self.settings.jacobian(self.of_data, point, self.scale)
        return np.vstack([of_data, self.prior.precision_root])

    def free(self, point: Array, gradient: Array) -> NDArray[np.bool_]:
        held = ((point <= self.lower) & (gradient > 0)) | ((point >= self.upper) & (gradient < 0))
        return ~held

    def moved(self, point: Array, steps: Array) -> Array:
        """Points after the steps, each shortened as a whole to the largest step, and kept inside the bounds."""
        excess = np.max(np.abs(steps) / self.largest_step, axis=-1, keepdims=True)
        return np.clip(point + steps / np.maximum(excess, 1.0), self.lower, self.upper)


@dataclass(frozen=True, kw_only=True)
class _State:
    """Where the search stands."""

    problem: _Problem
    point: Array
    residuals: Array
    jacobian: Array
    column_norms: Array
    damping: float
    steps: int
    settled: bool


def _minimised(problem: _Problem) -> _State:
    point = np.array([p.start for p in problem.parameters])
    state = _state_at(problem, point, problem.residuals(point[None])[0])
    while not state.settled and state.steps < problem.settings.most_steps:
        following = _step(state)
        if following is state:
            break
        state = following
    return state


def _state_at(problem: _Problem, point: Array, residuals: Array) -> _State:
    if not np.all(np.isfinite(residuals)):
        raise ValueError("the residuals are not finite at the start: choose another start")
    J = problem.jacobian(point)
    norms = np.linalg.norm(J, axis=0)
    return _State(
        problem=problem,
        point=point,
        residuals=residuals,
        jacobian=J,
        column_norms=norms,
        damping=1e-3,
        steps=0,
        settled=False,
    )


def _step(state: _State) -> _State:
    """The state after one accepted step; the same object if there is none."""
    problem, r, J = state.problem, state.residuals, state.jacobian
    free = problem.free(state.point, J.T @ r)
    if not np.any(free):
        return replace(state, settled=True)
    full = _damped_steps(J, r, np.array([1e-30]), state.column_norms, free)
    expected = _expected_decrease(state, full[0])
    if expected <= problem.settings.tolerance or _is_short(state, full[0]):
        return replace(state, settled=True)
    return _polished(state, full, expected) if expected < _COST_ROUNDING else _descended(state, free)


def _descended(state: _State, free: NDArray[np.bool_]) -> _State:
    """The state after the boldest step that keeps its promise, else after the best that lowers the sum of squares."""
    problem, now, damping = state.problem, _squares(state.residuals), state.damping
    while damping <= _LARGEST_DAMPING:
        trial: Array = np.asarray(damping * _DAMPINGS, float)
        steps = _damped_steps(state.jacobian, state.residuals, trial, state.column_norms, free)
        points = problem.moved(state.point, steps)
        lanes = problem.residuals(points)
        promised = now - _squares(state.residuals + (points - state.point) @ state.jacobian.T)
        decrease = now - _squares(lanes)
        kept = (decrease > 0) & (decrease >= _KEPT * promised)
        best = int(np.argmax(kept) if np.any(kept) else np.argmax(decrease))
        if decrease[best] > 0:
            return _accepted(state, points[best], lanes[best], float(trial[best]))
        damping = 10 * float(trial[-1])
    return state


def _polished(state: _State, full: Array, expected: float) -> _State:
    """A full step where the sum of squares is flat to rounding: taken while it brings the gradient nearer to zero."""
    point = state.problem.moved(state.point, full)
    new = _accepted(state, point[0], state.problem.residuals(point)[0], state.damping)
    free = state.problem.free(new.point, new.jacobian.T @ new.residuals)
    following = _damped_steps(new.jacobian, new.residuals, np.array([1e-30]), new.column_norms, free)[0]
    return new if _expected_decrease(new, following) < 0.9 * expected else replace(state, settled=True)


def _accepted(state: _State, point: Array, residuals: Array, damping: float) -> _State:
    new = _state_at(state.problem, point, residuals)
    return replace(
        new,
        column_norms=np.maximum(state.column_norms, new.column_norms),
        damping=max(damping, _LEAST_DAMPING),
        steps=state.steps + 1,
    )


def _damped_steps(J: Array, r: Array, damping: Array, column_norms: Array, free: NDArray[np.bool_]) -> Array:
    """Levenberg-Marquardt steps, one a damping, from one singular value decomposition of the scaled Jacobian."""
    D = np.where(column_norms > 0, column_norms, 1.0)[free]
    U, s, Vt = np.linalg.svd(J[:, free] / D, full_matrices=False)
    filtered = s / (s**2 + damping[:, None]) * (U.T @ r)
    steps = np.zeros((len(damping), len(free)))
    steps[:, free] = -(filtered @ Vt) / D
    return steps


def _squares(residuals: Array) -> Array:
    """Sums of squares, infinite where a residual is not finite."""
    with np.errstate(all="ignore"):
        return np.nan_to_num(np.sum(residuals**2, axis=-1), nan=np.inf, posinf=np.inf)


def _expected_decrease(state: _State, step: Array) -> float:
    """Relative decrease of the sum of squares that the linearised residuals promise."""
    r = state.residuals
    now = max(float(r @ r), _NOTHING)
    return float((r @ r - np.sum((r + state.jacobian @ step) ** 2)) / now)


def _is_short(state: _State, step: Array) -> bool:
    """Whether a step moves no parameter noticeably."""
    return bool(np.all(np.abs(step) <= _SMALL_STEP * (np.abs(state.point) + 1e-6 * state.problem.scale)))


def _finished(state: _State) -> NonlinearFit:
    problem, J = state.problem, state.jacobian
    names = np.array([p.name for p in problem.parameters])
    free = problem.free(state.point, J.T @ state.residuals)
    covariance, confused = _covariance(J, free)
    outcome = _outcome(state, free, confused)
    doubtful = {Outcome.AT_A_BOUND: ~free, Outcome.NOT_IDENTIFIABLE: confused}.get(outcome, np.zeros(len(names), bool))
    errors = np.sqrt(np.diag(covariance))
    return NonlinearFit(
        parameters=tuple(
            FittedParameter(parameter=p, estimate=float(x), standard_error=float(u))
            for p, x, u in zip(problem.parameters, state.point, errors, strict=True)
        ),
        covariance=covariance,
        jacobian=J[: len(J) - len(problem.prior.precision_root)],
        residuals=state.residuals[: len(J) - len(problem.prior.precision_root)],
        outcome=outcome,
        doubtful=tuple(str(name) for name in names[doubtful]),
        steps=state.steps,
    )


def _outcome(state: _State, free: NDArray[np.bool_], confused: NDArray[np.bool_]) -> Outcome:
    if np.any(confused):
        return Outcome.NOT_IDENTIFIABLE
    if not state.settled:
        return Outcome.RAN_OUT_OF_STEPS
    return Outcome.CONVERGED if np.all(free) else Outcome.AT_A_BOUND


def _covariance(J: Array, free: NDArray[np.bool_]) -> tuple[Array, NDArray[np.bool_]]:
    """Inverse curvature of the free parameters, and which of them the data and the prior leave undetermined."""
    confused = np.zeros(len(free), bool)
    covariance = np.zeros((len(free), len(free)))
    if not np.any(free):
        return covariance, confused
    norms = np.linalg.norm(J[:, free], axis=0)
    D = np.where(norms > 0, norms, 1.0)
    _, s, Vt = np.linalg.svd(J[:, free] / D, full_matrices=False)
    null = s <= _SINGULAR * s[0]
    confused[free] = np.any(np.abs(Vt[null]) > 0.1, axis=0)
    inverse = Vt.T / np.where(null, np.inf, s) / D[:, None]
    covariance[np.ix_(free, free)] = inverse @ inverse.T
    covariance[confused, confused] = np.inf
    return covariance, confused

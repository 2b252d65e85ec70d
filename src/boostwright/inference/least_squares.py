"""Linear least squares: with equal noise that is estimated, or with a covariance that is known."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class LinearFit:
    """Estimates of a linear model with their covariance, and what is left of the observations."""

    estimates: Array
    covariance: Array
    residuals: Array
    residual_standard_deviation: float
    degrees_of_freedom: int

    @property
    def standard_errors(self) -> Array:
        """Square roots of the covariance's diagonal."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> Array:
        """Correlation of the estimates."""
        return self.covariance / np.outer(self.standard_errors, self.standard_errors)


def linear_fit(design_matrix: ArrayLike, observations: ArrayLike) -> LinearFit:
    """Ordinary least squares; the noise, equal for all observations, is estimated from the residuals.

    Parameters
    ----------
    design_matrix : array_like, shape (observations, parameters)
        Derivatives of the observations by the parameters. [unit of the observation over that of the parameter]
    observations : array_like, shape (observations,)
        Observed values. [any one unit]

    Raises
    ------
    ValueError
        If there are not more observations than parameters, or the columns are linearly dependent.

    Notes
    -----
    Columns are scaled to unit length before the QR factorisation: the Longley data lose five digits otherwise.
    """
    X, y = np.asarray(design_matrix, float), np.asarray(observations, float)
    if len(y) <= X.shape[1]:
        raise ValueError(f"{len(y)} observations cannot give {X.shape[1]} parameters and their noise: measure more")
    fit = _solve_linear(X, y)
    s = float(np.sqrt(fit.residuals @ fit.residuals / fit.degrees_of_freedom))
    return replace(fit, covariance=fit.covariance * s**2, residual_standard_deviation=s)


def generalised_linear_fit(
    design_matrix: ArrayLike, observations: ArrayLike, observation_covariance: ArrayLike
) -> LinearFit:
    """Least squares with a known covariance of the observations.

    Parameters
    ----------
    design_matrix : array_like, shape (observations, parameters)
        Derivatives of the observations by the parameters. [unit of the observation over that of the parameter]
    observations : array_like, shape (observations,)
        Observed values. [any one unit]
    observation_covariance : array_like, shape (observations, observations)
        Their covariance, positive definite. [that unit squared]

    Notes
    -----
    `residual_standard_deviation` is that of the whitened residuals: near 1 when model and covariance are right.

    References
    ----------
    .. [1] A. C. Aitken, On least squares and linear combination of observations, Proc. R. Soc. Edinburgh 55, 1936.
    """
    X, y = np.asarray(design_matrix, float), np.asarray(observations, float)
    L = np.linalg.cholesky(np.asarray(observation_covariance, float))
    whitened = _solve_linear(np.asarray(np.linalg.solve(L, X), float), np.asarray(np.linalg.solve(L, y), float))
    spread = np.sqrt(whitened.residuals @ whitened.residuals / max(whitened.degrees_of_freedom, 1))
    return replace(whitened, residuals=y - X @ whitened.estimates, residual_standard_deviation=float(spread))


def _solve_linear(X: Array, y: Array) -> LinearFit:
    """Fit with unit noise, by QR of the scaled columns."""
    scale = np.linalg.norm(X, axis=0)
    if not np.all(scale > 0):
        raise ValueError(f"column {int(np.argmin(scale))} of the design matrix is zero: leave that parameter out")
    Q, R = np.linalg.qr(X / scale)
    if np.min(np.abs(np.diag(R))) < 1e-13:
        raise ValueError("columns of the design matrix are linearly dependent: leave one of them out")
    b = np.linalg.solve(R, Q.T @ y) / scale
    inverse = np.linalg.solve(R, np.eye(len(scale))) / scale[:, None]
    return LinearFit(
        estimates=b,
        covariance=inverse @ inverse.T,
        residuals=y - X @ b,
        residual_standard_deviation=1.0,
        degrees_of_freedom=len(y) - len(b),
    )

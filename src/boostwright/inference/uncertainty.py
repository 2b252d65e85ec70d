"""Uncertainty of a result from that of its inputs, correlations kept; and differences of pairs."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats  # type: ignore[import-untyped]

from boostwright.inference.nonlinear_fit import (
    central_differences,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class CorrelatedEstimates:
    """Estimates of several quantities with their joint covariance."""

    estimates: Array
    covariance: Array

    @property
    def standard_uncertainties(self) -> Array:
        """Square roots of the covariance's diagonal."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> Array:
        """Correlation of the estimates."""
        return self.covariance / np.outer(self.standard_uncertainties, self.standard_uncertainties)


def mean_of_simultaneous_readings(readings: ArrayLike) -> CorrelatedEstimates:
    """Means of quantities that were read together, with the covariance of the means.

    Parameters
    ----------
    readings : array_like, shape (readings, quantities)
        One row for each set of simultaneous readings. [any unit, one a column]

    References
    ----------
    .. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement, eq. (17).
    """
    rows = np.asarray(readings, float)
    if len(rows) < 2:
        raise ValueError("one set of readings shows no scatter: take at least two")
    return CorrelatedEstimates(estimates=rows.mean(axis=0), covariance=np.cov(rows, rowvar=False) / len(rows))


def propagated(measurement_function: Callable[[Array], Array], inputs: CorrelatedEstimates) -> CorrelatedEstimates:
    """Results of a measurement function of correlated inputs, to first order.

    Parameters
    ----------
    measurement_function : callable
        From inputs, shape (lanes, inputs), to results, shape (lanes, results).
    inputs : CorrelatedEstimates
        Best estimates with their covariance.

    Notes
    -----
    Sensitivities are central differences over a step far below the uncertainty. Where the function bends within one
    standard uncertainty, draw instead.

    References
    ----------
    .. [1] JCGM 100:2008, eq. (13) for one result, eq. (H.9) for several.
    """
    C = central_differences(measurement_function, inputs.estimates, inputs.standard_uncertainties)
    return CorrelatedEstimates(
        estimates=measurement_function(inputs.estimates[None])[0], covariance=C @ inputs.covariance @ C.T
    )


def effective_degrees_of_freedom(contributions: ArrayLike, degrees_of_freedom: ArrayLike) -> float:
    """Degrees of freedom of a combined standard uncertainty (Welch-Satterthwaite).

    Parameters
    ----------
    contributions : array_like, shape (n,)
        Independent contributions to the standard uncertainty, u_i(y) in [1]_. [one unit for all]
    degrees_of_freedom : array_like, shape (n,)
        Degrees of freedom of each, nu_i in [1]_; infinite where the value is taken as exact. [-]

    References
    ----------
    .. [1] JCGM 100:2008, eq. (G.2b).
    """
    u, nu = np.asarray(contributions, float), np.asarray(degrees_of_freedom, float)
    share = np.sum(u**4 / nu)
    return float(np.sum(u**2) ** 2 / share) if share > 0 else np.inf


@dataclass(frozen=True, kw_only=True)
class PairedDifference:
    """Mean difference of pairs, second minus first, with its interval and the probability of one as large by chance."""

    estimate: float
    lower: float
    upper: float
    t_statistic: float
    p_value: float
    degrees_of_freedom: int


def paired_difference(first: ArrayLike, second: ArrayLike, confidence: float) -> PairedDifference:
    """Mean difference of paired values, second minus first.

    Parameters
    ----------
    first, second : array_like, shape (pairs,)
        The two values of each pair. [one unit for all]
    confidence : float
        Probability content of the interval. [-]

    References
    ----------
    .. [1] Student, The probable error of a mean, Biometrika 6, 1908.
    """
    d = np.asarray(second, float) - np.asarray(first, float)
    if len(d) < 2:
        raise ValueError("one pair shows no scatter: measure at least two")
    mean, u, nu = float(d.mean()), float(d.std(ddof=1) / np.sqrt(len(d))), len(d) - 1
    reach = float(stats.t.ppf(0.5 + confidence / 2, nu)) * u
    t = mean / u
    return PairedDifference(
        estimate=mean,
        lower=mean - reach,
        upper=mean + reach,
        t_statistic=t,
        p_value=2 * float(stats.t.sf(abs(t), nu)),
        degrees_of_freedom=nu,
    )

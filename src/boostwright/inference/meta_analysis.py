"""One answer from several studies whose true effects differ: random effects by restricted likelihood.

A study here is a campaign on one engine: an effect (its average gain) with a standard error. Studies are taken to be
independent; what two of them share (a stand, a day) must be said by whoever calls.
"""

from dataclasses import dataclass
from functools import partial
from typing import cast

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, gammaincinv, ndtr, stdtrit

from boostwright.inference.disturbances import Flags, Floats
from boostwright.inference.gain_summary import Interval

FEWEST_TO_PREDICT = 3
"""Two studies leave no degree of freedom for the spread between studies, so nothing can be said of a next one."""

_STEPS = 200  # quantiles of the variance between studies that a next effect is mixed from
_NEWTON_STEPS = 60
_GRID = 120  # between-study variances at which the likelihood is looked at before its peak is refined


@dataclass(frozen=True, kw_only=True)
class Studies:
    """Effects (k,) with their standard errors (k,), and the design (k, p): a column of ones, a moderator beside it."""

    effects: Floats
    standard_errors: Floats
    design: Floats

    def __post_init__(self) -> None:
        k = self.effects.size
        if self.standard_errors.shape != (k,) or self.design.shape[0] != k:
            raise ValueError(
                f"{k} effects, {self.standard_errors.size} standard errors and {self.design.shape[0]} rows of the "
                "design: give one of each a study"
            )
        if not np.all(np.isfinite(self.effects)) or not np.all(np.isfinite(self.design)):
            raise ValueError("an effect or a moderator is not a number: leave that study out")
        if not np.all(self.standard_errors > 0):
            raise ValueError("a standard error is not above zero: a study without uncertainty cannot be weighed")
        if k <= self.design.shape[1]:
            raise ValueError(f"{k} studies for {self.design.shape[1]} coefficients: one study more is the least")


@dataclass(frozen=True, kw_only=True)
class RandomEffects:
    """Coefficients (p,) with their covariance (p, p) after Knapp and Hartung, and the variance between studies.

    `weights` (k,) are each study's share in the weighted mean. `spread_ratio` is the scatter of the effects about the
    fit over what the variances say; below one it is not believed (see `random_effects`).
    """

    coefficients: Floats
    covariance: Floats
    between_variance: float
    weights: Floats
    spread_ratio: float
    degrees_of_freedom: int


@dataclass(frozen=True, kw_only=True)
class Heterogeneity:
    """How far the studies differ beyond their own errors.

    `between_sd` is the standard deviation of the true effects, `share` (I2) what it makes of the whole scatter of a
    typical study; both with an interval. `q_statistic` is Cochran's, on `degrees_of_freedom`.
    """

    q_statistic: float
    degrees_of_freedom: int
    p_value: float
    between_sd: Interval
    share: Interval


def mean_of(effects: Floats, standard_errors: Floats) -> Studies:
    """Studies that ask for their mean alone."""
    return Studies(effects=effects, standard_errors=standard_errors, design=np.ones((effects.size, 1)))


def trend_of(effects: Floats, standard_errors: Floats, moderator: Floats) -> Studies:
    """Studies that ask for a straight line over a moderator (k,): an intercept and a slope."""
    design = np.column_stack([np.ones(effects.size), moderator])
    return Studies(effects=effects, standard_errors=standard_errors, design=design)


def random_effects(studies: Studies) -> RandomEffects:
    """Fit the mean or the line, with the variance between studies at the peak of the restricted likelihood.

    Notes
    -----
    The covariance is scaled by the scatter of the effects about the fit, and intervals follow Student's t with k - p
    degrees of freedom [1]_. A scatter smaller than the studies' own errors allow is chance: with three studies that
    happen to agree the interval would shrink to nothing, so the scale is held at one or above [2]_, at the price of
    intervals that hold the truth somewhat more often than they say.

    References
    ----------
    .. [1] G. Knapp, J. Hartung, Improved tests for a random effects meta-regression with a single covariate, Statistics
       in Medicine 22, 2003, 2693-2710 (from memory).
    .. [2] C. Roever, G. Knapp, T. Friede, Hartung-Knapp-Sidik-Jonkman approach and its modification for random-effects
       meta-analysis with few studies, BMC Medical Research Methodology 15:99, 2015 (from memory).
    """
    return random_effects_at(studies, restricted_between_variance(studies))


def random_effects_at(studies: Studies, between_variance: float) -> RandomEffects:
    """The same for a variance between studies that is given."""
    y, X = studies.effects, studies.design
    w = 1.0 / (studies.standard_errors**2 + between_variance)
    covariance = np.asarray(np.linalg.inv(X.T @ (w[:, None] * X)), np.float64)
    coefficients = covariance @ (X.T @ (w * y))
    degrees_of_freedom = y.size - X.shape[1]
    ratio = float(w @ (y - X @ coefficients) ** 2) / degrees_of_freedom
    return RandomEffects(
        coefficients=coefficients,
        covariance=max(1.0, ratio) * covariance,
        between_variance=between_variance,
        weights=w / w.sum(),
        spread_ratio=ratio,
        degrees_of_freedom=degrees_of_freedom,
    )


def restricted_between_variance(studies: Studies) -> float:
    """Variance between studies that makes the restricted likelihood of the effects largest; zero if that is its edge.

    Notes
    -----
    The likelihood may have more than one peak, so it is looked at on a grid and the highest place is refined.

    References
    ----------
    .. [1] W. Viechtbauer, Bias and efficiency of meta-analytic variance estimators in the random-effects model, J.
       Educational and Behavioral Statistics 30, 2005, 261-293 (from memory).
    """
    X, k = studies.design, studies.effects.size
    rest = studies.effects - X @ np.linalg.lstsq(X, studies.effects, rcond=None)[0]
    widest = 10.0 * float(rest @ rest) / (k - X.shape[1])
    smallest = 1e-4 * float(np.min(studies.standard_errors)) ** 2
    if not widest > smallest:
        return 0.0
    grid = np.r_[0.0, np.geomspace(smallest, widest, _GRID)]
    best = int(np.argmax(_restricted_likelihood(studies, grid)))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, _GRID)]
    if not _score(low, studies) > 0 > _score(high, studies):
        return float(grid[best])
    score = partial(_score, studies=studies)
    return cast(float, brentq(score, low, high, xtol=1e-14 * high, rtol=np.float64(1e-12)))


def fitted_interval(fit: RandomEffects, place: Floats, confidence: float) -> Interval:
    """The fit at `place` (p,): (1,) for the mean over such studies, (1, x) for the line at x, (0, 1) for its slope."""
    estimate = float(place @ fit.coefficients)
    quantile = stdtrit(fit.degrees_of_freedom, 0.5 * (1.0 + confidence))
    reach = float(quantile * np.sqrt(place @ fit.covariance @ place))
    return Interval(estimate=estimate, lower=estimate - reach, upper=estimate + reach, confidence=confidence)


def next_study_interval(studies: Studies, fit: RandomEffects, place: Floats, confidence: float) -> Interval:
    """True effect of one further study like `place` (p,), with the spread between studies as unknown as it is.

    Raises
    ------
    ValueError
        If fewer than two degrees of freedom are left: three studies for a mean, four for a line are the least.

    Notes
    -----
    At the true variance between studies the scatter is chi-squared with k - p degrees of freedom, and independent of
    the fit. So each quantile of chi-squared gives a variance, and each variance a normal distribution of the next
    effect; their mixture is what is known of it [1]_. Where the studies' own errors vanish it is the textbook's
    interval for one further value, with k - 1 degrees of freedom. The usual formula, Student's t with k - 2 about one
    plugged-in variance [2]_, held the next effect in as few as 84 of 100 pools, this one in 93 or more of them
    (docs/pooling.md). It is held no narrower than the interval of the mean, which is cautious where engines are alike.

    References
    ----------
    .. [1] K. Nagashima, H. Noma, T. A. Furukawa, Prediction intervals for random-effects meta-analysis: a confidence
       distribution approach, Statistical Methods in Medical Research 28, 2019, 1689-1702 (from memory).
    .. [2] J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, A re-evaluation of random-effects meta-analysis, J. R.
       Stat. Soc. A 172, 2009, 137-159 (from memory).
    """
    if fit.degrees_of_freedom < 2:
        raise ValueError("too few studies to say anything of a next one: three for a mean, four for a line")
    steps = (np.arange(_STEPS) + 0.5) / _STEPS
    between = _between_variances_at(studies, 2.0 * gammaincinv(0.5 * fit.degrees_of_freedom, steps))
    coefficients, covariance, _ = _fits(studies, between)
    means, variances = coefficients @ place, between + covariance @ place @ place
    tail, mean = 0.5 * (1.0 - confidence), fitted_interval(fit, place, confidence)
    lower, upper = (_mixture_quantile(means, np.sqrt(variances), level) for level in (tail, 1.0 - tail))
    return Interval(
        estimate=float(means.mean()),
        lower=min(lower, mean.lower),
        upper=max(upper, mean.upper),
        confidence=confidence,
    )


def heterogeneity(studies: Studies, fit: RandomEffects, confidence: float) -> Heterogeneity:
    """How far the studies differ beyond their own errors, with intervals by the Q-profile method.

    References
    ----------
    .. [1] W. Viechtbauer, Confidence intervals for the amount of heterogeneity in meta-analysis, Statistics in Medicine
       26, 2007, 37-52 (from memory).
    .. [2] J. P. T. Higgins, S. G. Thompson, Quantifying heterogeneity in a meta-analysis, Statistics in Medicine 21,
       2002, 1539-1558, eq. (9) for the typical study (from memory).
    """
    q, tail = scatter(studies, 0.0), 0.5 * (1.0 - confidence)
    degrees_of_freedom = fit.degrees_of_freedom
    between = np.array([
        fit.between_variance,
        between_variance_at(studies, float(chdtri(degrees_of_freedom, tail))),
        between_variance_at(studies, 2.0 * float(gammaincinv(0.5 * degrees_of_freedom, tail))),
    ])  # fmt: skip
    typical = _typical_variance(studies)
    sd, share = np.sqrt(between), between / (between + typical)
    return Heterogeneity(
        q_statistic=q,
        degrees_of_freedom=degrees_of_freedom,
        p_value=float(chdtrc(degrees_of_freedom, q)),
        between_sd=Interval(estimate=float(sd[0]), lower=float(sd[1]), upper=float(sd[2]), confidence=confidence),
        share=Interval(estimate=float(share[0]), lower=float(share[1]), upper=float(share[2]), confidence=confidence),
    )


def scatter(studies: Studies, between_variance: float) -> float:
    """Weighted squares of the effects about their fit, for a variance between studies: Cochran's Q where it is zero."""
    return float(_fits(studies, np.array([between_variance]))[2][0])


def between_variance_at(studies: Studies, expected_scatter: float) -> float:
    """Variance between studies at which the scatter is as expected; zero if it is below that without any."""
    return float(_between_variances_at(studies, np.array([expected_scatter]))[0])


def without_one(studies: Studies) -> tuple[RandomEffects, ...]:
    """The fit without each study in turn: what every single one of them does to the answer."""
    k = studies.effects.size
    return tuple(random_effects(_rows(studies, np.arange(k) != left_out)) for left_out in range(k))


def _rows(studies: Studies, kept: Flags) -> Studies:
    return Studies(
        effects=studies.effects[kept], standard_errors=studies.standard_errors[kept], design=studies.design[kept]
    )


def _typical_variance(studies: Studies) -> float:
    """Squared error of a study of typical precision: (k - p) over the trace of W - WX (X'WX)^-1 X'W."""
    X, w = studies.design, 1.0 / studies.standard_errors**2
    WX = w[:, None] * X
    trace = w.sum() - np.trace(np.linalg.solve(X.T @ WX, WX.T @ WX))
    return (w.size - X.shape[1]) / float(trace)


def _fits(studies: Studies, between_variance: Floats) -> tuple[Floats, Floats, Floats]:
    """Coefficients (n, p), their covariance (n, p, p) and the scatter (n,), for each of many variances (n,)."""
    y, X = studies.effects, studies.design
    w = 1.0 / (studies.standard_errors**2 + between_variance[:, None])
    covariance = np.asarray(np.linalg.inv(np.einsum("ki,nk,kj->nij", X, w, X)), np.float64)
    coefficients = np.einsum("nij,kj,nk,k->ni", covariance, X, w, y)
    return coefficients, covariance, (w * (y - coefficients @ X.T) ** 2).sum(-1)


def _between_variances_at(studies: Studies, expected_scatter: Floats) -> Floats:
    """Newton's steps from zero for many expected scatters (n,) at once, zero where less than that is found without.

    The reciprocal of the scatter is all but a straight line in the variance between studies, and bends down, so that no
    step goes too far.
    """
    between = np.zeros(expected_scatter.size)
    for _ in range(_NEWTON_STEPS):
        found, slope = _scatter_and_slope(studies, between)
        step = found * (found / expected_scatter - 1.0) / slope
        between = np.maximum(between + step, 0.0)
        if np.all(step <= 1e-12 * between):
            break
    return between


def _scatter_and_slope(studies: Studies, between_variance: Floats) -> tuple[Floats, Floats]:
    """The scatter (n,) and how fast it falls with the variance between studies (n,)."""
    w = 1.0 / (studies.standard_errors**2 + between_variance[:, None])
    rest = studies.effects - _fits(studies, between_variance)[0] @ studies.design.T
    return (w * rest**2).sum(-1), np.maximum(((w * rest) ** 2).sum(-1), np.finfo(np.float64).tiny)


def _mixture_quantile(means: Floats, sds: Floats, level: float) -> float:
    """Quantile of equal parts of normals."""

    def excess(x: float) -> float:
        return float(ndtr((x - means) / sds).mean()) - level

    reach = 40.0 * float(sds.max())
    return cast(float, brentq(excess, float(means.min()) - reach, float(means.max()) + reach, xtol=1e-9 * reach))


def _restricted_likelihood(studies: Studies, between_variance: Floats) -> Floats:
    """Restricted log-likelihood up to a constant for each of many variances (n,)."""
    _, covariance, squares = _fits(studies, between_variance)
    w = 1.0 / (studies.standard_errors**2 + between_variance[:, None])
    return 0.5 * (np.log(w).sum(-1) + np.linalg.slogdet(covariance)[1] - squares)


def _score(between_variance: float, studies: Studies) -> float:
    """Twice the derivative of the restricted log-likelihood: y'PPy - tr P, with P the projection off the design."""
    y, X = studies.effects, studies.design
    w = 1.0 / (studies.standard_errors**2 + between_variance)
    WX = w[:, None] * X
    rest = w * (y - X @ np.linalg.solve(X.T @ WX, WX.T @ y))
    return float(rest @ rest - (w.sum() - np.trace(np.linalg.solve(X.T @ WX, WX.T @ WX))))

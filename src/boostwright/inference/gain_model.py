"""The linear mixed model of back-to-back pulls, for given disturbances: its likelihood and the gain curve that follows.

A pull is the mean curve, plus or minus half of the gain curve, plus the disturbances. Everything is computed for many
candidate disturbances at once, because a gradient, a Hessian and a sample of importance draws are each one such batch.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BSpline

from boostwright.inference.disturbances import (
    Disturbances,
    Floats,
    Indices,
    RunOrder,
    level_covariance,
    pull_covariance,
    speed_axis_covariance,
)

GAIN_KNOT_SPACING = 280 / 60  # [1/s]
COMMON_KNOT_SPACING = 210 / 60  # [1/s]
COUNT_RATIO = 3.0  # pulls that differ by more in samples per bin are weighted by them

_ROUNDING = 1e-12  # relative; keeps a smooth deviation invertible in numbers where pulls show no noise at all


@dataclass(frozen=True, kw_only=True)
class GainData:
    """Pulls of two setups, averaged in the same speed bins.

    `values` (pulls, bins) holds the natural logarithm of the quantity, or the quantity itself where its size makes the
    logarithm meaningless (gauge boost, temperatures); NaN where a bin is masked. `counts` holds the samples in each.
    """

    engine_speed: Floats
    values: Floats
    counts: Indices
    order: RunOrder

    def __post_init__(self) -> None:
        _check_shapes(self)
        _check_setups(self)


@dataclass(frozen=True, kw_only=True)
class GainModel:
    """Data and design, laid out once for all evaluations.

    `design_scale` (pulls, p) is one for the coefficients of the common curve, plus or minus a half for those of the
    gain. Pulls that share a noise pattern (which bins are masked, how many samples the others hold) share a covariance
    of bins, so a campaign without masks costs one factorisation whatever its number of pulls.
    """

    engine_speed: Floats
    common_basis: Floats
    gain_basis: Floats
    design_scale: Floats
    first_curve: Floats
    residuals: Floats
    slope: Floats
    order: RunOrder
    noise_patterns: Floats
    pattern: Indices


def gain_model(data: GainData, soak_sensitivity: float) -> GainModel:
    """Lay out data for evaluation; the expected effect of soak is taken off the values.

    A first curve is taken off too. It lies in the span of the common basis, so it changes no result, and its slope is
    what an error of the speed axis multiplies.
    """
    common = spline_basis(data.engine_speed, COMMON_KNOT_SPACING)
    gain = spline_basis(data.engine_speed, GAIN_KNOT_SPACING)
    values = data.values - _expected_soak_effect(data.order, soak_sensitivity)[:, None]
    first = _first_curve(common.matrix, values)
    sign = np.where(data.order.is_candidate, 0.5, -0.5)[:, None]
    patterns, pattern = np.unique(noise_weights(data.values, data.counts), axis=0, return_inverse=True)
    return GainModel(
        engine_speed=data.engine_speed,
        common_basis=common.matrix,
        gain_basis=gain.matrix,
        design_scale=np.repeat(np.hstack([sign**0, sign]), [common.matrix.shape[1], gain.matrix.shape[1]], axis=1),
        first_curve=common.matrix @ first,
        residuals=np.nan_to_num(values - common.matrix @ first),
        slope=data.engine_speed * (common.derivative @ first),
        order=data.order,
        noise_patterns=patterns,
        pattern=pattern.reshape(-1),
    )


@dataclass(frozen=True, kw_only=True)
class GainEstimate:
    """Generalised least squares for each of many candidate disturbances, and how likely the data make each.

    `coefficients` (..., p) are those of the common curve and then of the gain; `information` (..., p, p) is the inverse
    of their covariance.
    """

    coefficients: Floats
    information: Floats
    log_likelihood: Floats


def gain_estimate(model: GainModel, disturbances: Disturbances) -> GainEstimate:
    """Best curves and restricted log-likelihood (up to a constant) under the disturbances given.

    Notes
    -----
    With R the covariance of the bins of a pull and D that of the levels of the pulls, the covariance of all values is
    blockdiag(R) + U D U', where U holds a column of ones for each pull. By the matrix inversion lemma it takes only
    products of the design, the ones and the data in the metric of R^-1, and one small solve with D.
    """
    m = _pull_products(model, disturbances)
    D = level_covariance(model.order, disturbances)
    damped = np.eye(D.shape[-1]) + D * m.level[..., None, :]
    S = np.linalg.solve(damped, D)
    aS = np.swapaxes(m.design_level, -1, -2) @ S
    information = m.design - aS @ m.design_level
    right_side = m.design_data - (aS @ m.level_data[..., None])[..., 0]
    coefficients = np.asarray(np.linalg.solve(information, right_side[..., None])[..., 0], np.float64)
    explained = (right_side * coefficients).sum(-1)
    quadratic = m.data - np.einsum("...i,...ij,...j", m.level_data, S, m.level_data) - explained
    log_determinants = m.log_determinant + np.linalg.slogdet(damped)[1] + np.linalg.slogdet(information)[1]
    return GainEstimate(
        coefficients=coefficients,
        information=information,
        log_likelihood=-0.5 * (log_determinants + quadratic),
    )


@dataclass(frozen=True, kw_only=True)
class LevelEvidence:
    """What the pulls say of their levels beyond the two curves, for each of many candidate disturbances.

    A level effect that is normal about zero with covariance G has, given the data, the mean G `level_signal`, shape
    (..., pulls), and the covariance G - G `level_precision` G, shape (..., pulls, pulls).
    """

    level_signal: Floats
    level_precision: Floats


def level_evidence(model: GainModel, disturbances: Disturbances) -> LevelEvidence:
    """What the pulls say of their levels beyond the two curves."""
    m, estimate = _pull_products(model, disturbances), gain_estimate(model, disturbances)
    D = level_covariance(model.order, disturbances)
    damped = np.eye(D.shape[-1]) + m.level[..., None] * D
    design = np.linalg.solve(damped, m.design_level)
    data = np.linalg.solve(damped, m.level_data[..., None])[..., 0]
    level = np.linalg.solve(damped, m.level[..., None] * np.eye(D.shape[-1]))
    explained = design @ np.linalg.solve(estimate.information, np.swapaxes(design, -1, -2))
    return LevelEvidence(
        level_signal=data - (design @ estimate.coefficients[..., None])[..., 0],
        level_precision=level - explained,
    )


def bin_covariance(model: GainModel, disturbances: Disturbances) -> Floats:
    """Covariance of the bins of a pull under each noise pattern, its level apart; shape (..., patterns, bins, bins).

    A masked bin is uncorrelated with the others and has variance one: with zeros for its data and design it drops out.
    """
    smooth = pull_covariance(model.engine_speed, replace(disturbances, noise_sd=0.0))
    smooth = smooth * (1 + _ROUNDING * np.eye(model.engine_speed.size))
    smooth = smooth + speed_axis_covariance(model.slope, disturbances)
    present = np.isfinite(model.noise_patterns)
    pairs = present[:, :, None] & present[:, None, :]
    noise_variance = np.asarray(disturbances.noise_sd)[..., None, None] ** 2
    noise = np.where(present, noise_variance * np.where(present, model.noise_patterns, 0.0), 1.0)
    return np.where(pairs, smooth[..., None, :, :], 0.0) + noise[..., None] * np.eye(model.engine_speed.size)


@dataclass(frozen=True, kw_only=True)
class SplineBasis:
    """B-splines at the bins and their derivatives by engine speed; each (bins, p)."""

    matrix: Floats
    derivative: Floats


def spline_basis(engine_speed: Floats, knot_spacing: float) -> SplineBasis:
    """Cubic B-splines with equal knots about `knot_spacing` apart [1/s], never more splines than bins."""
    low, high = float(engine_speed[0]), float(engine_speed[-1])
    degree = min(3, engine_speed.size - 1)
    intervals = min(int(np.ceil((high - low) / knot_spacing - 1e-9)), engine_speed.size - degree)
    knots = np.r_[[low] * degree, np.linspace(low, high, intervals + 1), [high] * degree]
    splines = BSpline(knots, np.eye(intervals + degree), degree)
    return SplineBasis(matrix=splines(engine_speed), derivative=splines.derivative()(engine_speed))


def noise_weights(values: Floats, counts: Indices) -> Floats:
    """Variance of a bin's noise relative to a typical bin, (pulls, bins); infinite where masked."""
    present = np.isfinite(values)
    samples = np.where(present, counts, 0).sum(1) / present.sum(1)
    uneven = samples.max() > COUNT_RATIO * samples.min()
    weights = np.median(counts[present]) / np.maximum(counts, 1) if uneven else np.ones(values.shape)
    return np.asarray(np.where(present, weights, np.inf))


def _expected_soak_effect(order: RunOrder, soak_sensitivity: float) -> Floats:
    if order.soak is None:
        return np.zeros(order.is_candidate.size)
    return soak_sensitivity * (order.soak - order.soak.mean())


def _first_curve(basis: Floats, values: Floats) -> Floats:
    """Coefficients of an ordinary fit of one curve to all pulls, each with a level of its own."""
    pull, speed_bin = np.nonzero(np.isfinite(values))
    levels = np.eye(values.shape[0])[pull]
    fit = np.linalg.lstsq(np.hstack([basis[speed_bin], levels]), values[pull, speed_bin], rcond=None)
    return np.asarray(fit[0][: basis.shape[1]], np.float64)


@dataclass(frozen=True, kw_only=True)
class _PullProducts:
    """Products in the metric of R^-1, with Q_i, 1 and y_i the design, the ones and the data of pull i.

    design: sum of Q_i'R^-1 Q_i (..., p, p); design_level: 1'R^-1 Q_i (..., pulls, p); level: 1'R^-1 1 (..., pulls);
    design_data: sum of Q_i'R^-1 y_i (..., p); level_data: 1'R^-1 y_i (..., pulls); data: sum of y_i'R^-1 y_i (...).
    """

    design: Floats
    design_level: Floats
    level: Floats
    design_data: Floats
    level_data: Floats
    data: Floats
    log_determinant: Floats


def _pull_products(model: GainModel, disturbances: Disturbances) -> _PullProducts:
    root = np.linalg.cholesky(bin_covariance(model, disturbances))
    white = np.linalg.solve(root, _columns(model))
    gram = np.swapaxes(white, -1, -2) @ white
    scale, p = model.design_scale, model.design_scale.shape[1]
    own = np.arange(scale.shape[0])
    with_ones = gram[..., p, :][..., model.pattern, :]
    with_data = np.moveaxis(gram[..., model.pattern, :, p + 1 + own], 0, -2)
    return _PullProducts(
        design=(_pattern_scales(model) * gram[..., :p, :p]).sum(-3),
        design_level=scale * with_ones[..., :p],
        level=with_ones[..., p],
        design_data=(scale * with_data[..., :p]).sum(-2),
        level_data=with_data[..., p],
        data=with_data[..., own, p + 1 + own].sum(-1),
        log_determinant=2 * np.log(np.diagonal(root, axis1=-2, axis2=-1)).sum(-1)[..., model.pattern].sum(-1),
    )


def _columns(model: GainModel) -> Floats:
    """Design, ones and every pull's data under each noise pattern, zero where masked; (patterns, bins, columns)."""
    ones = np.ones((model.engine_speed.size, 1))
    columns = np.hstack([model.common_basis, model.gain_basis, ones, model.residuals.T])
    return np.where(np.isfinite(model.noise_patterns)[..., None], columns, 0.0)


def _pattern_scales(model: GainModel) -> Floats:
    """For each noise pattern the sum over its pulls of z z', by which its products enter; (patterns, p, p)."""
    members = (model.pattern == np.arange(len(model.noise_patterns))[:, None]).astype(np.float64)
    return np.einsum("ki,ip,iq->kpq", members, model.design_scale, model.design_scale)


def _check_shapes(data: GainData) -> None:
    shape = (data.order.is_candidate.size, data.engine_speed.size)
    for name in ("values", "counts"):
        if getattr(data, name).shape != shape:
            raise ValueError(f"{name} has shape {getattr(data, name).shape}: expected (pulls, bins), here {shape}")
    if data.engine_speed.size < 2 or not np.all(np.diff(data.engine_speed) > 0):
        raise ValueError("engine_speed must hold two or more bins and rise: a gain curve needs a range of speed")
    if np.any(blank := ~np.any(np.isfinite(data.values), axis=1)):
        raise ValueError(f"pull {int(np.argmax(blank)) + 1} holds no usable bin: leave it out")
    if np.any(np.isinf(data.values)):
        raise ValueError("values hold an infinity: was a logarithm taken of zero? mask such a bin with NaN")
    if np.any((data.counts < 1) & np.isfinite(data.values)):
        raise ValueError("counts are below one where a value is given: mask a bin that holds no samples with NaN")


def _check_setups(data: GainData) -> None:
    for setup, rows in (("candidate", data.order.is_candidate), ("baseline", ~data.order.is_candidate)):
        if not np.any(rows):
            raise ValueError(f"no pull of the {setup} is given: a gain needs pulls of both setups")
        empty = ~np.any(np.isfinite(data.values[rows]), axis=0)
        if np.any(empty):
            speeds = ", ".join(f"{60 * speed:.0f}" for speed in data.engine_speed[empty])
            raise ValueError(f"no pull of the {setup} has a usable bin at {speeds} rpm: narrow the range or add a pull")

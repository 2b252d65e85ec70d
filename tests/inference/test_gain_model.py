"""The mixed model for given disturbances, against dense algebra, scipy and statsmodels."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal
from statsmodels.regression.mixed_linear_model import MixedLM

from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    Disturbances,
    RunOrder,
    disturbances_from,
    level_covariance,
    median_disturbances,
    pull_covariance,
    speed_axis_covariance,
)
from boostwright.inference.gain_model import (
    GainData,
    GainModel,
    gain_estimate,
    gain_model,
    level_evidence,
    noise_weights,
    spline_basis,
)
from tests.inference.campaigns import first_bins, made_campaign, masked

PRIORS = DisturbancePriors()
CENTRE = np.log([getattr(PRIORS, name).median for name in FITTED])
SHIFTS = st.lists(st.floats(-1.2, 1.2), min_size=9, max_size=9).map(np.array)


class Dense:
    """The same model written out: every value a row, its covariance in full, masked rows left out."""

    def __init__(self, model: GainModel, data: GainData, d: Disturbances) -> None:
        pulls, bins = data.values.shape
        R = pull_covariance(data.engine_speed, replace(d, noise_sd=0.0)) + speed_axis_covariance(model.slope, d)
        weights = noise_weights(data.values, data.counts)
        present = np.isfinite(data.values).reshape(-1)
        noise = np.where(present, d.noise_sd**2 * np.where(present, weights.reshape(-1), 0), 0)
        U = np.kron(np.eye(pulls), np.ones((bins, 1)))
        V = np.kron(np.eye(pulls), R) + U @ level_covariance(data.order, d) @ U.T + np.diag(noise)
        half = np.where(data.order.is_candidate, 0.5, -0.5)
        X = np.hstack([np.tile(model.common_basis, (pulls, 1)), np.kron(half[:, None], model.gain_basis)])
        self.X, self.U, self.y = X[present], U[present], model.residuals.reshape(-1)[present]
        self.V = V[np.ix_(present, present)]
        self.information = self.X.T @ np.linalg.solve(self.V, self.X)
        self.coefficients = np.linalg.solve(self.information, self.X.T @ np.linalg.solve(self.V, self.y))

    def log_likelihood(self) -> float:
        """Density of the data at the best curves, corrected for having fitted them."""
        density = multivariate_normal(self.X @ self.coefficients, self.V).logpdf(self.y)
        constant = 0.5 * self.y.size * np.log(2 * np.pi)
        return density + constant - 0.5 * np.linalg.slogdet(self.information)[1]

    def projection(self) -> np.ndarray:
        inverse = np.linalg.inv(self.V)
        return inverse - inverse @ self.X @ np.linalg.solve(self.information, self.X.T @ inverse)


@pytest.fixture(scope="module")
def whole() -> GainData:
    return first_bins(made_campaign("AB", seed=1, sessions=2), 12)


@pytest.fixture(scope="module")
def with_masks(whole) -> GainData:
    return masked(masked(whole, 1, slice(0, 3)), 2, slice(8, 10))


@pytest.fixture(scope="module")
def uneven(with_masks) -> GainData:
    counts = with_masks.counts.copy()
    counts[3] //= 8
    return replace(with_masks, counts=counts)


@pytest.mark.parametrize("kind", ["whole", "with_masks", "uneven"])
@settings(max_examples=8, deadline=None)
@given(shifts=SHIFTS)
def test_the_likelihood_is_that_of_the_dense_covariance(kind, shifts, request):
    data = request.getfixturevalue(kind)
    model = gain_model(data, PRIORS.soak_sensitivity)
    d = disturbances_from(CENTRE + shifts, PRIORS)

    ours, dense = gain_estimate(model, d), Dense(model, data, d)

    assert float(ours.log_likelihood) == pytest.approx(dense.log_likelihood(), abs=1e-8, rel=1e-9)
    np.testing.assert_allclose(ours.coefficients, dense.coefficients, atol=1e-8)
    np.testing.assert_allclose(ours.information, dense.information, rtol=1e-7, atol=1e-7 * dense.information.max())


def test_a_campaign_without_masks_needs_one_factorisation_and_one_with_masks_three(whole, with_masks, uneven):
    assert [len(gain_model(data, 0.0).noise_patterns) for data in (whole, with_masks, uneven)] == [1, 3, 4]


def test_masked_bins_only_take_information_away(whole, with_masks):
    d = median_disturbances(PRIORS)
    d = replace(d, speed_axis_sd=0.0)  # it depends on the slope, and masks change the curve that gives it
    before, after = (gain_estimate(gain_model(data, 0.0), d).information for data in (whole, with_masks))
    taken = np.linalg.eigvalsh(before - after) / np.linalg.eigvalsh(before).max()
    assert taken.min() > -1e-12
    assert taken.max() > 0.01


def test_many_candidates_at_once_are_each_alone(with_masks):
    model = gain_model(with_masks, PRIORS.soak_sensitivity)
    logs = CENTRE + np.random.default_rng(0).normal(0, 0.4, (4, 9))

    many = gain_estimate(model, disturbances_from(logs, PRIORS))

    for k in range(4):
        one = gain_estimate(model, disturbances_from(logs[k], PRIORS))
        assert float(many.log_likelihood[k]) == pytest.approx(float(one.log_likelihood), rel=1e-12)
        np.testing.assert_allclose(many.coefficients[k], one.coefficients, rtol=1e-9, atol=1e-12)


def test_the_evidence_on_levels_is_that_of_the_dense_projection(with_masks):
    model = gain_model(with_masks, PRIORS.soak_sensitivity)
    d = median_disturbances(PRIORS)
    dense = Dense(model, with_masks, d)

    evidence = level_evidence(model, d)

    P = dense.projection()
    np.testing.assert_allclose(evidence.level_signal, dense.U.T @ P @ dense.y, rtol=1e-6, atol=1e-4)
    expected = dense.U.T @ P @ dense.U
    np.testing.assert_allclose(evidence.level_precision, expected, rtol=1e-6, atol=1e-7 * expected.max())


@pytest.mark.filterwarnings("ignore:Random effects covariance is singular")  # its search starts at no levels at all
def test_with_only_levels_and_noise_it_is_statsmodels_random_intercept():
    """REML of an independent library: the same curves and standard errors; its optimum is our highest likelihood."""
    data = made_campaign("ABBA", seed=5)
    generator = np.random.default_rng(5)
    values = (
        data.values + 0.01 * generator.standard_normal((4, 1)) + 0.01 * generator.standard_normal(data.values.shape)
    )
    model = gain_model(replace(data, values=values, order=replace(data.order, soak=None)), 0.0)
    exog = np.vstack([np.hstack([model.common_basis, half * model.gain_basis]) for half in (-0.5, 0.5, 0.5, -0.5)])
    groups = np.repeat(np.arange(4), data.engine_speed.size)
    fit = MixedLM(1e3 * model.residuals.reshape(-1), exog, groups).fit(reml=True, method=["lbfgs"])
    pull_level, noise = 1e-3 * np.sqrt(fit.cov_re[0, 0]), 1e-3 * np.sqrt(fit.scale)

    def simple(pull_level_sd: float, noise_sd: float) -> Disturbances:
        nothing = {name: 0.0 for name in vars(median_disturbances(PRIORS)) if name.endswith("_sd")}
        sizes = nothing | {"pull_level_sd": pull_level_sd, "noise_sd": noise_sd}
        return Disturbances(**sizes, shape_length=1.0, ripple_length=1.0, random_drift=0.0)

    ours = gain_estimate(model, simple(pull_level, noise))

    np.testing.assert_allclose(1e3 * ours.coefficients, fit.fe_params, rtol=1e-5, atol=1e-4)
    ours_se = 1e3 * np.sqrt(np.diag(np.linalg.inv(ours.information)))
    np.testing.assert_allclose(ours_se, fit.bse_fe, rtol=1e-5)
    for a, b in ((1.02, 1.0), (0.98, 1.0), (1.0, 1.02), (1.0, 0.98)):
        assert gain_estimate(model, simple(a * pull_level, b * noise)).log_likelihood < ours.log_likelihood


def test_the_splines_reproduce_a_cubic_and_its_slope():
    speed = np.linspace(41.0, 99.0, 30)
    for spacing, splines in ((280 / 60, 16), (210 / 60, 20)):
        basis = spline_basis(speed, spacing)
        cubic, slope = (speed / 60) ** 3 - speed / 30, 3 * (speed / 60) ** 2 / 60 - 1 / 30
        coefficients = np.linalg.lstsq(basis.matrix, cubic, rcond=None)[0]
        assert basis.matrix.shape == (30, splines)
        np.testing.assert_allclose(basis.matrix @ coefficients, cubic, atol=1e-12)
        np.testing.assert_allclose(basis.derivative @ coefficients, slope, atol=1e-12)


@given(st.integers(2, 55), st.floats(90 / 60, 150 / 60), st.sampled_from([280 / 60, 210 / 60]))
def test_any_declared_range_has_splines_that_its_bins_can_tell(bins, width, spacing):
    speed = 25.0 + width * np.arange(bins)
    basis = spline_basis(speed, spacing).matrix
    assert basis.shape[1] <= bins
    assert np.linalg.matrix_rank(basis) == basis.shape[1]


def test_the_slope_is_that_of_the_curve_by_the_logarithm_of_speed():
    speed = np.linspace(50.0, 100.0, 25)
    order = RunOrder(
        is_candidate=np.array([False, True]), session=np.zeros(2, int), installation=np.arange(2), elapsed=np.zeros(2)
    )
    values = np.vstack([2.0 * np.log(speed), 2.0 * np.log(speed) + 0.01])
    model = gain_model(GainData(engine_speed=speed, values=values, counts=np.full((2, 25), 9), order=order), 0.0)
    np.testing.assert_allclose(model.slope, 2.0, atol=0.02)  # a cubic spline is not quite a logarithm


def test_pulls_sampled_alike_are_weighted_alike_and_others_by_their_samples():
    values = np.zeros((2, 3))
    values[0, 1] = np.nan
    alike = noise_weights(values, np.array([[40, 0, 42], [20, 21, 19]]))
    unlike = noise_weights(values, np.array([[100, 0, 100], [10, 10, 20]]))
    np.testing.assert_array_equal(alike, [[1, np.inf, 1], [1, 1, 1]])
    np.testing.assert_allclose(unlike, [[0.2, np.inf, 0.2], [2, 2, 1]])  # against the median of 20 samples


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: replace(d, values=d.values[:, :-1]), r"values has shape \(4, 29\): expected \(pulls, bins\), here"),
        (lambda d: replace(d, engine_speed=d.engine_speed[::-1]), "engine_speed must hold two or more bins and rise"),
        (lambda d: replace(d, values=np.where(d.values > 6.4, np.inf, d.values)), "hold an infinity: was a logarithm"),
        (lambda d: masked(d, 2, slice(None)), "pull 3 holds no usable bin: leave it out"),
        (lambda d: replace(d, counts=0 * d.counts), "counts are below one where a value is given"),
        (
            lambda d: replace(d, order=replace(d.order, is_candidate=np.ones(4, bool))),
            "no pull of the baseline is given: a gain needs pulls of both setups",
        ),
        (
            lambda d: masked(masked(d, 1, slice(3, 5)), 2, slice(2, 5)),
            "no pull of the candidate has a usable bin at 2820, 2940 rpm: narrow the range or add a pull",
        ),
    ],
)
def test_data_that_cannot_be_compared_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        change(made_campaign("ABBA", seed=1))

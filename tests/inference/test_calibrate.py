"""Calibration: the parameter space, the data, the fit and what it says of itself."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from boostwright.errors import FitError
from boostwright.inference.calibrate import (
    TYPICAL_SENSOR_ERRORS,
    CalibrationData,
    Predictor,
    SensorErrors,
    block_diagonal,
    calibrate,
    calibration_data,
    observed_scale,
    sensor_covariance,
)
from boostwright.inference.nonlinear_fit import Outcome
from boostwright.inference.priors import KNOWN_SHARE, UNKNOWNS, Contrast, Known, Law, parameter_space, smooth_basis
from boostwright.machine.assumptions import RULES
from boostwright.machine.operating_point import matched
from tests.inference.setups import ALL_CHANNELS, SPEEDS, baseline_points, curves_of, data_of

RULE_OF = {
    rule.default.word: rule.default for rule in reversed(RULES)
}  # of two for one word the first: the common case


def test_nominal_vector_leaves_the_table_as_it_was():
    points = baseline_points()
    space = parameter_space(points, points)
    table = space.points(np.zeros((1, space.size)))[0]
    for word in points.dtype.names:
        moved = word in ("belt_slip", "coolant_temperature")  # whose course along speed has a mean of its own
        assert np.array_equal(table[word], np.tile(points[word], 2)) is not moved, word


def test_a_difference_moves_both_setups_by_half_in_opposite_directions():
    points = baseline_points()
    space = parameter_space(points, points)
    unit = np.zeros((1, space.size))
    unit[0, space.names.index("leakage_area difference")] = 1.0
    ratio = space.points(unit)[0]["leakage_area"] / np.tile(points["leakage_area"], 2)
    np.testing.assert_allclose(ratio, np.repeat(np.exp([-0.1, 0.1]), points.size), rtol=1e-12)


def test_prior_spreads_of_levels_agree_with_the_ranges_of_the_defaults():
    """The documented 95 % range of a default is 3.92 standard deviations; a third of that may be rounding and taste."""
    compared = 0
    for unknown in UNKNOWNS:
        if unknown.name != unknown.word or unknown.word not in RULE_OF:
            continue
        default = RULE_OF[unknown.word]
        if unknown.word == "belt_slip" or default.low <= 0 or default.low == default.high:
            continue
        wide = np.log(default.high / default.low) if unknown.law is Law.FACTOR else default.high - default.low
        assert unknown.sd == pytest.approx(wide / 3.92, rel=0.35), unknown.name
        compared += 1
    assert compared >= 12


def test_stated_and_logged_numbers_are_believed_more_than_defaults():
    points = baseline_points()
    space = parameter_space(points, points, Known(stated=frozenset({"leakage_area"}), logged=frozenset({"belt_slip"})))
    usual = {unknown.name: unknown.sd for unknown in UNKNOWNS}
    sds = {unknown.name: unknown.sd for unknown in space.unknowns}
    assert sds["leakage_area"] == pytest.approx(KNOWN_SHARE * usual["leakage_area"])
    assert sds["leakage_area difference"] == usual["leakage_area difference"]
    assert next(u.centre for u in space.unknowns if u.name == "belt_slip slope") == 0.0
    assert sds["belt_slip difference"] == pytest.approx(KNOWN_SHARE * usual["belt_slip difference"])


def test_smooth_errors_have_unit_variance_within_their_nodes_and_none_far_away():
    nodes = np.linspace(0.0, 6.0, 7)
    basis = smooth_basis(np.array([0.0, 1.5, 3.0, 40.0]), nodes, 2.0)
    np.testing.assert_allclose((basis**2).sum(axis=1), [1, 1, 1, 0], atol=2e-3)


def test_the_unknowns_of_a_smooth_difference_act_with_opposite_signs():
    points = baseline_points()
    space = parameter_space(points, points)
    z = np.zeros((1, space.size))
    z[0, [i for i, name in enumerate(space.names) if name.startswith("delivery_factor curve difference")]] = 1.0
    factor = np.log(space.points(z)[0]["delivery_factor"]).reshape(2, -1)
    assert np.ptp(factor[0]) > 1e-3
    np.testing.assert_allclose(factor[0], -factor[1], rtol=1e-12)


def test_sensor_covariance_holds_each_part_where_it_belongs():
    errors = SensorErrors(common_sd=0.4, level_sd=0.3, curve_sd=0.2, noise_sd=0.1, curve_length=10.0)
    C = sensor_covariance(errors, np.array([50.0, 60.0]))
    assert C[0, 0] == pytest.approx(0.16 + 0.09 + 0.04 + 0.01)
    assert C[0, 1] == pytest.approx(0.16 + 0.09 + 0.04 * np.exp(-0.5))
    assert C[0, 2] == C[0, 3] == pytest.approx(0.16)


def test_observations_without_error_return_the_truth_where_the_data_determine_it():
    """Data from the chain itself, two prior deviations of slip difference away, rotor speed logged."""
    points = baseline_points()
    space = parameter_space(points, points)
    z = np.zeros((1, space.size))
    slip = space.names.index("belt_slip difference")
    z[0, slip] = 2.0
    table = space.points(z)[0]
    data = data_of(points, points, curves_of(table[: points.size], table[points.size :]), ALL_CHANNELS)
    calibration = calibrate(data)
    assert calibration.fit.outcome is Outcome.CONVERGED
    assert calibration.fit.estimates[slip] == pytest.approx(2.0, abs=2 * calibration.fit.standard_errors[slip])
    assert calibration.fit.standard_errors[slip] < 0.4
    truth = matched(table).states["air_mass_flow"]
    np.testing.assert_allclose(
        calibration.predictor.states(calibration.fit.estimates[None])[0]["air_mass_flow"], truth, rtol=5e-3
    )


def test_an_independent_optimiser_finds_the_same_minimum():
    """Scipy's trust region, from the nominal values, with its own differences, on the residuals of our last fit."""
    points, other = baseline_points(), baseline_points()
    other["inlet_area"] *= 1.3
    curves = curves_of(points, other, np.random.default_rng(12))
    calibration = calibrate(data_of(points, points, curves, ("torque", "manifold_pressure", "charge_temperature")))
    predictor, fit = calibration.predictor, calibration.fit
    residuals = predictor.residuals(predictor.data.observations.ravel())
    theirs = least_squares(
        lambda z: np.concatenate([residuals(z[None])[0], z]), np.zeros(predictor.space.size), diff_step=1e-4, xtol=1e-8
    )
    assert fit.residuals @ fit.residuals + fit.estimates @ fit.estimates == pytest.approx(2 * theirs.cost, rel=1e-5)
    np.testing.assert_allclose(fit.estimates, theirs.x, atol=0.05)


def test_misfit_of_noise_as_stated_is_near_one():
    """Noise drawn from the stated covariance: the misfit averages 1 a datum, the mean of five within 0.25 of it."""
    points, generator = baseline_points(), np.random.default_rng(3)
    misfits = []
    for _ in range(5):
        data = data_of(points, points, curves_of(points, points, generator), ALL_CHANNELS)
        misfits.append(calibrate(data).misfit)
    assert np.mean(misfits) == pytest.approx(1.0, abs=0.25)


def test_noise_larger_than_stated_widens_what_is_claimed():
    """With three times the stated noise the standard error of the slip difference grows by half or more."""
    points = baseline_points()
    quiet = calibrate(data_of(points, points, curves_of(points, points, np.random.default_rng(4)), ALL_CHANNELS))
    loud = calibrate(data_of(points, points, curves_of(points, points, np.random.default_rng(4), 3.0), ALL_CHANNELS))
    i = quiet.predictor.space.names.index("belt_slip difference")
    assert loud.fit.standard_errors[i] > 1.5 * quiet.fit.standard_errors[i]


def test_a_contradiction_is_said_as_strain():
    """Boost measured 40 % too high cannot come from any usual blower."""
    points = baseline_points()
    curves = curves_of(points, points)
    curves["manifold_pressure"] = 1.4 * curves["manifold_pressure"]
    calibration = calibrate(data_of(points, points, curves, ("torque", "manifold_pressure")))
    assert calibration.strained or calibration.misfit > 2


def test_predictions_follow_the_order_of_the_observations():
    points = baseline_points()
    other = points.copy()
    other["inlet_area"] *= 1.3
    data = data_of(points, other, curves_of(points, other), ALL_CHANNELS)
    predictor = Predictor(data)
    nominal = predictor.space.points(np.zeros((1, predictor.space.size)))[0]
    expected = data_of(points, other, curves_of(*np.split(nominal, 2)), ALL_CHANNELS).observations
    predicted = predictor.predictions(np.zeros((1, predictor.space.size)))[0]
    np.testing.assert_allclose(predicted, expected.ravel(), rtol=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"channels": ("torque", "noise")}, "noise: the chain predicts torque"),
        ({"observations": np.zeros((1, 2, 3))}, "observations have shape"),
        ({"covariance": np.eye(3)}, "covariance has shape"),
        ({"observations": np.full((2, 2, len(SPEEDS)), np.nan)}, "not a number: leave its speed out"),
    ],
)
def test_data_that_do_not_fit_together_are_refused(change, words):
    points = baseline_points()
    data = data_of(points, points, curves_of(points, points), ("torque", "manifold_pressure"))
    with pytest.raises(ValueError, match=words):
        replace(data, **change)


def test_a_build_without_operating_point_is_refused_by_speed():
    """An engine of 84 mL behind a blower of 1.6 L swallows nothing to speak of."""
    points, tiny = baseline_points(), baseline_points()
    tiny["engine_displacement"] *= 0.02
    data = data_of(points, tiny, curves_of(points, points), ("torque", "manifold_pressure"))
    with pytest.raises(FitError, match=r"candidate has no operating point at 3000, .* rpm: check its drive"):
        calibrate(data)


def test_setups_at_different_speeds_are_refused():
    points = baseline_points()
    with pytest.raises(ValueError, match="same engine speeds"):
        parameter_space(points, points[::-1])


def test_blocks_stand_on_the_diagonal():
    matrix = block_diagonal([np.eye(2), np.full((1, 1), 5.0)])
    np.testing.assert_array_equal(matrix, np.diag([1.0, 1.0, 5.0]))


def test_ratios_are_compared_as_logarithms_and_temperatures_as_they_are():
    assert observed_scale("torque", np.array([np.e])) == pytest.approx(1.0)
    assert observed_scale("charge_temperature", np.array([330.0])) == 330.0


def test_plain_curves_become_data_with_every_channel_apart():
    points = baseline_points()
    data = calibration_data(points, points, curves_of(points, points), TYPICAL_SENSOR_ERRORS)
    assert isinstance(data, CalibrationData)
    n = 2 * points.size
    assert np.all(data.covariance[:n, n : 2 * n] == 0.0)
    assert Contrast.COMMON in {unknown.contrast for unknown in UNKNOWNS}

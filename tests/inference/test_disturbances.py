"""The disturbances, their priors and covariances, against hand calculation and other forms of the same thing."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import lognorm, norm

from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    Disturbances,
    LogNormal,
    Repeatability,
    RunOrder,
    disturbances_from,
    level_covariance,
    median_disturbances,
    only,
    priors_at_the_inlet,
    priors_of_quantity,
    priors_on_linear_scale,
    pull_covariance,
    speed_axis_covariance,
)
from boostwright.inference.prior_density import (
    ARCHIVE_BELIEF,
    archive_prior,
    archive_probability,
    log_prior_density,
    single_normal_priors,
)

PRIORS = DisturbancePriors()
MEDIAN = median_disturbances(PRIORS)
SPEED = np.arange(3000.0, 4000.0, 120.0) / 60
TWO_DAYS = RunOrder(
    is_candidate=np.array([False, True, True, False]),
    session=np.array([0, 0, 1, 1]),
    installation=np.array([0, 1, 2, 2]),
    elapsed=np.array([100.0, 1000.0, 50.0, 650.0]),
    soak=np.array([4.0, 8.0, 2.0, 6.0]),
)
LOGS = st.lists(st.floats(-1.0, 1.0), min_size=9, max_size=9).map(np.array)


def test_the_level_covariance_is_the_sum_of_its_terms_by_hand():
    d = Disturbances(
        pull_level_sd=0.006,
        shape_sd=0.0,
        shape_length=1.0,
        ripple_sd=0.0,
        ripple_length=1.0,
        noise_sd=0.0,
        speed_axis_sd=0.0,
        installation_sd=0.002,
        random_drift=1e-4,
        linear_drift_sd=1e-6,
        soak_sensitivity_sd=5e-4,
        session_sd=0.01,
    )

    D = level_covariance(TWO_DAYS, d)

    # soak is centred: -1, 3, -3, 1 K; drift starts at the first pull of a day
    assert D[2, 3] == pytest.approx(0.002**2 + 0.01**2 - 3 * 5e-4**2)
    assert D[0, 2] == pytest.approx(3 * 5e-4**2)
    assert D[1, 3] == pytest.approx(3 * 5e-4**2)
    assert D[1, 1] == pytest.approx(0.006**2 + 0.002**2 + 900e-8 + 900**2 * 1e-12 + 9 * 5e-4**2 + 0.01**2)
    assert D[3, 3] == pytest.approx(0.006**2 + 0.002**2 + 600e-8 + 600**2 * 1e-12 + 5e-4**2 + 0.01**2)


def test_a_single_session_has_no_offset_of_its_own():
    one_day = replace(TWO_DAYS, session=np.zeros(4, dtype=int))
    assert np.all(level_covariance(one_day, only(MEDIAN, "session_sd")) == 0)


def test_the_random_drift_is_a_wiener_process():
    """Its increments over separate stretches of time are independent and grow with the length of the stretch."""
    order = replace(TWO_DAYS, session=np.zeros(4, dtype=int), elapsed=np.array([0.0, 300.0, 1000.0, 1100.0]))
    increments = np.diff(np.eye(4), axis=0)

    covariance = increments @ level_covariance(order, only(MEDIAN, "random_drift")) @ increments.T

    np.testing.assert_allclose(covariance, np.diag([300, 700, 100]) * float(MEDIAN.random_drift) ** 2, atol=1e-20)


def test_the_ripple_forgets_by_its_length_and_the_shape_by_the_square():
    at = np.array([50.0, 50.0 + 11.0 / 6])
    ripple = pull_covariance(at, replace(only(MEDIAN, "ripple_sd"), ripple_length=11.0 / 6))
    shape = pull_covariance(at, replace(only(MEDIAN, "shape_sd"), shape_length=11.0 / 6))
    assert ripple[0, 1] / ripple[0, 0] == pytest.approx(0.36788, abs=1e-5)  # exp(-1)
    assert shape[0, 1] / shape[0, 0] == pytest.approx(0.60653, abs=1e-5)  # exp(-1/2)


@given(LOGS)
def test_covariances_add_and_are_those_of_something(shifts):
    d = disturbances_from(np.log([getattr(PRIORS, name).median for name in FITTED]) + shifts, PRIORS)
    within = [only(d, name) for name in ("shape_sd", "ripple_sd", "noise_sd")]
    between = (
        "pull_level_sd",
        "installation_sd",
        "random_drift",
        "linear_drift_sd",
        "soak_sensitivity_sd",
        "session_sd",
    )

    R, D = pull_covariance(SPEED, d), level_covariance(TWO_DAYS, d)

    np.testing.assert_allclose(R, sum(pull_covariance(SPEED, one) for one in within), rtol=1e-12)
    np.testing.assert_allclose(D, sum(level_covariance(TWO_DAYS, only(d, name)) for name in between), rtol=1e-12)
    assert np.linalg.eigvalsh(R).min() > 0
    assert np.linalg.eigvalsh(D).min() > 0


def test_many_candidates_at_once_are_each_alone():
    logs = np.log([getattr(PRIORS, name).median for name in FITTED]) + np.linspace(-0.5, 0.5, 3)[:, None]
    slope = np.linspace(1.0, -1.0, SPEED.size)

    many = disturbances_from(logs, PRIORS)

    for k in range(3):
        one = disturbances_from(logs[k], PRIORS)
        np.testing.assert_array_equal(pull_covariance(SPEED, many)[k], pull_covariance(SPEED, one))
        np.testing.assert_array_equal(level_covariance(TWO_DAYS, many)[k], level_covariance(TWO_DAYS, one))
        np.testing.assert_array_equal(speed_axis_covariance(slope, many)[k], speed_axis_covariance(slope, one))


def test_a_linear_scale_multiplies_the_sizes_and_leaves_lengths_and_the_speed_axis():
    archive = replace(PRIORS, repeatability=Repeatability(pull_level_sd=0.005, degrees_of_freedom=12))

    scaled = priors_on_linear_scale(archive, 80e3)

    assert scaled.pull_level_sd == LogNormal(median=480.0, log_sd=0.5)
    assert scaled.repeatability == Repeatability(pull_level_sd=400.0, degrees_of_freedom=12)
    assert scaled.soak_sensitivity == pytest.approx(-72.0)
    assert (scaled.shape_length, scaled.ripple_length) == (PRIORS.shape_length, PRIORS.ripple_length)
    assert scaled.speed_axis_sd == PRIORS.speed_axis_sd


@pytest.mark.parametrize("quantity", ["torque", "power", "air_mass_flow", "fuel_mass_flow"])
def test_heat_soak_is_expected_to_act_on_air_as_on_torque(quantity):
    assert priors_of_quantity(PRIORS, quantity) == PRIORS


@pytest.mark.parametrize("quantity", ["rotor_speed", "charge_temperature", "manifold_pressure"])
def test_no_effect_of_heat_soak_is_expected_where_not_even_its_sign_is_known(quantity):
    priors = priors_of_quantity(PRIORS, quantity)

    assert priors.soak_sensitivity == 0.0
    assert priors.soak_sensitivity_sd == pytest.approx(9.85e-4, rel=1e-3)  # 0.09 % and 0.04 % a kelvin, squares added
    assert replace(priors, soak_sensitivity=-0.0009, soak_sensitivity_sd=0.0004) == PRIORS


def test_inlet_pressure_scatters_by_its_sensor_and_twice_as_much_as_the_flow():
    slight, deep, closed = (priors_at_the_inlet(PRIORS, share) for share in (0.0, 0.25, 2.0))

    assert (slight.pull_level_sd.median, slight.pull_level_sd.log_sd) == (pytest.approx(0.22 * 0.006), 0.5)
    assert deep.noise_sd.median == pytest.approx(np.hypot(0.22, 0.5) * 0.003)
    assert closed == PRIORS  # never more than torque's
    kept = ("session_sd", "speed_axis_sd", "shape_length", "soak_sensitivity_sd")
    assert [getattr(deep, name) for name in kept] == [getattr(PRIORS, name) for name in kept]


def test_the_prior_density_is_that_of_scipys_lognormal():
    logs = np.log([getattr(PRIORS, name).median for name in FITTED]) + np.linspace(-0.7, 0.9, 9)
    start = np.log([getattr(PRIORS, name).median for name in FITTED])
    priors = [getattr(PRIORS, name) for name in FITTED]

    ours = log_prior_density(logs, PRIORS) - log_prior_density(start, PRIORS)

    # the density of the logarithm is that of the number times the number
    theirs = [
        lognorm.logpdf(np.exp(x), p.log_sd, scale=p.median)
        + x
        - lognorm.logpdf(np.exp(m), p.log_sd, scale=p.median)
        - m
        for x, m, p in zip(logs, start, priors, strict=True)
    ]
    assert ours == pytest.approx(sum(theirs), rel=1e-12)


def test_an_archive_of_many_pulls_still_allows_a_session_to_differ_by_a_quarter():
    prior = archive_prior(Repeatability(pull_level_sd=0.004, degrees_of_freedom=1e9))
    few = archive_prior(Repeatability(pull_level_sd=0.004, degrees_of_freedom=8))
    assert (prior.median, prior.log_sd) == (0.004, pytest.approx(0.25))
    assert few.log_sd == pytest.approx(np.sqrt(1 / 16 + 0.0625))


def test_the_archive_is_one_of_two_explanations():
    archive = replace(PRIORS, repeatability=Repeatability(pull_level_sd=0.003, degrees_of_freedom=20))
    sizes = np.array([0.003, 0.006, 0.012])
    logs = np.log([getattr(PRIORS, name).median for name in FITTED]) + np.zeros((3, 1))
    logs[:, FITTED.index("pull_level_sd")] = np.log(sizes)
    sd = np.sqrt(1 / 40 + 0.0625)
    by_archive = ARCHIVE_BELIEF * norm.pdf(np.log(sizes), np.log(0.003), sd)
    by_population = (1 - ARCHIVE_BELIEF) * norm.pdf(np.log(sizes), np.log(0.006), 0.5)

    probability = archive_probability(logs, archive)
    gained = log_prior_density(logs, archive) - log_prior_density(logs, PRIORS)

    np.testing.assert_allclose(probability, by_archive / (by_archive + by_population), rtol=1e-12)
    mixture = by_archive + by_population
    np.testing.assert_allclose(gained, np.log(mixture / norm.pdf(np.log(sizes), np.log(0.006), 0.5)), rtol=1e-10)
    assert np.all(archive_probability(logs, PRIORS) == 1)


def test_the_single_normal_has_the_mean_and_variance_of_the_mixture():
    archive = replace(PRIORS, repeatability=Repeatability(pull_level_sd=0.002, degrees_of_freedom=10))
    generator = np.random.default_rng(1)
    from_archive = generator.random(400_000) < ARCHIVE_BELIEF
    a = archive_prior(archive.repeatability)
    draws = np.where(
        from_archive,
        generator.normal(np.log(a.median), a.log_sd, from_archive.size),
        generator.normal(np.log(0.006), 0.5, from_archive.size),
    )

    single = single_normal_priors(archive)

    assert single.repeatability is None
    # four standard errors of the mean and sd of 400 000 draws
    assert np.log(single.pull_level_sd.median) == pytest.approx(draws.mean(), abs=4 * draws.std() / np.sqrt(draws.size))
    assert single.pull_level_sd.log_sd == pytest.approx(draws.std(), rel=4 / np.sqrt(2 * draws.size))
    assert single_normal_priors(PRIORS) is PRIORS


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"noise_sd": -0.1}, "noise_sd is -0.1: a disturbance is finite and not negative; give 0 to leave it out"),
        ({"random_drift": np.nan}, "random_drift is nan: a disturbance is finite"),
        ({"ripple_length": 0.0}, "ripple_length is 0.0: a correlation length is above zero"),
    ],
)
def test_impossible_sizes_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        replace(MEDIAN, **change)


def test_impossible_priors_are_refused():
    with pytest.raises(ValueError, match=r"median -1.0 and log_sd 0.5 of a prior must both be above zero"):
        LogNormal(median=-1.0, log_sd=0.5)
    with pytest.raises(ValueError, match=r"repeatability 0.004 on 0 degrees of freedom: both are above 0"):
        Repeatability(pull_level_sd=0.004, degrees_of_freedom=0)
    with pytest.raises(ValueError, match=r"level 0.0 must be above zero: it is the typical size"):
        priors_on_linear_scale(PRIORS, 0.0)


def test_a_run_order_with_uneven_entries_is_refused():
    with pytest.raises(
        ValueError, match=r"session has shape \(2,\), is_candidate \(4,\): give one entry a pull to each"
    ):
        replace(TWO_DAYS, session=np.array([0, 1]))
    with pytest.raises(ValueError, match=r"soak holds a value that is not a number: leave the pull out, or soak"):
        replace(TWO_DAYS, soak=np.array([1.0, np.nan, 2.0, 3.0]))

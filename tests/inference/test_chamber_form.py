"""Calibration with chambers and ports: their unknowns, what the pulls tell of them, and the sets that fit."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.inference import chamber_form
from boostwright.inference.attribution import CHAMBER_CAUSES, cause_shares
from boostwright.inference.calibrate import Predictor, calibrate
from boostwright.inference.chamber_form import calibrated_chambers, with_chambers
from boostwright.inference.nonlinear_fit import Outcome
from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.inference.priors import CHAMBER_PRIOR, KNOWN_SHARE, Contrast
from boostwright.machine.chamber_defaults import typical_roots_geometry
from boostwright.machine.chamber_match import CHAMBER_POINT
from boostwright.machine.chamber_ports import PORT_WORDS
from tests.inference.setups import baseline_points, curves_of, data_of

CHANNELS = ("torque", "manifold_pressure", "blower_outlet_temperature", "blower_inlet_pressure")
DRAWS = 60


def drawing_of(points):
    return typical_roots_geometry(float(points["blower_displacement"][0]), float(points["speed_limit"][0]))


@pytest.fixture(scope="module")
def chambers():
    """Data with the chambers run over a coarse grid, which halves the time; their observations are filled in later."""
    points = baseline_points()
    drawing = drawing_of(points)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chamber_form, "SPEEDS", 5)
        patch.setattr(chamber_form, "RATIOS", 4)
        return with_chambers(data_of(points, points, curves_of(points, points), CHANNELS), (drawing, drawing))


def observed(data, changes):
    """The data as the chain itself would give them with unknowns at these values, without error."""
    predictor = Predictor(data)
    z = np.zeros((1, predictor.space.size))
    for name, value in changes.items():
        z[0, predictor.space.names.index(name)] = value
    return replace(data, observations=predictor.predictions(z).reshape(data.observations.shape)), z[0]


def test_ports_take_the_place_of_filling_and_everything_else_stays():
    words = {unknown.word for unknown in CHAMBER_PRIOR.unknowns}
    assert set(PORT_WORDS) <= words
    assert "filling_loss" not in words
    for word in PORT_WORDS:
        assert {u.contrast for u in CHAMBER_PRIOR.unknowns if u.word == word} == set(Contrast)


def test_every_column_of_a_chamber_point_but_speed_has_one_cause():
    moved = [word for cause in CHAMBER_CAUSES for word in cause.words]
    assert sorted(moved) == sorted(set(CHAMBER_POINT.names) - {"engine_speed"})


def test_the_engine_is_free_at_each_speed_and_the_same_in_both_setups(chambers):
    space = Predictor(chambers).space
    z = np.zeros((1, space.size))
    z[0, space.names.index("engine_volumetric_efficiency at speed 3")] = 1.0
    factor = space.points(z)[0]["engine_volumetric_efficiency"] / space.nominal["engine_volumetric_efficiency"]
    n = chambers.engine_speed.size
    np.testing.assert_allclose(factor[:n], factor[n:], rtol=1e-12)
    assert np.flatnonzero(np.abs(factor[:n] - 1) > 1e-9).tolist() == [2]
    assert factor[2] == pytest.approx(np.exp(CHAMBER_PRIOR.speedwise[0].sd))


def test_the_gain_of_a_port_that_closes_later_is_found_along_speed(chambers):
    """Data of the chain itself, two prior deviations later and one smaller: air loses at one end, gains at the other.

    The angle alone is not: area, inertance and the delivery's smooth error share it out as the prior likes it best.
    """
    data, truth = observed(chambers, {"port_closing_angle difference": 2.0, "port_effective_area difference": -1.0})
    calibration = calibrate(data)
    fit = calibration.fit
    assert fit.outcome is Outcome.CONVERGED
    expected, found = (air_gain(calibration.predictor, z) for z in (truth, fit.estimates))
    np.testing.assert_allclose(found, expected, atol=1.5e-3)
    assert np.ptp(expected) > 0.01
    i = calibration.predictor.space.names.index("port_closing_angle difference")
    assert 0 < fit.estimates[i] < truth[i]
    assert fit.standard_errors[i] < 0.95


def air_gain(predictor, vector):
    air = predictor.states(vector[None])[0]["air_mass_flow"].reshape(2, -1)
    return np.log(air[1] / air[0])


@pytest.fixture(scope="module")
def drawn(chambers):
    data, _ = observed(chambers, {"port_inertance": 0.5})
    calibration = calibrate(data)
    return calibration, randomised_maximum_likelihood(calibration, DRAWS, np.random.default_rng(4))


def test_setups_that_are_alike_gain_nothing_by_any_cause(drawn):
    """Without noise the middle of every cause's draws lies within a standard deviation of nothing."""
    calibration, draws = drawn
    form = calibration.predictor.data.form
    A, B = np.split(calibration.predictor.space.points(draws.vectors), 2, axis=1)
    split = cause_shares(A, B, form.causes, lambda table: form.matched(table)["brake_power"])
    power = form.matched(A)["brake_power"].mean()
    names = [cause.name for cause in split.causes]
    assert {"inlet", "ports", "leakage"} <= set(names)
    for name, share in zip(names, split.shares.mean(axis=2) / power, strict=True):
        assert abs(np.median(share)) < np.std(share), name
    total = form.matched(B)["brake_power"] - form.matched(A)["brake_power"]
    np.testing.assert_allclose(split.shares.sum(axis=0) + split.interaction, total, atol=1e-6 * power)


def test_all_sets_that_fit_are_kept_with_their_geometry(drawn):
    calibration, draws = drawn
    drawing = drawing_of(baseline_points())
    baseline, candidate = calibrated_chambers(calibration, draws, ("cast", "machined"), (drawing, drawing))
    geometries = baseline.geometries()
    assert (baseline.setup, candidate.setup) == ("cast", "machined")
    assert len(geometries) == baseline.draw_count == DRAWS
    assert np.std([geometry.port_inertance for geometry in geometries]) > 0.05 * drawing.port_inertance
    shares = [g.tip_leakage_area / (g.tip_leakage_area + g.mesh_leakage_area) for g in geometries]
    np.testing.assert_allclose(shares, shares[0], rtol=1e-12)
    np.testing.assert_array_equal(baseline.ports.leakage_area, baseline.points["leakage_area"][:, -1])


def test_a_drawing_that_states_its_port_is_believed(chambers):
    data = replace(chambers, known=replace(chambers.known, stated=frozenset({"port_effective_area"})))
    sds = {unknown.name: unknown.sd for unknown in Predictor(data).space.unknowns}
    usual = next(u.sd for u in CHAMBER_PRIOR.unknowns if u.name == "port_effective_area")
    assert sds["port_effective_area"] == pytest.approx(KNOWN_SHARE * usual)


def test_a_port_at_the_border_of_its_range_is_said_to_be_strained(chambers):
    """A drawing taken to be 24 degrees off: the response ends there, three deviations from the drawing."""
    data, _ = observed(chambers, {"port_inertance": 0.2})
    calibration = calibrate(data)
    assert "port_closing_angle" not in calibration.strained
    space, z = calibration.predictor.space, np.zeros((1, calibration.predictor.space.size))
    z[0, space.names.index("port_closing_angle")] = 3.4
    assert data.form.held(space.points(z)[0]) == ("port_closing_angle",)

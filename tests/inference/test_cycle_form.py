"""A fit with the engine's cycle: the same air, another split of power, and the data's own form kept beneath."""

import numpy as np
import pytest

from boostwright.inference.calibrate import Predictor, calibrate
from boostwright.inference.cycle_form import with_cycle_engine
from boostwright.inference.nonlinear_fit import Outcome
from boostwright.machine.build import build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.records.build_file import build_from_document
from tests.inference.setups import BUILD, baseline_points, curves_of, data_of

CHANNELS = ("torque", "manifold_pressure", "charge_temperature")


@pytest.fixture(scope="module")
def both():
    points = baseline_points()
    data = data_of(points, points, curves_of(points, points), CHANNELS)
    return data, with_cycle_engine(data, cycle_engine(build_of(build_from_document(BUILD, "scenario"))))


def test_only_power_is_the_cycles(both):
    plain, cycle = (Predictor(data) for data in both)
    z = np.random.default_rng(1).standard_normal((3, plain.space.size))
    first, second = plain.states(z), cycle.states(z)
    for word in ("manifold_pressure", "air_mass_flow", "charge_temperature", "blower_drive_power"):
        np.testing.assert_array_equal(first[word], second[word])
    assert np.all(first["torque"] != second["torque"])


def test_a_fit_with_the_cycle_converges_and_finds_the_same_air(both):
    """Torque of the closed forms, fitted with the cycle: efficiency takes up the difference, air moves below 3 %."""
    fits = [calibrate(data) for data in both]
    air = [f.predictor.states(f.fit.estimates[None])[0]["air_mass_flow"] for f in fits]
    assert fits[1].fit.outcome is Outcome.CONVERGED
    np.testing.assert_allclose(air[1], air[0], rtol=0.03)
    i = fits[0].predictor.space.names.index("indicated_efficiency_factor")
    assert abs(fits[1].fit.estimates[i] - fits[0].fit.estimates[i]) > 0.05


def test_its_name_says_so(both):
    assert both[1].form.name == "slip law, engine cycle"

"""Sets that fit pulls: the draws of a fit are carried as they are, and only where they are known."""

from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference.calibrated_chamber import CalibratedChamber
from boostwright.machine.build import build_of
from boostwright.machine.chamber_build import chamber_of
from boostwright.machine.chamber_match import chamber_points
from boostwright.machine.operating_point import build_points
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.vary import Chunk, Search, chunk_table
from boostwright.studies.vary_calibrated import calibrated_sets, fitted_speeds, setup_of_build
from boostwright.studies.vary_request import study_with_sets, variation_from_text
from tests.studies.varied import AIR, limited_file

SPEEDS = np.array([2500.0, 4000.0, 5500.0]) / 60.0
FILE = limited_file()


def fit(draws=6, **columns):
    """A fit whose draws are the build as its file draws it, but for some columns of all or of each draw."""
    drawing = chamber_of(FILE)
    row = chamber_points(build_points(build_of(FILE), SPEEDS, AIR), drawing, 0)
    points = np.stack([row] * draws)
    for word, values in columns.items():
        points[word] = np.reshape(values, (-1, 1)) * points[word]
    return CalibratedChamber(setup="cast", drawing=drawing, points=points)


def study_of_fit(chamber, *varied, speeds=SPEEDS):
    variations = [variation_from_text(text, FILE, Search.GRID) for text in varied]
    sets = calibrated_sets(chamber, FILE, speeds, 6)
    return study_with_sets(FILE, variations, speeds, AIR, sets, is_calibrated=True)


def power(study, values):
    table = chunk_table(Chunk(study=study, first=1, designs=np.array([values])))
    return table["brake_power_kw"].to_numpy().reshape(7, -1)


def test_draws_that_say_what_the_drawing_says_are_the_build_itself():
    study = study_of_fit(fit(heat_loss_share=0.0), "inlet.flow_area=40:70:3")  # a fit may find heat, a map has none
    found = power(study, [50e-4])
    assert found[1:] == pytest.approx(np.broadcast_to(found[0], (6, 3)), rel=1e-6)


def test_a_fit_that_found_less_delivery_or_a_later_port_is_carried_to_every_design():
    weak = fit(delivery_factor=np.linspace(0.95, 1.0, 6))
    study = study_of_fit(weak, "inlet.port_closing_angle=180:200:3")
    for angle in (180.0, 200.0):
        found = power(study, [np.radians(angle)])[1:]
        assert np.all(np.diff(found, axis=0) > 0.0)  # more delivery, more power, at every speed
    later = fit(port_closing_angle=np.full(6, 1.05))
    shifted = study_of_fit(later, "inlet.port_closing_angle=180:200:3").sets
    assert all(g.port_closing_angle == pytest.approx(1.05 * np.radians(190.0)) for g in shifted.geometries)


def test_draws_are_read_between_their_speeds_and_never_beyond():
    assert fitted_speeds(fit()) == pytest.approx(SPEEDS)
    between = calibrated_sets(fit(delivery_factor=1.02), FILE, np.array([3000.0, 5000.0]) / 60.0, 3)
    assert between.points.shape == (3, 2)
    assert between.points["delivery_factor"] == pytest.approx(1.02)
    with pytest.raises(DataError, match="go beyond the pulls, which were fitted at"):
        calibrated_sets(fit(), FILE, np.array([2000.0, 5000.0]) / 60.0, 3)


def test_the_build_must_be_one_of_the_campaign():
    folder = example_folder("inlet-elbow")
    campaign = read_campaign(folder)
    assert setup_of_build(campaign, folder / "builds" / "machined.toml") == "machined"
    with pytest.raises(DataError, match=r"other\.toml: is the build of neither setup of"):
        setup_of_build(campaign, Path("other.toml"))

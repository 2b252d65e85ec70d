"""Chambers of a campaign's build files: what they state is read, and what contradicts itself is refused by its file."""

import shutil

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference import chamber_form
from boostwright.inference.calibrate import Predictor
from boostwright.machine import chamber_response
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.explain_chambers import chamber_data


def campaign(folder, **stated):
    """The example with lines added to the [inlet] table of a build."""
    copy = shutil.copytree(example_folder("inlet-elbow"), folder / "campaign")
    for setup, lines in stated.items():
        build = copy / "builds" / f"{setup}.toml"
        build.write_text(build.read_text(encoding="utf-8").replace("[inlet]\n", f"[inlet]\n{lines}\n"), "utf-8")
    return read_campaign(copy)


@pytest.fixture
def coarse(monkeypatch):
    """Few runs of the chambers: what is looked at here does not hang on them."""
    monkeypatch.setattr(chamber_form, "SPEEDS", 2)
    monkeypatch.setattr(chamber_form, "RATIOS", 2)
    monkeypatch.setattr(chamber_response, "GEOMETRIES", 110)


def test_a_port_that_opens_into_the_outlet_is_refused_by_file(tmp_path):
    with pytest.raises(DataError, match=r"machined.*port_closing_angle 300\.0 deg must come before.*check the angles"):
        chamber_data(campaign(tmp_path, machined='port_closing_angle = "300 deg"'))


@pytest.mark.usefixtures("coarse")
def test_a_port_stated_in_both_files_is_believed_and_one_alone_moves_its_setup(tmp_path):
    """Both state the area, the candidate alone its closing: two drawings, the area's spread cut, the angles apart."""
    area = 'port_area = "10 cm**2"'
    told = []
    data = chamber_data(campaign(tmp_path, cast=area, machined=f'{area}\nport_closing_angle = "200 deg"'), told.append)
    assert data.known.stated >= {"port_effective_area"}
    assert "port_closing_angle" not in data.known.stated
    assert np.unique(data.candidate["drawing"]).tolist() == [1.0]
    assert np.degrees(data.candidate["port_closing_angle"][0]) == pytest.approx(200.0)
    assert np.degrees(data.baseline["port_closing_angle"][0]) == pytest.approx(190.0)
    assert told == sorted(told)
    assert told[-1] == 1.0
    nominal = Predictor(data).states(np.zeros((1, Predictor(data).space.size)))
    assert np.all(nominal["outcome"] <= 4)

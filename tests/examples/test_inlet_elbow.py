"""The example campaign is what its script makes, and says that it is invented."""

import importlib.util
import shutil
import sys
from pathlib import Path

import pytest

from boostwright.records.log import read_log

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "inlet-elbow"


def test_the_committed_pulls_are_those_that_the_seeded_script_makes(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "examples"))
    spec = importlib.util.spec_from_file_location("make_inlet_elbow", ROOT / "examples" / "make_inlet_elbow.py")
    script = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "make_inlet_elbow", script)
    spec.loader.exec_module(script)
    shutil.copytree(EXAMPLE / "builds", tmp_path / "builds")
    monkeypatch.setattr(sys, "argv", ["make_inlet_elbow.py", str(tmp_path)])
    script.main()
    assert (tmp_path / "campaign.toml").read_text() == (EXAMPLE / "campaign.toml").read_text()
    files = sorted(path.name for path in (EXAMPLE / "pulls").iterdir())
    assert [path.name for path in sorted((tmp_path / "pulls").iterdir())] == files
    for name in files:
        made, kept = read_log(tmp_path / "pulls" / name), read_log(EXAMPLE / "pulls" / name)
        assert set(made.channels) == set(kept.channels)
        for quantity, values in kept.channels.items():  # a last printed digit may differ between processors
            assert made.channels[quantity] == pytest.approx(values, rel=1e-5, abs=1e-3), quantity


def test_every_file_of_the_example_that_a_person_reads_says_that_it_is_invented():
    for path in (EXAMPLE / "campaign.toml", *(EXAMPLE / "builds").glob("*.toml")):
        assert path.read_text().splitlines()[0].startswith("# Invented data"), path.name

"""The example family is what its script makes, small, and says that it is invented."""

import importlib.util
import sys
from pathlib import Path

import pytest

from boostwright.records.log import read_log

ROOT = Path(__file__).parents[2]
FAMILY = ROOT / "examples" / "workboat-family"


def test_the_committed_pulls_are_those_that_the_seeded_script_makes(tmp_path, monkeypatch):
    spec = importlib.util.spec_from_file_location("make_workboat_family", ROOT / "examples" / "make_workboat_family.py")
    script = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "make_workboat_family", script)
    spec.loader.exec_module(script)
    monkeypatch.setattr(sys, "argv", ["make_workboat_family.py", str(tmp_path)])
    script.main()
    kept = sorted(
        path.relative_to(FAMILY) for path in FAMILY.rglob("*") if path.is_file() and "results" not in path.parts
    )
    assert sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()) == kept
    for name in kept:
        if name.suffix == ".toml":
            assert (tmp_path / name).read_text() == (FAMILY / name).read_text()
            continue
        made, stored = read_log(tmp_path / name), read_log(FAMILY / name)
        for quantity, values in stored.channels.items():  # a last printed digit may differ between processors
            assert made.channels[quantity] == pytest.approx(values, rel=1e-3, abs=0.02), quantity


def test_the_family_is_small_and_says_that_it_is_invented():
    assert sum(path.stat().st_size for path in FAMILY.rglob("*.csv")) < 1e6
    for path in FAMILY.glob("*/campaign.toml"):
        assert path.read_text().startswith("# Invented data")

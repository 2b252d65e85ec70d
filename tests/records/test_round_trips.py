"""What is written is read as the same: the archive, a pull taken out of it, and a build in other units."""

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.nomenclature import LOGGED_QUANTITIES
from boostwright.records.archive import Search, add_pulls, archived_channels, created, found_pulls, opened
from boostwright.records.archive_upkeep import channels_csv, check_archive
from boostwright.records.build_file import build_from_document, read_build_file
from boostwright.records.build_keys import KEYS
from boostwright.records.log import read_log
from boostwright.units import display_unit
from tests.records.test_archive import PULL

EXAMPLES = Path(__file__).parents[2] / "examples"
USUAL = {"engine_speed": (10.0, 150.0), "torque": (50.0, 900.0), "manifold_pressure": (40e3, 300e3)}
USUAL |= {"charge_temperature": (270.0, 420.0), "excess_air_ratio": (0.7, 1.1), "throttle_position": (0.0, 1.0)}
anything = st.floats(allow_nan=False, allow_infinity=False, width=64)


@given(
    channels=st.dictionaries(
        st.sampled_from(sorted(LOGGED_QUANTITIES)), st.lists(anything, min_size=3, max_size=3), min_size=1, max_size=5
    )
)
@settings(max_examples=12, deadline=None)
def test_an_archived_pull_comes_back_to_the_last_bit(channels):
    arrays = {name: np.array(values) for name, values in channels.items()}
    with tempfile.TemporaryDirectory() as folder:
        [*_] = add_pulls(created(Path(folder) / "a"), [(PULL, arrays)], datetime(2026, 3, 20, tzinfo=UTC))
        archive = opened(Path(folder) / "a")
        [pull] = found_pulls(archive, Search())

        back = archived_channels(archive, pull)

        assert {name: values.tobytes() for name, values in back.items()} == {
            name: values.tobytes() for name, values in arrays.items()
        }
        assert list(check_archive(archive)) == []


@given(
    seed=st.integers(0, 2**32 - 1), names=st.sets(st.sampled_from(sorted(set(USUAL) - {"engine_speed"})), min_size=1)
)
@settings(max_examples=40, deadline=None)
def test_a_pull_taken_out_as_csv_is_read_as_the_same_channels(seed, names):
    """Temperatures pass through a unit with an offset, and so through one rounding."""
    chance = np.random.default_rng(seed)
    channels = {name: chance.uniform(*USUAL[name], 12) for name in ("engine_speed", *sorted(names))}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.csv"
        path.write_bytes(channels_csv(channels))

        read = read_log(path).absolute_channels(1.013e5)

    assert sorted(read) == sorted(channels)
    for name, values in channels.items():
        np.testing.assert_allclose(read[name], values, rtol=1e-13)


@pytest.mark.parametrize(
    "path", sorted(EXAMPLES.glob("*/builds/*.toml")), ids=lambda path: f"{path.parts[-3]}-{path.stem}"
)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_build_written_in_the_units_of_either_trade_is_the_same_build(path, system):
    build = read_build_file(path)
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    held = {key.path: key.holds for key in KEYS}
    for key, value in build.numbers.items():
        *tables, last = key.split(".")
        table = document
        for name in tables:
            table = table[name]
        if isinstance(table[last], str):
            unit = display_unit(held[key], system)
            table[last] = f"{float(unit.from_si(value))!r} {unit.symbol}"

    again = build_from_document(tomlkit.parse(tomlkit.dumps(document)).unwrap(), build.name)

    assert again.words == build.words
    assert again.tables == build.tables
    assert again.numbers == pytest.approx(dict(build.numbers), rel=1e-12)

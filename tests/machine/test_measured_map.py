"""A map from measured speed lines: faithful at its points, honest beside them, hard on what cannot be."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine.blower import SlipLawBlower, typical_slip_law_blower
from boostwright.machine.measured_map import measured_map, measured_map_error
from boostwright.records.blower_map_file import BlowerMapRecord

BLOWER = typical_slip_law_blower(1.6e-3, 300.0, 1.0)
LINES = {
    60.0: (1.1, 1.3, 1.5, 1.7),
    120.0: (1.1, 1.3, 1.5, 1.8, 2.1),
    180.0: (1.1, 1.3, 1.6, 1.9, 2.2, 2.5),
    240.0: (1.2, 1.6, 2.0, 2.5),
}


def bench(blower: SlipLawBlower) -> BlowerMapRecord:
    """What a test bench would have written of a blower whose law is known; the weather drifts a little."""
    points = [(N, pr) for N, ratios in LINES.items() for pr in ratios]
    N, pr = np.array(points).T
    p1 = np.linspace(99e3, 98e3, N.size)
    T1 = np.linspace(295.0, 297.0, N.size)
    d = blower.delivery(p1, T1, p1 * pr, N)
    return BlowerMapRecord(
        file="bench.csv",
        rows=np.arange(2, N.size + 2),
        rotor_speed=N,
        pressure_ratio=pr,
        mass_flow=d.mass_flow,
        outlet_temperature=d.outlet_temperature,
        shaft_power=d.shaft_power,
        inlet_pressure=p1,
        inlet_temperature=T1,
    )


RECORD = bench(BLOWER)
MAP = measured_map(RECORD, 1.6e-3, 300.0)


def test_the_map_returns_the_points_that_it_was_made_of():
    error = measured_map_error(RECORD, MAP)
    assert error.volumetric_efficiency_largest < 2e-3  # the lines' speeds differ by their drifting weather
    assert error.work_largest < 6e-3
    assert error.outlet_temperature_largest < 0.5


def test_between_the_points_the_map_is_near_the_blower():
    x = np.array([90.0, 150.0, 210.0])[:, np.newaxis]
    read, true = (b.delivery(98.5e3, 296.0, 98.5e3 * np.array([1.2, 1.4, 1.75]), x) for b in (MAP, BLOWER))
    assert read.mass_flow == pytest.approx(true.mass_flow, rel=0.012)  # of five points a line
    assert read.shaft_power == pytest.approx(true.shaft_power, rel=0.04)


def test_shaft_power_is_mapped_whole_and_leakage_is_not_known():
    d = MAP.delivery(98.5e3, 296.0, 1.5 * 98.5e3, 150.0)
    assert d.mechanical_power == 0.0
    assert d.gas_power == d.shaft_power
    assert np.isnan(d.leakage_flow)
    assert d.within_range == 1.0


def test_beyond_the_ends_of_the_lines_the_map_says_so():
    inside = MAP.delivery(1e5, 296.0, 1e5 * np.array([1.05, 1.6, 1.72, 2.0, 2.4]), [150.0, 60.5, 60.5, 120.0, 180.0])
    assert inside.within_range.tolist() == [0.0, 1.0, 0.0, 1.0, 1.0]
    assert MAP.delivery(1e5, 296.0, 1.5e5, 260.0).within_range == 0.0


def test_a_gas_that_takes_up_more_than_the_shaft_gives_is_refused():
    hot = RECORD.outlet_temperature.copy()
    hot[5] += 40.0
    with pytest.raises(ValueError, match=r"bench\.csv, row 7: the gas takes up \d+ % of the shaft power by its temp"):
        measured_map(replace(RECORD, outlet_temperature=hot), 1.6e-3, 300.0)


def test_a_point_measured_twice_on_one_line_is_refused_with_its_rows():
    ratios = RECORD.pressure_ratio.copy()
    ratios[1] = ratios[0]
    with pytest.raises(
        ValueError, match=r"rows 2, 3, 4, 5: the speed line at 3600 rpm needs two points or more, each at"
    ):
        measured_map(replace(RECORD, pressure_ratio=ratios), 1.6e-3, 300.0)


def test_one_speed_makes_no_map():
    one = replace(RECORD, rotor_speed=np.full(RECORD.rows.size, 100.0))
    with pytest.raises(ValueError, match="all points are of one speed; a map needs two speed lines or more"):
        measured_map(one, 1.6e-3, 300.0)

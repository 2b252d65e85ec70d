"""Tables at round engine speeds, exports and the terminal sketch."""

import csv
import io

import numpy as np
import polars as pl
import pytest

from boostwright.publish.compare_tables import peak_rows, pull_notes, round_speeds, speed_rows
from boostwright.publish.export import gain_csv, gain_workbook, inert
from boostwright.publish.sketch import gain_sketch
from tests.publish.results import gain_of, result


def test_round_speeds_lie_inside_the_range_and_fit_the_page():
    assert round_speeds(3060, 5740) == list(range(3200, 5601, 200))
    assert round_speeds(1000, 8000) == list(range(1000, 8001, 500))
    assert round_speeds(3010, 3090) == []


def test_the_table_prints_the_curve_at_round_speeds_no_finer_than_the_band():
    rows = {row.engine_speed.replace("\u202f", ""): row for row in speed_rows(result())}
    row = rows["4400"]
    assert float(row.percent) == pytest.approx(100 * np.expm1(gain_of(4400)), abs=0.05)
    assert row.percent_half_width == "0.8"
    assert float(row.candidate) - float(row.baseline) == pytest.approx(float(row.gain), abs=1)
    assert row.state == "gain shown"
    assert rows["3200"].state == "loss shown"


def test_peaks_carry_what_was_logged_there_and_a_dash_where_nothing_was():
    first, second = peak_rows(result())
    assert first.manifold_pressure == "171.0 kPa abs"
    assert first.rotor_speed == "11\u202f400"
    assert second.manifold_pressure == second.rotor_speed == "–"


def test_every_pull_is_listed_with_what_was_done_and_masked():
    notes = pull_notes(result())
    assert len(notes) == 7
    assert notes[4][2] == "left out: belt slip 5.1 % above 4950 rev/min"
    assert notes[0] == ("00-cast.csv", "cast", "used", "41 throttle not fully open")


@pytest.mark.parametrize("name", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\t=1"])
def test_a_setup_name_cannot_act_as_a_formula(name):
    assert inert(name).startswith("'")
    header = next(csv.reader(io.StringIO(gain_csv(result(candidate=name)))))
    assert header[2] == f"'{name} [kW]"
    sheet = pl.read_excel(io.BytesIO(gain_workbook(result(candidate=name))))
    assert sheet.columns[2] == f"'{name} [kW]"


def test_the_exported_curve_is_the_curve_of_the_json():
    table = pl.read_csv(io.StringIO(gain_csv(result())))
    assert table["gain [%]"].to_list() == pytest.approx(result().as_json()["curve"]["gain_percent"])


def test_same_result_gives_the_same_workbook():
    assert gain_workbook(result()) == gain_workbook(result())


def test_the_sketch_puts_a_rising_gain_from_lower_left_to_upper_right():
    speed = np.linspace(50, 100, 30)
    gain = np.linspace(-2, 4, 30)
    lines = gain_sketch(speed, gain, gain - 0.5, gain + 0.5, columns=40, rows=9)
    assert lines[0].startswith("  +4.5 % ")
    assert lines[0].rstrip("\u2800")[-1] not in (" ", "\u2800")
    assert set(lines[0][9:20]) == {"\u2800"}
    assert any(line.startswith("     0 % ") for line in lines)
    assert lines[-1].split() == ["3000", "6000", "rev/min"]

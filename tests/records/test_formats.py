"""Excel, Parquet and MDF4: the same channels as from text, and the words for files that are none."""

import datetime
import gc
import importlib
import tempfile
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import xlsxwriter
from asammdf import MDF, Signal
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import FileError
from boostwright.records.columns import parse_rule
from boostwright.records.log import read_log

SPEED = np.arange(3000.0, 3100.0, 6.0)
TORQUE = 400.0 + 5 * np.sin(SPEED / 20)
numbers = st.floats(1.0, 9000.0)


def write_workbook(path, *sheets):
    with xlsxwriter.Workbook(path) as book:
        for rows in sheets:
            sheet = book.add_worksheet()
            for place, row in enumerate(rows):
                sheet.write_row(place, 0, row)


def write_mdf(path, *groups):
    """Write groups of (time, {name: (unit, samples)})."""
    with MDF(version="4.10") as mdf:
        for time, channels in groups:
            mdf.append(
                [
                    Signal(samples, time, name=name, unit=unit, encoding="utf-8")
                    for name, (unit, samples) in channels.items()
                ]
            )
        mdf.save(path, overwrite=True)


def refusal(path, rules=()):
    with pytest.raises(FileError) as caught:
        read_log(path, rules)
    return str(caught.value).replace(f"{path.parent}/", "").splitlines()


@given(
    table=st.lists(st.tuples(numbers, numbers), min_size=1, max_size=20), units_row=st.booleans(), title=st.booleans()
)
@settings(max_examples=40, deadline=None)
def test_a_workbook_is_read_back(table, units_row, title):
    headers = [["rpm", "Torque"], ["1/min", "lb-ft"]] if units_row else [["rpm", "Torque [lb-ft]"]]
    rows = [*([["Bench 2"], []] if title else []), *headers, *table, [], *headers, table[0]]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.xlsx"
        write_workbook(path, rows)

        log = read_log(path)

    assert log.channels["engine_speed"] * 60 == pytest.approx([speed for speed, _ in [*table, table[0]]], rel=1e-12)
    assert log.channels["torque"] == pytest.approx([t * 1.3558179483314 for _, t in [*table, table[0]]], rel=1e-12)


@given(
    table=st.lists(st.tuples(numbers, numbers), min_size=1, max_size=20), kind=st.sampled_from([pl.Float64, pl.String])
)
@settings(max_examples=40, deadline=None)
def test_a_parquet_file_is_read_back(table, kind):
    frame = pl.DataFrame({"rpm": [speed for speed, _ in table], "Torque [N*m]": [torque for _, torque in table]})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.parquet"
        frame.cast(kind).write_parquet(path)

        log = read_log(path)

    assert log.channels["engine_speed"] * 60 == pytest.approx([speed for speed, _ in table], rel=1e-12)
    assert log.channels["torque"] == pytest.approx([torque for _, torque in table], rel=1e-12)


@given(table=st.lists(st.tuples(numbers, numbers), min_size=2, max_size=20))
@settings(max_examples=20, deadline=None)
def test_an_mdf_file_is_read_back(table):
    speed, torque = np.array(table).T
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.mf4"
        write_mdf(path, (np.arange(speed.size) * 0.02, {"Engine speed": ("rpm", speed), "Torque": ("Nm", torque)}))

        log = read_log(path)

    assert log.channels["engine_speed"] * 60 == pytest.approx(speed, rel=1e-12)
    assert log.channels["torque"] == pytest.approx(torque, rel=1e-12)
    assert log.channels["time"] == pytest.approx(np.arange(speed.size) * 0.02)


def test_a_workbook_with_the_log_on_its_second_sheet_is_read(tmp_path):
    path = tmp_path / "01.xlsx"
    write_workbook(path, [["Notes"], ["hot day"]], [["rpm", "kW"], [3000, 126.5], [3006, 127.0]])

    assert read_log(path).channels["power"].tolist() == [126500.0, 127000.0]


def test_a_bad_cell_of_a_workbook_is_named_by_its_row(tmp_path):
    path = tmp_path / "01.xlsx"
    write_workbook(path, [["Bench 2"], [], ["rpm", "Torque [N*m]"], [3000, 400], [3006, "high"], [3012, None]])

    assert refusal(path) == [
        '01.xlsx, row 5, column "Torque [N*m]": "high" is not a number; correct it, or delete the row',
        '01.xlsx, row 6, column "Torque [N*m]": is empty; fill it in, or delete the row',
    ]


def test_a_workbook_without_a_table_is_refused_sheet_by_sheet(tmp_path):
    path = tmp_path / "01.xlsx"
    write_workbook(path, [["rpm", "Torque [N*m]"]], [])

    assert refusal(path) == [
        '01.xlsx: holds headers but no rows of numbers (sheet "Sheet1"); check that the logger has saved the pull',
        '01.xlsx: is empty (sheet "Sheet2"); check that the logger has saved the pull',
    ]


def test_text_that_calls_itself_a_workbook_is_refused(make_file):
    (said,) = refusal(make_file("rpm,kW\n3000,100\n", "01.xlsx"))

    assert said.startswith("01.xlsx: cannot be opened as a workbook: ")
    assert said.endswith("; save it again as .xlsx, without a password")


def test_the_rows_of_a_workbook_are_counted_from_its_top(tmp_path):
    path = tmp_path / "01.xlsx"
    write_workbook(path, [[], [], ["", "rpm", "kW"], ["", 3000, 1 / 3], ["", "x", 2]])

    assert refusal(path) == ['01.xlsx, row 5, column "rpm": "x" is not a number; correct it, or delete the row']


def test_durations_and_dates_in_a_parquet_file_are_seconds(tmp_path):
    steps = [datetime.timedelta(milliseconds=20 * step) for step in range(3)]
    start = datetime.datetime(2026, 3, 14, 9, 12)
    for name, times in (("spans", steps), ("dates", [start + step for step in steps])):
        path = tmp_path / f"{name}.parquet"
        pl.DataFrame({"time": times, "rpm": [3000.0, 3006.0, 3012.0]}).write_parquet(path)

        assert read_log(path).channels["time"] == pytest.approx([0.0, 0.02, 0.04])


def test_a_bad_cell_of_a_parquet_file_is_named_by_its_row(tmp_path):
    path = tmp_path / "01.parquet"
    pl.DataFrame(
        {"note": ["a", "b", "c"], "rpm": [3000.0, None, 3012.0], "kW": [1.0, 2.0, float("nan")]}
    ).write_parquet(path)

    assert refusal(path) == [
        '01.parquet, row 2, column "rpm": is empty; fill it in, or delete the row',
        '01.parquet, row 3, column "kW": "NaN" stands where the logger had no reading; '
        "delete the row, or the column if the sensor was not connected",
    ]


def test_a_parquet_file_without_rows_is_refused(tmp_path):
    path = tmp_path / "01.parquet"
    pl.DataFrame({"rpm": [], "kW": []}).write_parquet(path)

    assert refusal(path) == ["01.parquet: holds headers but no rows; check that the logger has saved the pull"]


def test_text_that_calls_itself_parquet_is_refused(make_file):
    (said,) = refusal(make_file("rpm,kW\n3000,100\n", "01.parquet"))

    assert said.startswith("01.parquet: cannot be read as Parquet: ")
    assert said.endswith("; write it again, or export the pull as CSV")


def test_channels_of_different_rasters_are_brought_to_the_finest_one(tmp_path):
    path = tmp_path / "01.mf4"
    fast, slow = np.arange(0, 10, 0.01), np.arange(0.05, 10, 0.1)
    speed = 2500 + 300 * fast
    write_mdf(
        path,
        (fast, {"Engine speed": ("rpm", speed), "Torque": ("Nm", 400 + fast)}),
        (slow, {"Charge temp": ("degC", 30 + 2 * slow)}),
    )

    channels = read_log(path).channels

    within = (fast >= slow[0]) & (fast <= slow[-1])
    assert channels["engine_speed"] * 60 == pytest.approx(speed[within])
    assert channels["charge_temperature"] == pytest.approx(303.15 + 2 * fast[within])
    assert channels["time"] == pytest.approx(fast[within] - fast[within][0])


def test_a_bad_sample_of_an_mdf_file_is_named(tmp_path):
    path = tmp_path / "01.mf4"
    time = np.arange(4) * 0.02
    write_mdf(
        path, (time, {"Engine speed": ("rpm", np.array([3000, np.nan, 3012, 3018])), "Trq": ("Nm", np.full(4, 4.0))})
    )

    assert refusal(path) == [
        '01.mf4, row 2, column "Engine speed": "nan" stands where the logger had no reading; '
        "delete the row, or the column if the sensor was not connected"
    ]


def test_a_text_channel_of_an_mdf_file_is_refused_and_can_be_left_out(tmp_path):
    path = tmp_path / "01.mf4"
    time = np.arange(2) * 0.02
    write_mdf(
        path, (time, {"rpm": ("1/min", np.array([3000.0, 3006.0])), "Lambda": ("", np.array([b"lean", b"rich"]))})
    )

    assert refusal(path) == [
        '01.mf4, column "Lambda": holds no numbers; leave it out: say "ignore" for it under [columns]'
    ]
    assert "excess_air_ratio" not in read_log(path, [parse_rule("Lambda", "ignore")]).channels


def test_channels_that_never_meet_are_refused(tmp_path):
    path = tmp_path / "01.mf4"
    time = np.arange(3) * 0.02
    write_mdf(path, (time, {"Engine speed": ("rpm", SPEED[:3])}), (time + 5, {"Torque": ("Nm", TORQUE[:3])}))

    assert refusal(path) == [
        "01.mf4: holds channels that were never logged at the same time; log all channels through the whole pull"
    ]


def test_text_that_calls_itself_mdf_is_refused(make_file):
    assert refusal(make_file("rpm,kW\n3000,100\n", "01.mf4")) == [
        "01.mf4: cannot be read as MDF: it does not begin as one; export the pull again, or as CSV"
    ]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # asammdf closes what it never opened
def test_an_mdf_file_that_was_cut_off_is_refused(tmp_path):
    path = tmp_path / "01.mf4"
    write_mdf(path, (np.arange(3) * 0.02, {"Engine speed": ("rpm", SPEED[:3]), "Torque": ("Nm", TORQUE[:3])}))
    path.write_bytes(path.read_bytes()[:900])

    (said,) = refusal(path)
    gc.collect()

    assert said.startswith("01.mf4: cannot be read as MDF: ")
    assert said.endswith("; export the pull again, or as CSV")


def test_without_the_extra_an_mdf_file_says_how_to_install_it(make_file, monkeypatch):
    def no_such_package(name: str):
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(importlib, "import_module", no_such_package)

    assert refusal(make_file("MDF", "01.mf4")) == [
        '01.mf4: is MDF, and its reader asammdf is not installed; install it: pip install "boostwright[mdf]"'
    ]

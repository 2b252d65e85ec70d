"""Delimited text in every dress that loggers give it, and the words for text that is no log."""

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import FileError
from boostwright.records import text
from boostwright.records.log import read_log

HEADER = "Time [s],Engine speed [rpm],Torque [N*m]"
ROWS = "0.00,3000,400.5\n0.02,3006,402.0\n0.04,3012,401.5\n"
SPEED = np.array([50.0, 50.1, 50.2])
TORQUE = np.array([400.5, 402.0, 401.5])

numbers = st.integers(1, 900_000).map(lambda hundredths: hundredths / 100)
tables = st.lists(st.tuples(numbers, numbers, numbers), min_size=1, max_size=30)


def written(number: float, decimal: str, group: str) -> str:
    return f"{number:,.2f}".replace(",", "\0").replace(".", decimal).replace("\0", group)


@st.composite
def dresses(draw):
    """A way of writing a table: what separates cells, decimals and thousands, the encoding, and what stands around."""
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    decimal = draw(st.sampled_from([".", ","])) if delimiter != "," else "."
    return {
        "delimiter": delimiter,
        "decimal": decimal,
        "group": draw(st.sampled_from(["", "'", "\u00a0", "." if decimal == "," else "," if delimiter != "," else ""])),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le", "utf-16-be"])),
        "newline": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "before": draw(st.sampled_from(["", "Bench 2, pull 01", "Bench 2\n\nStarted;09:12\n", "# made 2026-03-14\n"])),
        "units_row": draw(st.booleans()),
        "blank_after": draw(st.booleans()),
    }


def dressed(table, dress) -> bytes:
    headers, units = ["n", "Drehmoment", "Öl t"], ["1/min", "Nm", "°C"]
    if not dress["units_row"]:
        headers = [f"{header} [{unit}]" for header, unit in zip(headers, units, strict=True)]
    lines = [dress["before"], dress["delimiter"].join(headers)]
    lines += [dress["delimiter"].join(units)] if dress["units_row"] else []
    lines += [
        dress["delimiter"].join(written(number, dress["decimal"], dress["group"]) for number in row) for row in table
    ]
    lines += ["", ""] if dress["blank_after"] else []
    return dress["newline"].join("\n".join(lines).split("\n")).encode(dress["encoding"])


@given(table=tables, dress=dresses())
@settings(max_examples=250, deadline=None)
def test_what_any_logger_wrote_is_read_back(table, dress):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.csv"
        path.write_bytes(dressed(table, dress))

        log = read_log(path)

    assert log.channels["engine_speed"] * 60 == pytest.approx([row[0] for row in table], rel=1e-12)
    assert log.channels["torque"] == pytest.approx([row[1] for row in table], rel=1e-12)
    assert log.ignored[0].header.startswith("Öl t")


@given(size=st.integers(1, 200), table=st.lists(st.tuples(numbers, numbers), min_size=1, max_size=40))
@settings(max_examples=50, deadline=None)
def test_the_size_of_a_block_changes_nothing(size, table):
    rows = [f"{speed},{torque}{',' * (i % 3 == 0)}" for i, (speed, torque) in enumerate(table)]
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = Path(folder) / "01.csv"
        path.write_text("rpm,Torque [N*m]\n\n" + "\n\n".join(rows))
        whole = read_log(path)
        patch.setattr(text, "_BLOCK", size)

        in_blocks = read_log(path)

    assert whole.channels["engine_speed"].size == len(table)
    for quantity, values in whole.channels.items():
        assert in_blocks.channels[quantity].tolist() == values.tolist()


def test_a_plain_log_is_read(make_file):
    log = read_log(make_file(f"{HEADER}\n{ROWS}"))

    assert log.channels["engine_speed"] == pytest.approx(SPEED)
    assert log.channels["torque"] == pytest.approx(TORQUE)
    assert log.channels["time"] == pytest.approx([0.0, 0.02, 0.04])


def test_time_begins_at_zero(make_file):
    log = read_log(make_file("Time [ms],rpm\n5000,3000\n5020,3006\n"))

    assert log.channels["time"] == pytest.approx([0.0, 0.02])


def test_blank_lines_repeated_headers_and_repeated_rows_are_left_out(make_file):
    lines = [HEADER, *ROWS.splitlines()]
    logged = [lines[0], "", lines[1], lines[1], ",,", "  ", lines[0], lines[2], lines[3], lines[3], lines[3]]

    log = read_log(make_file("\n".join(logged)))

    assert log.channels["torque"] == pytest.approx(TORQUE)
    assert log.repeated_rows == 3


def test_two_readings_at_one_time_are_kept(make_file):
    """Which of them is right the reader cannot know; the reduction refuses a clock that stands."""
    log = read_log(make_file(f"{HEADER}\n0.00,3000,400\n0.00,3000,401\n0.02,3006,402\n"))

    assert (log.channels["torque"].tolist(), log.repeated_rows) == ([400, 401, 402], 0)


def test_rows_alike_are_kept_where_the_clock_says_they_are_two(make_file):
    log = read_log(make_file(f"{HEADER}\n0.00,3000,400\n0.02,3000,400\n"))

    assert (log.channels["torque"].size, log.repeated_rows) == (2, 0)


def test_padded_and_quoted_cells_are_read(make_file):
    log = read_log(
        make_file('"Engine speed [rpm]" , "Torque [N*m]"\n" 3,000 ", 400.5 \n"3,006.0",\t402.0\n"999",401.5\n')
    )

    assert log.channels["engine_speed"] * 60 == pytest.approx([3000, 3006, 999])
    assert log.channels["torque"] == pytest.approx(TORQUE)


def test_columns_that_nobody_needs_may_hold_anything(make_file):
    log = read_log(
        make_file('rpm,Note,Torque [N*m],Clock\n3000,"a, b",400,09:12:00\n3006,,401,\n3012,=1+1,402,09:12:01\n')
    )

    assert log.channels["torque"].tolist() == [400, 401, 402]


def test_a_delimiter_at_the_end_of_every_row_is_no_column(make_file):
    log = read_log(make_file("rpm;Torque [N*m];\n3000;400,5;\n3006;402,0;\n"))

    assert log.channels["torque"] == pytest.approx([400.5, 402.0])


def test_headers_keep_no_control_characters(make_file):
    log = read_log(make_file("rpm,\x1b[31mred\x07,Torque [N*m]\n3000,1,400\n3006,2,401\n"))

    assert [column.header for column in log.ignored] == ["[31mred"]


def test_an_empty_file_is_refused(refusal):
    assert refusal("") == ["01.csv: is empty; check that the logger has saved the pull"]
    assert refusal("\n \n\n") == ["01.csv: is empty; check that the logger has saved the pull"]


def test_a_header_alone_is_refused(refusal):
    expected = ["01.csv: holds headers but no rows of numbers; check that the logger has saved the pull"]

    assert refusal(f"{HEADER}\n") == expected
    assert refusal(f"Bench 2\n\n{HEADER}\ns,rpm,N*m\n") == expected


def test_numbers_without_a_header_are_refused(refusal):
    assert refusal(ROWS) == [
        '01.csv: has no header above its numbers; put one there, such as "Engine speed [rpm],Torque [N*m]"'
    ]


def test_a_delimiter_that_is_none_is_refused(refusal):
    assert refusal("rpm torque\n3000 400\n3006 402\n") == [
        '01.csv: is one column wide, such as "3006 402"; separate the columns by comma, semicolon, tab or |'
    ]


def test_a_header_with_another_delimiter_than_its_rows_is_refused(refusal):
    assert refusal("rpm;Torque [N*m]\n3000,400\n3006,402\n") == [
        '01.csv: has one column in its header, "rpm;Torque [N*m]", and 2 in its rows; '
        "separate the columns by comma, semicolon, tab or |, in the header as in the rows"
    ]


def test_a_comma_that_is_delimiter_and_decimal_sign_is_refused(refusal):
    assert refusal("rpm,Torque [N*m]\n3000,5,400,5\n3006,0,402,0\n") == [
        "01.csv: has 2 columns in its header and 4 in its rows; "
        "name every column; if the comma is also the decimal sign, separate the columns by semicolons"
    ]


def test_numbers_that_could_be_thousands_or_decimals_are_refused(refusal):
    assert refusal("rpm;Torque [N*m]\n3,000;400\n3,006;402\n") == [
        '01.csv: does not say whether its "3,000" is 3000 or 3.000; write the numbers without thousands separators'
    ]


def test_two_ways_of_writing_numbers_are_refused(refusal):
    assert refusal("rpm;Torque [N*m]\n3,000.5;400\n3,006.5;402,55\n") == [
        '01.csv: writes its numbers in two ways, "402,55" and "3,000.5"; write all of them alike'
    ]


def test_text_in_a_number_column_is_refused_with_its_row(refusal):
    text = f'Bench 2\n\n{HEADER}\n{ROWS}0.06,,400\n0.08,3024,"high, very"\n0.10,30x0,400\n'

    assert refusal(text) == [
        '01.csv, row 7, column "Engine speed [rpm]": is empty; fill it in, or delete the row',
        '01.csv, row 8, column "Torque [N*m]": "high, very" is not a number; correct it, or delete the row',
        '01.csv, row 9, column "Engine speed [rpm]": "30x0" is not a number; correct it, or delete the row',
    ]


def test_a_first_row_with_a_bad_cell_is_a_row_and_no_header(refusal):
    assert refusal("rpm,Torque [N*m]\n3000,bad\n3006,402\n") == [
        '01.csv, row 2, column "Torque [N*m]": "bad" is not a number; correct it, or delete the row'
    ]


@pytest.mark.parametrize("cell", ["NaN", "nan", "inf", "-Inf", "#N/A", "---"])
def test_a_reading_that_is_none_is_refused_with_its_row(refusal, cell):
    assert refusal(f"{HEADER}\n{ROWS}0.06,3018,{cell}\n") == [
        f'01.csv, row 5, column "Torque [N*m]": "{cell}" stands where the logger had no reading; '
        "delete the row, or the column if the sensor was not connected"
    ]


def test_a_decimal_comma_among_points_is_refused(refusal):
    assert refusal("rpm;Torque [N*m]\n" + "3000;400.5\n" * 5 + "3000;400,555\n" + "3000;400.5\n" * 900)[0] == (
        '01.csv, row 7, column "Torque [N*m]": "400,555" is not a number; '
        "take out the comma, or write all of the file with decimal commas"
    )


def test_a_decimal_point_among_commas_is_refused(refusal):
    assert refusal("rpm;Torque [N*m]\n3000;400,5\n3006;400.125\n3012;400,5\n") == [
        '01.csv, row 3, column "Torque [N*m]": "400.125" is not a number; correct it, or delete the row'
    ]


def test_rows_of_another_width_are_refused(refusal):
    assert refusal(f"{HEADER}\n{ROWS}0.06,3018\n0.08,3024,400,1\n") == [
        "01.csv, row 5: has 2 cells where the header has 3; delete the row, or fill it in",
        "01.csv, row 6: has 4 cells where the header has 3; "
        "is there a delimiter in a number? delete the row or mend it",
    ]


def test_a_row_that_is_too_long_is_refused_also_behind_the_columns_that_matter(refusal):
    assert refusal("rpm,Torque [N*m],Note\n3000,400,a\n3006,400,5,b\n") == [
        "01.csv, row 3: has 4 cells where the header has 3; is there a delimiter in a number? delete the row or mend it"
    ]


def test_rows_are_counted_on_from_block_to_block(refusal, monkeypatch):
    monkeypatch.setattr(text, "_BLOCK", 8)

    assert refusal("rpm,kW\n3000,100\n3006,101\n\n3012,102\nx,103\n") == [
        '01.csv, row 6, column "rpm": "x" is not a number; correct it, or delete the row'
    ]


def test_numbers_in_the_rows_above_the_table_are_no_rows_of_it(make_file):
    log = read_log(
        make_file("Barometer [hPa],1006\nPull,3,4\n" + f"{HEADER},TPS [%]\n0.00,3000,400.5,99\n0.02,3006,402.0,99\n")
    )

    assert log.channels["torque"] == pytest.approx([400.5, 402.0])


def test_the_mark_between_our_own_cells_may_stand_in_a_log(make_file):
    log = read_log(make_file('rpm,Note,kW\n3000,"a\x1fb",100\n3006,,101\n'))

    assert log.channels["power"].tolist() == [100e3, 101e3]


def test_of_many_faults_of_one_kind_the_first_are_spelled_out_and_the_rest_counted(refusal):
    said = refusal(f"{HEADER}\n{ROWS}" + "0.06,x,400\n" * 50)

    assert len(said) == 21
    assert said[19].startswith('01.csv, row 24, column "Engine speed [rpm]": "x" is not a number')
    assert said[20] == (
        '01.csv, column "Engine speed [rpm]": is not a number in 30 more rows; mend the rows above first'
    )


def test_faults_of_headers_and_cells_are_told_together(refusal):
    said = refusal("rpm,Torque,MAP [psi]\n3000,400,11\n3006,402,11\nx,402,12\n")

    assert [line.split(":")[0] for line in said] == [
        '01.csv, column "Torque"',
        '01.csv, column "MAP [psi]"',
        '01.csv, row 4, column "rpm"',
    ]


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16", "utf-16-le"])
def test_text_that_is_not_utf_8_is_read(make_file, encoding):
    log = read_log(
        make_file(f"{HEADER},Öltemperatur [°C]\n0.00,3000,400.5,90\n0.02,3006,402.0,91\n", encoding=encoding)
    )

    assert log.channels["torque"] == pytest.approx([400.5, 402.0])
    assert log.ignored[0].header == "Öltemperatur [°C]"


def test_bytes_that_are_no_text_are_refused(make_file, refusal):
    assert refusal("\0\1\2\0\0\0abc\0\0\0\0", encoding="latin-1") == [
        "01.csv: is not text; export the pull as CSV, Excel, Parquet or MDF4"
    ]
    assert refusal("PK\3\4 and so on") == ["01.csv: is an Excel workbook, not text; name it .xlsx"]


fragments = st.lists(
    st.sampled_from([*"rpm,;|\t\"\n\r 0123456789.-+eE[]()kWNaif'\0\u00a0°\x0b\u2028Ö#\x1f", "rpm,kW\n", "3000,100\n"]),
    max_size=60,
).map("".join)


@given(
    content=st.one_of(fragments.map(str.encode), fragments.map(lambda text: text.encode("utf-16")), st.binary()),
    head=st.sampled_from([b"", b"rpm,kW\n3000,100\n", b'rpm;"kW"\n']),
)
@settings(max_examples=300, deadline=None)
def test_whatever_a_file_holds_it_is_read_or_refused_in_words(content, head):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "01.csv"
        path.write_bytes(head + content)
        try:
            sizes = {values.size for values in read_log(path).channels.values()}
        except FileError as wrong:
            sizes = {fault.problem != "" and fault.remedy != "" for fault in wrong.faults}

    assert len(sizes) == 1
    assert all(sizes)

"""From columns of numbers to channels in SI: what is impossible, what is gauge, and what a large file costs."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.records.columns import parse_rule
from boostwright.records.log import read_log

# The peak of this process alone: what `getrusage` says begins at the peak of the process that started it.
MEASURE = """
import re, sys
from pathlib import Path
from boostwright.records.log import read_log

def peak():
    return 1024 * int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1])

read_log(Path(sys.argv[1]))
before = peak()
log = read_log(Path(sys.argv[2]))
print(log.channels["torque"].size, peak() - before, sum(values.nbytes for values in log.channels.values()))
"""


def test_all_channels_are_si(make_file):
    log = read_log(make_file("Time [ms],rpm,kW,MAP [psia],Charge temp [degF],TPS [%]\n0,3000,100,14.5,100,100\n"))

    assert {quantity: values.tolist() for quantity, values in log.channels.items()} == {
        "time": [0.0],
        "engine_speed": [50.0],
        "power": [100e3],
        "manifold_pressure": pytest.approx([99973.98], rel=1e-6),
        "charge_temperature": pytest.approx([310.928], rel=1e-6),
        "throttle_position": [1.0],
    }


def test_gauge_pressure_is_no_channel_until_a_barometer_comes(make_file):
    log = read_log(make_file("rpm,Torque [N*m],Boost [psi]\n3000,400,10\n3006,401,-2\n"))

    assert "manifold_pressure" not in log.channels
    assert log.gauge["manifold_pressure"].values == pytest.approx([68947.57, -13789.51], rel=1e-6)
    assert log.absolute_channels(100e3)["manifold_pressure"] == pytest.approx([168947.57, 86210.49], rel=1e-6)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "rpm,MAP [kPa]\n3000,21\n3006,11.2\n3012,10.8\n",
            '01.csv, row 3, column "MAP [kPa]": 11.2 is too low for manifold_pressure in kPa abs (and in 1 more rows); '
            'if the logger wrote another unit, say so under [columns] or with --column: "MAP [kPa]" = '
            '"manifold_pressure [psi gauge]" or "manifold_pressure [psi abs]" or "manifold_pressure [kPa gauge]"',
        ),
        (
            "rpm,Charge temp [K]\n3000,45\n",
            '01.csv, row 2, column "Charge temp [K]": 45 is too low for charge_temperature in K; if the logger wrote '
            'another unit, say so under [columns] or with --column: "Charge temp [K]" = '
            '"charge_temperature [degC]" or "charge_temperature [degF]"',
        ),
        (
            "n [1/s]\n3000\n".replace("\n", ",x\n", 1).replace("3000", "3000,1"),
            '01.csv, row 2, column "n [1/s]": 3000 is too high for engine_speed in 1/s; if the logger wrote '
            'another unit, say so under [columns] or with --column: "n [1/s]" = "engine_speed [rpm]"',
        ),
        (
            "rpm,Boost [kPa]\n3000,2000\n",
            '01.csv, row 2, column "Boost [kPa]": 2000 is too high for boost in kPa gauge; if the logger wrote another '
            'unit, say so under [columns] or with --column: "Boost [kPa]" = "manifold_pressure [psi gauge]" or '
            '"manifold_pressure [psi abs]"',
        ),
    ],
)
def test_a_number_that_can_only_be_another_unit_is_refused(refusal, text, message):
    assert refusal(text) == [message]


def test_a_rule_mends_a_wrong_unit(make_file):
    path = make_file("rpm,MAP [kPa]\n3000,11.2\n")

    log = read_log(path, [parse_rule("MAP", "manifold_pressure [psi gauge]")])

    assert log.gauge["manifold_pressure"].values == pytest.approx([77221.28], rel=1e-6)


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("01.doc", 'is no kind of log that we read, ".doc"; give one of .csv .tsv .txt'),
        ("02.csv", "is not there; check the name and the folder"),
        ("folder.csv", "is not there; check the name and the folder"),
    ],
)
def test_a_file_that_is_no_log_is_refused(tmp_path, name, message):
    (tmp_path / "folder.csv").mkdir()

    with pytest.raises(FileError) as caught:
        read_log(tmp_path / name)

    assert str(caught.value).startswith(f"{tmp_path / name}: {message}")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs the peak memory that Linux keeps")
def test_a_large_file_costs_little_more_than_its_numbers(tmp_path):
    """42 MB of ten columns, of which three are wanted: measured, 40 MB; 83 MB where the file is parsed in one piece."""
    small, large = tmp_path / "small.csv", tmp_path / "large.csv"
    header = "Time [s],rpm,Torque [N*m]," + ",".join(f"other {i}" for i in range(7)) + "\n"
    rows = "\n".join(f"{i / 100:.2f},{2500 + i % 4000}.0,400.125," + ",".join(["12345.678"] * 7) for i in range(9000))
    small.write_text(header + rows + "\n")
    with large.open("w") as file:
        file.write(header)
        for _ in range(52):
            file.write(rows + "\n")

    said = subprocess.run([sys.executable, "-c", MEASURE, small, large], capture_output=True, text=True, check=True)

    samples, growth, result = map(int, said.stdout.split())
    assert samples == 52 * 9000
    assert growth < 2.5 * result + 32 * 2**20  # the numbers before and after conversion, and a few blocks of 4 MB


def test_channels_are_plain_arrays_of_one_length(make_file):
    log = read_log(make_file("rpm,Torque [N*m]\n3000,400\n3006,401\n"))

    assert all(isinstance(values, np.ndarray) and values.shape == (2,) for values in log.channels.values())

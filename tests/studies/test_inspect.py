"""What inspecting finds in a log, a folder and a campaign."""

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.records.columns import parse_rule
from boostwright.studies.inspect import inspect_log, inspect_path

WEATHER = 'barometer = "1000 hPa"\nair_temperature = "24 degC"\nrelative_humidity = 0.52\n'


def sweep(rate=300.0, low=2500.0, high=5500.0, power_unit="kW", power_factor=1.0):
    """A log of a straight sweep at 50 rows a second: torque falls from 500 to 440 N*m."""
    time = np.arange(0, (high - low) / rate, 0.02)
    rpm = low + rate * time
    torque = 500 - 60 * (rpm - low) / (high - low)
    power = torque * rpm * np.pi / 30 / 1000 * power_factor
    rows = [f"{t:.2f},{n:.2f},{m:.3f},{p:.4f}" for t, n, m, p in zip(time, rpm, torque, power, strict=True)]
    return "\n".join([f"Time [s],rpm,Torque [N*m],Power [{power_unit}]", *rows])


@pytest.fixture
def log(tmp_path):
    def write(text, name="01.csv"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
        return path

    return write


def test_rates_and_sweep_are_those_that_made_the_log(log):
    found = inspect_log(log(sweep(rate=300.0)))

    assert found.faults == ()
    assert found.samples == 500
    assert found.sample_rate == pytest.approx(50.0)
    assert found.sweep is not None
    assert found.sweep.sweep_rate * 60 == pytest.approx(300.0, rel=0.01)
    assert found.sweep.from_speed * 60 == pytest.approx(2600, abs=15)  # the ends of the ramp are left out
    assert found.sweep.to_speed * 60 == pytest.approx(5400, abs=15)
    assert found.sweep.curve[0] == pytest.approx(498, abs=1)
    assert found.sweep.curve[-1] == pytest.approx(442, abs=1)


def test_ranges_are_in_the_unit_of_the_log(log):
    found = inspect_log(log("Time [s],rpm,kW,Boost [psi]\n0,3000,100,-2\n1,3006,101,9.5\n"))

    assert [(c.quantity, c.unit, c.lowest, c.highest) for c in found.columns] == [
        ("time", "s", 0.0, 1.0),
        ("engine_speed", "rpm", 3000.0, 3006.0),
        ("power", "kW", 100.0, 101.0),
        ("boost", "psi gauge", -2.0, pytest.approx(9.5)),
    ]


def test_a_power_in_another_unit_is_noticed_beside_its_torque(log):
    found = inspect_log(log(sweep(power_unit="kW", power_factor=1.341)))

    assert found.notes == ("power is 1.341 times torque by speed: is the unit of one of them another (kW, hp, PS)?",)
    assert inspect_log(log(sweep())).notes == ()


def test_a_log_that_is_no_sweep_says_so(log):
    found = inspect_log(log("Time [s],rpm,kW\n" + "\n".join(f"{i / 50},3000,100" for i in range(200))))

    assert found.sweep is None
    assert "holds no rise of 500 rpm at full throttle" in found.notes[0]


def test_two_sweeps_in_one_file_are_told(log):
    rows = sweep().splitlines()
    later = [f"{float(row.split(',')[0]) + 20:.2f},{row.split(',', 1)[1]}" for row in rows[1:]]

    found = inspect_log(log("\n".join([*rows, *later])))

    assert "are two sweeps in one file" in found.notes[0]


def test_without_a_clock_there_is_no_rate(log):
    found = inspect_log(log("rpm,kW\n" + "\n".join(f"{3000 + i},100" for i in range(900))))

    assert found.sample_rate is None
    assert found.notes[0] == "no time is logged, so the sample rate and the sweep rate are not known"


def test_repeated_rows_are_told(log):
    rows = sweep().splitlines()

    assert inspect_log(log("\n".join([*rows, rows[-1]]))).notes == ("1 rows that the logger wrote twice are left out",)


def test_the_columns_of_a_faulty_log_are_shown_beside_its_faults(log):
    path = log("rpm,Torque [N*m],Gear,MAP [psi]\n3000,x,4,9\n3006,400,4,9\n")

    found = inspect_log(path)

    assert [(c.quantity, c.lowest) for c in found.columns] == [("engine_speed", None), ("torque", None)]
    assert [column.header for column in found.ignored] == ["Gear"]
    assert [(fault.column, fault.row) for fault in found.faults] == [("MAP [psi]", None), ("Torque [N*m]", 2)]


def test_rules_mend_what_a_header_does_not_say(log):
    path = log("Eng,Trq\n3000,400\n3006,401\n")

    found = inspect_log(path, [parse_rule("Eng", "engine_speed [rpm]"), parse_rule("Trq", "torque [N*m]")])

    assert [column.quantity for column in found.columns] == ["engine_speed", "torque"]


def test_a_folder_of_logs_is_inspected_whole(log, tmp_path):
    log(sweep(), "pulls/a.csv")
    log("", "pulls/b.csv")

    found = inspect_path(tmp_path)

    assert [(entry.file, len(entry.faults)) for entry in found.logs] == [("pulls/a.csv", 0), ("pulls/b.csv", 1)]


def test_a_campaign_is_inspected_with_its_columns_and_its_weather(log, tmp_path):
    log(sweep().replace("Torque [N*m]", "Trq").replace("Power [kW]", "Boost [kPa]"), "pulls/a.csv")
    head = 'baseline = "x"\ncandidate = "y"\nspeed_range_rpm = [3000, 5000]\n[setups.x]\n[setups.y]\n'
    head += '[columns]\n"Trq" = "torque [N*m]"\n"Torq" = "ignore"\n'
    pull = '[[pulls]]\nfile = "pulls/a.csv"\nsetup = "x"\nstarted = 2026-03-14T09:12:00\n'
    log(head + pull, "campaign.toml")

    (entry,) = inspect_path(tmp_path).logs
    assert [column.quantity for column in entry.columns] == ["time", "engine_speed", "torque", "boost"]
    assert [fault.problem for fault in entry.faults] == ["is gauge pressure, and there is no barometer"]

    log(head + pull + WEATHER, "campaign.toml")
    found = inspect_path(tmp_path)
    assert found.logs[0].faults == ()
    assert [(fault.column, fault.problem) for fault in found.faults] == [
        ("Torq", "is the header of no column in any log")
    ]


def test_the_logs_of_a_campaign_that_is_still_a_draft_are_inspected(log, tmp_path):
    log(sweep(), "pulls/a.csv")
    log('baseline = "?"\n[[pulls]]\nfile = "pulls/a.csv"\n', "campaign.toml")

    found = inspect_path(tmp_path)

    assert [entry.file for entry in found.logs] == ["pulls/a.csv"]
    assert found.faults[0].key == "baseline"
    assert len(found.all_faults) == len(found.faults) > 3


def test_a_folder_without_logs_is_refused(tmp_path):
    with pytest.raises(FileError, match="holds no logs; give a log, or a folder with logs in it or in its pulls/"):
        inspect_path(tmp_path)


def test_json_numbers_carry_their_unit(log):
    found = inspect_path(log(sweep(rate=300.0))).as_json()

    (entry,) = found["logs"]
    assert entry["samples"] == 500
    assert entry["sample_rate_hz"] == pytest.approx(50.0)
    assert entry["sweep"]["sweep_rate_rpm_per_s"] == pytest.approx(300.0, rel=0.01)
    assert entry["columns"][3] == {
        "header": "Power [kW]",
        "quantity": "power",
        "unit": "kW",
        "conversion": "1000 × value [W]",
        "lowest": pytest.approx(130.9, abs=0.1),
        "highest": pytest.approx(253.3, abs=0.1),
    }

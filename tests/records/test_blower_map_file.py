"""Reading a measured blower map, and everything that may be wrong with one, at once."""

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.records.blower_map_file import read_blower_map

HEAD = (
    "rotor_speed [rpm],pressure_ratio,mass_flow [kg/s],outlet_temperature [degC],"
    "shaft_power [kW],inlet_pressure [kPa],inlet_temperature [degC]\n"
)
ROWS = ["6000,1.2,0.155,48.1,4.1,99.8,22", "6000,1.6,0.146,85.0,10.5,99.5,22", "12000,1.6,0.325,83.2,22.9,98.9,23"]


def written(folder, text):
    path = folder / "map.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_map_is_read_into_si_with_the_rows_it_came_from(tmp_path):
    record = read_blower_map(written(tmp_path, HEAD + "\n".join(ROWS)))
    assert record.rotor_speed == pytest.approx([100.0, 100.0, 200.0])
    assert record.pressure_ratio.tolist() == [1.2, 1.6, 1.6]
    assert record.outlet_temperature == pytest.approx([321.25, 358.15, 356.35])
    assert record.shaft_power == pytest.approx([4100.0, 10500.0, 22900.0])
    assert record.inlet_pressure == pytest.approx([99800.0, 99500.0, 98900.0])
    assert record.rows.tolist() == [2, 3, 4]


def test_volume_flow_and_efficiency_say_the_same_in_the_trade_s_own_way(tmp_path):
    """1 m3/s at 90 kPa and 300 K is 1.0451 kg/s; 0.7 isentropic at ratio 2 is a rise of 90.6 K."""
    text = (
        "Rotor speed (rpm);Pressure ratio;Volume flow (m3/h);Isentropic efficiency (%);"
        "Shaft power (hp);Inlet pressure (kPa abs);Inlet temperature (K)\n12000;2.0;3600;70;160;90;300\n"
    )
    record = read_blower_map(written(tmp_path, text))
    assert record.mass_flow == pytest.approx([0.9e5 / (287.05 * 300)], rel=1e-4)
    assert record.outlet_temperature - 300 == pytest.approx([300 * (2 ** (0.4 / 1.4) - 1) / 0.7], rel=1e-9)
    assert record.shaft_power == pytest.approx([160 * 745.69987], rel=1e-6)


def test_everything_wrong_with_the_columns_is_said_at_once(tmp_path):
    text = (
        "rotor_sped [rpm],pressure_ratio,mass_flow [kW],inlet_temperature [degC],inlet_pressure [psi gauge]\n"
        + "1,2,3,4,5\n"
    )
    with pytest.raises(FileError) as wrong:
        read_blower_map(written(tmp_path, text))
    said = str(wrong.value)
    assert (
        'column "rotor_sped [rpm]": "rotor_sped" is no quantity of a blower map; take the column out, or name it'
        in said
    )
    assert "or name it rotor_speed" in said
    assert 'column "mass_flow [kW]": "mass_flow kW" is a power where a mass flow is wanted' in said
    assert "is a gauge pressure where an absolute pressure is wanted; add the barometer" in said
    assert "has no shaft_power among its columns" in said
    assert 'add a column "outlet_temperature [degC]" or "isentropic_efficiency [%]"' in said
    assert "has no mass_flow" not in said  # it is there, with a wrong unit, which is said already


def test_two_ways_to_say_one_thing_are_refused(tmp_path):
    head = HEAD.replace("shaft_power", "volume_flow [m3/h],shaft_power")
    with pytest.raises(
        FileError, match="gives mass_flow and volume_flow, and one follows from the other; take one of the"
    ):
        read_blower_map(written(tmp_path, head + "6000,1.2,0.155,48.1,480,4.1,99.8,22\n"))


def test_impossible_numbers_are_refused_by_row(tmp_path):
    rows = ["6000,1.2,0.155,48.1,4.1,99.8,22", "6000,0.4,0.146,85,10.5,14.7,22"]
    with pytest.raises(FileError) as wrong:
        read_blower_map(written(tmp_path, HEAD + "\n".join(rows)))
    said = str(wrong.value)
    assert 'row 3, column "pressure_ratio": 0.4 is too low for pressure_ratio in -; correct it, or the unit' in said
    assert 'row 3, column "inlet_pressure [kPa]": 14.7 is too low for inlet_pressure in kPa' in said


def test_a_file_that_is_not_there_is_a_fault_with_its_name(tmp_path):
    with pytest.raises(FileError, match=r"absent\.csv: is not there; check the name"):
        read_blower_map(tmp_path / "absent.csv")


def test_numbers_are_numpy_arrays_of_one_length(tmp_path):
    record = read_blower_map(written(tmp_path, HEAD + "\n".join(ROWS)))
    assert {np.shape(value) for name, value in vars(record).items() if name != "file"} == {(3,)}

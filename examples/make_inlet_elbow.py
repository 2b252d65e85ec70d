"""Makes the pulls of `examples/inlet-elbow`: invented data, seeded, from a known truth.

The scenario is ours and so is every number: a workboat's 4.2-litre straight six with a 1.6 L/rev blower, pulled with
its cast inlet elbow and with a machined one. The truth: the machined elbow gives away below about 3950 rev/min and
gains above. On top lies what a dyno day brings: heat soak, changing weather, torque ripple, pull-to-pull level, a
throttle that takes its time to open, and one pull whose belt slips.

    python examples/make_inlet_elbow.py [FOLDER]
"""

import datetime
import sys
from pathlib import Path

import numpy as np
import polars as pl
import xlsxwriter
from dyno_day import Day, Log, Pull, lines_of, write_day

FOLDER = Path(__file__).parent / "inlet-elbow"

SLIPS = 0.055
NAMES = ("file", "clock", "barometer_hpa", "air_degc", "humidity", "soak_degc", "belt_slip")
PULLS = tuple(
    Pull(**dict(zip(NAMES, row, strict=True)))
    for row in (
        ("01-cast.csv", "09:12", 1006.2, 21.6, 0.52, 28.0, 0.0),
        ("02-machined.csv", "09:58", 1006.0, 22.3, 0.51, 30.5, 0.0),
        ("03-machined.xlsx", "10:09", 1006.0, 22.5, 0.51, 34.0, 0.0),
        ("04-cast.xlsx", "10:55", 1005.6, 23.2, 0.50, 31.0, 0.0),
        ("05-cast.tsv", "11:05", 1005.5, 23.4, 0.50, 35.5, SLIPS),
        ("06-cast.parquet", "11:18", 1005.4, 23.6, 0.49, 36.0, 0.0),
        ("07-machined.parquet", "12:04", 1005.0, 24.4, 0.47, 33.0, 0.0),
    )
)


# The truth that the builds of the example do not tell: what the numbers nobody measured really are.
HIDDEN = {
    "engine": {
        "volumetric_efficiency_curve": [
            ["2000 rpm", 0.93], ["3000 rpm", 0.97], ["4000 rpm", 1.0], ["5000 rpm", 0.99], ["6200 rpm", 0.94],
        ],
        "friction_factor": 1.1,
        "indicated_efficiency_factor": 0.705,
        "peak_pressure_factor": 2.45,
    },
    "drive": {"belt_slip": 0.006},
}  # fmt: skip
ELBOWS = {  # the machined elbow flows more and closes its port later, so that more leaks back at low speed
    "cast": {"inlet": {"flow_area": "52 cm**2"}, "blower": {"filling_loss": 0.16, "leakage_area": "38 mm**2"}},
    "machined": {"inlet": {"flow_area": "68 cm**2"}, "blower": {"filling_loss": 0.045, "leakage_area": "70 mm**2"}},
}


DAY = Day(
    builds=FOLDER / "builds",
    seed=20260314,
    rate=50.0,
    start_rpm=2450.0,
    end_rpm=6000.0,
    sweep_rpm_per_s=330.0,
    inertia=0.45,
    excess_air_ratio=0.86,
    warming_rpm=(2500.0, 6000.0),
    slip_rpm=4950.0,
    hidden=HIDDEN,
    setups=ELBOWS,
)


def write_semicolons(path: Path, log: Log, pull: Pull) -> None:
    """A logger with decimal commas, two lines of remarks and units in the header."""
    columns = {
        "Time [s]": (log["time"], 2),
        "Engine speed [rpm]": (log["engine_speed"], 1),
        "Torque [N*m]": (log["torque"], 2),
        "MAP [kPa abs]": (log["manifold"], 2),
        "Blower inlet [kPa abs]": (log["inlet"], 2),
        "Charge temp [degC]": (log["charge"], 2),
        "Rotor speed [rpm]": (log["rotor_speed"], 0),
        "Lambda": (log["excess_air_ratio"], 3),
        "Throttle [%]": (log["throttle"], 1),
    }
    lines = [f"Bench 2, pull {pull.file[:2]} (invented data)", "", *lines_of(columns, ";", ",")]
    path.write_text("\n".join([*lines, ""]), encoding="utf-8-sig")


def write_sheet(path: Path, log: Log, pull: Pull) -> None:
    """A spreadsheet with a units row: lb-ft, psi gauge, degF."""
    columns = {
        ("Time", "s"): np.round(log["time"], 3),
        ("RPM", "rpm"): np.round(log["engine_speed"], 1),
        ("Torque", "lb-ft"): np.round(log["torque"] / 1.3558179483314, 2),
        ("MAP", "psia"): np.round(log["manifold"] / 6.894757293168, 3),
        ("Blower inlet pressure", "psia"): np.round(log["inlet"] / 6.894757293168, 3),
        ("Charge temperature", "degF"): np.round(log["charge"] * 1.8 + 32.0, 1),
        ("Rotor speed", "rpm"): np.round(log["rotor_speed"], 0),
        ("Lambda", "-"): np.round(log["excess_air_ratio"], 3),
        ("Throttle", "%"): np.round(log["throttle"], 1),
    }
    book = xlsxwriter.Workbook(str(path))
    book.set_properties({"created": datetime.datetime(2026, 3, 14, tzinfo=datetime.UTC)})
    sheet = book.add_worksheet(f"pull {pull.file[:2]}")
    for place, ((name, unit), values) in enumerate(columns.items()):
        sheet.write_string(0, place, name)
        sheet.write_string(1, place, unit)
        sheet.write_column(2, place, values.tolist())
    book.close()


def write_tabs(path: Path, log: Log, pull: Pull) -> None:
    """A logger that writes tabs, power instead of torque, and boost as gauge pressure in bar."""
    power = log["torque"] * log["engine_speed"] / 9549.296586
    boost = (log["manifold"] - pull.barometer_hpa / 10.0) / 100.0
    frame = pl.DataFrame({
        "time [s]": np.round(log["time"], 2),
        "engine speed [1/min]": np.round(log["engine_speed"], 1),
        "power [kW]": np.round(power, 3),
        "boost [bar gauge]": np.round(boost, 4),
        "blower inlet pressure [bar abs]": np.round(log["inlet"] / 100.0, 4),
        "charge temperature [degC]": np.round(log["charge"], 2),
        "rotor speed [1/min]": np.round(log["rotor_speed"], 0),
        "lambda [-]": np.round(log["excess_air_ratio"], 3),
        "throttle position [%]": np.round(log["throttle"], 1),
    })  # fmt: skip
    frame.write_csv(path, separator="\t")


def write_columns(path: Path, log: Log, _: Pull) -> None:
    """A Parquet file whose column names are the quantities with their units."""
    frame = pl.DataFrame({
        "time [s]": log["time"],
        "engine_speed [rpm]": log["engine_speed"],
        "torque [N*m]": log["torque"],
        "manifold_pressure [hPa abs]": log["manifold"] * 10.0,
        "blower_inlet_pressure [hPa abs]": log["inlet"] * 10.0,
        "charge_temperature [K]": log["charge"] + 273.15,
        "rotor_speed [rpm]": log["rotor_speed"],
        "excess_air_ratio": log["excess_air_ratio"],
        "throttle_position [%]": log["throttle"],
    })  # fmt: skip
    frame.with_columns(pl.all().cast(pl.Float32)).write_parquet(path)


WRITERS = {".csv": write_semicolons, ".xlsx": write_sheet, ".tsv": write_tabs, ".parquet": write_columns}

HEAD = """# Invented data: no such boat, builder, engine or dyno exists. Made by examples/make_inlet_elbow.py.
title = "Machined inlet elbow against the cast one"
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5800]        # the claim speaks about this range, declared before looking
correction = "none"
units = "metric"

[stand]
name = "bench 2"
kind = "engine"
rotating_inertia = "0.45 kg*m**2"

[setups.cast]
build = "builds/cast.toml"
[setups.machined]
build = "builds/machined.toml"
"""

ENTRY = """
[[pulls]]
file = "pulls/{pull.file}"
setup = "{pull.setup}"
started = 2026-03-14T{pull.clock}:00
barometer = "{pull.barometer_hpa} hPa"
air_temperature = "{pull.air_degc} degC"
relative_humidity = {pull.humidity}
soak_temperature = "{pull.soak_degc} degC"
"""


def main() -> None:
    """Write every pull and the campaign file."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    write_day(DAY, PULLS, WRITERS, folder, HEAD + "".join(ENTRY.format(pull=pull) for pull in PULLS))


if __name__ == "__main__":
    main()

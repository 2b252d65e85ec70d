"""Makes the pulls of `examples/inlet-elbow`: invented data, seeded, from a known truth.

The scenario is ours and so is every number: a workboat's 4.2-litre straight six with a 1.6 L/rev blower, pulled with
its cast inlet elbow and with a machined one. The truth: the machined elbow gives away below about 3950 rev/min and
gains above. On top lies what a dyno day brings: heat soak, changing weather, torque ripple, pull-to-pull level, a
throttle that takes its time to open, and one pull whose belt slips.

    python examples/make_inlet_elbow.py [FOLDER]
"""

import datetime
import sys
import tomllib
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import polars as pl
import xlsxwriter

from boostwright.machine.build import build_of
from boostwright.machine.operating_point import ambient_air, build_points, matched
from boostwright.records.build_file import build_from_document

SEED = 20260314
RATE = 50.0  # samples a second
START_RPM, END_RPM, SWEEP_RPM_PER_S = 2450.0, 6000.0, 330.0
INERTIA = 0.45  # kg m2, what the stand's torque cell does not see


@dataclass(frozen=True, kw_only=True)
class Pull:
    """One pull of the invented day."""

    file: str
    clock: str
    barometer_hpa: float
    air_degc: float
    humidity: float
    soak_degc: float
    slips: bool

    @property
    def setup(self) -> str:
        """The setup, as the file's name says it."""
        return self.file.removesuffix(Path(self.file).suffix).split("-")[1]


DAY = (  # file, clock, barometer hPa, air degC, humidity, soak degC, belt slips
    ("01-cast.csv", "09:12", 1006.2, 21.6, 0.52, 28.0, False),
    ("02-machined.csv", "09:58", 1006.0, 22.3, 0.51, 30.5, False),
    ("03-machined.xlsx", "10:09", 1006.0, 22.5, 0.51, 34.0, False),
    ("04-cast.xlsx", "10:55", 1005.6, 23.2, 0.50, 31.0, False),
    ("05-cast.tsv", "11:05", 1005.5, 23.4, 0.50, 35.5, True),
    ("06-cast.parquet", "11:18", 1005.4, 23.6, 0.49, 36.0, False),
    ("07-machined.parquet", "12:04", 1005.0, 24.4, 0.47, 33.0, False),
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


def truth(pull: Pull, rpm, slipping):
    """The operating points of a pull as they really were: the machine model with its hidden numbers."""
    document = tomllib.loads((Path(__file__).parent / "inlet-elbow" / "builds" / f"{pull.setup}.toml").read_text())
    for table, numbers in (*HIDDEN.items(), *ELBOWS[pull.setup].items()):
        document[table] = document.get(table, {}) | numbers
    build = build_of(build_from_document(document, pull.setup))
    air = ambient_air(100.0 * pull.barometer_hpa, pull.air_degc + 273.15, pull.humidity)
    points = build_points(build, np.maximum(rpm, 1500.0) / 60.0, air)
    points["belt_slip"] += slipping
    points["coolant_temperature"] += 0.2 * (pull.soak_degc - 30.0) + 4.0 * np.clip((rpm - 2500.0) / 3500.0, 0, 1) ** 1.3
    return matched(points)


def ripple(rpm, generator, size):
    """Torque ripple inside a pull: correlated over about 80 rev/min."""
    grid = np.arange(START_RPM - 200.0, END_RPM + 300.0, 8.0)
    lag = np.abs(grid[:, None] - grid[None, :]) / 80.0
    values = np.linalg.cholesky(np.exp(-lag) + 1e-9 * np.eye(grid.size)) @ generator.standard_normal(grid.size)
    return size * np.interp(rpm, grid, values)


def bend(rpm, generator, size):
    """Smooth change of a pull's shape: correlated over about 700 rev/min."""
    grid = np.arange(START_RPM - 200.0, END_RPM + 300.0, 100.0)
    lag = (grid[:, None] - grid[None, :]) / 700.0
    values = np.linalg.cholesky(np.exp(-0.5 * lag**2) + 1e-6 * np.eye(grid.size)) @ generator.standard_normal(grid.size)
    return size * np.interp(rpm, grid, values)


def log_of(pull: Pull, generator) -> dict[str, np.ndarray]:
    """The channels of one pull as the sensors saw them, in rev/min, N m, kPa, degC."""
    time = np.arange(0.0, 1.2 + (END_RPM - START_RPM) / SWEEP_RPM_PER_S, 1.0 / RATE)
    rpm = START_RPM + SWEEP_RPM_PER_S * np.clip(time - 0.6, 0.0, None)
    rpm = np.minimum(rpm, END_RPM) - 400.0 * np.clip(time - time[-1] + 0.5, 0.0, None)
    throttle = np.clip(np.minimum((time + 0.05) / 0.5, (time[-1] - time) / 0.3 + 0.05), 0.12, 1.0)
    slipping = 0.055 / (1.0 + np.exp(-(rpm - 4950.0) / 90.0)) if pull.slips else 0.0
    filling = 1.0 - np.exp(-np.clip(time, 0.0, None) / 0.18)

    found = truth(pull, rpm, slipping)
    soak = -0.0009 * (pull.soak_degc - pull.air_degc - 9.0)
    level = 0.003 * generator.standard_normal() + soak
    shape = bend(rpm, generator, 0.0022) + ripple(rpm, generator, 0.0035)
    torque = found["torque"] * np.exp(level + shape) * (0.25 + 0.75 * filling * throttle)
    torque -= INERTIA * np.gradient(rpm, time) * 2.0 * np.pi / 60.0
    torque += 2.2 * generator.standard_normal(time.size)

    barometer = pull.barometer_hpa / 10.0
    charged = found["manifold_pressure"] / 1e3 * np.exp(0.25 * level + 0.1 * shape)
    manifold = 0.6 * barometer + (charged - 0.6 * barometer) * filling * throttle
    depression = (barometer - found["blower_inlet_pressure"] / 1e3) * filling * throttle
    return {
        "time": time,
        "engine_speed": rpm * (1.0 + 0.0008 * generator.standard_normal()) + 2.5 * generator.standard_normal(time.size),
        "torque": torque,
        "manifold": manifold + 0.25 * generator.standard_normal(time.size),
        "inlet": barometer - depression + 0.06 * generator.standard_normal(time.size),
        "charge": found["charge_temperature"] - 273.15 + 0.4 * generator.standard_normal(time.size),
        "rotor_speed": 60.0 * found["rotor_speed"] + 6.0 * generator.standard_normal(time.size),
        "excess_air_ratio": 0.86 + 0.004 * generator.standard_normal(time.size),
        "throttle": 100.0 * throttle,
    }


def write_semicolons(path: Path, log: dict[str, np.ndarray], pull: Pull) -> None:
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
    rows = zip(
        *([f"{x:.{digits}f}".replace(".", ",") for x in values] for values, digits in columns.values()), strict=True
    )
    head = [f"Bench 2, pull {pull.file[:2]} (invented data)", "", ";".join(columns)]
    path.write_text("\n".join([*head, *(";".join(row) for row in rows), ""]), encoding="utf-8-sig")


def write_sheet(path: Path, log: dict[str, np.ndarray], pull: Pull) -> None:
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


def write_tabs(path: Path, log: dict[str, np.ndarray], pull: Pull) -> None:
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


def write_columns(path: Path, log: dict[str, np.ndarray], _: Pull) -> None:
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
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "inlet-elbow"
    (folder / "pulls").mkdir(parents=True, exist_ok=True)
    names = [field.name for field in fields(Pull)]
    pulls = [Pull(**dict(zip(names, row, strict=True))) for row in DAY]
    for pull, seed in zip(pulls, np.random.SeedSequence(SEED).spawn(len(pulls)), strict=True):
        path = folder / "pulls" / pull.file
        WRITERS[path.suffix](path, log_of(pull, np.random.default_rng(seed)), pull)
    text = HEAD + "".join(ENTRY.format(pull=pull) for pull in pulls)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()

"""Makes the pulls of `examples/pulley-v6`: invented data, seeded, from a known truth.

The scenario is ours and so is every number: a 3.0-litre V6 road engine at about 5300 ft, whose screw blower gets a
smaller pulley. The truth: the smaller pulley turns the blower 6 % faster; that alone is the gain, and the belt creeps a
little more under it. In two pulls the belt slips badly above some 5000 rev/min, which the logged rotor speed reveals.
The logs are CSV in US units, boost as gauge pressure.

    python examples/make_pulley_v6.py [FOLDER]
"""

import sys
from pathlib import Path

from dyno_day import Day, Log, Pull, lines_of, write_day

FOLDER = Path(__file__).parent / "pulley-v6"

NAMES = ("file", "clock", "barometer_hpa", "air_degc", "humidity", "soak_degc", "belt_slip")
PULLS = tuple(
    Pull(**dict(zip(NAMES, row, strict=True)))
    for row in (
        ("01-large.csv", "08:20", 834.6, 17.2, 0.31, 24.0, 0.0),
        ("02-large.csv", "08:29", 834.6, 17.5, 0.31, 27.5, 0.0),
        ("03-small.csv", "09:15", 834.2, 18.9, 0.29, 27.0, 0.0),
        ("04-small.csv", "09:24", 834.2, 19.1, 0.29, 30.5, 0.045),
        ("05-small.csv", "09:51", 834.0, 19.8, 0.28, 29.0, 0.0),
        ("06-large.csv", "10:37", 833.5, 21.0, 0.26, 30.0, 0.0),
        ("07-large.csv", "10:46", 833.4, 21.2, 0.26, 33.0, 0.0),
        ("08-small.csv", "11:31", 832.9, 22.3, 0.24, 31.5, 0.032),
        ("09-small.csv", "11:58", 832.7, 22.8, 0.24, 32.0, 0.0),
    )
)

# What the builds do not tell: what the numbers nobody measured really are.
HIDDEN = {
    "engine": {
        "volumetric_efficiency_curve": [
            ["2000 rpm", 0.90], ["3000 rpm", 0.94], ["4200 rpm", 0.98], ["5400 rpm", 0.97], ["6600 rpm", 0.91],
        ],
        "friction_factor": 0.95,
        "indicated_efficiency_factor": 0.73,
    },
    "inlet": {"flow_area": "38 cm**2"},
    "blower": {"filling_loss": 0.07, "leakage_area": "26 mm**2"},
}  # fmt: skip
PULLEYS = {"large": {"drive": {"belt_slip": 0.006}}, "small": {"drive": {"belt_slip": 0.008}}}

DAY = Day(
    builds=FOLDER / "builds",
    seed=20260611,
    rate=25.0,
    start_rpm=2350.0,
    end_rpm=6450.0,
    sweep_rpm_per_s=350.0,
    inertia=0.3,
    excess_air_ratio=0.85,
    warming_rpm=(2500.0, 6500.0),
    slip_rpm=5350.0,
    hidden=HIDDEN,
    setups=PULLEYS,
    torque_noise=1.6,
)


def write_us(path: Path, log: Log, pull: Pull) -> None:
    """A logger with commas between and US units in the header: lb-ft, psi gauge, inHg, degF."""
    columns = {
        "Time (s)": (log["time"], 2),
        "Engine RPM": (log["engine_speed"], 0),
        "Torque (lb-ft)": (log["torque"] / 1.3558179483314, 1),
        "Boost (psi)": ((log["manifold"] - pull.barometer_hpa / 10.0) / 6.894757293168, 2),
        "Blower inlet pressure (psia)": (log["inlet"] / 6.894757293168, 3),
        "Charge temperature (degF)": (log["charge"] * 1.8 + 32.0, 1),
        "Rotor RPM": (log["rotor_speed"], 0),
        "Lambda": (log["excess_air_ratio"], 3),
        "Throttle (%)": (log["throttle"], 0),
    }
    path.write_text("\n".join([*lines_of(columns, ",", "."), ""]), encoding="utf-8")


HEAD = """# Invented data: no such car, builder, engine or dyno exists. Made by examples/make_pulley_v6.py.
title = "Smaller blower pulley on the road V6, at 5300 ft"
baseline = "large"
candidate = "small"
speed_range_rpm = [2800, 6200]        # the claim speaks about this range, declared before looking
correction = "none"
units = "us"

[stand]
name = "mesa bench"
kind = "engine"
rotating_inertia = "0.3 kg*m**2"

[setups.large]
build = "builds/large.toml"
[setups.small]
build = "builds/small.toml"
"""


def entry(pull: Pull) -> str:
    """One pull of the campaign file, in US units as the weather station printed them."""
    return f"""
[[pulls]]
file = "pulls/{pull.file}"
setup = "{pull.setup}"
started = 2026-06-11T{pull.clock}:00
barometer = "{pull.barometer_hpa / 33.86389:.2f} inHg"  # station pressure
air_temperature = "{pull.air_degc * 1.8 + 32.0:.1f} degF"
relative_humidity = {pull.humidity}
soak_temperature = "{pull.soak_degc * 1.8 + 32.0:.1f} degF"
"""


def main() -> None:
    """Write every pull and the campaign file."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    write_day(DAY, PULLS, {".csv": write_us}, folder, HEAD + "".join(entry(pull) for pull in PULLS))


if __name__ == "__main__":
    main()

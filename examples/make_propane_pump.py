"""Makes the pulls of `examples/propane-pump`: invented data, seeded, from a known truth.

The scenario is ours and so is every number: a 5.7-litre V8 on propane that drives an irrigation pump, pulled on a
travelling bench with its mixer outlet as cast and polished. The truth: polishing brings about 0.3 % of power, and pulls
on this bench differ by 0.6 % from one to the next. Seven pulls cannot show it, though two single ones, picked (04 over
06), would read more than 2 %. The right answer is "not shown". The logs are TSV with decimal commas, power instead of
torque.

    python examples/make_propane_pump.py [FOLDER]
"""

import sys
from pathlib import Path

from dyno_day import Day, Log, Pull, lines_of, write_day

FOLDER = Path(__file__).parent / "propane-pump"

NAMES = ("file", "clock", "barometer_hpa", "air_degc", "humidity", "soak_degc")
PULLS = tuple(
    Pull(**dict(zip(NAMES, row, strict=True)))
    for row in (
        ("01-cast.tsv", "13:10", 998.6, 27.4, 0.38, 36.0),
        ("02-cast.tsv", "13:22", 998.5, 27.6, 0.38, 38.5),
        ("03-polished.tsv", "14:05", 998.1, 28.3, 0.36, 38.0),
        ("04-polished.tsv", "14:16", 998.0, 28.4, 0.36, 40.0),
        ("05-polished.tsv", "14:28", 997.9, 28.5, 0.35, 41.0),
        ("06-cast.tsv", "15:14", 997.5, 28.4, 0.35, 39.0),
        ("07-cast.tsv", "15:25", 997.4, 28.2, 0.36, 40.5),
    )
)

# What the builds do not tell: what the numbers nobody measured really are.
HIDDEN = {
    "engine": {
        "volumetric_efficiency_curve": [
            ["1000 rpm", 0.90], ["1800 rpm", 0.95], ["2600 rpm", 0.97], ["3400 rpm", 0.95],
        ],
        "friction_factor": 0.9,
        "indicated_efficiency_factor": 0.72,
    },
    "blower": {"filling_loss": 0.09, "leakage_area": "42 mm**2"},
    "drive": {"belt_slip": 0.006},
}  # fmt: skip
OUTLETS = {"cast": {"inlet": {"flow_area": "30 cm**2"}}, "polished": {"inlet": {"flow_area": "33 cm**2"}}}

DAY = Day(
    builds=FOLDER / "builds",
    seed=20260703,
    rate=20.0,
    start_rpm=1350.0,
    end_rpm=3300.0,
    sweep_rpm_per_s=140.0,
    inertia=1.1,
    excess_air_ratio=0.95,
    warming_rpm=(1400.0, 3300.0),
    slip_rpm=3200.0,
    hidden=HIDDEN,
    setups=OUTLETS,
    level_sd=0.006,
    shape_sd=0.003,
    ripple_sd=0.005,
    torque_noise=3.5,
)


def write_tabs(path: Path, log: Log, pull: Pull) -> None:
    """A logger that writes tabs and decimal commas, power instead of torque, pressures in mbar."""
    columns = {
        "time [s]": (log["time"], 2),
        "engine speed [1/min]": (log["engine_speed"], 1),
        "power [kW]": (log["torque"] * log["engine_speed"] / 9549.296586, 2),
        "boost [mbar gauge]": (10.0 * log["manifold"] - pull.barometer_hpa, 1),
        "blower inlet pressure [mbar abs]": (10.0 * log["inlet"], 1),
        "charge temperature [degC]": (log["charge"], 1),
        "rotor speed [1/min]": (log["rotor_speed"], 0),
        "lambda [-]": (log["excess_air_ratio"], 3),
        "throttle position [%]": (log["throttle"], 0),
    }
    lines = [f"# pump bench, pull {pull.file[:2]} (invented data)", *lines_of(columns, "\t", ",")]
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")


HEAD = """# Invented data: no such pump, farm, engine or dyno exists. Made by examples/make_propane_pump.py.
title = "Polished mixer outlet against the cast one, propane pump engine"
baseline = "cast"
candidate = "polished"
speed_range_rpm = [1600, 3200]        # the claim speaks about this range, declared before looking
correction = "none"
units = "metric"

[stand]
name = "travelling bench"
kind = "engine"
rotating_inertia = "1.1 kg*m**2"

[setups.cast]
build = "builds/cast.toml"
[setups.polished]
build = "builds/polished.toml"
"""

ENTRY = """
[[pulls]]
file = "pulls/{pull.file}"
setup = "{pull.setup}"
started = 2026-07-03T{pull.clock}:00
barometer = "{pull.barometer_hpa} hPa"
air_temperature = "{pull.air_degc} degC"
relative_humidity = {pull.humidity}
soak_temperature = "{pull.soak_degc} degC"
"""


def main() -> None:
    """Write every pull and the campaign file."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    campaign = HEAD + "".join(ENTRY.format(pull=pull) for pull in PULLS)
    write_day(DAY, PULLS, {".tsv": write_tabs}, folder, campaign)


if __name__ == "__main__":
    main()

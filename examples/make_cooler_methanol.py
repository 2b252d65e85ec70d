"""Makes the pulls of `examples/cooler-methanol`: invented data, seeded, from a known truth.

The scenario is ours and so is every number: a sprint boat's 2.6-litre four on methanol, pulled with a short and with a
long charge cooler fed with lake water. The truth: the long cooler makes the charge 34 to 40 K colder. The blower
carries nearly the same air into a denser charge: the manifold loses some 7 % of its pressure, and yet power rises by
some 4 %. Charge temperature is the cause; most of the gain comes by a cooler charge that bears an earlier spark, less
by a blower that works against less pressure. The logs are MDF4 with two rasters; reading them needs the extra: pip
install "boostwright[mdf]".

    python examples/make_cooler_methanol.py [FOLDER]
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from asammdf import MDF, Signal
from dyno_day import Day, Log, Pull, write_day

FOLDER = Path(__file__).parent / "cooler-methanol"

NAMES = ("file", "clock", "barometer_hpa", "air_degc", "humidity", "soak_degc")
PULLS = tuple(
    Pull(**dict(zip(NAMES, row, strict=True)))
    for row in (
        ("01-short.mf4", "09:05", 1012.4, 18.2, 0.66, 24.5),
        ("02-short.mf4", "09:13", 1012.4, 18.4, 0.66, 27.0),
        ("03-long.mf4", "10:02", 1012.1, 19.5, 0.62, 27.5),
        ("04-long.mf4", "10:11", 1012.0, 19.8, 0.61, 30.0),
        ("05-long.mf4", "10:20", 1012.0, 20.0, 0.61, 31.5),
        ("06-short.mf4", "11:08", 1011.5, 21.4, 0.57, 30.0),
        ("07-short.mf4", "11:16", 1011.5, 21.6, 0.57, 32.5),
        ("08-long.mf4", "12:01", 1011.0, 22.6, 0.53, 31.0),
    )
)

# What the builds do not tell: what the numbers nobody measured really are.
HIDDEN = {
    "engine": {
        "volumetric_efficiency_curve": [
            ["2500 rpm", 0.90], ["3600 rpm", 0.95], ["5000 rpm", 0.99], ["6200 rpm", 0.97], ["7400 rpm", 0.91],
        ],
        "friction_factor": 1.0,
        "indicated_efficiency_factor": 0.72,
        "efficiency_loss_per_kelvin": 0.0005,  # a hot charge also asks for a later spark
    },
    "inlet": {"flow_area": "42 cm**2"},
    "blower": {"filling_loss": 0.08, "leakage_area": "30 mm**2"},
    "drive": {"belt_slip": 0.007},
}  # fmt: skip
COOLERS = {"short": {"cooler": {"effectiveness": 0.40}}, "long": {"cooler": {"effectiveness": 0.80}}}

DAY = Day(
    builds=FOLDER / "builds",
    seed=20260822,
    rate=50.0,
    start_rpm=2950.0,
    end_rpm=7200.0,
    sweep_rpm_per_s=400.0,
    inertia=0.25,
    excess_air_ratio=0.82,
    warming_rpm=(3000.0, 7200.0),
    slip_rpm=7000.0,
    hidden=HIDDEN,
    setups=COOLERS,
    torque_noise=1.8,
)

FAST = (
    ("EngineSpeed", "rpm", "engine_speed"),
    ("BrakeTorque", "N*m", "torque"),
    ("MAP", "kPa abs", "manifold"),
    ("BlowerInletPressure", "kPa abs", "inlet"),
    ("RotorSpeed", "rpm", "rotor_speed"),
    ("ThrottlePosition", "%", "throttle"),
)
SLOW = (("ChargeTemperature", "degC", "charge"), ("Lambda", "-", "excess_air_ratio"))


def write_mdf(path: Path, log: Log, pull: Pull) -> None:
    """An MDF 4.10 file: speeds, torque and pressures fifty times a second, temperature and lambda ten times."""
    mdf = MDF(version="4.10")
    mdf.start_time = datetime.fromisoformat(f"2026-08-22T{pull.clock}:00").replace(tzinfo=UTC)
    for group, every in ((FAST, 1), (SLOW, 5)):
        signals = [
            Signal(
                samples=log[word][::every].astype(np.float32),
                timestamps=log["time"][::every],
                name=name,
                unit=unit,
                comment="invented data",
            )
            for name, unit, word in group
        ]
        mdf.append(signals, common_timebase=True)
    mdf.save(path, overwrite=True, compression=2)
    mdf.close()


HEAD = """# Invented data: no such boat, builder, engine or dyno exists. Made by examples/make_cooler_methanol.py.
title = "Long charge cooler against the short one, sprint-boat four on methanol"
baseline = "short"
candidate = "long"
speed_range_rpm = [3400, 7000]        # the claim speaks about this range, declared before looking
correction = "none"
units = "metric"

[stand]
name = "lake bench"
kind = "engine"
rotating_inertia = "0.25 kg*m**2"

[setups.short]
build = "builds/short.toml"
[setups.long]
build = "builds/long.toml"
"""

ENTRY = """
[[pulls]]
file = "pulls/{pull.file}"
setup = "{pull.setup}"
started = 2026-08-22T{pull.clock}:00
barometer = "{pull.barometer_hpa} hPa"
air_temperature = "{pull.air_degc} degC"
relative_humidity = {pull.humidity}
soak_temperature = "{pull.soak_degc} degC"
"""


def main() -> None:
    """Write every pull and the campaign file."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    campaign = HEAD + "".join(ENTRY.format(pull=pull) for pull in PULLS)
    write_day(DAY, PULLS, {".mf4": write_mdf}, folder, campaign)


if __name__ == "__main__":
    main()

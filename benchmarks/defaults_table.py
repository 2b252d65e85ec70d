"""Builds of several sizes by nothing but the defaults, beside textbook ranges: `python -m benchmarks.defaults_table`.

`--write` puts the tables into docs/defaults.md, between its marks.
"""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from boostwright.machine.assumptions import Assumption
from boostwright.machine.build import Build, build_of
from boostwright.machine.cycle_engine import cycle_engine
from boostwright.machine.operating_point import OperatingPoints, ambient_air, build_points, matched, matched_with
from boostwright.records.build_file import build_from_document
from boostwright.units import display_unit, printed_symbol

PAGE = Path(__file__).parents[1] / "docs" / "defaults.md"
BEGIN, END = "<!-- made by python -m benchmarks.defaults_table --write -->", "<!-- end -->"
DISPLACEMENT_RATIO = 1.85  # volume the blower carries over volume the engine draws, nothing lost
AIR = ambient_air(100e3, 298.15, 0.4)
SIZES = (("1.0 L on 3.0 L, 6 cyl", 1.0, 3.0, 6), ("1.6 L on 4.2 L, 6 cyl", 1.6, 4.2, 6))
SIZES += (("2.3 L on 6.2 L, 8 cyl", 2.3, 6.2, 8), ("3.0 L on 8.0 L, 8 cyl", 3.0, 8.0, 8))
KINDS: tuple[tuple[str, dict[str, Any], dict[str, Any], float], ...] = (
    ("roots, E10", {"kind": "roots"}, {"blend": "E10", "excess_air_ratio": 0.86}, 9.5),
    ("screw, E85", {"kind": "screw"}, {"blend": "E85", "excess_air_ratio": 0.82}, 10.5),
    ("screw, methanol", {"kind": "screw"}, {"blend": "methanol", "excess_air_ratio": 0.8}, 10.5),
)
# What a textbook or the trade expects, with where it is from: REFERENCES of the project, marked from memory there.
RANGES = (
    ("boost, kPa", 60, 110, "a displacement ratio of 1.85 with a cooler: common practice, no source"),
    ("bmep at best torque, bar", 15, 23, "spark ignition at 0.6 to 1.1 bar of boost: common practice, no source"),
    ("VE of the blower at the limit", 0.85, 0.95, "a modern blower with a good inlet: common practice, no source"),
    ("isentropic efficiency", 0.55, 0.80, "roots 0.55 to 0.75, screws 0.70 to 0.80: from memory, +- 5 points"),
    (
        "air at best torque, kg/s per 100 kW",
        0.085,
        0.115,
        "0.417 kg/s for 400 kW (0.30 kg/kWh, 12.5 of air)",
    ),
    ("air at best power, kg/s per 100 kW", 0.085, 0.115, "the same"),
    ("drive share of indicated, %", 6, 18, "common practice, no source"),
    ("inlet depression, kPa", 1.5, 8, "common practice, no source"),
)


def build_of_size(blower: float, engine: float, cylinders: int, kind: int) -> Build:
    """A build of which nothing but sizes, compression ratio, fuel and cooler are said."""
    _, blower_keys, fuel, compression = KINDS[kind]
    return build_of(
        build_from_document(
            {
                "engine": {"displacement": f"{engine} L", "cylinders": cylinders, "compression_ratio": compression},
                "blower": {"displacement": f"{blower} L", **blower_keys},
                "drive": {"ratio": DISPLACEMENT_RATIO * engine / (2.0 * blower)},
                "cooler": {"effectiveness": 0.8, "coolant_temperature": "38 degC"},
                "fuel": fuel,
            },
            "table",
        )
    )


def both_engines(build: Build) -> tuple[OperatingPoints, OperatingPoints]:
    """The build up to its blower's or engine's limit: the engine over the crank angle, and by its closed forms."""
    top = min(build.engine.engine_speed_limit, build.blower.speed_limit / build.drive.drive_ratio)
    points = build_points(build, np.linspace(0.3, 1.0, 29) * top, AIR)
    return matched_with(points, [cycle_engine(build)]), matched(points)


def figures(o: OperatingPoints) -> dict[str, float]:
    """What the tables show of a build: at best power, unless its name says otherwise."""
    best, strong = int(np.argmax(o["brake_power"])), int(np.argmax(o["torque"]))
    return {
        "engine rev/min": 60.0 * o["engine_speed"][best],
        "rotor rev/min": 60.0 * o["rotor_speed"][best],
        "boost, kPa": o.boost[best] / 1e3,
        "bmep at best torque, bar": o.bmep.max() / 1e5,
        "power, kW": o["brake_power"][best] / 1e3,
        "kW per litre": o["brake_power"][best] / 1e3 / (1e3 * o["engine_displacement"][best]),
        "air at best torque, kg/s per 100 kW": o["air_mass_flow"][strong] / o["brake_power"][strong] * 1e5,
        "air at best power, kg/s per 100 kW": o["air_mass_flow"][best] / o["brake_power"][best] * 1e5,
        "fuel, kg/kWh": 3.6e6 * o["fuel_mass_flow"][best] / o["brake_power"][best],
        "VE of the blower at the limit": o["blower_volumetric_efficiency"][-1],
        "isentropic efficiency": o.isentropic_efficiency[best],
        "drive share of indicated, %": 100.0 * o["blower_drive_power"][best] / o["indicated_power"][best],
        "inlet depression, kPa": (o["ambient_pressure"] - o["blower_inlet_pressure"])[best] / 1e3,
        "outlet, degC": o["blower_outlet_temperature"][best] - 273.15,
        "charge, degC": o["charge_temperature"][best] - 273.15,
        "mean piston speed, m/s": 2.0 * (o["stroke"] * o["engine_speed"])[best],
    }


def comparison() -> Iterator[str]:
    for kind, (title, *_) in enumerate(KINDS):
        pairs = [both_engines(build_of_size(*size[1:], kind)) for size in SIZES]
        cycle, closed = ([figures(pair[engine]) for pair in pairs] for engine in (0, 1))
        yield f"\n### {title}\n"
        yield "| crank-angle cycle (closed forms) | " + " | ".join(size[0] for size in SIZES) + " |"
        yield "|---|" + "--:|" * len(SIZES)
        for name in cycle[0]:
            cells = (f"{shown(a[name])} ({shown(b[name])})" for a, b in zip(cycle, closed, strict=True))
            yield f"| {name} | " + " | ".join(cells) + " |"


def shown(value: float) -> str:
    """Three figures, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def verdicts() -> Iterator[str]:
    pairs = [both_engines(build_of_size(*size[1:], kind)) for kind in range(len(KINDS)) for size in SIZES]
    yield "| quantity | crank-angle cycle | closed forms | expected | where the expectation is from |"
    yield "|---|--:|--:|--:|---|"
    for name, low, high, source in RANGES:
        spans: list[str] = []
        for engine in (0, 1):
            values = [figures(pair[engine])[name] for pair in pairs]
            spans.append(f"{shown(min(values))} – {shown(max(values))}")
        yield f"| {name} | {' | '.join(spans)} | {low:g} – {high:g} | {source} |"


def assumption_rows() -> Iterator[str]:
    build = build_of(
        build_from_document(
            {
                "engine": {"displacement": "6.2 L", "cylinders": 8, "compression_ratio": 9.5},
                "blower": {"displacement": "2.3 L", "kind": "screw"},
                "drive": {"driving_pulley": "190 mm", "driven_pulley": "90 mm"},
                "inlet": {"throttle_bore": "105 mm"},
                "cooler": {},
            },
            "table",
        )
    )
    yield "\n| key | value | 95 % range | scaling | source |"
    yield "|---|--:|--:|---|---|"
    for row in build.assumptions:
        yield "| " + " | ".join(_assumption_cells(row)) + " |"


def _assumption_cells(row: Assumption) -> tuple[str, ...]:
    unit = display_unit(row.dimension, "metric")
    value, low, high = (f"{float(unit.from_si(x)):.3g}" for x in (row.value, row.low, row.high))
    return row.key_path, f"{value} {printed_symbol(unit)}".strip(), f"{low} – {high}", row.scaling, row.source


def lines() -> Iterator[str]:
    sections: tuple[Callable[[], Iterator[str]], ...] = (verdicts, comparison, assumption_rows)
    for section in sections:
        yield from section()


if __name__ == "__main__":
    text = "\n".join(lines()) + "\n"
    if "--write" in sys.argv[1:]:
        page = PAGE.read_text(encoding="utf-8")
        head, tail = page.split(BEGIN)[0], page.split(END)[1]
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8")
    else:
        print(text)

"""What a carried gain says in words: the gain elsewhere, how sure absolute power is, how far it lies from the test."""

from collections.abc import Sequence

import numpy as np

from boostwright.studies.carry_result import CarriedBuild, Distance, Floats, Reach
from boostwright.studies.explain_result import Band
from boostwright.studies.words import (
    NO_BREAK,
    joined,
    number,
    plus_minus,
    signed_plus_minus,
    speed_span_text,
    speed_text,
)
from boostwright.units import System, Unit, display_unit, printed_symbol

SURE_ENOUGH = 0.08  # of power: a build of which a pull was made stays below, one of which none was made above


def carried_sentence(build: CarriedBuild, names: tuple[str, str], units: System) -> str:
    """The gain on the build with its interval, over which range, and what power and boost the build makes."""
    a, b = names
    share, power = build.gains["brake_power_relative"], build.gains["brake_power"]
    span = speed_span_text(float(build.engine_speed[0]), float(build.engine_speed[-1]))
    unit, pressure = display_unit("power", units), display_unit("gauge_pressure", units)
    more = signed_plus_minus(power.mean / unit.scale, power.half_width / unit.scale, printed_symbol(unit))
    figures = f"{_percent(share)} of power ({more})"
    verdict = {1: f"{b} gains over {a}", -1: f"{b} loses against {a}", 0: f"{b} shows no gain over {a}"}[_sign(share)]
    on, boost = (level_words(build.baseline[name], of) for name, of in (("brake_power", unit), ("boost", pressure)))
    return f"On {build.build} {verdict}: {figures} in the mean of {span}, where {a} makes {on} at {boost} of boost."


def how_sure(power_known_to: float, *, has_baseline: bool, is_tested_engine: bool) -> str:
    """How well absolute power is known there, and what would make it surer."""
    share = f"{number(100 * power_known_to)}{NO_BREAK}%"
    if has_baseline:
        return f"With pulls of the baseline there, absolute power is known to ±{share}."
    if is_tested_engine:
        return f"It is the tested engine: absolute power is known to ±{share}."
    return f"Without a pull there, absolute power is known only to ±{share}; a baseline pull on that engine settles it."


def distance_sentence(
    engine_speed: Floats,
    rotor_speed: Floats,
    pressure_ratio: Floats,
    conditions: Sequence[str],
    reach: Sequence[Reach],
) -> str:
    """How far the conditions lie outside the test: what goes beyond, by how much, and at which speeds."""
    parts = [
        said
        for name, beyond in (("rotor speed", rotor_speed), ("pressure ratio", pressure_ratio))
        for said in _beyond(name, beyond, engine_speed)
    ]
    parts += conditions
    if not parts:
        return "Rotor speed, pressure ratio, air and fuel are those of the test."
    far = np.array([r is Reach.FAR for r in reach])
    head = "Far from what was tested" if far.all() else "Outside what was tested"
    if far.any() and not far.all():
        head += f" (far at {_speeds(engine_speed[far])})"
    return f"{head}: {joined(parts)}."


def _beyond(name: str, beyond: Floats, engine_speed: Floats) -> list[str]:
    said: list[str] = []
    for sign, word in ((1, "above"), (-1, "below")):
        at = sign * beyond > 0.01
        if at.any():
            most = f"{number(100 * float(np.max(sign * beyond)))}{NO_BREAK}%"
            said.append(f"{name} up to {most} {word} the tested range ({_speeds(engine_speed[at])})")
    return said


def _speeds(engine_speed: Floats) -> str:
    if engine_speed.size == 1:
        return f"{speed_text(float(engine_speed[0]))}{NO_BREAK}rev/min"
    return speed_span_text(float(engine_speed[0]), float(engine_speed[-1]))


def condition_words(distance: Distance, units: System) -> list[str]:
    """Air and fuel where they differ notably from those of the test."""
    said: list[str] = []
    pressure, decimals = display_unit("pressure", units), 0 if units == "metric" else 1
    degrees, symbol = (1.0, "K") if units == "metric" else (1.8, "°F")
    if abs(distance.ambient_pressure) > 2e3:
        word = "lower" if distance.ambient_pressure < 0 else "higher"
        size = number(abs(distance.ambient_pressure) / pressure.scale, decimals)
        said.append(f"air pressure {size}{NO_BREAK}{printed_symbol(pressure)} {word}")
    if abs(distance.air_temperature) > 5.0:
        word = "colder" if distance.air_temperature < 0 else "warmer"
        said.append(f"air {number(degrees * abs(distance.air_temperature))}{NO_BREAK}{symbol} {word}")
    if distance.fuel is not None:
        said.append(f"{distance.fuel} instead of {distance.tested_fuel}")
    return said


def build_words(build: CarriedBuild, names: tuple[str, str], units: System) -> tuple[str, str]:
    """The sentence of a carried build, and that of its distance from the test, in the units of a reader."""
    distance = build.distance
    gain = carried_sentence(build, names, units)
    sure = how_sure(build.power_known_to, has_baseline=build.has_baseline, is_tested_engine=build.is_tested_engine)
    far = distance_sentence(
        build.engine_speed,
        distance.rotor_speed,
        distance.pressure_ratio,
        condition_words(distance, units),
        distance.reach,
    )
    return f"{gain} {sure}", far


def left_behind_note(parts: Sequence[str]) -> str:
    """What the setups differ in that is not carried."""
    return f"The setups also differ in {joined(list(parts))}: that stays on the tested engine and is not in this gain."


def level_words(band: Band, unit: Unit) -> str:
    """The mean of a band over the range with its half-width, in a unit."""
    return plus_minus(band.mean / unit.scale, band.half_width / unit.scale, printed_symbol(unit))


def _percent(of: Band) -> str:
    return signed_plus_minus(100 * of.mean, 100 * of.half_width, "%")


def _sign(of: Band) -> int:
    return 1 if of.mean_lower > 0 else -1 if of.mean_upper < 0 else 0

"""A four-stroke spark-ignition engine as its crank-angle cycle needs it, and what is assumed where nobody has said."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.machine.default import Default
from boostwright.physics.fuels import Fuel

Floats = NDArray[np.float64]
Values = float | Floats

DEGREE = math.pi / 180
_POSITIVE = (
    "engine_displacement",
    "cylinders",
    "bore_stroke_ratio",
    "intake_valve_count",
    "exhaust_valve_count",
    "intake_valve_diameter",
    "exhaust_valve_diameter",
    "valve_throat_ratio",
    "intake_valve_lift",
    "exhaust_valve_lift",
    "intake_discharge_coefficient",
    "exhaust_discharge_coefficient",
    "intake_port_volume",
    "burn_duration",
    "burn_completeness",
    "combustion_efficiency",
    "piston_temperature",
    "head_temperature",
    "liner_temperature",
)
_WITHIN = (  # what the phases of the cycle rely on
    ("compression_ratio", 1.001, math.inf, "is it a pressure ratio?"),
    ("rod_ratio", 0.501, math.inf, "a rod shorter than half the stroke cannot turn the crank"),
    ("exhaust_opening", 90 * DEGREE, 180 * DEGREE, "it is the angle in radians after the firing dead centre"),
    ("exhaust_closing", 270 * DEGREE, 450 * DEGREE, "it is the angle in radians after the firing dead centre"),
    ("intake_opening", 270 * DEGREE, 450 * DEGREE, "it is the angle in radians after the firing dead centre"),
    ("intake_closing", 540 * DEGREE, 660 * DEGREE, "it is the angle in radians after the firing dead centre"),
)


@dataclass(frozen=True, kw_only=True)
class Engine:
    """An engine, all cylinders alike. Every field may be an array: many engines side by side.

    Crank angles count from the firing dead centre, so that the exhaust stroke begins at pi and the intake stroke at
    2 pi. Valves open and close at the seat; their number and sizes are those of one cylinder.
    """

    engine_displacement: Values
    cylinders: Values
    bore_stroke_ratio: Values
    rod_ratio: Values
    compression_ratio: Values
    intake_valve_count: Values
    exhaust_valve_count: Values
    intake_valve_diameter: Values
    exhaust_valve_diameter: Values
    valve_throat_ratio: Values
    intake_valve_lift: Values
    exhaust_valve_lift: Values
    intake_discharge_coefficient: Values
    exhaust_discharge_coefficient: Values
    intake_opening: Values
    intake_closing: Values
    exhaust_opening: Values
    exhaust_closing: Values
    intake_port_volume: Values
    burn_centre: Values
    burn_duration: Values
    burn_form_factor: Values
    burn_completeness: Values
    combustion_efficiency: Values
    piston_temperature: Values
    head_temperature: Values
    liner_temperature: Values
    wall_heat_factor: Values
    friction_constant: Values
    friction_pressure_factor: Values
    friction_speed_factor: Values
    friction_speed_squared_factor: Values
    friction_factor: Values

    def __post_init__(self) -> None:
        for name in _POSITIVE:
            _refuse_outside(name, getattr(self, name), 1e-12, math.inf, "give it in SI units")
        for name, low, high, remedy in _WITHIN:
            _refuse_outside(name, getattr(self, name), low, high, remedy)

    @property
    def swept_volume(self) -> Floats:
        """Volume that one piston sweeps. [m3]"""
        return np.asarray(np.divide(self.engine_displacement, self.cylinders), dtype=float)

    @property
    def stroke(self) -> Floats:
        """Travel of the piston. [m]"""
        return np.cbrt(4 / math.pi * self.swept_volume / np.square(self.bore_stroke_ratio))

    @property
    def bore(self) -> Floats:
        """Diameter of the cylinder. [m]"""
        return np.asarray(np.multiply(self.bore_stroke_ratio, self.stroke), dtype=float)


@dataclass(frozen=True, kw_only=True)
class CycleConditions:
    """What an engine breathes, burns and blows into; every field but the fuel may be an array.

    The charge temperature is that ahead of the port, before any fuel evaporates; `evaporated_share` of the fuel then
    evaporates at the expense of the charge, the rest off hot walls inside the cylinder.
    """

    engine_speed: Values
    manifold_pressure: Values
    charge_temperature: Values
    exhaust_pressure: Values
    humidity_ratio: Values
    fuel: Fuel
    excess_air_ratio: Values
    evaporated_share: Values
    octane_number: Values
    spark_retard: Values

    def __post_init__(self) -> None:
        for name in ("engine_speed", "manifold_pressure", "charge_temperature", "exhaust_pressure", "octane_number"):
            values = np.asarray(getattr(self, name), dtype=float)
            if not np.all(values > 0):
                raise ValueError(f"{name} {values.min():g} must be positive: SI units, absolute pressures")


def _refuse_outside(name: str, value: Values, low: float, high: float, remedy: str) -> None:
    values = np.asarray(value, dtype=float)
    wrong = values[~((values >= low) & (values <= high))]
    if wrong.size:
        limits = f"from {low:.4g} to {high:.4g}" if math.isfinite(high) else f"at least {low:.4g}"
        raise ValueError(f"{name} {wrong[0]:.6g} must be {limits}: {remedy}")


_PRACTICE = "common practice, no source"
_WOSCHNI = "Woschni 1967, from memory; engines scatter by 30 %"
_FRICTION = "Chen and Flynn 1965 in a later set of constants, from memory; published sets differ by 25 % or more"


def _default(word: str, value: float, low: float, high: float, scaling: str, source: str = _PRACTICE) -> Default:
    return Default(word=word, value=value, low=low, high=high, scaling=scaling, source=source)


ENGINE_DEFAULTS = (
    _default("bore_stroke_ratio", 1.0, 0.85, 1.2, "none"),
    _default("rod_ratio", 1.6, 1.45, 1.9, "none: rod length over stroke"),
    _default("intake_valve_count", 2.0, 1.0, 2.0, "none: four valves in a cylinder"),
    _default("exhaust_valve_count", 2.0, 1.0, 2.0, "none: four valves in a cylinder"),
    _default("intake_valve_diameter", 0.37, 0.34, 0.40, "times the bore; one valve of 0.5 bore fills as well"),
    _default("exhaust_valve_diameter", 0.32, 0.29, 0.34, "times the bore; one valve of 0.42 bore empties as well"),
    _default("valve_throat_ratio", 0.72, 0.65, 0.78, "none: seat of 0.88 of the head, less a stem of 0.2"),
    _default("intake_valve_lift", 0.28, 0.24, 0.34, "times the diameter of an intake valve"),
    _default("exhaust_valve_lift", 0.29, 0.24, 0.34, "times the diameter of an exhaust valve"),
    _default("intake_discharge_coefficient", 0.72, 0.6, 0.82, "none: of curtain and throat in line"),
    _default("exhaust_discharge_coefficient", 0.72, 0.6, 0.82, "none: of curtain and throat in line"),
    _default("intake_opening", 342 * DEGREE, 325 * DEGREE, 355 * DEGREE, "none: 18 degrees before top, at the seat"),
    _default("intake_closing", 600 * DEGREE, 585 * DEGREE, 620 * DEGREE, "none: 60 degrees after bottom, at the seat"),
    _default("exhaust_opening", 120 * DEGREE, 105 * DEGREE, 135 * DEGREE, "none: 60 degrees before bottom"),
    _default("exhaust_closing", 378 * DEGREE, 365 * DEGREE, 395 * DEGREE, "none: 18 degrees after top, at the seat"),
    _default("intake_port_volume", 0.5, 0.25, 1.0, "times the swept volume of a cylinder: port and runner"),
    _default("burn_centre", 10 * DEGREE, 6 * DEGREE, 18 * DEGREE, "none: 8 is best, boost and knock make it later"),
    _default("burn_duration", 25 * DEGREE, 18 * DEGREE, 35 * DEGREE, "none: 10 to 90 % burned"),
    _default("burn_form_factor", 2.0, 1.5, 2.5, "none", "Heywood 1988, section 9.2, from memory"),
    _default("burn_completeness", 5.0, 4.6, 6.9, "none", "Heywood 1988, section 9.2, from memory"),
    _default("combustion_efficiency", 0.94, 0.9, 0.97, "none: of what the oxygen lets burn; dissociation and crevices"),
    _default("piston_temperature", 530.0, 480.0, 580.0, "none"),
    _default("head_temperature", 480.0, 430.0, 530.0, "none: mean with the valves"),
    _default("liner_temperature", 420.0, 390.0, 450.0, "none"),
    _default("wall_heat_factor", 1.0, 0.7, 1.4, "none", _WOSCHNI),
    _default("friction_constant", 0.4e5, 0.2e5, 0.6e5, "none", _FRICTION),
    _default("friction_pressure_factor", 0.005, 0.004, 0.006, "none", _FRICTION),
    _default("friction_speed_factor", 0.09e5, 0.06e5, 0.12e5, "none", _FRICTION),
    _default("friction_speed_squared_factor", 0.0009e5, 0.0, 0.0018e5, "none", _FRICTION),
    _default("friction_factor", 1.0, 0.75, 1.3, "none: oil, supercharger drive apart"),
)
"""What `engine_with_defaults` takes where nobody has said, with the range it may have; angles in radians."""


def engine_with_defaults(engine_displacement: Values, cylinders: Values, compression_ratio: Values) -> Engine:
    """An engine of which only size, number of cylinders and compression ratio are known; the rest: `ENGINE_DEFAULTS`.

    Change what is known better with `dataclasses.replace`; lengths and volumes are in SI units there.
    """
    typical: dict[str, Values] = {default.word: default.value for default in ENGINE_DEFAULTS}
    swept = np.asarray(np.divide(engine_displacement, cylinders), dtype=float)
    stroke = np.cbrt(4 / math.pi * swept / np.square(typical["bore_stroke_ratio"]))
    bore = np.multiply(typical["bore_stroke_ratio"], stroke)
    for kind in ("intake", "exhaust"):
        diameter = np.multiply(typical[f"{kind}_valve_diameter"], bore)
        typical[f"{kind}_valve_lift"] = np.multiply(typical[f"{kind}_valve_lift"], diameter)
        typical[f"{kind}_valve_diameter"] = diameter
    typical["intake_port_volume"] = np.multiply(typical["intake_port_volume"], swept)
    return Engine(
        engine_displacement=engine_displacement, cylinders=cylinders, compression_ratio=compression_ratio, **typical
    )

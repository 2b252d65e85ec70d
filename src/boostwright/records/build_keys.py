"""The keys of a build file: where each stands, what it holds, and which numbers are possible."""

import math
from dataclasses import dataclass
from typing import Any

COUNT, WORD, SWITCH, CURVE = "a count", "a word", "true or false", "a curve"
LEAST_PULLEY = 45e-3  # m, effective diameter of PK pulleys, ISO 9981:2020
LINE_DIFFERENTIAL = 2e-3  # m, PK, nominal effective line differential, ISO 9981:2020


@dataclass(frozen=True, kw_only=True)
class Key:
    """One key of the file: where it stands, what it holds, which numbers are possible, and what to do about others."""

    path: str
    holds: str
    phrase: str
    low: float = -math.inf
    high: float = math.inf
    remedy: str = "check the number and its unit"
    required: bool = False
    words: tuple[str, ...] = ()


def _key(path: str, holds: str, low: float, high: float, phrase: str, **more: Any) -> Key:
    return Key(path=path, holds=holds, phrase=phrase, low=low, high=high, **more)


_POSITIVE = 1e-12
_LIFE = 6.0 * math.pi  # rad, three turns of the driving rotor: more than any chamber lives
_PULLEY = "ISO 9981 allows PK pulleys of 45 mm effective diameter or more: change the pair of pulleys"
KEYS: tuple[Key, ...] = (
    _key("engine.displacement", "volume", 1e-5, 0.5, "swept volume of all cylinders", required=True),
    _key("engine.cylinders", COUNT, 1, 32, "number of cylinders", required=True),
    _key(
        "engine.compression_ratio",
        "fraction",
        2.0,
        30.0,
        "largest over smallest cylinder volume",
        required=True,
        remedy="give cylinder volume at bottom over top dead centre, such as 9.5",
    ),
    _key("engine.bore", "length", 0.01, 1.0, "cylinder bore"),
    _key("engine.stroke", "length", 0.01, 1.0, "piston stroke"),
    _key("engine.speed_limit", "speed", 5.0, 400.0, "highest speed at which the engine is run"),
    _key("engine.volumetric_efficiency", "fraction", 0.3, 1.3, "at its best speed, residual gas apart"),
    _key("engine.volumetric_efficiency_curve", CURVE, 0.3, 1.3, "against engine speed, residual gas apart"),
    _key("engine.volumetric_efficiency_curvature", "fraction", 0.0, 2.0, "how fast filling falls off its best speed"),
    _key("engine.indicated_efficiency_factor", "fraction", 0.3, 1.0, "indicated efficiency over 1 - CR^-0.3"),
    _key("engine.friction_factor", "fraction", 0.1, 5.0, "friction over that of the standard correlation"),
    _key("engine.intake_temperature_exponent", "fraction", -0.5, 1.0, "filling grows with this power of temperature"),
    _key("engine.efficiency_loss_per_kelvin", "fraction", 0.0, 0.01, "indicated efficiency lost to a warmer charge"),
    _key("engine.exhaust_area", "area", _POSITIVE, 1.0, "loss area of the exhaust system"),
    _key("engine.exhaust_temperature", "temperature", 600.0, 1500.0, "gas temperature in the exhaust"),
    _key("engine.peak_pressure_factor", "fraction", 0.5, 5.0, "peak pressure over manifold pressure x CR^1.32"),
    _key("engine.knock_factor", "fraction", 0.01, 100.0, "knock index over that of the reference case"),
    _key("engine.spark_retard", "angle", 0.0, 0.7, "how much later than the best the spark is set"),
    _key("blower.displacement", "volume", 1e-5, 0.5, "volume carried per turn of the drive shaft", required=True),
    _key("blower.kind", WORD, 0, 0, "which type", words=("roots", "screw")),
    _key("blower.internal_volume_ratio", "fraction", 1.0, 4.0, "trapped over outlet-opening volume, 1 for roots"),
    _key("blower.speed_limit", "speed", 10.0, 2000.0, "highest rotor speed that the maker allows"),
    _key("blower.rotor_diameter", "length", 0.01, 1.0, "tip diameter of the faster rotor"),
    _key("blower.filling_loss", "fraction", 0.0, 1.0, "share left unfilled at the speed limit"),
    _key("blower.leakage_area", "area", 0.0, 0.1, "effective clearance area between outlet and inlet"),
    _key("blower.gas_work_factor", "fraction", 0.5, 2.0, "gas work over the ideal work"),
    _key("blower.mechanical_power_at_limit", "power", 0.0, 1e6, "bearing, gear and seal loss at the speed limit"),
    _key("blower.heat_loss_share", "fraction", 0.0, 0.5, "share of the gas power lost through the casing"),
    _key("blower.mechanical_heat_share", "fraction", 0.0, 1.0, "share of the mechanical loss that heats the gas"),
    _key("blower.delivery_factor", "fraction", 0.5, 1.5, "what the delivery is multiplied by beyond the law"),
    _key("blower.chambers", COUNT, 2, 24, "chambers that pass in one turn of the driving rotor"),
    _key("blower.sealing_pitches", COUNT, 1, 6, "pitches from a chamber to the one it leaks to across a tip"),
    _key("blower.fill_end_angle", "angle", 0.1, _LIFE, "where a chamber has its full volume"),
    _key("blower.compression_start_angle", "angle", 0.1, _LIFE, "where a chamber's volume begins to fall"),
    _key("blower.discharge_end_angle", "angle", 0.1, _LIFE, "where a chamber's volume has fallen to its dead pocket"),
    _key("blower.volume_rounding", "fraction", 0.0, 1.0, "0 for a volume that grows evenly, 1 as a sine"),
    _key("blower.dead_volume_share", "fraction", 1e-5, 0.3, "gas carried through the mesh over the swept volume"),
    _key("blower.outlet_opening_advance", "angle", 0.0, _LIFE, "by which the outlet opens ahead of its volume ratio"),
    _key("blower.outlet_ramp", "angle", 1e-3, _LIFE, "angle over which the outlet opens and closes"),
    _key(
        "blower.outlet_area", "area", _POSITIVE, 1.0, "open outlet area of one chamber times its discharge coefficient"
    ),
    _key("blower.tip_leakage_area", "area", 0.0, 0.01, "effective clearance area of one tip with its end faces"),
    _key("blower.mesh_leakage_area", "area", 0.0, 0.01, "effective clearance area through the mesh"),
    _key("drive.ratio", "fraction", 0.1, 30.0, "turns of the blower drive shaft per turn of the crank"),
    _key("drive.driving_pulley", "length", LEAST_PULLEY, 1.0, "effective diameter on the crank", remedy=_PULLEY),
    _key("drive.driven_pulley", "length", LEAST_PULLEY, 1.0, "effective diameter on the blower", remedy=_PULLEY),
    _key("drive.line_differential", "length", 0.0, 0.02, "belt pitch line above the effective diameter, on each side"),
    _key("drive.internal_step", "fraction", 0.1, 10.0, "rotor turns per turn of the drive shaft"),
    _key("drive.ribs", COUNT, 1, 40, "ribs of the belt"),
    _key("drive.centre_distance", "length", 0.01, 3.0, "between crank and blower, for an open belt"),
    _key("drive.wrap", "angle", 0.5, 2.0 * math.pi, "angle of belt on the blower pulley"),
    _key("drive.friction_coefficient", "fraction", 0.05, 2.0, "belt on pulley, in the groove"),
    _key("drive.installed_tension", "force", 0.0, 1e5, "of one strand of the belt at rest, or held by the tensioner"),
    _key("drive.rib_mass_kg_per_m", "fraction", 0.0, 1.0, "mass of one rib of belt per metre"),
    _key("drive.belt_slip", "fraction", 0.0, 0.3, "share by which the blower pulley turns slower than its ratio"),
    _key("drive.efficiency", "fraction", 0.5, 1.0, "power at the blower pulley over power at the crank pulley"),
    _key("inlet.throttle_bore", "length", 0.005, 1.0, "bore at the throttle plate; several: that of one of equal area"),
    _key("inlet.throttle_shaft", "length", 0.0, 0.1, "diameter of the throttle shaft"),
    _key("inlet.throttle_angle", "angle", 0.0, math.pi / 2, "of the plate, 90 deg wide open"),
    _key("inlet.throttle_discharge_coefficient", "fraction", 0.3, 1.0, "effective over open area of the throttle"),
    _key("inlet.throttle_area", "area", _POSITIVE, 1.0, "effective area of the throttle"),
    _key("inlet.flow_area", "area", _POSITIVE, 1.0, "loss area of filter, elbow and casting up to the rotors"),
    _key("inlet.heating", "temperature_difference", -20.0, 60.0, "warming of the air by the metal of the inlet"),
    _key("inlet.effective_area", "area", _POSITIVE, 1.0, "of the passage in the blower's casting, flange to ports"),
    _key("inlet.passage_length", "length", 0.001, 5.0, "of the passage in the blower's casting, flange to ports"),
    _key("inlet.plenum_volume", "volume", 1e-6, 1.0, "of the cavity in the casting ahead of the ports"),
    _key("inlet.port_area", "area", _POSITIVE, 1.0, "open inlet area of one chamber times its discharge coefficient"),
    _key("inlet.port_opening_angle", "angle", 0.0, _LIFE, "of the driving rotor, from where a chamber begins to fill"),
    _key("inlet.port_opening_ramp", "angle", 1e-3, _LIFE, "angle over which the inlet port opens"),
    _key("inlet.port_closing_angle", "angle", 0.0, _LIFE, "of the driving rotor, from where a chamber begins to fill"),
    _key("inlet.port_closing_ramp", "angle", 1e-3, _LIFE, "angle over which the inlet port closes"),
    _key("inlet.port_inertance", "inertance", 0.01, 1e4, "length over area of the gas that moves in one inlet port"),
    _key("bypass.area", "area", 0.0, 0.1, "effective area of the open bypass"),
    _key("bypass.opening", "fraction", 0.0, 1.0, "how far the bypass stands open"),
    _key("bypass.manifold_pressure_cap", "pressure", 2e4, 1e6, "absolute manifold pressure at which it opens"),
    _key("cooler.effectiveness", "fraction", 0.0, 0.99, "cooling over its greatest possible, at the reference flow"),
    _key("cooler.reference_flow", "mass_flow", 1e-3, 20.0, "air mass flow at which the effectiveness holds"),
    _key("cooler.transfer_exponent", "fraction", 0.0, 1.0, "transfer units fall with this power of the flow"),
    _key("cooler.flow_area", "area", _POSITIVE, 1.0, "loss area of the cooler"),
    _key("cooler.coolant_temperature", "temperature", 230.0, 400.0, "of the coolant that enters, at the start"),
    _key("fuel.blend", WORD, 0, 0, "E0 to E100 by volume, methanol, propane or methane"),
    _key("fuel.excess_air_ratio", "fraction", 0.5, 2.0, "lambda"),
    _key("fuel.octane_number", "fraction", 40.0, 150.0, "research octane number, or its effective value"),
    _key("fuel.evaporated_share", "fraction", 0.0, 1.0, "share of the fuel that cools and fills the charge"),
    _key("fuel.upstream_evaporation", "fraction", 0.0, 1.0, "share of the fuel that evaporates ahead of the blower"),
    _key("fuel.injectors.count", COUNT, 1, 64, "number of injectors"),
    _key("fuel.injectors.flow", "volume_flow", 1e-8, 1e-3, "of one injector, open, at the rail pressure"),
    _key("fuel.injectors.rail_pressure", "pressure_difference", 1e4, 5e7, "of the rail above the surroundings"),
    _key("fuel.injectors.referenced", SWITCH, 0, 0, "whether the rail pressure follows the manifold"),
    _key("fuel.pump_flow", "volume_flow", 1e-7, 1e-2, "of the pump against the highest rail pressure"),
    _key("limits.charge_temperature", "temperature", 273.15, 600.0, "highest allowed behind the cooler"),
    _key("limits.blower_outlet_temperature", "temperature", 273.15, 800.0, "highest allowed"),
    _key("limits.manifold_pressure", "pressure", 2e4, 1e6, "highest allowed, absolute"),
    _key("limits.tip_speed", "velocity", 10.0, 400.0, "highest allowed at the rotor tips"),
    _key("limits.rib_tension", "force", 1.0, 1e4, "highest allowed effective tension per rib"),
    _key("limits.rib_power", "power", 1.0, 1e5, "highest allowed power per rib, from the maker's tables"),
    _key("limits.injector_duty", "fraction", 0.1, 1.0, "highest share of the time that the injectors may be open"),
    _key("limits.mean_piston_speed", "velocity", 1.0, 40.0, "highest allowed"),
    _key("limits.peak_cylinder_pressure", "pressure", 1e6, 5e7, "highest allowed"),
    _key("limits.knock_index", "fraction", 0.01, 10.0, "highest allowed, on the scale of `match`"),
)

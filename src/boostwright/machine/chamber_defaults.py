"""What the chambers and ports of a blower are taken to be while there is no drawing.

No measured map and no drawing stands behind these figures: they are plausible, chosen so that a blower near its speed
limit still fills 0.85 to 0.95 of its displacement (common practice, no source) and so that the slip at low speed is
that of the slip law's default leakage. Whoever predicts the effect of a port must calibrate `port_inertance` first.
"""

from collections.abc import Mapping
from math import pi

from boostwright.machine.blower import MECHANICAL_HEAT_SHARE, MECHANICAL_POWER_AT_LIMIT, mechanical_size
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.default import Default

DEGREE = pi / 180.0
REFERENCE_DISPLACEMENT = 2.0e-3  # m3 per turn: the size at which the defaults below are stated
REFERENCE_SPEED_LIMIT = 333.0  # 1/s
REFERENCE_CHAMBERS = 8

_FIXED = "none"
_FLOW = "times volume of a chamber x speed limit over 0.25 L x 333 1/s: the same port velocity"
_LENGTH = "times (displacement / 2 L)^(1/3): in proportion to rotor length"
_CLEARANCE = "times (displacement / 2 L)^(2/3): clearances in proportion to rotor size"
_VOLUME = "times displacement / 2 L"
_INERTANCE = "times chambers per turn / 8 over (displacement / 2 L)^(1/3): length over area of a tooth space"
_DRAWING = "assumed; take it from the drawing"
_SHAPE = "assumed; replace it by the volume curve of the profile"


def _angle(word: str, degrees: float, spread: float, source: str) -> Default:
    low, high = (degrees - spread) * DEGREE, (degrees + spread) * DEGREE
    return Default(word=word, value=degrees * DEGREE, low=max(low, 0.0), high=high, scaling=_FIXED, source=source)


def _number(word: str, value: float, low: float, high: float, scaling: str, source: str) -> Default:
    return Default(word=word, value=value, low=low, high=high, scaling=scaling, source=source)


_COMMON = (
    _number("volume_rounding", 0.8, 0.5, 1.0, _FIXED, _SHAPE),
    _number("dead_volume_share", 0.01, 0.003, 0.03, _FIXED, f"gas carried through the mesh: {_SHAPE}"),
    _angle("port_opening_angle", 0.0, 10.0, _DRAWING),
    _angle("outlet_opening_advance", 0.0, 15.0, _DRAWING),
    _number(
        "port_inertance",
        24.0,
        4.0,
        65.0,
        _INERTANCE,
        "own estimate: 65 is a tooth space filled from one end, with the first frequency of a quarter-wave pipe, "
        "4 L^2/(pi^2 V); filling from the side is lower. Calibrate it",
    ),
    _number("tract_effective_area", 80e-4, 55e-4, 120e-4, _FLOW, f"flange to plenum: {_DRAWING}"),
    _number("tract_length", 0.2, 0.1, 0.5, _LENGTH, "of little effect: below 0.1 % of the flow from 0.1 to 0.5 m"),
    _number("plenum_volume", 1.0e-3, 0.7e-3, 3e-3, _VOLUME, "of little effect: below 0.1 % of the flow"),
    _number("tip_leakage_area", 28e-6, 14e-6, 56e-6, _CLEARANCE, "with the mesh, agrees with the slip law's default"),
    _number("mesh_leakage_area", 20e-6, 10e-6, 40e-6, _CLEARANCE, "not to be told from the tips by any test"),
    _number("heat_conductance", 0.0, 0.0, 3.0, _FIXED, "walls without effect, so that one map serves all weather"),
    _number("wall_temperature_share", 0.5, 0.2, 0.8, _FIXED, "assumed; without effect while heat_conductance is 0"),
    MECHANICAL_POWER_AT_LIMIT,
    MECHANICAL_HEAT_SHARE,
)
_ROOTS = (
    _number("chambers_per_turn", 8, 4, 8, _FIXED, "two rotors of four lobes; 6 for three, 4 for two"),
    _number("sealing_pitches", 2, 2, 2, _FIXED, "tooth spaces alternate between the rotors"),
    _angle("fill_end_angle", 190.0, 20.0, _DRAWING),
    _angle("compression_start_angle", 250.0, 20.0, _DRAWING),
    _angle("discharge_end_angle", 440.0, 20.0, _DRAWING),
    _angle("port_opening_ramp", 20.0, 10.0, _DRAWING),
    _angle("port_closing_angle", 190.0, 15.0, _DRAWING),
    _angle("port_closing_ramp", 25.0, 10.0, _DRAWING),
    _angle("outlet_ramp", 20.0, 10.0, _DRAWING),
    _number("port_effective_area", 15e-4, 11e-4, 20e-4, _FLOW, _DRAWING),
    _number("outlet_effective_area", 28e-4, 16e-4, 40e-4, _FLOW, _DRAWING),
)
_SCREW = (
    _number("chambers_per_turn", 4, 3, 5, _FIXED, "one V-shaped chamber a lobe of the driving rotor"),
    _number("sealing_pitches", 1, 1, 1, _FIXED, "joined V-shaped chambers follow one another"),
    _angle("fill_end_angle", 330.0, 20.0, _DRAWING),
    _angle("compression_start_angle", 340.0, 20.0, _DRAWING),
    _angle("discharge_end_angle", 690.0, 40.0, _DRAWING),
    _angle("port_opening_ramp", 30.0, 10.0, _DRAWING),
    _angle("port_closing_angle", 335.0, 15.0, _DRAWING),
    _angle("port_closing_ramp", 30.0, 10.0, _DRAWING),
    _angle("outlet_ramp", 20.0, 10.0, _DRAWING),
    _number("port_effective_area", 12e-4, 9e-4, 16e-4, _FLOW, _DRAWING),
    _number("outlet_effective_area", 18e-4, 12e-4, 26e-4, _FLOW, _DRAWING),
)
CHAMBER_DEFAULTS: Mapping[str, tuple[Default, ...]] = {"roots": _ROOTS + _COMMON, "screw": _SCREW + _COMMON}


def scales_of_size(blower_displacement: float, speed_limit: float, chambers_per_turn: float) -> Mapping[str, float]:
    """How large this blower is by every law of scaling above."""
    size, speed = blower_displacement / REFERENCE_DISPLACEMENT, speed_limit / REFERENCE_SPEED_LIMIT
    share = chambers_per_turn / REFERENCE_CHAMBERS
    return {
        _FIXED: 1.0,
        _FLOW: size * speed / share,
        _LENGTH: size ** (1 / 3),
        _CLEARANCE: size ** (2 / 3),
        _VOLUME: size,
        _INERTANCE: share / size ** (1 / 3),
        MECHANICAL_POWER_AT_LIMIT.scaling: mechanical_size(blower_displacement, speed_limit),
    }


def _typical_geometry(
    kind: str, blower_displacement: float, speed_limit: float, internal_volume_ratio: float
) -> ChamberGeometry:
    defaults = {default.word: default for default in CHAMBER_DEFAULTS[kind]}
    chambers, reach = int(defaults.pop("chambers_per_turn").value), int(defaults.pop("sealing_pitches").value)
    scales = scales_of_size(blower_displacement, speed_limit, chambers)
    return ChamberGeometry(
        blower_displacement=blower_displacement,
        speed_limit=speed_limit,
        internal_volume_ratio=internal_volume_ratio,
        chambers_per_turn=chambers,
        sealing_pitches=reach,
        **{word: default.value * scales[default.scaling] for word, default in defaults.items()},
    )


def typical_roots_geometry(blower_displacement: float, speed_limit: float) -> ChamberGeometry:
    """A roots-type blower of which only size and speed limit are known; the rest are `CHAMBER_DEFAULTS`."""
    return _typical_geometry("roots", blower_displacement, speed_limit, 1.0)


def typical_screw_geometry(
    blower_displacement: float, speed_limit: float, internal_volume_ratio: float
) -> ChamberGeometry:
    """A twin-screw blower of which size, speed limit and built-in volume ratio are known; the rest are assumed."""
    return _typical_geometry("screw", blower_displacement, speed_limit, internal_volume_ratio)

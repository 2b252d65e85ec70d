"""Units at the edge: every spelling we read, what it is in SI, and how a person wants it printed.

The table below is the whole truth. Inside, speed is turns per second [1/s], temperature [K], pressure absolute [Pa].
Gauge pressure is another type than absolute pressure; only a barometer joins them.
"""

import difflib
import math
import re
import sys
import unicodedata
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import BoostwrightError, Fault

Reference = Literal["none", "absolute", "gauge", "unsaid"]
System = Literal["metric", "us"]


class UnitError(BoostwrightError):
    """A quantity or a unit that cannot be understood; whoever knows the place adds it to the fault."""

    def __init__(self, value: str, problem: str, remedy: str) -> None:
        self.fault = Fault(value=value, problem=problem, remedy=remedy)
        super().__init__(str(self.fault))


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One unit: the value in SI is `scale * value + offset`; a pressure unit also says against what it reads."""

    symbol: str
    dimension: str
    scale: float
    offset: float = 0.0
    reference: Reference = "none"

    def to_si(self, values: ArrayLike) -> NDArray[np.float64]:
        """Return the values in SI; a gauge pressure stays gauge."""
        with np.errstate(over="ignore"):  # whoever asked refuses what is infinite
            return np.asarray(values, dtype=np.float64) * self.scale + self.offset

    def from_si(self, values: ArrayLike) -> NDArray[np.float64]:
        """Return values in SI as numbers of this unit."""
        return (np.asarray(values, dtype=np.float64) - self.offset) / self.scale


@dataclass(frozen=True, kw_only=True)
class AbsolutePressure:
    """Pressure above vacuum. [Pa]"""

    values: NDArray[np.float64]

    def gauge(self, barometer: float) -> "GaugePressure":
        """Return what a gauge reads where the surroundings are at `barometer`. [Pa]"""
        return GaugePressure(values=self.values - barometer)


@dataclass(frozen=True, kw_only=True)
class GaugePressure:
    """Pressure above the surroundings. [Pa]"""

    values: NDArray[np.float64]

    def absolute(self, barometer: float) -> AbsolutePressure:
        """Return the pressure above vacuum where the surroundings are at `barometer`. [Pa]"""
        return AbsolutePressure(values=self.values + barometer)


# Exact by definition, except where said.
_POUND, _FOOT, _INCH, _GRAVITY = 0.45359237, 0.3048, 0.0254, 9.80665  # kg, m, m, m/s2
_POUND_FORCE = _POUND * _GRAVITY
_HORSEPOWER = 550 * _FOOT * _POUND_FORCE
_METRIC_HORSEPOWER = 75 * _GRAVITY
_MM_MERCURY = 13.5951 * _GRAVITY  # conventional; the inch of mercury at 60 degF, 3376.85 Pa, is another unit
_GALLON = 231 * _INCH**3  # US liquid
_BTU = 1055.05585262  # international table
_DEGREE_F = 5 / 9  # K

# dimension: (symbol, scale, spellings). Spaces, `*`, `.`, `-`, `^` and brackets in a spelling carry no meaning.
_TABLE: dict[str, tuple[tuple[str, float, str], ...]] = {
    "time": (
        ("s", 1.0, "s, sec, secs, second, seconds"),
        ("ms", 1e-3, "ms, msec, millisecond, milliseconds"),
        ("us", 1e-6, "us, μs, usec, microseconds"),
        ("min", 60.0, "min, mins, minute, minutes"),
        ("h", 3600.0, "h, hr, hrs, hour, hours"),
    ),
    "speed": (
        ("1/s", 1.0, "1/s, s^-1, rev/s, rps, r/s, Hz"),
        ("rpm", 1 / 60, "rpm, 1/min, min^-1, /min, rev/min, revs/min, r/min, U/min, tr/min, rev per min"),
        ("rad/s", 1 / math.tau, "rad/s, rad/sec"),
    ),
    "sweep_rate": (("1/s^2", 1.0, "1/s^2, s^-2"), ("rpm/s", 1 / 60, "rpm/s, rpm/sec, 1/min/s")),
    "torque": (
        ("N*m", 1.0, "N*m, Newton metre, Newton meter, Newton metres, Newton meters"),
        ("daN*m", 10.0, "daN*m"),
        ("kN*m", 1e3, "kN*m"),
        ("kgf*m", _GRAVITY, "kgf*m, kp*m, m*kgf"),
        (
            "lb-ft",
            _POUND_FORCE * _FOOT,
            "lb-ft, ft-lb, lbs-ft, ft-lbs, lbf-ft, ft-lbf, lbf-foot, foot-pounds, pound-feet",
        ),
        ("lb-in", _POUND_FORCE * _INCH, "lb-in, in-lb, lbf-in, in-lbf, lbs-in, in-lbs"),
    ),
    "power": (
        ("W", 1.0, "W, watt, watts"),
        ("kW", 1e3, "kW, kilowatt, kilowatts"),
        ("MW", 1e6, "MW"),
        ("hp", _HORSEPOWER, "hp, bhp, whp, horsepower, hp(I), hp mech, hp mechanical"),
        ("PS", _METRIC_HORSEPOWER, "PS, cv, ch, pk, metric hp, hp(M), hp metric"),
        ("Btu/h", _BTU / 3600, "Btu/h, Btu/hr"),
    ),
    "pressure": (  # each also with "abs" or "a", "gauge" or "g", "vacuum" behind it
        ("Pa", 1.0, "Pa, N/m^2"),
        ("hPa", 1e2, "hPa"),
        ("mbar", 1e2, "mbar, millibar"),
        ("kPa", 1e3, "kPa, kN/m^2"),
        ("MPa", 1e6, "MPa"),
        ("bar", 1e5, "bar"),
        ("atm", 101325.0, "atm"),
        ("psi", _POUND_FORCE / _INCH**2, "psi, lb/in^2, lbf/in^2, lbs/in^2"),
        ("mmHg", _MM_MERCURY, "mmHg, Torr, mm Hg"),
        ("inHg", 25.4 * _MM_MERCURY, "inHg, in Hg, inches Hg, \"Hg, ''Hg"),
        ("mmH2O", _GRAVITY, "mmH2O, mmWC"),
        ("inH2O", 25.4 * _GRAVITY, "inH2O, inWC, in water, inches H2O, \"H2O, ''H2O"),
        ("kgf/cm^2", _GRAVITY * 1e4, "kgf/cm^2, kg/cm^2, kp/cm^2"),
    ),
    "temperature": (
        ("degC", 1.0, "degC, °C, C, deg Celsius, Celsius, degree C, degrees C"),
        ("degF", _DEGREE_F, "degF, °F, F, deg Fahrenheit, Fahrenheit, degree F, degrees F"),
        ("K", 1.0, "K, kelvin, degK"),
        ("degR", _DEGREE_F, "degR, °R, R, Rankine"),
    ),
    "mass_flow": (
        ("kg/s", 1.0, "kg/s, kg/sec"),
        ("g/s", 1e-3, "g/s, g/sec, gm/s"),
        ("mg/s", 1e-6, "mg/s"),
        ("kg/min", 1 / 60, "kg/min"),
        ("g/min", 1e-3 / 60, "g/min"),
        ("kg/h", 1 / 3600, "kg/h, kg/hr, kg/hour"),
        ("g/h", 1e-3 / 3600, "g/h, g/hr"),
        ("lb/s", _POUND, "lb/s, lbm/s"),
        ("lb/min", _POUND / 60, "lb/min, lbm/min, lbs/min"),
        ("lb/h", _POUND / 3600, "lb/h, lb/hr, lbs/h, lbs/hr, lbm/h, lbm/hr, pph"),
    ),
    "volume_flow": (
        ("m^3/s", 1.0, "m^3/s"),
        ("m^3/min", 1 / 60, "m^3/min"),
        ("m^3/h", 1 / 3600, "m^3/h, m^3/hr"),
        ("L/s", 1e-3, "L/s"),
        ("L/min", 1e-3 / 60, "L/min, lpm"),
        ("L/h", 1e-3 / 3600, "L/h, L/hr, lph"),
        ("cc/min", 1e-6 / 60, "cc/min, cm^3/min, mL/min"),
        ("cfm", _FOOT**3 / 60, "cfm, ft^3/min, cu ft/min, acfm"),
        ("gal/h", _GALLON / 3600, "gal/h, gal/hr, gph, US gal/h"),
        ("gal/min", _GALLON / 60, "gal/min, gpm, US gal/min"),
    ),
    "mass": (
        ("kg", 1.0, "kg"),
        ("g", 1e-3, "g, gram, grams"),
        ("mg", 1e-6, "mg"),
        ("lb", _POUND, "lb, lbs, lbm, pound, pounds"),
    ),
    "length": (
        ("m", 1.0, "m, metre, meter"),
        ("cm", 1e-2, "cm"),
        ("mm", 1e-3, "mm, millimetre, millimeter"),
        ("um", 1e-6, "um, μm, micron, microns"),
        ("km", 1e3, "km"),
        ("in", _INCH, "in, inch, inches, \", ''"),
        ("ft", _FOOT, "ft, foot, feet"),
    ),
    "area": (
        ("m^2", 1.0, "m^2, sq m"),
        ("cm^2", 1e-4, "cm^2, sq cm"),
        ("mm^2", 1e-6, "mm^2, sq mm"),
        ("in^2", _INCH**2, "in^2, sq in"),
        ("ft^2", _FOOT**2, "ft^2, sq ft"),
    ),
    "volume": (  # a displacement is a volume per turn; "1.6 L/rev" says no more than "1.6 L"
        ("m^3", 1.0, "m^3"),
        ("L", 1e-3, "L, l, litre, liter, litres, liters, dm^3, L/rev, litre/rev, liter/rev"),
        ("cc", 1e-6, "cc, cm^3, ccm, mL, cc/rev, cm^3/rev"),
        ("mm^3", 1e-9, "mm^3"),
        ("in^3", _INCH**3, "in^3, cu in, cubic inch, cubic inches, cid, in^3/rev, cu in/rev"),
        ("ft^3", _FOOT**3, "ft^3, cu ft"),
        ("gal", _GALLON, "gal, US gal, gallon, gallons"),
    ),
    "velocity": (
        ("m/s", 1.0, "m/s"),
        ("km/h", 1 / 3.6, "km/h, kph, kmh"),
        ("mph", 5280 * _FOOT / 3600, "mph, mi/h"),
        ("ft/s", _FOOT, "ft/s, fps"),
        ("ft/min", _FOOT / 60, "ft/min, fpm"),
    ),
    "force": (
        ("N", 1.0, "N, newton, newtons"),
        ("kN", 1e3, "kN"),
        ("lbf", _POUND_FORCE, "lbf, pound-force"),
        ("kgf", _GRAVITY, "kgf, kp"),
    ),
    "inertia": (
        ("kg*m^2", 1.0, "kg*m^2"),
        ("kg*cm^2", 1e-4, "kg*cm^2"),
        ("g*m^2", 1e-3, "g*m^2"),
        ("lb*ft^2", _POUND * _FOOT**2, "lb*ft^2, lbm*ft^2"),
        ("lb*in^2", _POUND * _INCH**2, "lb*in^2, lbm*in^2"),
        ("slug*ft^2", _POUND_FORCE * _FOOT, "slug*ft^2, lbf*ft*s^2"),
    ),
    "angle": (
        ("rad", 1.0, "rad, radian, radians"),
        ("deg", math.pi / 180, "deg, °, degree, degrees, degCA, °CA, deg crank, deg BTDC, °BTDC, deg adv, °KW"),
    ),
    "energy": (
        ("J", 1.0, "J, joule, joules"),
        ("kJ", 1e3, "kJ"),
        ("MJ", 1e6, "MJ"),
        ("kWh", 3.6e6, "kWh, kW*h"),
        ("Btu", _BTU, "Btu"),
    ),
    "specific_energy": (
        ("J/kg", 1.0, "J/kg"),
        ("kJ/kg", 1e3, "kJ/kg"),
        ("MJ/kg", 1e6, "MJ/kg"),
        ("Btu/lb", _BTU / _POUND, "Btu/lb, Btu/lbm"),
    ),
    "specific_fuel_consumption": (
        ("kg/J", 1.0, "kg/J"),
        ("g/kWh", 1e-3 / 3.6e6, "g/kWh, g/kW*h, g/(kW*h)"),
        ("kg/kWh", 1 / 3.6e6, "kg/kWh, kg/kW*h"),
        ("lb/hp-h", _POUND / (_HORSEPOWER * 3600), "lb/hp-h, lb/hp/h, lb/hp-hr, lb/hp/hr, lb/bhp-hr"),
    ),
    "density": (
        ("kg/m^3", 1.0, "kg/m^3"),
        ("g/cm^3", 1e3, "g/cm^3, g/cc, kg/L, g/mL, kg/dm^3"),
        ("lb/ft^3", _POUND / _FOOT**3, "lb/ft^3"),
    ),
    "stiffness": (
        ("N/m", 1.0, "N/m"),
        ("kN/m", 1e3, "kN/m"),
        ("N/mm", 1e3, "N/mm"),
        ("lbf/in", _POUND_FORCE / _INCH, "lbf/in, lb/in"),
    ),
    "conductance": (("W/K", 1.0, "W/K"), ("kW/K", 1e3, "kW/K")),
    "inertance": (("1/m", 1.0, "1/m, m^-1"), ("1/mm", 1e3, "1/mm, mm^-1"), ("1/cm", 1e2, "1/cm, cm^-1")),
    "fraction": (
        ("-", 1.0, "-, 1, ratio, lambda, λ, lam, phi, :1, kg/kg, frac, fraction"),
        ("%", 1e-2, "%, percent, pct, per cent, %RH, RH%"),
        ("g/kg", 1e-3, "g/kg"),
    ),
}
_OFFSETS = {"degC": 273.15, "degF": 459.67 * _DEGREE_F}
_REFERENCES: tuple[tuple[str, Reference, float], ...] = (  # what may stand behind a pressure unit, longest first
    ("absolute", "absolute", 1.0),
    ("vacuum", "gauge", -1.0),
    ("gauge", "gauge", 1.0),
    ("gage", "gauge", 1.0),
    ("abs", "absolute", 1.0),
    ("vac", "gauge", -1.0),
    ("rel", "gauge", 1.0),
    ("a", "absolute", 1.0),
    ("g", "gauge", 1.0),
)
_STANDARD_STATE = ("is a flow at a standard state that the unit does not name", 'write it in "kg/s" or "lb/min"')
_AIR_FUEL_RATIO = ("depends on the fuel", 'write "AFR/14.7" with the stoichiometric ratio that the logger was set to')
_TRAPS = {"scfm": _STANDARD_STATE, "slpm": _STANDARD_STATE, "afr": _AIR_FUEL_RATIO, "a/f": _AIR_FUEL_RATIO}
_EXACT_CASE = ("MPa", "MW", "MJ", "MJ/kg")  # mPa is not MPa
_DISPLAY: dict[str, tuple[str, str]] = {  # dimension: metric, us
    "time": ("s", "s"),
    "speed": ("rpm", "rpm"),
    "sweep_rate": ("rpm/s", "rpm/s"),
    "torque": ("N*m", "lb-ft"),
    "power": ("kW", "hp"),
    "pressure": ("kPa", "psi"),
    "temperature": ("degC", "degF"),
    "mass_flow": ("kg/s", "lb/min"),
    "volume_flow": ("L/min", "cfm"),
    "mass": ("kg", "lb"),
    "length": ("mm", "in"),
    "area": ("cm^2", "in^2"),
    "volume": ("L", "in^3"),
    "velocity": ("m/s", "ft/s"),
    "force": ("N", "lbf"),
    "inertia": ("kg*m^2", "lb*ft^2"),
    "angle": ("deg", "deg"),
    "energy": ("kJ", "Btu"),
    "specific_energy": ("MJ/kg", "Btu/lb"),
    "specific_fuel_consumption": ("g/kWh", "lb/hp-h"),
    "density": ("kg/m^3", "lb/ft^3"),
    "stiffness": ("N/mm", "lbf/in"),
    "conductance": ("W/K", "W/K"),
    "inertance": ("1/m", "1/m"),
    "fraction": ("-", "-"),
}
# What may be asked for beside the dimensions of the table, as (dimension of its unit, references that suit).
_WANTED: dict[str, tuple[str, tuple[Reference, ...]]] = {
    "pressure": ("pressure", ("absolute", "unsaid")),
    "gauge_pressure": ("pressure", ("gauge", "unsaid")),
    "pressure_difference": ("pressure", ("unsaid",)),
    "temperature_difference": ("temperature", ("none",)),
}
_PRINTED = {
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "N*m": "N·m",
    "kg*m^2": "kg·m²",
    "cm^2": "cm²",
    "in^2": "in²",
    "in^3": "in³",
    "kg/m^3": "kg/m³",
    "-": "",
}
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)


def _key(spelling: str) -> str:
    """Return the letters of a spelling that carry meaning: `N*m`, `N m`, `N-m` and `Nm` are one."""
    text = re.sub("[º˚]", "°", spelling).replace("″", '"')  # before NFKC, which makes an "o" of the ordinal sign
    text = unicodedata.normalize("NFKC", text).strip().replace("°", "deg")
    return re.sub(r"[\s*·⋅×.\-−^()\[\]_]", "", text) or text


def _units() -> dict[str, Unit]:
    found: dict[str, Unit] = {}
    for dimension, rows in _TABLE.items():
        reference: Reference = "unsaid" if dimension == "pressure" else "none"
        for symbol, scale, spellings in rows:
            offset = _OFFSETS.get(symbol, 0.0)
            unit = Unit(symbol=symbol, dimension=dimension, scale=scale, offset=offset, reference=reference)
            for key in map(_key, spellings.split(", ")):
                if found.setdefault(key, unit) is not unit:
                    raise ValueError(f"{key} stands twice in the table of units")
    return found


_UNITS = _units()
_FOLDED = {key.casefold(): unit for key, unit in _UNITS.items() if unit.symbol not in _EXACT_CASE}


def _known(key: str) -> Unit | None:
    return _UNITS.get(key) or _FOLDED.get(key.casefold())


def _pressure_with_reference(key: str) -> Unit | None:
    for ending, reference, sign in _REFERENCES:
        unit = _known(key[: -len(ending)]) if key.casefold().endswith(ending) else None
        if unit is not None and unit.dimension == "pressure":
            said = "abs" if reference == "absolute" else "gauge"
            return replace(unit, symbol=f"{unit.symbol} {said}", scale=sign * unit.scale, reference=reference)
    return None


def _air_fuel_ratio(text: str) -> Unit | None:
    said = re.fullmatch(r"(?:afr|a/f)[/:]?([1-9]\d*(?:\.\d+)?)", re.sub(r"\s", "", text).casefold())
    return Unit(symbol=f"AFR/{said[1]}", dimension="fraction", scale=1 / float(said[1])) if said else None


def _unknown(text: str) -> UnitError:
    key = _key(text)
    if trap := _TRAPS.get(key.casefold()):
        return UnitError(f'"{text}"', *trap)
    near = difflib.get_close_matches(key, _UNITS, n=4, cutoff=0.6)
    choices = list(dict.fromkeys(_UNITS[match].symbol for match in near))
    if choices:
        return UnitError(f'"{text}"', "is not a unit that we know", f"did you mean {' or '.join(choices)}?")
    return UnitError(f'"{text}"', "is not a unit that we know", 'write one such as "kW", "N*m", "kPa", "degC", "rpm"')


def find_unit(text: str) -> Unit | None:
    """Return the unit that a spelling means, or nothing if we do not know it."""
    key = _key(text)
    return _known(key) or _pressure_with_reference(key) or _air_fuel_ratio(text)


def parse_unit(text: str) -> Unit:
    """Return the unit that a spelling means.

    Raises
    ------
    UnitError
        If we do not know the spelling; the message names those that come near.
    """
    if unit := find_unit(text):
        return unit
    raise _unknown(text)


def parse_quantity(text: str | float, *, dimension: str) -> float:
    """Return a number with its unit, such as "4.2 L", in SI.

    `dimension` is one of the table, where "pressure" is absolute, or "gauge_pressure", "pressure_difference",
    "temperature_difference". Only a fraction may stand without a unit.

    Raises
    ------
    UnitError
        If number or unit are missing or not understood, or the unit is one of another dimension.
    """
    if isinstance(text, int | float):
        text = repr(float(text)) if abs(text) <= sys.float_info.max else str(text)
    parts = _NUMBER.fullmatch(text)
    if parts is None or not math.isfinite(float(parts[1])):
        raise UnitError(
            f'"{text}"', "is not a number with a unit", f'write one such as "4.2 {example_unit(dimension)}"'
        )
    number, spelling = parts[1], parts[2]
    if re.match(r",\d", spelling):
        raise UnitError(f'"{text}"', "has a comma in its number", "write a point for the decimals")
    value = float(suitable_unit(spelling, number, dimension).to_si(float(number)))
    if not math.isfinite(value):
        raise UnitError(f'"{text}"', "is larger than any number that we can hold", "correct it")
    return value


def suitable_unit(spelling: str, number: str, dimension: str) -> Unit:
    """Return the unit that a spelling means where `dimension` is wanted; `number` is only for the message."""
    base, references = _WANTED.get(dimension, (dimension, ("none",)))
    if base not in _TABLE:
        raise ValueError(f"no such dimension: {dimension}")
    said = f'"{number} {spelling}"' if spelling else number
    remedy = f'write one such as "{number} {example_unit(dimension)}"'
    if not spelling:
        if base == "fraction":
            return _UNITS["-"]
        raise UnitError(said, f"has no unit where {_words(dimension)} is wanted", remedy)
    unit = parse_unit(spelling)
    if unit.dimension != base:
        found = "a pressure" if unit.dimension == "pressure" else _words(unit.dimension)
        raise UnitError(said, f"is {found} where {_words(dimension)} is wanted", remedy)
    if unit.reference not in references:
        raise _wrong_reference(unit, dimension, said)
    return replace(unit, offset=0.0) if dimension == "temperature_difference" else unit


def _wrong_reference(unit: Unit, dimension: str, said: str) -> UnitError:
    remedy = {
        "pressure": "add the barometer and give the absolute pressure",
        "gauge_pressure": "take the barometer off and give the gauge pressure",
        "pressure_difference": 'give the difference itself, without "abs" or "gauge"',
    }[dimension]
    found = "a gauge" if unit.reference == "gauge" else "an absolute"
    return UnitError(said, f"is {found} pressure where {_words(dimension)} is wanted", remedy)


def _words(dimension: str) -> str:
    words = "absolute pressure" if dimension == "pressure" else dimension.replace("_", " ")
    return f"{'an' if words[0] in 'aei' else 'a'} {words}"


def example_unit(dimension: str) -> str:
    """Return the symbol of a unit that a person would write for a dimension."""
    if dimension in ("fraction", "temperature_difference"):
        return "%" if dimension == "fraction" else "K"
    return display_unit(dimension, "metric").symbol


def display_unit(dimension: str, system: System) -> Unit:
    """Return the unit in which a reader of the metric or US trade wants a dimension printed."""
    base, _ = _WANTED.get(dimension, (dimension, ()))
    metric, us = _DISPLAY[base]
    unit = parse_unit(metric if system == "metric" else us)
    return replace(unit, offset=0.0) if dimension == "temperature_difference" else unit


def printed_symbol(unit: Unit) -> str:
    """Return a unit's symbol as it is printed in a report."""
    return _PRINTED.get(unit.symbol, unit.symbol)


def format_quantity(value: float, *, dimension: str, system: System = "metric", decimals: int = 1) -> str:
    """Return an SI value as a person of the metric or US trade reads it: `312.4 kW`, `418.9 hp`."""
    unit = display_unit(dimension, system)
    return f"{float(unit.from_si(value)):.{decimals}f} {printed_symbol(unit)}".rstrip()

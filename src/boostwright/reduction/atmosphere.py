"""Rules that restate brake power at a reference atmosphere, and how far each may be trusted.

The air that counts is the air ahead of the blower inlet, which all setups share: barometer, air temperature and
humidity of the pull's weather. A heat-soaked inlet temperature never enters here, else soak would be corrected twice.
The forms for compression-ignition engines are left out: this tool serves blowers on spark-ignition engines.
"""

from dataclasses import dataclass, replace
from difflib import get_close_matches

from boostwright.errors import DataError, Fault
from boostwright.physics.moist_air import ICE_POINT, dry_pressure, vapour_pressure
from boostwright.records.pull import Weather

_UNLIMITED = (-float("inf"), float("inf"))
_ROUNDING = 1e-6  # Pa, K or 1: 95 degF is 35 degC


@dataclass(frozen=True, kw_only=True)
class CorrectionRule:
    """A published rule: what it multiplies brake power by, and where that is permitted.

    The factor is (1 + f) R - f, with R = (reference pressure / p)**a (T / reference temperature)**b; p is the total
    pressure where the rule counts the vapour, else that of the dry air. The friction share f is the part of brake power
    that friction takes whatever the weather; rules without one have f = 0.
    """

    name: str
    counts_vapour: bool
    reference_pressure: float
    reference_temperature: float
    pressure_exponent: float
    temperature_exponent: float
    friction_share: float = 0.0
    permitted_pressure: tuple[float, float] = _UNLIMITED
    permitted_temperature: tuple[float, float] = _UNLIMITED
    permitted_factor: tuple[float, float] = _UNLIMITED
    source: str


@dataclass(frozen=True, kw_only=True)
class PowerCorrection:
    """A rule applied to one weather: its factor, and in words whatever lies outside the rule's permitted range."""

    correction_rule: str
    correction_factor: float
    outside_range: tuple[str, ...]


NO_CORRECTION = CorrectionRule(
    name="none",
    counts_vapour=True,
    reference_pressure=101_325.0,
    reference_temperature=288.15,
    pressure_exponent=0.0,
    temperature_exponent=0.0,
    source="power as the stand measured it",
)

_J1349 = CorrectionRule(
    name="sae-j1349",
    counts_vapour=False,
    reference_pressure=99e3,
    reference_temperature=298.15,
    pressure_exponent=1.0,
    temperature_exponent=0.5,
    friction_share=0.176,
    permitted_pressure=(90e3, 105e3),
    permitted_temperature=(288.15, 308.15),
    source="SAE J1349, August 2004: coefficients from memory, range from secondary sources",
)

_ISO_1585 = CorrectionRule(
    name="iso-1585",
    counts_vapour=False,
    reference_pressure=99e3,
    reference_temperature=298.15,
    pressure_exponent=1.2,
    temperature_exponent=0.6,
    permitted_factor=(0.93, 1.07),
    source="ISO 1585, spark ignition: form as quoted by Mathur and Sharma, ch. 27; range from memory",
)

_RULES = (
    NO_CORRECTION,
    _J1349,
    replace(
        _J1349,
        name="sae-j1349-jun90",
        friction_share=0.180,
        source="SAE J1349, June 1990: coefficients and range from secondary sources",
    ),
    _ISO_1585,
    replace(
        _ISO_1585,
        name="jis-d1001",
        source="JIS D 1001: reference state from secondary sources; form and range, as ISO 1585, from memory",
    ),
    CorrectionRule(
        name="din-70020",
        counts_vapour=True,
        reference_pressure=101.3e3,
        reference_temperature=293.15,
        pressure_exponent=1.0,
        temperature_exponent=0.5,
        source="DIN 70020: form from secondary sources; no permitted range known",
    ),
    CorrectionRule(
        name="sae-j607",
        counts_vapour=False,
        reference_pressure=29.92 * 3386.389,  # conventional inches of mercury
        reference_temperature=(60 + 459.67) / 1.8,  # 60 degF
        pressure_exponent=1.0,
        temperature_exponent=0.5,
        source="the older 60 degF rule, dry: form from secondary sources; no permitted range known",
    ),
)

CORRECTION_RULES: dict[str, CorrectionRule] = {rule.name: rule for rule in _RULES}
"""Every rule by the name that a campaign gives it."""


def correction_rule(name: str) -> CorrectionRule:
    """The rule that a campaign names."""
    if name in CORRECTION_RULES:
        return CORRECTION_RULES[name]
    choices = get_close_matches(name, CORRECTION_RULES, n=1) or list(CORRECTION_RULES)
    fault = Fault(
        key="correction", value=f'"{name}"', problem="is not a correction rule", remedy=f"write {' or '.join(choices)}"
    )
    raise DataError(str(fault))


def power_correction(rule: CorrectionRule, weather: Weather) -> PowerCorrection:
    """What the rule multiplies power and torque by in this weather, and whether it may."""
    T = weather.air_temperature
    pw = float(vapour_pressure(T, weather.relative_humidity))
    p = weather.barometer if rule.counts_vapour else float(dry_pressure(weather.barometer, pw))
    factor = correction_factor(rule, p, T)
    checks = (
        ("air pressure" if rule.counts_vapour else "dry-air pressure", p, rule.permitted_pressure, _kilopascals),
        ("air temperature", T, rule.permitted_temperature, _celsius),
        ("correction factor", factor, rule.permitted_factor, _plain),
    )
    outside = tuple(
        f"{what} {said(value)} is outside the {said(low)} to {said(high)} that {rule.name} permits"
        for what, value, (low, high), said in checks
        if not low - _ROUNDING <= value <= high + _ROUNDING
    )
    return PowerCorrection(correction_rule=rule.name, correction_factor=factor, outside_range=outside)


def correction_factor(rule: CorrectionRule, pressure: float, temperature: float) -> float:
    """The rule's factor at the pressure it counts [Pa] and the air temperature [K]; 1 at its reference.

    The rules are printed with degC + 273; the true ice point used here changes a factor by less than 0.00005.
    """
    ratio = (rule.reference_pressure / pressure) ** rule.pressure_exponent
    ratio *= (temperature / rule.reference_temperature) ** rule.temperature_exponent
    return (1 + rule.friction_share) * ratio - rule.friction_share


def _kilopascals(pressure: float) -> str:
    return f"{pressure / 1e3:.1f} kPa"


def _celsius(temperature: float) -> str:
    return f"{temperature - ICE_POINT:.1f} degC"


def _plain(factor: float) -> str:
    return f"{factor:.3f}"

"""The words of this project: one word per thing, with its unit and its meaning.

A public parameter or field in physics, reduction, machine, inference or studies must stand here (a test sees to it).
Quantities are in SI base units with absolute pressures; speeds are turns per second, because displacement is per turn.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Word:
    """One word of the trade: its unit ("-" where it has none), its meaning, and the symbol an equation uses for it."""

    name: str
    unit: str
    meaning: str
    symbol: str = ""


# Quantities: (name, unit, meaning, symbol). Each room adds its lines to its own block, in alphabetical order.

_LOGGED = (  # what a log may carry; these names are the quantities of a campaign
    ("air_mass_flow", "kg/s", "mass flow of moist air into the engine", "m"),
    ("air_temperature", "K", "temperature of the air ahead of the inlet", "T0"),
    ("blower_inlet_pressure", "Pa", "absolute pressure at the blower inlet, behind throttle and elbow", "p1"),
    ("blower_outlet_temperature", "K", "gas temperature at the blower outlet", "T2"),
    ("charge_temperature", "K", "gas temperature after the charge cooler", "T3"),
    ("coolant_temperature", "K", "temperature of the coolant that enters the charge cooler", "Tc"),
    ("engine_speed", "1/s", "crankshaft speed", "N"),
    ("excess_air_ratio", "-", "air-fuel ratio over its stoichiometric value", "lambda"),
    ("fuel_mass_flow", "kg/s", "mass flow of fuel", ""),
    ("ignition_advance", "rad", "crank angle of the spark before top dead centre", ""),
    ("manifold_pressure", "Pa", "absolute pressure in the intake manifold", "p3"),
    ("power", "W", "brake power at the crank or at the roller, as the stand reports it", "P"),
    ("rotor_speed", "1/s", "speed of the blower's driving rotor", "Nb"),
    ("throttle_position", "-", "opening of the throttle, 0 closed to 1 open", ""),
    ("time", "s", "time since the log began", "t"),
    ("torque", "N*m", "brake torque", "T"),
)

_PHYSICS: tuple[tuple[str, str, str, str], ...] = ()

_REDUCTION: tuple[tuple[str, str, str, str], ...] = ()

_MACHINE: tuple[tuple[str, str, str, str], ...] = ()

_INFERENCE: tuple[tuple[str, str, str, str], ...] = ()

_STUDIES: tuple[tuple[str, str, str, str], ...] = ()

# Nouns: things rather than quantities, (name, meaning).

_NOUNS: tuple[tuple[str, str], ...] = (
    ("campaign", "a question, its setups and its pulls, in one folder"),
    ("generator", "source of random numbers, always an argument"),
)

WORDS: dict[str, Word] = {
    name: Word(name=name, unit=unit, meaning=meaning, symbol=symbol)
    for block in (_LOGGED, _PHYSICS, _REDUCTION, _MACHINE, _INFERENCE, _STUDIES)
    for name, unit, meaning, symbol in block
} | {name: Word(name=name, unit="-", meaning=meaning) for name, meaning in _NOUNS}

LOGGED_QUANTITIES: tuple[str, ...] = tuple(name for name, *_ in _LOGGED)

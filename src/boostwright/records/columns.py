"""What a column of a log means: one table from the words in its header to a quantity, and the unit it is logged in.

What a header does not say plainly is refused with the ways to say it, never guessed.
"""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from boostwright.errors import Fault
from boostwright.nomenclature import LOGGED_QUANTITIES, WORDS
from boostwright.units import Reference, Unit, UnitError, example_unit, find_unit, parse_unit

IGNORE = "ignore"
BOOST = "boost"  # logged as gauge pressure; becomes manifold_pressure with the pull's barometer
QUANTITIES = (*LOGGED_QUANTITIES, BOOST)

# quantity: the words that mean it, beside its own name. Case, spaces, hyphens, points and underscores carry no meaning.
_HEADERS = {
    "air_mass_flow": "mass air flow, MAF, air flow, inlet air flow, engine air flow",
    "air_temperature": "air temp, ambient temperature, ambient temp, ambient air temperature, ambient air temp, "
    "inlet air temperature, inlet air temp, T0",
    "blower_inlet_pressure": "blower inlet, supercharger inlet pressure, SC inlet pressure, p1",
    "blower_outlet_temperature": "blower outlet temp, blower outlet, blower discharge temperature, "
    "blower discharge temp, discharge temperature, discharge temp, supercharger outlet temperature, SC outlet temp, T2",
    "boost": "boost pressure, boost gauge, manifold gauge pressure",
    "charge_temperature": "charge temp, charge air temperature, charge air temp, manifold temperature, manifold temp, "
    "manifold air temperature, manifold air temp, T3",
    "coolant_temperature": "cooler water temperature, cooler water temp, cooler coolant temperature, "
    "cooler coolant temp, intercooler water temperature, intercooler water temp",
    "engine_speed": "engine spd, eng speed, eng spd, engine rpm, eng rpm, crank speed, crankshaft speed, crank rpm, "
    "Drehzahl, Motordrehzahl",
    "excess_air_ratio": "lambda, λ, lambda 1, AFR, air fuel ratio, A/F ratio",
    "fuel_mass_flow": "fuel flow, fuel rate, fuel mass rate",
    "ignition_advance": "ignition timing, ign advance, ign timing, spark advance, spark timing, timing advance",
    "manifold_pressure": "MAP, manifold abs pressure, manifold absolute pressure, manifold press, "
    "intake manifold pressure, p3",
    "power": "engine power, brake power, crank power, wheel power, pwr, Leistung",
    "rotor_speed": "rotor rpm, blower speed, blower rpm, supercharger speed, supercharger rpm, SC speed, SC rpm",
    "throttle_position": "throttle, throttle pos, TPS, throttle opening",
    "time": "t, elapsed, elapsed time, run time, log time, time stamp, Zeit",
    "torque": "engine torque, brake torque, crank torque, torq, trq, tq, Drehmoment",
}
# Words that mean a quantity only if the unit behind them is one of its own: `Speed [km/h]` is the road's.
_ONLY_WITH_ITS_UNIT = {"speed": "engine_speed", "n": "engine_speed", "load": "torque"}
# Headers that are nothing but a unit.
_UNIT_ALONE = {"speed": "engine_speed", "torque": "torque", "power": "power"}
# What the word says about a pressure whose unit says nothing.
_WORD_SAYS: dict[str, Reference] = {
    "map": "absolute",
    "manifoldabspressure": "absolute",
    "manifoldabsolutepressure": "absolute",
    "boost": "gauge",
    "boostpressure": "gauge",
    "boostgauge": "gauge",
    "manifoldgaugepressure": "gauge",
}
# With these units `MAP` is as often boost as absolute pressure.
_EITHER_REFERENCE = ("psi", "bar", "inHg", "mmHg", "inH2O", "mmH2O", "kgf/cm^2", "atm")
# One name, two places in the engine.
_AMBIGUOUS = {
    "iat": ("charge_temperature", "air_temperature"),
    "intakeairtemperature": ("charge_temperature", "air_temperature"),
    "intakeairtemp": ("charge_temperature", "air_temperature"),
    "intaketemperature": ("charge_temperature", "air_temperature"),
    "intaketemp": ("charge_temperature", "air_temperature"),
    "boostabsolute": ("manifold_pressure", "boost"),
}
_CORRECTED = re.compile(r"corr|\bsae\b|\bstd\b|\bstp\b|\bdin\b|\bjis\b|\biso\b", re.IGNORECASE)
_AIR_FUEL_RATIO = ("afr", "airfuelratio", "a/fratio")  # needs the stoichiometric ratio that the logger took


@dataclass(frozen=True, kw_only=True)
class ColumnRule:
    """What a person says about a column: its quantity, its unit, or both; what is `None` the header must say."""

    header: str
    quantity: str | None = None
    unit: Unit | None = None


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column that was understood: where it stands, what it is, how its numbers become SI, by which rule."""

    position: int
    header: str
    quantity: str
    unit: Unit
    rule: ColumnRule | None = None

    @property
    def conversion(self) -> str:
        """How a logged number becomes one in SI, in words."""
        si = "Pa" if self.quantity == BOOST else WORDS[self.quantity].unit
        scale, offset = self.unit.scale, self.unit.offset
        terms = ["value" if scale == 1 else f"value / {1 / scale:.10g}" if 0 < scale < 1 else f"{scale:.10g} × value"]
        terms += [f"{offset:.10g}"] if offset else []
        terms += ["barometer"] if self.unit.reference == "gauge" else []
        return f"{' + '.join(terms)} [{si}]"


@dataclass(frozen=True, kw_only=True)
class IgnoredColumn:
    """A column that is left out, because a person said so or because nobody knows it."""

    header: str
    by_rule: bool

    @property
    def reason(self) -> str:
        """Why it is left out, in words."""
        return "you said so" if self.by_rule else _why_unknown(_split(self.header)[0])


@dataclass(frozen=True, kw_only=True)
class Understanding:
    """What the headers of a log say: the columns, those left out, and what is wrong."""

    columns: tuple[Column, ...]
    ignored: tuple[IgnoredColumn, ...]
    faults: tuple[Fault, ...]


class _Refused(Exception):
    """One column's fault, and the quantity that it might have been, on its way up."""

    def __init__(self, header: str, quantity: str, problem: str, remedy: str) -> None:
        self.quantity = quantity
        self.fault = Fault(column=header, problem=problem, remedy=remedy)
        super().__init__(problem)


_LONGEST_HEADER = 200  # characters: no logger writes more, and a cut is tried at every gap


def _key(words: str) -> str:
    return re.sub(r"[\s_.\-#]+", "", words).casefold()


_QUANTITY_OF = {
    key: quantity
    for quantity, words in _HEADERS.items()
    for key in (_key(quantity), *(_key(word) for word in words.split(", ")))
}


def parse_rule(header: str, said: str) -> ColumnRule:
    """Return the rule that a person wrote for a column, such as "torque [N*m]", "torque" or "ignore".

    Raises
    ------
    UnitError
        If quantity or unit are not known, or do not belong together.
    """
    parts = re.fullmatch(r"\s*(\w+)\s*(?:[\[(](.*)[\])])?\s*", said)
    name = parts[1] if parts else said.strip()
    if parts is None or name not in (*QUANTITIES, IGNORE):
        near = difflib.get_close_matches(name, (*QUANTITIES, IGNORE), n=3, cutoff=0.5)
        choices = f"did you mean {' or '.join(near)}?" if near else f"choose from {', '.join((*QUANTITIES, IGNORE))}"
        raise UnitError(f'"{said}"', "names no quantity that a log may carry", choices)
    if parts[2] is None or name == IGNORE:
        return ColumnRule(header=header, quantity=name)
    try:
        return ColumnRule(header=header, quantity=name, unit=_unit_for(header, name, parse_unit(parts[2]), _key(name)))
    except _Refused as refused:
        raise UnitError(f'"{said}"', refused.fault.problem, refused.fault.remedy) from refused


def understand_columns(headers: Sequence[str], units: Sequence[str], rules: Sequence[ColumnRule] = ()) -> Understanding:
    """Return what each header means; `units` is the row of units beneath, with blanks where it says nothing."""
    columns: list[Column] = []
    ignored: list[IgnoredColumn] = []
    refused: list[_Refused] = []
    for position, (header, unit) in enumerate(zip(headers, units, strict=True)):
        try:
            found = _understand(position, header, unit, _rule_for(header, rules))
        except _Refused as refusal:
            refused.append(refusal)
            continue
        if isinstance(found, Column):
            columns.append(found)
        else:
            ignored.append(found)
    faults = [refusal.fault for refusal in refused] + _told_twice(columns)
    if "engine_speed" not in [told.quantity for told in (*columns, *refused)]:
        faults.append(_no_engine_speed(headers))
    return Understanding(columns=tuple(columns), ignored=tuple(ignored), faults=tuple(faults))


def idle_rules(rules: Sequence[ColumnRule], headers: Sequence[str]) -> list[Fault]:
    """Return a fault for each rule that is about none of the headers of all the logs."""
    remedy = "write the header as the logs have it, or take it out"
    idle = [rule for rule in rules if not any(_applies(rule, header) for header in headers)]
    return [Fault(column=rule.header, problem="is the header of no column in any log", remedy=remedy) for rule in idle]


def _applies(rule: ColumnRule, header: str) -> bool:
    """Whether a rule names this header: the whole of it, or all but the unit."""
    name, _ = _split(header)
    return _key(rule.header) in (_key(header), _key(name))


def _rule_for(header: str, rules: Sequence[ColumnRule]) -> ColumnRule:
    rule = ColumnRule(header=header)
    for said in rules:  # a later rule adds to an earlier one: --unit to the campaign's [columns]
        if _applies(said, header):
            rule = replace(rule, quantity=said.quantity or rule.quantity, unit=said.unit or rule.unit)
    return rule


def _understand(position: int, header: str, units_row: str, rule: ColumnRule) -> Column | IgnoredColumn:
    name, unit_said = _split(header)
    quantity = rule.quantity or _quantity(header, name, unit_said or units_row)
    if quantity is None or quantity == IGNORE:
        return IgnoredColumn(header=header, by_rule=quantity == IGNORE)
    unit = rule.unit or _logged_unit(header, quantity, unit_said, units_row)
    unit = _unit_for(header, quantity, unit, _key(name) if rule.quantity is None else _key(quantity))
    if quantity == BOOST and unit.reference == "absolute":
        quantity = "manifold_pressure"
    told = None if rule == ColumnRule(header=header) else rule
    return Column(position=position, header=header, quantity=quantity, unit=unit, rule=told)


def _split(header: str) -> tuple[str, str]:
    """Return the words and the unit of a header: `Torque (lb-ft)`, `MAP [kPa]`, `power / kW`, `engine_speed_rpm`."""
    text = header.strip()
    if len(text) > _LONGEST_HEADER:
        return text, ""
    if bracket := re.fullmatch(r"(.*?)\s*[\[({]\s*(.*?)\s*[\])}]\s*", text, re.DOTALL):
        return bracket[1], bracket[2]
    if _key(text) in _QUANTITY_OF:
        return text, ""
    for cut in re.finditer(r"[\s_/,;:]+", text):
        words, unit = text[: cut.start()], text[cut.end() :]
        if _key(words) in _QUANTITY_OF and find_unit(unit):
            return words, unit
    return text, ""


def _quantity(header: str, name: str, unit: str) -> str | None:
    key = _key(name)
    if key in _AMBIGUOUS:
        raise _Refused(header, "", "may mean two things", _say(name, *_AMBIGUOUS[key], IGNORE))
    if key in _QUANTITY_OF:
        return _QUANTITY_OF[key]
    if key in _ONLY_WITH_ITS_UNIT:
        quantity, found = _ONLY_WITH_ITS_UNIT[key], find_unit(unit)
        return quantity if found and found.dimension == _dimension(quantity) else None
    alone = find_unit(unit if not name else header if name == header else "")
    return _UNIT_ALONE.get(alone.dimension) if alone else None


def _why_unknown(name: str) -> str:
    near = difflib.get_close_matches(_key(name), _QUANTITY_OF, n=1, cutoff=0.75)
    if _key(name) in _ONLY_WITH_ITS_UNIT:
        return "its unit is not one of engine speed or torque"
    if _CORRECTED.search(name):
        return "seems to be corrected already; the job corrects the observed torque or power itself, once"
    if near:
        return f"not known; if it is {_QUANTITY_OF[near[0]]}, say so under [columns] or with --column"
    return "not known"


def _logged_unit(header: str, quantity: str, said: str, units_row: str) -> Unit:
    text = said or re.sub(r"^[\[({]|[\])}]$", "", units_row.strip())
    if not text and _key(header) not in _QUANTITY_OF and find_unit(header):
        text = header
    if not text and _key(header).endswith("rpm"):  # Engine RPM: the name ends in its unit
        text = "rpm"
    if text:
        try:
            return parse_unit(text)
        except UnitError as wrong:
            problem = f"has a unit that we do not know, {wrong.fault.value}"
            raise _Refused(header, quantity, problem, wrong.fault.remedy) from wrong
    if quantity == "excess_air_ratio":
        return parse_unit("-")
    raise _Refused(header, quantity, "has no unit", f"write it in the header, or {_ways_to_say(header, quantity)}")


def _ways_to_say(header: str, quantity: str) -> str:
    if _dimension(quantity) == "pressure":
        units = "kPa abs", "kPa gauge"
    elif quantity == "throttle_position":
        units = "%", "-"
    else:
        units = (example_unit(_dimension(quantity)),)
    return _say(header, *(f"{quantity} [{unit}]" for unit in units))


def _say(header: str, *choices: str) -> str:
    return f'say under [columns] or with --column: "{header}" = ' + " or ".join(f'"{choice}"' for choice in choices)


def _dimension(quantity: str) -> str:
    return "pressure" if quantity == BOOST else parse_unit(WORDS[quantity].unit).dimension


def _unit_for(header: str, quantity: str, unit: Unit, word: str) -> Unit:
    """Return the unit with its reference settled, or refuse it."""
    if unit.dimension != _dimension(quantity):
        problem = f"is {quantity}, but its unit {unit.symbol} is one of {unit.dimension.replace('_', ' ')}"
        raise _Refused(header, quantity, problem, _ways_to_say(header, quantity) + f' or "{IGNORE}"')
    if word in _AIR_FUEL_RATIO and not unit.symbol.startswith("AFR/"):
        problem = "is an air-fuel ratio, and its stoichiometric value depends on the fuel"
        raise _Refused(header, quantity, problem, _say(header, f"{quantity} [AFR/14.7]") + ", with the logger's figure")
    if unit.reference != "unsaid":
        return unit
    reference = "gauge" if quantity == BOOST else _WORD_SAYS.get(word, "unsaid")
    if reference == "unsaid" or (reference == "absolute" and unit.symbol in _EITHER_REFERENCE):
        problem = f"does not say whether its {unit.symbol} is absolute or gauge"
        ways = f"{quantity} [{unit.symbol} abs]", f"{quantity} [{unit.symbol} gauge]"
        raise _Refused(header, quantity, problem, _say(header, *ways))
    return parse_unit(f"{unit.symbol} {'abs' if reference == 'absolute' else 'gauge'}")


def _told_twice(columns: Sequence[Column]) -> list[Fault]:
    told: dict[str, list[Column]] = {}
    for column in columns:
        told.setdefault("manifold_pressure" if column.quantity == BOOST else column.quantity, []).append(column)
    faults: list[Fault] = []
    for quantity, twins in told.items():
        if len(twins) > 1:
            names = [f'"{twin.header}"' for twin in twins]
            same = len(set(names)) == 1
            problem = (
                f"is {quantity}, and so {'is the other of that name' if same else 'is ' + ' and '.join(names[1:])}"
            )
            remedy = "rename or remove one of them" if same else f"keep one: {_say(twins[1].header, IGNORE)}"
            faults.append(Fault(column=twins[0].header, problem=problem, remedy=remedy))
    return faults


def _no_engine_speed(headers: Sequence[str]) -> Fault:
    found = ", ".join(f'"{header}"' for header in headers[:12]) + (", ..." if len(headers) > 12 else "")
    return Fault(problem=f"has no engine speed among its columns {found}", remedy=_say("...", "engine_speed [rpm]"))

"""What a header means, and which headers are refused, with which words."""

import pytest

from boostwright.nomenclature import LOGGED_QUANTITIES
from boostwright.records.columns import ColumnRule, idle_rules, parse_rule, understand_columns
from boostwright.units import UnitError, parse_unit


def understand(*headers, units=(), rules=()):
    """Understand headers beside an engine speed, which every log needs."""
    units = list(units) or [""] * len(headers)
    return understand_columns(["rpm", *headers], ["", *units], rules)


def only_fault(*headers, units=(), rules=()):
    (fault,) = understand(*headers, units=units, rules=rules).faults
    return str(fault)


@pytest.mark.parametrize(
    ("header", "quantity", "unit"),
    [
        ("Torque (lb-ft)", "torque", "lb-ft"),
        ("Trq Nm", "torque", "N*m"),
        ("Power / kW", "power", "kW"),
        ("HP", "power", "hp"),
        ("[kW]", "power", "kW"),
        ("power_kw", "power", "kW"),
        ("MAP [kPa]", "manifold_pressure", "kPa abs"),
        ("MAP [psia]", "manifold_pressure", "psi abs"),
        ("MAP (psig)", "manifold_pressure", "psi gauge"),
        ("Boost [psi]", "boost", "psi gauge"),
        ("Boost [kPa abs]", "manifold_pressure", "kPa abs"),
        ("Blower inlet [kPa abs]", "blower_inlet_pressure", "kPa abs"),
        ("Charge temp [degC]", "charge_temperature", "degC"),
        ("charge_temperature_degC", "charge_temperature", "degC"),
        ("Rotor speed, 1/min", "rotor_speed", "rpm"),
        ("Rotor RPM", "rotor_speed", "rpm"),
        ("Lambda", "excess_air_ratio", "-"),
        ("AFR [AFR/14.7]", "excess_air_ratio", "AFR/14.7"),
        ("TPS [%]", "throttle_position", "%"),
        ("MAF {g/s}", "air_mass_flow", "g/s"),
        ("Ignition timing [deg BTDC]", "ignition_advance", "deg"),
    ],
)
def test_a_plain_header_is_understood(header, quantity, unit):
    understood = understand(header)

    column = understood.columns[1]
    assert understood.faults == ()
    assert (column.position, column.header, column.quantity, column.unit.symbol) == (1, header, quantity, unit)


@pytest.mark.parametrize("quantity", [q for q in LOGGED_QUANTITIES if q not in ("engine_speed", "excess_air_ratio")])
def test_the_name_of_every_quantity_is_a_header(quantity):
    assert f'column "{quantity}": has no unit; write it in the header, or say' in only_fault(quantity)


@pytest.mark.parametrize(
    "header", ["RPM", "rpm", "Engine Speed [rpm]", "engine_speed_rpm", "n [1/min]", "Eng Spd (1/min)", "Engine RPM"]
)
def test_engine_speed_is_understood(header):
    understood = understand_columns([header], [""])

    assert understood.faults == ()
    assert [column.quantity for column in understood.columns] == ["engine_speed"]


def test_the_row_of_units_speaks_where_the_header_does_not():
    understood = understand("Torque", "MAP", "Charge temp", units=["[lb-ft]", "psia", "degF"])

    assert [column.unit.symbol for column in understood.columns[1:]] == ["lb-ft", "psi abs", "degF"]


@pytest.mark.parametrize(
    ("header", "conversion"),
    [
        ("Torque [N*m]", "value [N*m]"),
        ("Power [kW]", "1000 × value [W]"),
        ("Charge temp [degC]", "value + 273.15 [K]"),
        ("Boost [kPa]", "1000 × value + barometer [Pa]"),
        ("Rotor speed [rpm]", "value / 60 [1/s]"),
    ],
)
def test_a_column_says_how_its_numbers_become_si(header, conversion):
    assert understand(header).columns[1].conversion == conversion


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("MAP", '"MAP" = "manifold_pressure [kPa abs]" or "manifold_pressure [kPa gauge]"'),
        ("Torque", 'column "Torque": has no unit; write it in the header, or say under [columns] or with --column: '),
        ("TPS", '"TPS" = "throttle_position [%]" or "throttle_position [-]"'),
        ("Torque [kW]", 'column "Torque [kW]": is torque, but its unit kW is one of power; say under [columns]'),
        ("Torque [smoot]", 'column "Torque [smoot]": has a unit that we do not know, "smoot"'),
        ("MAP [psi]", 'does not say whether its psi is absolute or gauge; say under [columns] or with --column: '
         '"MAP [psi]" = "manifold_pressure [psi abs]" or "manifold_pressure [psi gauge]"'),
        ("MAP [bar]", "does not say whether its bar is absolute or gauge"),
        ("Manifold pressure [kPa]", "does not say whether its kPa is absolute or gauge"),
        ("IAT [degC]", 'may mean two things; say under [columns] or with --column: '
         '"IAT" = "charge_temperature" or "air_temperature" or "ignore"'),
        ("AFR", 'its stoichiometric value depends on the fuel; say under [columns] or with --column: '
         '"AFR" = "excess_air_ratio [AFR/14.7]"'),
        ("AFR [-]", "its stoichiometric value depends on the fuel"),
    ],
)  # fmt: skip
def test_what_a_header_does_not_say_plainly_is_refused_with_the_ways_to_say_it(header, message):
    assert message in only_fault(header)


def test_a_column_that_stands_twice_is_refused():
    assert only_fault("Torque [N*m]", "Torque [N*m]") == (
        'column "Torque [N*m]": is torque, and so is the other of that name; rename or remove one of them'
    )


def test_two_columns_for_one_quantity_are_refused():
    assert only_fault("MAP [kPa]", "Boost [psi]") == (
        'column "MAP [kPa]": is manifold_pressure, and so is "Boost [psi]"; '
        'keep one: say under [columns] or with --column: "Boost [psi]" = "ignore"'
    )


def test_a_log_without_engine_speed_is_refused_with_the_columns_it_has():
    (fault,) = understand_columns(["Torque [N*m]", "Gear"], ["", ""]).faults

    assert str(fault) == (
        'has no engine speed among its columns "Torque [N*m]", "Gear"; '
        'say under [columns] or with --column: "..." = "engine_speed [rpm]"'
    )


def test_an_engine_speed_that_is_refused_is_not_missed_as_well():
    faults = understand_columns(["Engine speed"], [""]).faults

    assert [fault.problem for fault in faults] == ["has no unit"]


@pytest.mark.parametrize(
    ("header", "reason"),
    [
        ("Gear", "not known"),
        ("Speed [km/h]", "its unit is not one of engine speed or torque"),
        ("Torkue [N*m]", "not known; if it is torque, say so under [columns] or with --column"),
        ("SAE torque [N*m]", "seems to be corrected already"),
        ("=HYPERLINK(1)", "not known"),
        ("<b>x</b>", "not known"),
    ],
)
def test_other_columns_are_left_out_and_it_is_said_why(header, reason):
    understood = understand(header)

    assert understood.faults == ()
    assert understood.ignored[0].header == header
    assert understood.ignored[0].reason.startswith(reason)


def test_a_rule_goes_before_the_header():
    rules = [parse_rule("Trq", "power [kW]"), parse_rule("MAP", "manifold_pressure [kPa gauge]")]

    understood = understand("Trq [N*m]", "MAP [kPa]", rules=rules)

    assert [(c.quantity, c.unit.symbol) for c in understood.columns[1:]] == [
        ("power", "kW"),
        ("manifold_pressure", "kPa gauge"),
    ]


def test_a_later_rule_adds_the_unit_to_an_earlier_one():
    rules = [parse_rule("Mdl", "torque"), ColumnRule(header="Mdl", unit=parse_unit("lb-ft"))]

    assert understand("Mdl", rules=rules).columns[1].unit.symbol == "lb-ft"


def test_a_rule_can_leave_a_column_out():
    understood = understand("Boost [psi]", "MAP [kPa]", rules=[parse_rule("Boost", "ignore")])

    assert understood.faults == ()
    assert understood.ignored[0].reason == "you said so"


def test_a_rule_about_no_column_is_told():
    (fault,) = idle_rules([parse_rule("Trq", "torque [N*m]"), parse_rule("MAP", "ignore")], ["MAP [kPa]", "rpm"])

    assert str(fault) == (
        'column "Trq": is the header of no column in any log; write the header as the logs have it, or take it out'
    )


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ("torqe [N*m]", r'"torqe \[N\*m\]" names no quantity that a log may carry; did you mean torque'),
        ("x", "names no quantity that a log may carry; choose from air_mass_flow, "),
        ("torque [kW]", "is torque, but its unit kW is one of power"),
        ("manifold_pressure [psi]", "does not say whether its psi is absolute or gauge"),
        ("torque [furlong]", '"furlong" is not a unit that we know'),
    ],
)
def test_a_rule_that_cannot_be_meant_is_refused(said, message):
    with pytest.raises(UnitError, match=message):
        parse_rule("Trq", said)

"""Spellings at the edge: what is understood, what is refused, and with which words."""

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright import units
from boostwright.nomenclature import LOGGED_QUANTITIES, WORDS
from boostwright.units import (
    AbsolutePressure,
    GaugePressure,
    UnitError,
    display_unit,
    format_quantity,
    parse_quantity,
    parse_unit,
)

SYMBOLS = [row[0] for rows in units._TABLE.values() for row in rows]
SPELLINGS = [spelling for rows in units._TABLE.values() for row in rows for spelling in row[2].split(", ")]
# What pint calls our units, where it has another name or another meaning for our spelling.
IN_PINT = {
    "rpm": "revolution/minute", "rpm/s": "revolution/minute/second", "1/s": "revolution/second",
    "1/s^2": "revolution/second**2", "lb-ft": "lbf*ft", "lb-in": "lbf*inch", "PS": "metric_horsepower",
    "hp": "horsepower", "cfm": "ft**3/minute", "cc": "cm**3", "cc/min": "cm**3/minute", "in^2": "inch**2",
    "in^3": "inch**3", "in": "inch", "lb*in^2": "lb*inch**2", "lb/hp-h": "lb/horsepower/hour", "g/kWh": "g/kW/hour",
    "kg/kWh": "kg/kW/hour", "lbf/in": "lbf/inch", "mph": "mile/hour", "-": "dimensionless", "%": "percent",
    "Btu": "Btu_it", "Btu/h": "Btu_it/hour", "Btu/lb": "Btu_it/lb", "gal/h": "gallon/hour", "gal/min": "gallon/minute",
    "mmH2O": "mm*kg/L*g_0", "inH2O": "inch*kg/L*g_0", "kgf/cm^2": "kgf/cm**2",
}  # fmt: skip


def si_symbol(dimension):
    return "K" if dimension == "temperature" else units._TABLE[dimension][0][0]


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_every_factor_agrees_with_an_independent_table(registry, symbol):
    """pint's own definitions; its names for our units stand above."""
    unit = parse_unit(symbol)
    si = si_symbol(unit.dimension)

    theirs = registry.Quantity([10.0, 70.0], IN_PINT.get(symbol, symbol)).to(IN_PINT.get(si, si)).magnitude

    assert unit.to_si([10.0, 70.0]) == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_every_spelling_of_the_table_is_understood_in_spite_of_spaces(spelling):
    assert parse_unit(f"  {spelling} ") == parse_unit(spelling)


@pytest.mark.parametrize("quantity", LOGGED_QUANTITIES)
def test_the_unit_of_every_logged_quantity_is_the_si_unit_of_its_dimension(quantity):
    unit = parse_unit(WORDS[quantity].unit)

    assert (unit.scale, unit.offset) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [
        ("Nm", "N*m"), ("N m", "N*m"), ("N·m", "N*m"), ("N.m", "N*m"), ("lbf ft", "lb-ft"), ("ft·lb", "lb-ft"),
        ("Ft-Lbs", "lb-ft"), ("RPM", "rpm"), ("1/min", "rpm"), ("min⁻¹", "rpm"), ("min-1", "rpm"), ("KPA", "kPa"),
        ("°C", "degC"), ("ºC", "degC"), ("℃", "degC"), ("deg. F", "degF"), ("kg*m**2", "kg*m^2"), ("kg m²", "kg*m^2"),
        ("cm³", "cc"), ("mm²", "mm^2"), ("psig", "psi gauge"), ("psi(a)", "psi abs"), ("PSIA", "psi abs"),
        ("bar abs.", "bar abs"), ("kPa gauge", "kPa gauge"), ("mmHg", "mmHg"), ("inHga", "inHg abs"), ("λ", "-"),
        ("HP", "hp"), ("ps", "PS"), ("µm", "um"), ("AFR / 14.7", "AFR/14.7"), ("%", "%"), ("MPa", "MPa"),
    ],
)  # fmt: skip
def test_spellings_of_the_trade(spelling, symbol):
    assert parse_unit(spelling).symbol == symbol


def test_nothing_is_read_as_another_unit_that_only_differs_in_case():
    with pytest.raises(UnitError, match=r'"mPa" is not a unit that we know; did you mean .*MPa'):
        parse_unit("mPa")


@pytest.mark.parametrize(
    ("spelling", "reference"),
    [("kPa", "unsaid"), ("kPa abs", "absolute"), ("psia", "absolute"), ("psig", "gauge"), ("inHg vac", "gauge")],
)
def test_a_pressure_unit_says_against_what_it_reads(spelling, reference):
    assert parse_unit(spelling).reference == reference


def test_vacuum_counts_downwards():
    assert parse_unit("inHg vac").to_si(10.0) == -parse_unit("inHg gauge").to_si(10.0)
    assert parse_unit("kPa vacuum") == parse_unit("kPa vac")


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("4.2 L", "volume", 4.2e-3), ("1006 hPa", "pressure", 100600.0), ("14.5 psia", "pressure", 99973.98),
        ("24 degC", "temperature", 297.15), ("76 °F", "temperature", 297.5944),
        ("9 degF", "temperature_difference", 5.0),
        ("18000 rpm", "speed", 300.0), ("0.45 kg*m**2", "inertia", 0.45), ("1100 cc/min", "volume_flow", 1.8333333e-5),
        ("4 bar", "pressure_difference", 4e5), ("10 psig", "gauge_pressure", 68947.57), ("52 %", "fraction", 0.52),
        ("0.52", "fraction", 0.52), (0.52, "fraction", 0.52), ("-5e-1 degC", "temperature", 272.65),
        ("105mm", "length", 0.105),
    ],
)  # fmt: skip
def test_a_quantity_is_read_into_si(text, dimension, expected):
    assert parse_quantity(text, dimension=dimension) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("4.2", "volume", r'4\.2 has no unit where a volume is wanted; write one such as "4\.2 L"'),
        (4.2, "volume", r'4\.2 has no unit where a volume is wanted; write one such as "4\.2 L"'),
        ("4,2 L", "volume", '"4,2 L" has a comma in its number; write a point for the decimals'),
        ("large", "volume", '"large" is not a number with a unit; write one such as "4.2 L"'),
        ("1e999 L", "volume", '"1e999 L" is not a number with a unit'),
        ("3 kg", "volume", '"3 kg" is a mass where a volume is wanted; write one such as "3 L"'),
        ("3 kPah", "pressure", '"kPah" is not a unit that we know; did you mean kPa'),
        ("9 furlongs", "length", '"furlongs" is not a unit that we know; write one such as "kW"'),
        ("3 scfm", "volume_flow", '"scfm" is a flow at a standard state that the unit does not name; write it in'),
        ("12.5 AFR", "fraction", '"AFR" depends on the fuel; write "AFR/14.7" with the stoichiometric ratio'),
        ("1 AFR/0", "fraction", '"AFR/0" is not a unit that we know'),
        ("9 psig", "pressure", '"9 psig" is a gauge pressure where an absolute pressure is wanted; add the barometer'),
        ("9 psia", "gauge_pressure", '"9 psia" is an absolute pressure where a gauge pressure is wanted; take the bar'),
        ("4 bar g", "pressure_difference", '"4 bar g" is a gauge pressure where a pressure difference is wanted; give'),
        ("4 bar g", "torque", '"4 bar g" is a pressure where a torque is wanted; write one such as "4 N\\*m"'),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_in_words(text, dimension, message):
    with pytest.raises(UnitError, match=message):
        parse_quantity(text, dimension=dimension)


def test_a_dimension_that_does_not_exist_is_our_own_bug():
    with pytest.raises(ValueError, match="no such dimension: pressur"):
        parse_quantity("3 kPa", dimension="pressur")


def test_gauge_and_absolute_pressure_are_joined_only_by_a_barometer():
    boost = GaugePressure(values=np.array([0.0, 70e3]))

    absolute = boost.absolute(100e3)

    assert isinstance(absolute, AbsolutePressure)
    assert absolute.values.tolist() == [100e3, 170e3]
    assert absolute.gauge(100e3).values.tolist() == boost.values.tolist()


@given(symbol=st.sampled_from(SYMBOLS), value=st.floats(-1e6, 1e6))
def test_to_si_and_back_gives_the_number_again(symbol, value):
    unit = parse_unit(symbol)

    assert unit.from_si(unit.to_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("dimension", [*units._TABLE, "gauge_pressure", "temperature_difference"])
def test_what_is_printed_is_read_again(dimension):
    for system in ("metric", "us"):
        printed = format_quantity(0.3, dimension=dimension, system=system, decimals=12)

        assert parse_quantity(printed, dimension=dimension) == pytest.approx(0.3, rel=1e-6)


def test_each_trade_reads_its_own_units():
    assert format_quantity(3e5, dimension="power") == "300.0 kW"
    assert format_quantity(3e5, dimension="power", system="us") == "402.3 hp"
    assert format_quantity(5.0, dimension="temperature_difference", system="us") == "9.0 °F"
    assert display_unit("pressure", "us").symbol == "psi"

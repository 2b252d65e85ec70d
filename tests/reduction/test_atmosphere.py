import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.errors import DataError
from boostwright.records.pull import Weather
from boostwright.reduction.atmosphere import (
    CORRECTION_RULES,
    NO_CORRECTION,
    correction_factor,
    correction_rule,
    power_correction,
)

RULES = [rule for rule in CORRECTION_RULES.values() if rule != NO_CORRECTION]
rules = st.sampled_from(RULES)
barometers = st.floats(70e3, 105e3)
temperatures = st.floats(270.0, 315.0)
humidities = st.floats(0.0, 0.95)


def factor(rule, barometer, temperature, humidity):
    weather = Weather(barometer=barometer, air_temperature=temperature, relative_humidity=humidity)
    return power_correction(rule, weather).correction_factor


@given(rules)
def test_the_factor_is_one_at_the_reference(rule):
    assert correction_factor(rule, rule.reference_pressure, rule.reference_temperature) == pytest.approx(1.0, abs=1e-15)


@given(rules, barometers, temperatures, humidities, st.floats(100.0, 3000.0))
def test_a_higher_barometer_lowers_the_factor(rule, barometer, temperature, humidity, more):
    assert factor(rule, barometer + more, temperature, humidity) < factor(rule, barometer, temperature, humidity)


@given(rules, barometers, temperatures, humidities, st.floats(0.1, 5.0))
def test_warmer_air_raises_the_factor(rule, barometer, temperature, humidity, warmer):
    assert factor(rule, barometer, temperature + warmer, humidity) > factor(rule, barometer, temperature, humidity)


@given(rules, barometers, temperatures, humidities)
def test_humidity_raises_the_factor_of_every_rule_that_counts_dry_air(rule, barometer, temperature, humidity):
    dry, humid = factor(rule, barometer, temperature, humidity), factor(rule, barometer, temperature, humidity + 0.05)
    assert humid == dry if rule.counts_vapour else humid > dry


@given(barometers, temperatures, humidities)
def test_no_correction_leaves_power_alone_in_any_weather(barometer, temperature, humidity):
    weather = Weather(barometer=barometer, air_temperature=temperature, relative_humidity=humidity)
    correction = power_correction(NO_CORRECTION, weather)
    assert (correction.correction_factor, correction.outside_range) == (1.0, ())


def test_the_range_is_said_with_value_limit_and_rule():
    weather = Weather(barometer=84e3, air_temperature=283.15, relative_humidity=0.0)
    said = power_correction(CORRECTION_RULES["sae-j1349"], weather).outside_range
    assert said == (
        "dry-air pressure 84.0 kPa is outside the 90.0 kPa to 105.0 kPa that sae-j1349 permits",
        "air temperature 10.0 degC is outside the 15.0 degC to 35.0 degC that sae-j1349 permits",
    )


def test_the_edge_of_the_range_is_inside_though_it_came_from_fahrenheit():
    weather = Weather(barometer=99e3, air_temperature=(95 + 459.67) / 1.8, relative_humidity=0.0)
    assert power_correction(CORRECTION_RULES["sae-j1349"], weather).outside_range == ()


def test_a_misspelt_rule_is_refused_with_the_near_one():
    with pytest.raises(DataError, match=r'key correction: "sae-j1394" is not a correction rule; write sae-j1349$'):
        correction_rule("sae-j1394")


def test_a_rule_from_nowhere_is_refused_with_all_of_them():
    with pytest.raises(DataError, match="write none or sae-j1349 or sae-j1349-jun90 or iso-1585 or jis-d1001"):
        correction_rule("xyz")


def test_every_rule_is_found_by_its_name():
    assert [correction_rule(name).name for name in CORRECTION_RULES] == list(CORRECTION_RULES)

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.fuels import (
    GASOLINE,
    PURE_ETHANOL,
    blended_by_volume,
    fuel_named,
    stoichiometric_air_fuel_ratio,
)
from boostwright.physics.working_gas import burned_amounts, released_heat_share, unburned_charge


@given(st.floats(0.0, 1.0))
@settings(deadline=None)
def test_a_blend_has_the_mass_and_the_ratio_of_its_atoms(share: float):
    """Weighing the ratio by mass must say the same as the formula of the mean molecule does."""
    fuel = blended_by_volume(GASOLINE, PURE_ETHANOL, share)
    weighed = 12.011 * fuel.carbon_atoms + 1.008 * fuel.hydrogen_atoms + 15.999 * fuel.oxygen_atoms
    assert weighed / 1000 == pytest.approx(fuel.molar_mass, rel=3e-4)  # gasoline's mean molecule is rounded
    formula = stoichiometric_air_fuel_ratio(fuel.carbon_atoms, fuel.hydrogen_atoms, fuel.oxygen_atoms, fuel.molar_mass)
    assert float(formula) == pytest.approx(fuel.stoichiometric_air_fuel_ratio, rel=3e-4)


@given(st.integers(0, 99))
@settings(deadline=None)
def test_more_ethanol_needs_less_air_and_cools_more(percent: int):
    less, more = fuel_named(f"E{percent}"), fuel_named(f"E{percent + 1}")
    assert more.stoichiometric_air_fuel_ratio < less.stoichiometric_air_fuel_ratio
    assert more.lower_heating_value < less.lower_heating_value
    assert more.latent_heat > less.latent_heat
    assert more.octane_number > less.octane_number


@pytest.mark.parametrize(
    ("name", "gaseous"), [("E10", False), ("methanol", False), ("propane", True), ("methane", True)]
)
def test_which_fuels_are_gaseous(name: str, gaseous: bool):
    assert fuel_named(name).name == name
    assert fuel_named(name).is_gaseous is gaseous


@given(st.floats(0.0, 1.0))
@settings(deadline=None)
def test_octane_and_its_spread_run_straight_in_the_moles_of_ethanol(share: float):
    gasoline = (1 - share) * GASOLINE.fuel_density / GASOLINE.molar_mass
    ethanol = share * PURE_ETHANOL.fuel_density / PURE_ETHANOL.molar_mass
    x = ethanol / (gasoline + ethanol)
    fuel = blended_by_volume(GASOLINE, PURE_ETHANOL, share)
    assert fuel.octane_number == pytest.approx(95.0 + x * (108.0 - 95.0), rel=1e-9)
    assert fuel.octane_number_spread == pytest.approx(3.0 + x * (4.0 - 3.0), rel=1e-9)


def test_ends_of_the_blends_are_the_pure_fuels():
    assert fuel_named("E0").lower_heating_value == GASOLINE.lower_heating_value
    assert fuel_named("E100").molar_mass == pytest.approx(PURE_ETHANOL.molar_mass, rel=1e-12)


@given(st.sampled_from(["E0", "E85", "methanol", "propane"]), st.floats(0.5, 0.99), st.floats(0.001, 0.01))
@settings(deadline=None)
def test_richer_gas_sets_less_heat_free(name: str, excess: float, step: float):
    fuel = fuel_named(name)
    assert 0.2 < released_heat_share(fuel, excess) < released_heat_share(fuel, excess + step) <= 1.0


@given(st.sampled_from(["E0", "E85", "methanol", "methane"]), st.floats(0.5, 2.0), st.floats(0.0, 0.04))
@settings(deadline=None)
def test_burned_amounts_are_never_negative(name: str, excess: float, humidity: float):
    assert min(burned_amounts(fuel_named(name), excess, humidity)) >= 0


@pytest.mark.parametrize("name", ["E110", "E999", "e85", "petrol", "", "E", "E8 5", "E010", "nitromethane"])
def test_an_unknown_fuel_is_refused_with_those_there_are(name: str):
    message = (
        f'fuel "{name}" is not known; an ethanol blend goes from E0 to E100 by volume, '
        "and the other fuels are methanol, propane, methane"
    )
    with pytest.raises(ValueError, match=message):
        fuel_named(name)


@pytest.mark.parametrize(
    ("word", "value", "message"),
    [
        ("fuel_density", 0.0, "gasoline: density 0 must be positive"),
        ("lower_heating_value", -1.0, "gasoline: lower heating value -1 must be positive"),
        ("stoichiometric_air_fuel_ratio", 0.0, "gasoline: stoichiometric air-fuel ratio 0 must be positive"),
        ("octane_number", 0.0, "gasoline: octane number 0 must be positive"),
        ("latent_heat", -5.0, "gasoline: latent heat -5 J/kg is negative; a gaseous fuel has 0"),
    ],
)
def test_a_fuel_that_cannot_be_is_refused_in_words(word: str, value: float, message: str):
    with pytest.raises(ValueError, match=message):
        replace(GASOLINE, **{word: value})


def test_what_cannot_be_blended_or_burned_is_refused_in_words():
    with pytest.raises(ValueError, match="volume fraction 85 of ethanol is outside 0 to 1: is it in percent"):
        blended_by_volume(GASOLINE, PURE_ETHANOL, 85.0)
    with pytest.raises(ValueError, match="gasoline with methane: only liquid fuels are blended"):
        blended_by_volume(GASOLINE, fuel_named("methane"), 0.5)
    with pytest.raises(ValueError, match=r"excess air ratio 0\.3 is below 0\.5, where soot forms"):
        unburned_charge(GASOLINE, 0.3, 0.0)

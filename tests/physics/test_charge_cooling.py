import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.charge_cooling import evaporative_cooling, vapour_displacement
from boostwright.physics.fuels import fuel_named
from boostwright.physics.gases import DRY_AIR
from boostwright.physics.working_gas import unburned_charge

names = st.sampled_from(["E0", "E10", "E85", "methanol", "propane", "methane"])


@given(st.floats(0.0, 1.0), st.floats(0.7, 1.3))
@settings(deadline=None)
def test_what_evaporates_takes_its_heat_from_the_air(share, excess):
    fuel = fuel_named("E85")
    ratio = excess * fuel.stoichiometric_air_fuel_ratio
    fall = float(evaporative_cooling(share, fuel.latent_heat, ratio, 1005.0))
    assert ratio * 1005.0 * fall == pytest.approx(share * fuel.latent_heat, rel=1e-12, abs=1e-9)


@given(names, st.floats(0.7, 1.3))
@settings(deadline=None)
def test_vapour_takes_the_room_that_the_mixture_says(name, excess):
    """Moles of charge over moles of its air, from the gas constant of the mixture."""
    fuel = fuel_named(name)
    ratio = excess * fuel.stoichiometric_air_fuel_ratio
    charge = unburned_charge(fuel, excess, 0.0)
    expected = (1 + 1 / ratio) * DRY_AIR.molar_mass / charge.molar_mass
    assert float(vapour_displacement(1.0, ratio, fuel.molar_mass, DRY_AIR.molar_mass)) == pytest.approx(
        expected, rel=1e-12
    )


def test_methane_displaces_a_tenth_of_the_air_and_gasoline_a_fiftieth():
    """Heywood, 1988, section 6.2.1, fuel vapour: about 2 % for gasoline and 10 % for methane (from memory)."""
    taken = {
        name: 1 - 1 / float(vapour_displacement(1.0, fuel.stoichiometric_air_fuel_ratio, fuel.molar_mass, 28.97e-3))
        for name in ("E0", "methane")
        for fuel in (fuel_named(name),)
    }
    assert taken["E0"] == pytest.approx(0.02, abs=0.003)
    assert taken["methane"] == pytest.approx(0.10, abs=0.006)


def test_a_share_in_percent_is_refused_in_words():
    with pytest.raises(ValueError, match="evaporated share 40 is outside 0 to 1: is it in percent"):
        evaporative_cooling(40.0, 350e3, 14.7, 1005.0)

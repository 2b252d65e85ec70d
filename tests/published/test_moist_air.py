"""Moist air against published tables and two independent libraries.

Saturation pressures: psychrolib 2.5 (ASHRAE 2017) and IAPWS-IF97 values printed in a comparison of both, Pa.
Mixtures: psychrolib 2.5 (ideal moist air) and CoolProp 8 HAPropsSI (real moist air, ASHRAE RP-1485).
"""

import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from boostwright.physics.moist_air import (
    humidity_ratio,
    moist_air_density,
    moist_air_enthalpy,
    saturation_pressure,
    vapour_pressure,
)

psychrolib.SetUnitSystem(psychrolib.SI)

SATURATION = [  # degC, ASHRAE form, IAPWS-IF97
    (10, 1228.0, 1228.18),
    (20, 2338.8, 2339.21),
    (25, 3169.22, 3169.75),
    (30, 4246.03, 4246.69),
    (35, 5627.82, 5628.62),
    (40, 7383.46, 7384.43),
]
MIXTURES = [  # degC, relative humidity, Pa; vapour pressure Pa, W, h J/kg, rho kg/m3 ideal; rho kg/m3 real
    (25, 0.5, 101325, 1584.61, 0.009881, 50322.0, 1.17696, 1.17736),
    (35, 0.6, 95000, 3376.69, 0.022921, 94028.1, 1.05960, 1.05988),
    (40, 0.8, 101325, 5906.77, 0.038501, 139395.1, 1.10240, 1.10275),
    (10, 0.3, 84000, 368.40, 0.002740, 16962.9, 1.03180, 1.03222),
    (15, 0.0, 101325, 0.0, 0.0, 15090.3, 1.22505, 1.22557),
    (20, 0.5, 101325, 1169.40, 0.007262, 38551.7, 1.19890, 1.19936),
    (30, 0.4, 98000, 1698.41, 0.010969, 58225.2, 1.11884, 1.11916),
]


@pytest.mark.parametrize(("celsius", "ashrae", "iapws"), SATURATION)
def test_saturation_pressure_matches_the_published_values(celsius, ashrae, iapws):
    ps = float(saturation_pressure(celsius + 273.15))
    assert ps == pytest.approx(ashrae, abs=0.006)  # printed digits
    assert ps == pytest.approx(iapws, rel=4e-4)  # the two formulations differ by 0.01 to 0.02 %


@pytest.mark.parametrize("celsius", [-90, -40, -5, 0.0, 0.005, 0.02, 25, 60, 150, 199])
def test_saturation_pressure_is_psychrolibs_over_ice_and_water(celsius):
    assert float(saturation_pressure(celsius + 273.15)) == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=1e-9)


@pytest.mark.parametrize(("celsius", "humidity", "p", "pw", "W", "h", "rho", "rho_real"), MIXTURES)
def test_mixtures_match_the_published_rows(celsius, humidity, p, pw, W, h, rho, rho_real):
    T = celsius + 273.15
    vapour = vapour_pressure(T, humidity)
    assert float(vapour) == pytest.approx(pw, abs=0.006)
    assert float(humidity_ratio(p, vapour)) == pytest.approx(W, abs=6e-7)
    assert float(moist_air_enthalpy(T, humidity_ratio(p, vapour))) == pytest.approx(
        h, abs=0.31
    )  # psychrolib keeps W above 1e-7
    assert float(moist_air_density(p, T, vapour)) == pytest.approx(rho, abs=1.1e-5)
    assert float(moist_air_density(p, T, vapour)) == pytest.approx(rho_real, rel=5e-4)


@pytest.mark.parametrize(("celsius", "humidity", "p"), [row[:3] for row in MIXTURES])
def test_ideal_mixing_stays_within_its_stated_distance_from_real_moist_air(celsius, humidity, p):
    T = celsius + 273.15
    ideal = float(humidity_ratio(p, vapour_pressure(T, humidity)))
    real = HAPropsSI("W", "T", T, "P", p, "R", humidity)
    assert 0 <= real - ideal <= 5.5e-3 * real  # enhancement factor, about 0.45 % near one atmosphere
    real_enthalpy = HAPropsSI("H", "T", T, "P", p, "R", humidity)
    assert float(moist_air_enthalpy(T, ideal)) == pytest.approx(real_enthalpy, rel=4e-3)

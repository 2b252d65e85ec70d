"""The engine as a noun, and the engine of which only the size is known."""

from dataclasses import fields, replace

import numpy as np
import pytest

from boostwright.machine.cycle import run_cycles
from boostwright.machine.engine import ENGINE_DEFAULTS, CycleConditions, Engine, engine_with_defaults
from boostwright.nomenclature import WORDS
from boostwright.physics.fuels import fuel_named
from boostwright.physics.valve import mach_index, valve_effective_area, valve_lift

SIZES = [(1.0e-3, 3), (2.0e-3, 4), (4.2e-3, 6), (6.2e-3, 8), (9.5e-3, 8)]


def test_bore_and_stroke_make_the_displacement():
    engine = engine_with_defaults(4.2e-3, 6, 9.5)

    assert np.pi / 4 * engine.bore**2 * engine.stroke * 6 == pytest.approx(4.2e-3, rel=1e-12)
    assert engine.bore / engine.stroke == pytest.approx(1.0)


def test_every_field_but_the_size_has_a_documented_default():
    size = {"engine_displacement", "cylinders", "compression_ratio"}

    assert {default.word for default in ENGINE_DEFAULTS} | size == {field.name for field in fields(Engine)}
    assert all(default.source and default.scaling and default.word in WORDS for default in ENGINE_DEFAULTS)


def test_lengths_scale_with_the_bore():
    small, large = engine_with_defaults(1.0e-3, 4, 10.0), engine_with_defaults(8.0e-3, 4, 10.0)

    for name in ("intake_valve_diameter", "exhaust_valve_diameter", "intake_valve_lift", "exhaust_valve_lift"):
        assert getattr(large, name) == pytest.approx(2 * getattr(small, name))
    assert large.intake_port_volume == pytest.approx(8 * small.intake_port_volume)


@pytest.mark.parametrize(("displacement", "cylinders"), SIZES)
def test_an_engine_of_any_size_is_a_plausible_one(displacement, cylinders):
    """At 13 m/s of piston speed and 1.8 bar: textbook ranges, common practice, no source.

    Volumetric efficiency 0.85 to 1; indicated efficiency (lower heating value) of a rich boosted engine 0.28 to 0.36;
    brake mean effective pressure 16 to 20 bar; residual gas 2 to 6 %; exhaust 1050 to 1350 K; peak pressure 40 to 60
    times the manifold's; 6 to 15 % of the fuel's heat into the walls.
    """
    engine = engine_with_defaults(displacement, cylinders, 9.5)
    conditions = CycleConditions(
        engine_speed=13.0 / 2 / engine.stroke,
        manifold_pressure=1.8e5,
        charge_temperature=325.0,
        exhaust_pressure=1.25e5,
        humidity_ratio=0.008,
        fuel=fuel_named("E10"),
        excess_air_ratio=0.86,
        evaporated_share=0.24,
        octane_number=97.0,
        spark_retard=0.0,
    )

    result = run_cycles(engine, conditions)

    heat = result.fuel_mass_flow / (cylinders * conditions.engine_speed / 2) * conditions.fuel.lower_heating_value
    assert 0.85 < result.engine_volumetric_efficiency < 1.0
    assert 0.28 < result.indicated_efficiency < 0.36
    assert 16e5 < result.bmep < 20e5
    assert 0.02 < result.residual_share < 0.06
    assert 1050 < result.exhaust_temperature < 1350
    assert 40 < result.peak_cylinder_pressure / 1.8e5 < 60
    assert 0.06 < result.wall_heat / heat < 0.15


def test_filling_falls_where_the_mach_index_passes_a_half():
    """Taylor's finding, from memory: to a Mach index of 0.5 filling is nearly flat, beyond it falls off fast."""
    engine = engine_with_defaults(4.2e-3, 6, 9.5)
    angle = np.linspace(engine.intake_opening, engine.intake_closing, 401)
    throat = np.pi / 4 * engine.intake_valve_diameter**2 * engine.valve_throat_ratio
    lift = valve_lift(angle, engine.intake_opening, engine.intake_closing, engine.intake_valve_lift)
    area = np.mean(
        valve_effective_area(lift, engine.intake_valve_diameter, throat, 2, engine.intake_discharge_coefficient)
    )
    piston = np.array([6.0, 12.0, 18.0, 27.0])
    conditions = CycleConditions(
        engine_speed=piston / 2 / engine.stroke,
        manifold_pressure=1.8e5,
        charge_temperature=325.0,
        exhaust_pressure=1.8e5,
        humidity_ratio=0.0,
        fuel=fuel_named("methane"),
        excess_air_ratio=1.0,
        evaporated_share=1.0,
        octane_number=120.0,
        spark_retard=0.0,
    )

    index, filling = mach_index(engine.bore, piston, area, 361.0), run_cycles(engine, conditions)

    ve = filling.engine_volumetric_efficiency
    assert index[1] < 0.5 < index[2]
    assert abs(ve[1] / ve[0] - 1) < 0.06
    assert ve[3] < 0.8 * ve[1]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"compression_ratio": 0.9}, r"compression_ratio 0\.9 must be at least 1\.001: is it a pressure ratio"),
        ({"rod_ratio": 0.4}, r"rod_ratio 0\.4 must be at least 0\.501: a rod shorter than half the stroke"),
        ({"engine_displacement": 0.0}, r"engine_displacement 0 must be at least 1e-12: give it in SI units"),
        (
            {"intake_closing": 240.0},
            r"intake_closing 240 must be from 9\.425 to 11\.52: it is the angle in radians after",
        ),
        ({"exhaust_opening": np.array([2.0, 4.0])}, r"exhaust_opening 4 must be from 1\.571 to 3\.142"),
    ],
)
def test_an_impossible_engine_is_refused_with_its_value_and_a_remedy(change, words):
    with pytest.raises(ValueError, match=words):
        replace(engine_with_defaults(4.2e-3, 6, 9.5), **change)


def test_gauge_pressure_is_not_taken_for_absolute():
    with pytest.raises(ValueError, match=r"manifold_pressure -20000 must be positive: SI units, absolute pressures"):
        CycleConditions(
            engine_speed=60.0,
            manifold_pressure=-2e4,
            charge_temperature=325.0,
            exhaust_pressure=1.2e5,
            humidity_ratio=0.0,
            fuel=fuel_named("E10"),
            excess_air_ratio=0.9,
            evaporated_share=0.2,
            octane_number=95.0,
            spark_retard=0.0,
        )

"""A build from its file: what is stated is kept, what is not is assumed in proportion, and nothing is missing."""

from dataclasses import fields

import numpy as np
import pytest

from boostwright.machine.assumptions import RULES, complete, drawn
from boostwright.machine.build import build_of
from boostwright.machine.chamber_build import CHAMBER_RULES
from boostwright.machine.cooler import transfer_units
from boostwright.machine.inlet import effective_throttle_area
from boostwright.machine.match_table import MATCH_POINT
from boostwright.nomenclature import WORDS
from boostwright.records.build_file import build_from_document
from boostwright.records.build_keys import KEYS
from tests.machine.builds import build, build_file

LIMIT_KEYS = {key.path for key in KEYS if key.path.startswith("limits.")}
KNOWN_OR_NOT = {  # what nobody can assume: without it something is "not known"
    "blower.rotor_diameter",
    "bypass.manifold_pressure_cap",
    "drive.centre_distance",
    "drive.driven_pulley",
    "drive.driving_pulley",
    "drive.installed_tension",
    "drive.rib_mass_kg_per_m",
    "drive.ribs",
    "drive.wrap",
    "engine.bore",
    "fuel.injectors.count",
    "fuel.injectors.flow",
    "fuel.injectors.rail_pressure",
    "fuel.injectors.referenced",
    "fuel.pump_flow",
    "inlet.throttle_bore",
}


def test_the_three_required_tables_make_a_whole_build():
    bare = build_of(
        build_from_document(
            {
                "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
                "blower": {"displacement": "1.6 L"},
                "drive": {"ratio": 2.2},
            },
            "bare.toml",
        )
    )
    parts = (bare.engine, bare.blower, bare.drive, bare.inlet, bare.cooler, bare.fuel_system)
    missing = {field.name for part in parts for field in fields(part) if getattr(part, field.name) is None}
    assert missing == {  # what only its owner can know of a belt and a fuel system
        "driving_pulley",
        "driven_pulley",
        "ribs",
        "wrap_angle",
        "installed_tension",
        "rib_mass_per_length",
        "injectors",
        "pump_flow",
    }
    assert bare.cautions == (
        "No fuel is named: matched with E10.",
        "No [cooler] table: matched without a charge cooler.",
    )


def test_every_number_of_the_format_is_required_assumed_or_openly_unknown():
    assumed = {rule.key_path for rule in (*RULES, *CHAMBER_RULES)}
    numbers = {key.path for key in KEYS if key.holds not in ("a word", "a curve")}
    required = {key.path for key in KEYS if key.required} | {"drive.ratio"}
    assert numbers - required - assumed == KNOWN_OR_NOT | (LIMIT_KEYS - {"limits.injector_duty"})


def test_every_assumption_has_a_range_around_its_value_a_word_and_a_source():
    for rule in RULES:
        assert rule.default.low <= rule.default.value <= rule.default.high
        assert rule.default.word in WORDS
        assert len(rule.default.source) > 10


def test_a_stated_number_is_taken_and_no_longer_assumed():
    stated = build(blower={"leakage_area": "30 mm^2"}, engine={"friction_factor": 1.2})
    assert stated.blower.leakage_area == pytest.approx(30e-6)
    assert stated.engine.friction_factor == 1.2
    paths = {assumption.key_path for assumption in stated.assumptions}
    assert not paths & {"blower.leakage_area", "engine.friction_factor"}
    assert "blower.filling_loss" in paths


def test_sizes_scale_with_the_build():
    small, large = build(), build(engine={"displacement": "8.4 L"}, blower={"displacement": "3.2 L"})
    assert large.engine.exhaust_area == pytest.approx(2 * small.engine.exhaust_area)
    assert large.engine.stroke == pytest.approx(2 ** (1 / 3) * small.engine.stroke)
    assert large.engine.engine_speed_limit == pytest.approx(2 ** (-1 / 3) * small.engine.engine_speed_limit)
    assert large.inlet.inlet_area == pytest.approx(2 * small.inlet.inlet_area)  # at the same speed limit
    assert large.blower.leakage_area == pytest.approx(2 ** (2 / 3) * small.blower.leakage_area)
    assert large.cooler.cooler_reference_flow == pytest.approx(2 * small.cooler.cooler_reference_flow)


def test_a_blower_without_a_speed_limit_is_scaled_by_an_assumed_one_that_stays_unknown_as_a_limit():
    unlimited = build(blower={"speed_limit": None})
    assert unlimited.blower.speed_limit == pytest.approx(233.0 * (2.3 / 1.6) ** (1 / 3))
    assert unlimited.limits.rotor_speed_limit is None
    assert build().limits.rotor_speed_limit == pytest.approx(300.0)


def test_the_ratio_is_that_of_the_pitch_line_unless_it_is_stated():
    """190 on 68 mm with 2 mm of line differential on each side: 194/72 = 2.694444."""
    assert build().drive.drive_ratio == pytest.approx(2.694444, abs=5e-7)
    both = build(drive={"ratio": 2.79})
    assert both.drive.drive_ratio == 2.79
    assert both.cautions[0] == "The ratio 2.79 is as stated; on the pitch line the pulleys give 2.694."


def test_the_stroke_follows_from_a_stated_bore():
    assert build(engine={"bore": "100 mm"}).engine.stroke == pytest.approx(4.2e-3 / 6 / (np.pi / 4 * 0.01))


def test_filling_is_best_at_thirteen_metres_a_second_of_piston_speed_or_as_the_curve_says():
    engine = build().engine
    best = 13.0 / (2 * engine.stroke)
    assert engine.volumetric_efficiency(best) == pytest.approx(0.94)
    assert engine.volumetric_efficiency(1.5 * best) == pytest.approx(0.94 * (1 - 0.2 * 0.25))
    assert engine.volumetric_efficiency(50 * best) == pytest.approx(0.4 * 0.94)  # never below 0.4 of the best
    curve = build(engine={"volumetric_efficiency_curve": [["2000 rpm", 0.88], ["4000 rpm", 0.96]]}).engine
    np.testing.assert_allclose(curve.volumetric_efficiency(np.array([1000, 3000, 9000]) / 60), [0.88, 0.92, 0.96])


def test_the_throttle_area_is_its_open_area_times_the_discharge_coefficient():
    """Wide open the plate stands in the shadow of its shaft: bore less a strip as wide as the shaft."""
    area = effective_throttle_area(0.105, 1e-9, np.pi / 2, 0.85)
    assert area == pytest.approx(0.85 * np.pi / 4 * 0.105**2, rel=1e-6)
    assert build(inlet={"throttle_angle": "40 deg"}).inlet.throttle_area < 0.35 * build().inlet.throttle_area


def test_the_cooler_has_the_transfer_units_of_its_effectiveness():
    assert 1 - np.exp(-transfer_units(0.8)) == pytest.approx(0.8)
    assert build(cooler={"effectiveness": 0.0}).cooler.cooler_transfer_units == 0.0
    with pytest.raises(ValueError, match="cooler_effectiveness 1 must be from 0 to below 1"):
        transfer_units(1.0)


def test_a_gaseous_fuel_fills_the_charge_whole_and_cools_nothing():
    gas = build(fuel={"blend": "propane"}).fuel_system
    assert (gas.evaporated_share, gas.latent_heat) == (1.0, 0.0)


def test_a_screw_has_an_internal_volume_ratio_and_says_so_if_it_is_assumed():
    screw = build(blower={"kind": "screw"})
    assert screw.blower.internal_volume_ratio == 1.3
    assert "The internal volume ratio of the screw is assumed; drive power and heat hang on it." in screw.cautions
    assert build().blower.internal_volume_ratio == 1.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"drive": {"belt_slip": 1.0}}, "belt_slip"),
        ({"engine": {"compression_ratio": 1.0}}, "compression_ratio"),
    ],
)
def test_the_nouns_themselves_refuse_what_cannot_be(changes, words):
    """The file catches these first; whoever builds the nouns by hand meets the same wall."""
    from dataclasses import replace

    six = build()
    part, field = {"belt_slip": (six.drive, "belt_slip"), "compression_ratio": (six.engine, "compression_ratio")}[words]
    with pytest.raises(ValueError, match=f"{field} 1 must be"):
        replace(part, **{field: 1.0})


def test_every_column_of_the_match_is_a_word_of_a_part_or_of_the_air():
    six = build()
    parts = (six.engine, six.blower, six.drive, six.inlet, six.cooler, six.fuel_system)
    of_parts = {name for name in MATCH_POINT.names if any(hasattr(part, name) for part in parts)}
    others = set(MATCH_POINT.names) - of_parts
    assert others == {
        "engine_speed",
        "ambient_pressure",
        "air_temperature",
        "humidity_ratio",
        "knock_index_limit",
        "added_outlet_temperature",
        "added_shaft_power",
    }


def test_draws_scatter_over_their_ranges_and_leave_what_is_stated_alone():
    file, generator = build_file(), np.random.default_rng(5)
    draws = [drawn(file, generator).numbers for _ in range(2000)]
    friction = np.array([numbers["engine.friction_factor"] for numbers in draws])
    assert np.median(friction) == pytest.approx(0.85, abs=0.02)
    low, high = np.quantile(friction, [0.025, 0.975])
    assert low == pytest.approx(0.6, abs=0.03)  # the stated ends; a quantile of 2000 draws scatters by a tenth of it
    assert high == pytest.approx(1.2, abs=0.04)
    assert {numbers["engine.displacement"] for numbers in draws} == {file.numbers["engine.displacement"]}
    assert min(numbers["blower.heat_loss_share"] for numbers in draws) == 0.0  # held within what is possible


def test_a_complete_file_holds_every_stated_number_unchanged():
    file = build_file()
    numbers, _ = complete(file)
    assert {path: numbers[path] for path in file.numbers} == dict(file.numbers)

"""A tested gain on other builds: what must stay, what must vanish, how it is said, and what is refused."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import BoostwrightError, DataError
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS
from boostwright.inference.priors import Known
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import Ambient, matched
from boostwright.records.build_file import build_from_document
from boostwright.studies.carry import carried_band, carry
from boostwright.studies.carry_request import asked_of
from boostwright.studies.carry_result import Reach
from boostwright.studies.carry_target import CarrySource, carry_target, target_points
from boostwright.studies.carry_words import distance_sentence
from tests.inference.setups import BUILD, baseline_points, curves_of, data_of

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"
CHANNELS = ("torque", "manifold_pressure", "blower_inlet_pressure")
OTHER = {"engine": {"displacement": "5.4 L", "cylinders": 8, "compression_ratio": 9.0}}


def build(**tables):
    document = {**BUILD, **{table: {**BUILD.get(table, {}), **keys} for table, keys in tables.items()}}
    return build_of(build_from_document(document, "builds/other.toml"))


def source_with(baseline_inlet, candidate_inlet, generator=None) -> CarrySource:
    baseline, candidate = baseline_points(), baseline_points()
    baseline["inlet_area"] *= baseline_inlet
    candidate["inlet_area"] *= candidate_inlet
    curves = curves_of(baseline, candidate, generator)
    nominal = baseline_points()
    data = data_of(nominal, nominal.copy(), curves, CHANNELS)
    own = build_of(build_from_document(BUILD, "builds/own.toml"))
    return CarrySource(data=data, baseline="a", candidate="b", baseline_build=own, candidate_build=own)


@pytest.fixture(scope="module")
def wider_inlet():
    """A candidate with a wide inlet against a baseline with a narrow one, measured without error."""
    return source_with(0.6, 1.2)


@pytest.fixture(scope="module")
def carried(wider_inlet):
    """The wider inlet on its own build, on another engine at the foot and at 1600 m, and on methanol."""
    high = Ambient(ambient_pressure=83e3, air_temperature=298.15, humidity_ratio=0.01)
    other = build(**OTHER)
    targets = [
        carry_target(wider_inlet, wider_inlet.baseline_build),
        carry_target(wider_inlet, other),
        carry_target(wider_inlet, other, high),
        carry_target(wider_inlet, build(**OTHER, fuel={"blend": "methanol"})),
    ]
    return carry(wider_inlet, targets)


def test_on_its_own_build_in_its_own_weather_it_is_the_tested_gain(wider_inlet, carried):
    """The data are without error: what is left is the pull of the priors, a fraction of the interval."""
    own = carried.builds[0]
    data = wider_inlet.data
    torque = data.observations[data.channels.index("torque")]
    truth = np.exp(torque[1] - torque[0]) - 1
    gain = own.gains["brake_power_relative"]
    assert own.is_tested_engine
    np.testing.assert_array_equal(own.engine_speed, data.engine_speed)
    assert gain.mean == pytest.approx(truth.mean(), abs=0.5 * gain.half_width)
    assert np.all((gain.lower < truth) & (truth < gain.upper))
    measured = np.exp(torque[0]) * 2 * np.pi * data.engine_speed
    np.testing.assert_allclose(own.baseline["brake_power"].values, measured, rtol=0.02)
    assert own.distance.furthest is Reach.TESTED
    assert "those of the test" in own.distance.sentence


def test_a_wider_inlet_gains_on_other_builds_too_and_less_surely_known_power_is_said(carried):
    own, other, _, methanol = carried.builds
    for build in (other, methanol):
        assert build.gains["brake_power_relative"].mean_lower > 0
        assert not build.is_tested_engine
        assert 0.1 < build.power_known_to < 0.3
        assert f"known only to ±{100 * build.power_known_to:.0f}" in build.sentence.replace("\u202f", "")
    assert own.power_known_to < 0.07
    assert "tested engine" in own.sentence


def test_an_unknown_engine_mostly_cancels_out_of_the_gain(carried):
    """Power elsewhere is several times less sure than on the tested engine, the gain not twice."""
    own, other = carried.builds[:2]
    assert other.power_known_to > 2 * own.power_known_to
    widths = [build.gains["brake_power_relative"].half_width for build in (own, other)]
    assert widths[1] < 2 * widths[0]


@pytest.mark.parametrize("share", [0.7, 0.82, 0.95])
def test_air_mass_of_a_fixed_ratio_blower_follows_inlet_density(share):
    """At one temperature every flow of the chain grows with ambient pressure.

    The rounding of the leakage law near zero pressure rise (2 kPa) alone knows an absolute pressure: 0.2 %. A cooler
    that is better at less flow would lower the pressure ratio by half a per cent, so that it is held equal here.
    """
    points = baseline_points()
    points["cooler_transfer_exponent"] = 0.0
    low, warm = points.copy(), points.copy()
    low["ambient_pressure"] *= share
    foot, high = matched(points), matched(low)
    np.testing.assert_allclose(high["air_mass_flow"] / foot["air_mass_flow"], share, rtol=2e-3)
    np.testing.assert_allclose(high.pressure_ratio, foot.pressure_ratio, rtol=2e-3)
    warm["air_temperature"] *= 1.05
    warmer = matched(warm)["air_mass_flow"] / foot["air_mass_flow"]
    assert np.all((warmer < 1) & (warmer > 1 / 1.05**1.2))


def test_a_carried_engine_loses_air_with_altitude_as_its_density(carried):
    foot, high = carried.builds[1:3]
    ratio = high.baseline["air_mass_flow"].values / foot.baseline["air_mass_flow"].values
    np.testing.assert_allclose(ratio, 83 / 100, rtol=0.01)
    assert high.distance.ambient_pressure == pytest.approx(-17e3, abs=100)
    assert set(high.distance.reach) == {Reach.FAR}
    assert "air pressure 17\u00a0kPa lower" in high.distance.sentence


def test_another_fuel_is_far_and_named(carried):
    methanol = carried.builds[3]
    assert methanol.distance.fuel == "methanol"
    assert methanol.distance.furthest is Reach.FAR
    assert "methanol instead of E10" in methanol.distance.sentence


def test_equal_setups_gain_nothing_elsewhere():
    """Four tests of one and the same setup with noise, each on two builds: 8 intervals of 95 %, two misses happen."""
    misses = 0
    for seed in range(4):
        tested = source_with(1.0, 1.0, np.random.default_rng(seed))
        targets = [carry_target(tested, build(**OTHER)), carry_target(tested, build(drive={"ratio": 3.0}))]
        result = carry(tested, targets)
        misses += sum(b.gains["brake_power_relative"].is_shown for b in result.builds)
        assert all(abs(b.gains["brake_power_relative"].mean) < 0.015 for b in result.builds)
    assert misses <= 2


def test_the_same_engine_with_another_pulley_is_recognised_and_another_specimen_is_not(wider_inlet):
    faster = build(drive={"ratio": 3.0})
    same, other = carry(
        wider_inlet,
        [carry_target(wider_inlet, faster), carry_target(wider_inlet, faster, is_another_specimen=True)],
    ).builds
    assert same.is_tested_engine
    assert not other.is_tested_engine
    assert other.power_known_to > 2 * same.power_known_to
    assert np.all(same.distance.rotor_speed[-2:] > 0)
    assert same.distance.reach[-1] is not Reach.TESTED


def test_the_blower_goes_along_and_everything_else_is_the_builds_own(wider_inlet):
    stated = {"filling_loss": 0.3, "leakage_area": "9 mm**2"}  # on the other build's file: not what was calibrated
    target = carry_target(wider_inlet, build(**OTHER, drive={"ratio": 2.0}, blower=stated, inlet={"heating": "30 K"}))
    a, b = target_points(wider_inlet, target)
    for word in ("inlet_area", "inlet_heating", "filling_loss", "leakage_area", "speed_limit", "throttle_area"):
        assert np.all(a[word] == wider_inlet.data.baseline[word][0])
    assert np.all(a["engine_displacement"] == 5.4e-3)
    assert np.all(b["drive_ratio"] == 2.0)
    stated = carry_target(wider_inlet, build(**OTHER, inlet={"throttle_bore": "80 mm"}))
    assert np.all(target_points(wider_inlet, stated)[0]["throttle_area"] < a["throttle_area"])


def test_a_logged_mixture_stays_with_the_tested_engine(wider_inlet):
    data = replace(wider_inlet.data, known=Known(logged=frozenset({"excess_air_ratio"})))
    data.baseline["excess_air_ratio"] = 0.81
    tested = replace(wider_inlet, data=data)
    try:
        own = target_points(tested, carry_target(tested, tested.baseline_build))[0]
        other = target_points(tested, carry_target(tested, build(**OTHER)))[0]
    finally:
        data.baseline["excess_air_ratio"] = data.candidate["excess_air_ratio"]
    assert np.all(own["excess_air_ratio"] == pytest.approx((0.81 + 0.86) / 2))
    assert np.all(other["excess_air_ratio"] == 0.86)


def test_what_the_setups_differ_in_beside_the_blower_is_said_to_stay_behind(wider_inlet):
    slower = build(drive={"ratio": 2.5})
    tested = replace(wider_inlet, candidate_build=slower)
    result = carry(tested, [carry_target(tested, build(**OTHER))])
    assert result.builds[0].notes == (
        "The setups also differ in drive ratio: that stays on the tested engine and is not in this gain.",
    )


def test_another_blower_is_refused_with_the_way_out(wider_inlet):
    with pytest.raises(DataError, match=r"another blower than the tested one of 1\.600 L.*carry to a build with the"):
        carry_target(wider_inlet, build(blower={"displacement": "2.3 L"}))
    with pytest.raises(DataError, match=r"internal_volume_ratio: 1\.3 is another blower than the tested one of 1"):
        carry_target(wider_inlet, build(blower={"kind": "screw"}))
    with pytest.raises(DataError, match=r"internal_step: 1\.5 is another gear step"):
        carry_target(wider_inlet, build(drive={"ratio": 1.8, "internal_step": 1.5}))


def test_speeds_beyond_the_engine_are_refused(wider_inlet):
    fast = np.array([150.0])
    with pytest.raises(DataError, match="9000 rpm is above the top speed of the engine, 5000 rpm"):
        carry_target(wider_inlet, build(engine={"speed_limit": "5000 rpm"}), None, fast)


def test_a_distance_is_said_with_its_speeds():
    speeds = np.array([3000.0, 4000.0, 5000.0]) / 60
    said = distance_sentence(
        speeds, np.array([0, 0, 0.2]), np.array([-0.05, 0, 0]), [], [Reach.OUTSIDE, Reach.TESTED, Reach.FAR]
    ).replace("\u00a0", " ")
    assert said == (
        "Outside what was tested (far at 5\u202f000 rev/min): rotor speed up to 20 % above the tested range "
        "(5\u202f000 rev/min) and pressure ratio up to 5 % below the tested range (3\u202f000 rev/min)."
    )


def test_intervals_are_spread_about_the_median():
    draws = np.random.default_rng(0).standard_normal((4000, 1)) + 3.0
    plain, wide = carried_band(draws, 1.0), carried_band(draws, 1.5)
    assert wide.values == plain.values
    assert wide.half_width == pytest.approx(1.5 * plain.half_width)
    assert plain.half_width == pytest.approx(1.96, abs=0.1)


def test_the_json_has_units_in_its_keys_and_the_numbers_of_the_result(carried):
    written = json.loads(json.dumps(carried.as_json(), allow_nan=False))
    first, build = written["builds"][1], carried.builds[1]
    assert first["gain"]["brake_power_relative"]["mean_percent"] == pytest.approx(
        100 * build.gains["brake_power_relative"].mean, rel=1e-5
    )
    assert first["baseline"]["boost"]["kpa"][0] == pytest.approx(build.baseline["boost"].values[0] / 1e3, rel=1e-5)
    assert first["outside_of_test"]["reach"] == [reach.value for reach in build.distance.reach]
    assert len(first["outside_of_test"]["rotor_speed_percent"]) == build.engine_speed.size
    assert carried.as_frame().height == sum(b.engine_speed.size for b in carried.builds)


def assert_shared_error_is_kept(pulls, pull_count):
    """Between speeds far apart a sensor's own error and the level of the pulls are shared; only the second averages."""
    torque = TYPICAL_SENSOR_ERRORS["torque"]
    shared = torque.common_sd**2 + torque.level_sd**2 * 2 / pull_count
    n = pulls.points.size
    assert pulls.channels[0] == "torque"
    assert pulls.covariance[0, n - 1] == pytest.approx(shared, rel=1e-3)
    own = (torque.curve_sd**2 + torque.noise_sd**2) * 2 / pull_count
    assert pulls.covariance[0, 0] == pytest.approx(shared + own, rel=1e-3)
    assert np.all(pulls.covariance[:n, n:] == 0)


def test_pulls_of_the_baseline_there_settle_absolute_power():
    """The example's own pulls of the cast elbow, taken for those of another engine of its kind."""
    own = EXAMPLE / "builds" / "cast.toml"
    asked = asked_of(EXAMPLE, [own], None, None, EXAMPLE, is_another_specimen=True)
    alone = carry(asked.tested, asked.targets).builds[0]
    joint = carry(asked.tested, asked.targets, asked.pulls_there)
    there = joint.builds[0]
    assert_shared_error_is_kept(asked.pulls_there, pull_count=3)
    assert there.has_baseline
    assert "With pulls of the baseline there" in there.sentence
    assert there.power_known_to < 0.5 * alone.power_known_to
    boost, other = there.baseline["boost"], alone.baseline["boost"]
    assert boost.half_width < 0.25 * other.half_width
    tested = asked.tested.data
    torque = np.exp(tested.observations[tested.channels.index("torque")][0])
    power = 2 * np.pi * np.mean(torque * tested.engine_speed)
    assert there.baseline["brake_power"].mean == pytest.approx(power, rel=0.03)


def test_the_same_question_gives_the_same_answer(wider_inlet, carried):
    target = carry_target(wider_inlet, wider_inlet.baseline_build)
    first, second = (carry(wider_inlet, [target]).builds[0].as_json(), carried.builds[0].as_json())
    assert first == second


def test_wrong_questions_are_refused_before_anything_is_fitted(tmp_path):
    own, other = EXAMPLE / "builds" / "cast.toml", EXAMPLE / "builds" / "other-engine.toml"
    with pytest.raises(DataError, match="names no build to carry to; add --to"):
        asked_of(EXAMPLE, [], None, None, None)
    with pytest.raises(DataError, match="pulled on one build, and 2 are named; give --to once"):
        asked_of(EXAMPLE, [own, other], None, None, EXAMPLE)
    with pytest.raises(BoostwrightError, match=r"nowhere\.toml"):
        asked_of(EXAMPLE, [Path("nowhere.toml")], None, None, None)
    shutil.copytree(EXAMPLE, tmp_path / "no-baseline")
    campaign = tmp_path / "no-baseline" / "campaign.toml"
    campaign.write_text(campaign.read_text().replace('setup = "cast"', 'setup = "machined"'))
    with pytest.raises(DataError, match=r'"cast" has no pull that can be used.*leave --baseline out'):
        asked_of(EXAMPLE, [own], None, None, tmp_path / "no-baseline")

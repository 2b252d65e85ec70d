"""The whole comparison on pulls with a known truth."""

import json
from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference.disturbances import Repeatability
from boostwright.reduction.stages import PullFault
from boostwright.studies.compare import ArchiveEvidence, compare_pairs, compare_setups
from tests.studies.synthetic import CENTRES, QUESTION, campaign

CROSSING = 0.09 / (1 + np.exp(-(CENTRES - 68.0) / 4.0)) - 0.04


def test_a_crossing_gain_is_found_where_it_is():
    result = compare_setups(campaign("ABBAAB", CROSSING), QUESTION)
    assert result.verdict == "gain and loss shown"
    assert result.grade == "publishable"
    assert np.all(result.curves.relative_lower <= np.expm1(CROSSING))
    assert np.all(result.curves.relative_upper >= np.expm1(CROSSING))
    (crossing,) = result.crossovers
    truth = 68.0 + 4.0 * np.log(0.04 / 0.05)
    assert crossing.lower <= truth <= crossing.upper
    assert crossing.direction == "loss to gain"


def test_the_average_is_the_average_of_the_printed_curve():
    result = compare_setups(campaign("ABBA", 0.03), QUESTION)
    assert result.average.value == pytest.approx(np.mean(result.curves.gain))
    assert result.average.relative_lower <= np.expm1(0.03) <= result.average.relative_upper


def test_power_and_torque_have_the_same_relative_gain_at_equal_speed():
    pulls = campaign("ABBA", CROSSING)
    torque, power = (compare_setups(pulls, replace(QUESTION, quantity=name)) for name in ("torque", "power"))
    assert power.curves.relative_gain == pytest.approx(torque.curves.relative_gain, abs=2e-4)


def test_boost_is_compared_as_absolute_pressure_and_shown_above_the_barometer():
    pulls = campaign("ABBA", 0.04)
    boost, pressure = (
        compare_setups(pulls, replace(QUESTION, quantity=name)) for name in ("boost", "manifold_pressure")
    )
    assert boost.curves.gain == pytest.approx(pressure.curves.gain)
    assert pressure.curves.baseline - boost.curves.baseline == pytest.approx(100_500.0)
    assert boost.unit.symbol == "kPa"


def test_a_temperature_is_compared_by_difference():
    result = compare_setups(campaign("ABBA"), replace(QUESTION, quantity="charge_temperature"))
    assert result.unit.symbol == "degC"
    assert np.all(np.abs(result.curves.gain) < 3.0)
    assert result.as_json()["curve"]["baseline"][0] == pytest.approx(320.2 - 273.15, abs=1.0)


def test_a_hotter_soak_before_the_candidate_does_not_by_itself_warm_its_charge():
    soaks = {"cast": 6.0, "machined": 12.0}  # the effect expected of torque would read as +1.7 K
    pulls = [replace(pull, soak=soaks[pull.setup]) for pull in campaign("ABBA")]
    average = compare_setups(pulls, replace(QUESTION, quantity="charge_temperature")).average
    assert abs(average.value) < 0.3  # what noise leaves
    assert average.lower < -1.5  # but an effect of either sign may hide in it
    assert average.upper > 1.5


def test_inlet_pressure_is_known_better_than_torque_where_the_barometer_is():
    pulls = [
        replace(pull, values={**pull.values, "blower_inlet_pressure": 97e3 + 0.01 * pull.values["manifold_pressure"]})
        for pull in campaign("ABBA")
    ]
    question = replace(QUESTION, quantity="blower_inlet_pressure")
    known = compare_setups(pulls, question).average
    unknown = compare_setups([replace(pull, weather=None) for pull in pulls], question).average
    assert known.relative_half_width < 0.4 * unknown.relative_half_width


def test_same_pulls_give_the_same_bytes():
    first, second = (json.dumps(compare_setups(campaign("ABBA", 0.02), QUESTION).as_json()) for _ in range(2))
    assert first == second


def test_json_has_the_keys_that_others_rely_on():
    found = compare_setups(campaign("ABBA", 0.02), QUESTION).as_json()
    assert {
        "quantity", "unit", "baseline", "candidate", "confidence", "curve", "range", "peak", "crossovers", "verdict",
        "grade", "sentence", "pulls", "warnings",
    } <= set(found)  # fmt: skip
    assert {len(column) for column in found["curve"].values()} == {CENTRES.size}
    assert set(found["range"]) == {
        "from_rpm", "to_rpm", "gain", "lower", "upper", "gain_percent", "lower_percent", "upper_percent",
    }  # fmt: skip
    assert set(found["peak"]["baseline"]) >= {"value", "engine_speed_rpm", "manifold_pressure_kpa"}
    assert {"file", "setup", "used", "fault", "correction_factor"} <= set(found["pulls"][0])


def test_a_frame_has_a_row_for_every_bin():
    frame = compare_setups(campaign("ABBA"), QUESTION).as_frame()
    assert frame.shape == (CENTRES.size, 9)


def test_us_units_are_printed_where_the_campaign_asks_for_them():
    metric, us = (compare_setups(campaign("ABBA", 0.02), replace(QUESTION, units=units)) for units in ("metric", "us"))
    assert us.unit.symbol == "lb-ft"
    ratio = np.array(metric.as_json()["curve"]["baseline"]) / np.array(us.as_json()["curve"]["baseline"])
    assert ratio == pytest.approx(1.3558179483314, rel=1e-5)


def test_one_pull_of_each_is_unsupported_and_says_what_the_interval_rests_on():
    result = compare_setups(campaign("AB", 0.05), QUESTION)
    assert result.grade == "unsupported"
    assert "rests on an assumed repeatability, not on these pulls" in result.sentence
    repeatability = Repeatability(pull_level_sd=0.004, degrees_of_freedom=20)
    archive = ArchiveEvidence(repeatability=repeatability, sentence="Expected near the archive's figure.")
    known = compare_setups(campaign("AB", 0.05), replace(QUESTION, archive=archive))
    assert "Expected near the archive's figure." in known.warnings
    assert known.grade == "indicative"
    assert known.average.half_width < result.average.half_width


def test_a_single_pull_is_refused_with_the_setup_that_is_missing():
    with pytest.raises(
        DataError, match='setup "machined" has no pull, and a gain needs at least one of each setup; add'
    ):
        compare_setups(campaign("A"), QUESTION)


def test_setups_on_different_days_are_not_comparable():
    pulls = campaign("AABB", 0.05)
    apart = [replace(pull, session="2026-03-15") if pull.setup == "machined" else pull for pull in pulls]
    result = compare_setups(apart, QUESTION)
    assert result.verdict == "not comparable"
    assert result.grade == "unsupported"
    assert "they share no day on one stand" in result.sentence


def test_a_bridging_day_makes_days_comparable():
    pulls = campaign("AABBAB", 0.05)
    days = [replace(pull, session="day 1" if number < 4 else "day 2") for number, pull in enumerate(pulls)]
    assert compare_setups(days, QUESTION).verdict != "not comparable"


def test_mixed_correction_rules_are_refused():
    first, *rest = campaign("ABBA")
    with pytest.raises(DataError, match="mixes correction rules"):
        compare_setups([replace(first, correction_rule="iso-1585"), *rest], QUESTION)


def test_a_quantity_that_a_pull_lacks_is_refused_with_those_that_all_carry():
    first, *rest = campaign("ABBA")
    bare = replace(first, values={"torque": first.values["torque"], "power": first.values["power"]})
    with pytest.raises(DataError, match=r"pulls/00\.csv: charge temperature is not logged; .*: power, torque"):
        compare_setups([bare, *rest], replace(QUESTION, quantity="charge_temperature"))


def test_a_faulty_pull_is_left_out_shown_and_accounted_for():
    pulls = campaign("ABBAAB", 0.03)
    slip = PullFault(kind="belt slip", from_speed=80.0, to_speed=95.0, size=0.06, sentence="the rotor falls behind")
    torque = pulls[3].values["torque"] * np.where(CENTRES > 80.0, 0.93, 1.0)
    pulls[3] = replace(pulls[3], faults=(slip,), values={**pulls[3].values, "torque": torque})
    result = compare_setups(pulls, QUESTION)
    assert [row.used for row in result.pulls] == [True, True, True, False, True, True]
    assert result.pulls[3].fault is not None
    assert result.pulls[3].values == pytest.approx(torque)
    assert result.without_dropping is not None
    assert result.without_dropping.value > result.average.value
    assert "2 pulls of cast, 3 of machined" in result.sentence.replace("\u00a0", " ")


def test_every_pair_of_three_setups_is_compared_at_a_level_that_keeps_the_family():
    class Folder:
        title, baseline, candidate, speed_range, units = "three", "cast", "machined", (50.0, 95.0), "metric"

    results = compare_pairs(campaign("ABCCBA", 0.03), Folder(), "torque")
    assert [(r.baseline, r.candidate) for r in results] == [
        ("cast", "machined"),
        ("cast", "polished"),
        ("machined", "polished"),
    ]
    assert [r.confidence for r in results] == pytest.approx([1 - 0.05 / 3] * 3)
    alone = compare_pairs([p for p in campaign("ABCCBA", 0.03) if p.setup != "polished"], Folder(), "torque")
    assert alone[0].average.half_width < results[0].average.half_width


def test_what_drift_and_soak_do_to_the_average_is_said_with_intervals():
    result = compare_setups(campaign("ABBA", 0.02), QUESTION)
    found = result.sensitivity
    assert found.without_drift.lower < 0.02 < found.without_drift.upper
    assert found.without_drift.estimate == pytest.approx(result.average.relative_value, abs=0.004)
    (drift,) = found.drift
    assert drift.session == "2026-03-14"
    assert drift.interval.lower < 0 < drift.interval.upper
    json = result.as_json()["sensitivity"]
    assert json["drift"][0]["upper_percent_per_h"] == pytest.approx(3.6e5 * drift.interval.upper, rel=1e-5)
    assert json["without_drift"]["gain_percent"] == pytest.approx(100 * found.without_drift.estimate, rel=1e-5)
    assert json["soak"]["percent_per_K"] == pytest.approx(-0.09, abs=0.01)  # all soaks alike: the prior's
    no_soak = compare_setups([replace(one, soak=None) for one in campaign("ABBA", 0.02)], QUESTION)
    assert no_soak.as_json()["sensitivity"]["soak"] is None


def test_the_sensitivity_of_a_temperature_is_a_share_of_it_too():
    found = compare_setups(campaign("ABBA"), replace(QUESTION, quantity="charge_temperature")).sensitivity
    assert abs(found.without_drift.estimate) < 0.01
    assert found.without_drift.upper - found.without_drift.lower < 0.05
    assert 3600 * found.drift[0].interval.upper < 0.02  # an hour; the prior's 0.4 % would be 1.3 K


def test_the_shape_of_a_crossing_gain_is_told_from_one_pull_each():
    result = compare_setups(campaign("AB", CROSSING), QUESTION)
    assert [part.state for part in result.sensitivity.shape] == ["below its average", "above its average"]

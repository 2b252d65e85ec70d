"""Which pulley: figures with ranges, chances that rise with the ratio, the choice, and what a person may type."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import DataError
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import build_points, matched
from boostwright.studies.drawn_operation import (
    DrawnOperation,
    drawn_build,
    operation_of_draws,
    with_pulley,
    with_ratio,
    with_unjudged,
)
from boostwright.studies.match import SEED, STANDARD_AIR, match_build
from boostwright.studies.match_request import ambient_from_text
from boostwright.studies.pulley_request import (
    DRAW_COUNT,
    answered,
    ask_of,
    pulleys_from_text,
    risk_from_text,
    target_from_texts,
    target_speed_from_text,
)
from boostwright.studies.pulleys import HOT_AIR, Pulley, PulleyQuestion, PulleyTarget, largest_ratio, pulley_chart
from boostwright.units import UnitError
from tests.machine.builds import DRY_AIR, build_file

SPEEDS = np.array([2500.0, 4000.0, 5000.0, 5800.0]) / 60.0
PLACES = (ambient_from_text(STANDARD_AIR), ambient_from_text(HOT_AIR))
FILE = build_file(
    blower={"speed_limit": "16500 rpm"},
    limits={"charge_temperature": "62 degC", "rib_power": "8 kW"},
)
LIST = "60 mm, 64 mm, 66 mm, 68 mm, 70 mm, 74 mm, 80 mm, 90 mm"


def chart_of(pulleys=LIST, target=None, risk=None, file=FILE, at=SPEEDS[-1]):
    return answered(file, SPEEDS, ask_of(pulleys, target, risk, at, PLACES))


@pytest.fixture(scope="module")
def chart():
    return chart_of()


def test_pulleys_stand_by_rising_ratio_whatever_their_order_in_the_list(chart):
    labels = [row.pulley.label for row in chart.rows]
    assert labels == ["90 mm", "80 mm", "74 mm", "70 mm", "68 mm", "66 mm", "64 mm", "60 mm"]
    ratios = [row.pulley.drive_ratio for row in chart.rows]
    assert ratios == sorted(ratios)
    assert ratios[4] == pytest.approx(194 / 72)  # on the pitch line of the belt


def test_the_printed_figures_are_those_of_a_match_with_that_pulley(chart):
    result = match_build(with_pulley(FILE, 0.070), SPEEDS, PLACES[0])
    place = next(row for row in chart.rows if row.pulley.label == "70 mm").reference
    assert place.boost.value == pytest.approx(result.operating.boost[-1], rel=1e-9)
    assert place.brake_power.value == pytest.approx(result.operating["brake_power"][-1], rel=1e-9)
    assert place.rotor_speed.value == pytest.approx(result.operating["rotor_speed"][-1], rel=1e-12)
    assert place.boost.lower < place.boost.value < place.boost.upper
    margins = {limit.name: limit.margin for limit in result.limits}
    for curve in place.limits:
        if curve.is_known:
            assert 1.0 - curve.greatest.value == pytest.approx(margins[curve.name], rel=1e-9)


def test_a_smaller_pulley_never_lowers_boost_rotor_speed_or_any_chance(chart):
    for name in ("reference", "hot"):
        places = [getattr(row, name) for row in chart.rows]
        for word in ("boost", "rotor_speed"):
            values = [getattr(place, word) for place in places]
            assert all(np.diff([estimate.value for estimate in values]) > 0.0)
            assert all(np.diff([estimate.lower for estimate in values]) > 0.0)
    chances = [row.chance for row in chart.rows]
    assert chances == sorted(chances)
    assert chances[0] < 0.05 < 0.9 < chances[-1]
    worst = np.stack([row.worst for row in chart.rows])
    assert (np.diff(worst, axis=0) > 0.0).all()  # draw by draw: the same engines stand on every pulley


def test_the_chance_of_over_speed_is_that_of_the_belts_that_slip_too_little():
    """Rotor speed is ratio x engine speed x (1 - slip): counted here from the draws of slip and pitch line alone."""
    file = build_file(blower={"speed_limit": "15500 rpm"})
    chart = chart_of("68 mm", file=file)
    generator = np.random.default_rng(SEED)
    draws = drawn_build(file, SPEEDS, DRAW_COUNT, generator)
    pitch = draws.line_differential
    turned = (0.190 + 2 * pitch) / (0.068 + 2 * pitch) * SPEEDS[-1] * (1.0 - draws.points["belt_slip"][:, 0])
    expected = np.mean(turned > 15500 / 60)
    assert 0.05 < expected < 0.95
    rotor = next(curve for curve in chart.rows[0].reference.limits if curve.name == "rotor speed")
    assert rotor.chance == pytest.approx(expected, abs=1.5 / DRAW_COUNT)


def test_the_hot_place_takes_power_and_adds_heat(chart):
    row = chart.rows[3]
    assert row.hot.brake_power.value < 0.95 * row.reference.brake_power.value
    reference, hot = (
        next(c for c in place.limits if c.name == "blower outlet temperature").values
        for place in (row.reference, row.hot)
    )
    assert (hot > reference + 8.0).all()
    assert row.chance >= max(row.reference.chance, row.hot.chance)


def test_without_a_target_the_smallest_pulley_within_the_risk_is_chosen_and_the_next_is_not(chart):
    chosen = chart.rows.index(chart.chosen)
    assert chart.rows[chosen].chance <= 0.05 < chart.rows[chosen + 1].chance
    assert chart.rows[chosen].pulley.drive_ratio <= chart.largest_ratio < chart.rows[chosen + 1].pulley.drive_ratio
    assert chart.chosen.pulley.label in chart.sentence
    next_up = chart.rows[chosen + 1]
    chances = {c.name: max(c.chance, 0) for p in (next_up.reference, next_up.hot) for c in p.limits if c.is_known}
    assert chances[chart.binding.name] == max(chances.values())
    assert f"{chart.binding.name[0].upper()}{chart.binding.name[1:]} binds" in chart.sentence


def test_more_risk_allows_a_smaller_pulley(chart):
    assert largest_ratio(chart.rows, 0.3) > largest_ratio(chart.rows, 0.05) == chart.largest_ratio
    bold = chart_of("60 mm, 66 mm, 74 mm", risk="60 %")
    assert bold.chosen.pulley.drive_ratio > chart.chosen.pulley.drive_ratio


@settings(max_examples=30, deadline=None)
@given(shift=st.floats(-0.4, 0.4), risk=st.floats(0.01, 0.6))
def test_the_largest_ratio_is_the_quantile_of_where_the_draws_break(chart, shift, risk):
    """Shares that rise straight with the ratio break at a ratio that is known for each draw."""
    breaks = 2.6 + shift + 0.2 * np.linspace(-1.0, 1.0, 101)
    rows = [
        replace(
            row,
            reference=replace(row.reference, worst=row.pulley.drive_ratio / breaks),
            hot=replace(row.hot, worst=np.zeros(101)),
        )
        for row in chart.rows
    ]
    low, high = rows[0].pulley.drive_ratio, rows[-1].pulley.drive_ratio
    expected = np.quantile(breaks, risk, method="lower")
    found = largest_ratio(rows, risk)
    if low <= expected <= high:
        assert found == pytest.approx(expected, rel=1e-9)
    else:
        assert math.isnan(found)


def test_a_target_is_met_by_the_nearest_pulley_if_the_risk_allows_it():
    chart = chart_of("84 mm, 88 mm, 92 mm", PulleyTarget(word="boost", value=50e3))
    away = [abs(row.reference.boost.value - 50e3) for row in chart.rows]
    assert chart.chosen is chart.rows[int(np.argmin(away))]
    assert chart.sentence.startswith("For 50 kPa of boost: ")


def test_a_target_that_risks_too_much_names_both_pulleys():
    chart = chart_of("60 mm, 74 mm, 80 mm", PulleyTarget(word="brake_power", value=360e3))
    assert chart.sentence.startswith("For 360 kW of power it takes 60 mm")
    assert "is the most" in chart.sentence
    assert chart.chosen.chance <= 0.05
    assert chart.chosen.pulley.label != "60 mm"


def test_where_no_pulley_keeps_the_risk_none_is_chosen_and_it_is_said():
    chart = chart_of("60 mm, 62 mm")
    assert chart.chosen is None
    assert math.isnan(chart.largest_ratio)
    assert chart.sentence.startswith("None of these pulleys keeps the known limits at a risk of 5 %")


def test_limits_that_nobody_stated_are_named_and_in_no_chance(chart):
    names = {curve.name for curve in chart.unknown}
    assert {"rotor tip speed", "knock index", "injector duty"} <= names
    assert all(math.isnan(curve.chance) for curve in chart.unknown)
    assert chart.warnings[0].startswith("Not known, and in no chance: rotor tip speed")


def test_without_a_list_whole_millimetres_around_the_answer_are_tried():
    ask = ask_of(None, None, None, SPEEDS[-1], PLACES)
    chart = answered(FILE, SPEEDS[-1:], ask)
    labels = [row.pulley.label for row in chart.rows]
    assert all(label.endswith(" mm") and float(label[:-3]).is_integer() for label in labels)
    assert chart.rows[0].pulley.drive_ratio < chart.largest_ratio < chart.rows[-1].pulley.drive_ratio
    chosen = chart.rows.index(chart.chosen)
    assert chart.rows[chosen].chance <= 0.05 < chart.rows[chosen + 1].chance


def test_a_build_that_says_only_its_ratio_is_offered_ratios_and_refuses_diameters():
    file = build_file(drive={"driving_pulley": None, "driven_pulley": None, "ratio": 2.4})
    with pytest.raises(DataError, match=r"driving_pulley is not given.*give it, or ask for ratios"):
        chart_of("68 mm", file=file)
    chart = chart_of("2.2, 2.5", file=file)
    assert [row.pulley.label for row in chart.rows] == ["2.200", "2.500"]


def test_draws_without_an_operating_point_count_as_breaking_every_limit_and_are_said():
    huge = build_file(blower={"displacement": "20 L"}, drive={"driven_pulley": "68 mm"})
    operation = drawn_build(huge, SPEEDS, 40, np.random.default_rng(1))
    pulleys = [Pulley(label="60 mm", build=build_of(with_pulley(huge, 0.060)))]
    question = PulleyQuestion(target_speed=SPEEDS[-1], reference=PLACES[0], hot=PLACES[1])
    row = pulley_chart(pulleys, operation.operation, question).rows[0]
    lost = row.reference.unmatched
    assert lost > 0.0
    assert row.chance >= lost


def test_draws_from_elsewhere_are_spread_about_their_median_and_their_values_are_medians():
    build = build_of(FILE)
    points = np.stack([build_points(build, SPEEDS, DRY_AIR)] * 60)
    points["filling_loss"] *= np.exp(0.3 * np.random.default_rng(3).standard_normal(60))[:, None]
    draws = matched(points)
    plain, spread = (operation_of_draws(draws, build, np.random.default_rng(1), f) for f in (1.0, 1.2))
    np.testing.assert_allclose(plain.central["manifold_pressure"], np.median(draws["manifold_pressure"], axis=0))
    question = PulleyQuestion(target_speed=SPEEDS[-1], reference=PLACES[0], hot=PLACES[1])

    def boost(operation: DrawnOperation):
        rows = pulley_chart([Pulley(label="as is", build=build)], lambda _b, _a: operation, question).rows
        return rows[0].reference.boost

    narrow, wide = boost(plain), boost(spread)
    assert wide.upper - wide.value == pytest.approx(1.2 * (narrow.upper - narrow.value), rel=1e-6)
    assert wide.value == narrow.value


def test_what_no_pull_has_judged_is_drawn_from_the_build_and_what_was_stated_is_not():
    file = build_file(engine={"knock_factor": 3.0})
    build = build_of(file)
    points = with_unjudged(np.stack([build_points(build, SPEEDS, DRY_AIR)] * 50), build, np.random.default_rng(5))
    assert np.unique(points["knock_factor"]).tolist() == [3.0]
    factors = points["peak_pressure_factor"][:, 0]
    assert np.unique(factors).size == 50
    assert 2.0 < factors.min() < 2.6 < factors.max() < 3.3


def test_the_ratio_of_a_pulley_and_the_pulley_of_a_ratio_are_inverse():
    ratio = build_of(with_pulley(FILE, 0.0737)).drive.drive_ratio
    assert with_ratio(FILE, ratio).numbers["drive.driven_pulley"] == pytest.approx(0.0737, rel=1e-12)


def test_the_json_says_units_in_its_keys_and_is_the_same_each_time(chart):
    text = json.dumps(chart.as_json(), allow_nan=False)
    alone, again = (chart_of("68 mm").as_json() for _ in range(2))
    assert alone == again
    said = json.loads(text)
    row = said["pulleys"][4]
    assert row == alone["pulleys"][0]  # which other pulleys are asked changes nothing
    assert row["driven_pulley_mm"] == 68.0
    assert row["reference"]["boost_kpa_lower"] < row["reference"]["boost_kpa"] < row["reference"]["boost_kpa_upper"]
    assert row["within_risk"] is (row["chance_percent"] <= 5.0)
    assert said["hot"]["temperature_degC"] == pytest.approx(38.0)
    assert said["chosen_pulley"] == chart.chosen.pulley.label


def test_pulleys_may_be_typed_in_millimetres_inches_or_as_ratios():
    assert pulleys_from_text("68 mm, 2.75 in") == ((("68 mm", 0.068), ("2.75 in", pytest.approx(0.06985))), False)
    assert pulleys_from_text("2.4, 2.65") == ((("2.400", 2.4), ("2.650", 2.65)), True)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "names 0 pulleys"),
        ("68 mm, 2.4", "mixes diameters and ratios"),
        ("30 mm", "45 mm effective diameter or more"),
        ("68 kg", "mass where a length is wanted"),
        ("68 mm; 70 mm", "not a unit that we know"),
    ],
)
def test_a_wrong_list_of_pulleys_is_refused_with_the_remedy(text, message):
    with pytest.raises(UnitError, match=message):
        pulleys_from_text(text)


def test_wrong_targets_risks_and_speeds_are_refused():
    assert target_from_texts(None, None) is None
    assert target_from_texts("12 psi", None).value == pytest.approx(82737.1, abs=0.1)
    with pytest.raises(UnitError, match="two targets"):
        target_from_texts("80 kPa", "250 kW")
    with pytest.raises(UnitError, match="not positive"):
        target_from_texts("-3 kPa", None)
    assert risk_from_text("5 %") == pytest.approx(0.05)
    with pytest.raises(UnitError, match="no risk between 0 and 1"):
        risk_from_text("1.5")
    assert target_speed_from_text(None, SPEEDS) == SPEEDS[-1]
    with pytest.raises(UnitError, match="outside the speeds that are matched, 2500 to 5800 rpm"):
        target_speed_from_text("6000 rpm", SPEEDS)

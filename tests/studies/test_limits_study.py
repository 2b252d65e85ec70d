"""What gives first: margins with their chances, what is not known, and changes that do give the room they promise."""

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.machine.build import build_of
from boostwright.machine.limits import LimitStatus
from boostwright.machine.operating_point import build_points, matched
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies import limits as study
from boostwright.studies.drawn_operation import operation_of_draws, with_pulley
from boostwright.studies.limit_changes import WANTED_MARGIN
from boostwright.studies.limit_curves import Estimate, LimitCurve, first_crossing, limit_curves, limits_answer
from boostwright.studies.limits import build_limits, campaign_limits, wants_margin
from boostwright.studies.match import STANDARD_AIR, match_build
from boostwright.studies.match_request import ambient_from_text
from tests.machine.builds import build_file
from tests.machine.test_limits import EVERYTHING

SPEEDS = np.array([2500.0, 4000.0, 5000.0, 5800.0]) / 60.0
AIR = ambient_from_text(STANDARD_AIR)
INJECTORS = {"count": 6, "flow": "450 cc/min", "rail_pressure": "4 bar", "referenced": True}
TIGHT = build_file(fuel={"injectors": INJECTORS}, limits={"charge_temperature": "58 degC", "rib_power": "7.5 kW"})


@pytest.fixture(scope="module")
def tight():
    return build_limits(TIGHT, SPEEDS, AIR)


def curve_of(result, name):
    return next(curve for curve in result.limits if curve.name == name)


def limit(**changes):
    """A limit that is known, with shares of 80 % at its worst and a range of 70 to 90 %."""
    share = np.array([0.5, 0.8])
    draws = share + np.linspace(-0.1, 0.1, 3)[:, None]
    usual = {
        "name": "rotor speed",
        "dimension": "speed",
        "limit": 250.0,
        "zero": 0.0,
        "needs": (),
        "engine_speed": np.array([50.0, 100.0]),
        "values": 250.0 * share,
        "share": share,
        "lower": share - 0.1,
        "upper": share + 0.1,
        "chances": np.zeros(2),
        "draws": draws,
        "worst": draws.max(axis=1),
        "reached": first_crossing(draws, np.array([50.0, 100.0])),
        "reached_by_value": math.inf,
    }
    return LimitCurve(**(usual | changes))


def shifted(name, by):
    base = limit()
    return limit(name=name, share=base.share + by, worst=base.worst + by, values=base.values * (1 + by))


UNKNOWN = limit(
    name="knock index",
    limit=math.nan,
    share=np.full(2, np.nan),
    worst=np.full(3, np.nan),
    needs=("limits.knock_index",),
)


def test_values_and_margins_are_those_of_a_match():
    file = build_file(**EVERYTHING)
    result, matched = build_limits(file, SPEEDS, AIR), match_build(file, SPEEDS, AIR)
    assert {curve.name for curve in result.known} == {margin.name for margin in matched.limits}
    for margin in matched.limits:
        curve = curve_of(result, margin.name)
        assert 1.0 - curve.greatest.value == pytest.approx(margin.margin, rel=1e-9)
        assert curve.engine_speed[curve.place] == margin.engine_speed
        assert (curve.lower <= curve.upper).all()


def test_the_limit_that_binds_stands_first_and_what_is_not_known_last(tight):
    chances = [curve.chance for curve in tight.known]
    assert chances == sorted(chances, reverse=True)
    assert [curve.is_known for curve in tight.limits] == [True] * len(tight.known) + [False] * len(tight.unknown)
    assert tight.sentence.startswith(tight.limits[0].name.capitalize())
    assert tight.chance >= max(chances)


def test_a_limit_that_nobody_stated_is_never_ok(tight):
    assert {"knock index", "rotor tip speed"} <= {curve.name for curve in tight.unknown}
    for curve, said in zip(tight.limits, tight.as_json()["limits"], strict=True):
        if not curve.is_known:
            assert curve.status is LimitStatus.NOT_KNOWN
            assert said["status"] == "not known"
            assert said["margin_percent"] is None
            assert said["needs"]
    assert tight.warnings[0].startswith("Not known, and in no chance: ")
    assert f"{len(tight.unknown)}\u00a0limits are not known." in tight.sentence


def test_a_limit_far_away_is_never_exceeded_and_one_far_below_always():
    far = build_limits(build_file(limits={"manifold_pressure": "900 kPa", "mean_piston_speed": "3 m/s"}), SPEEDS, AIR)
    assert curve_of(far, "manifold pressure").chance == 0.0
    assert curve_of(far, "mean piston speed").chance == 1.0


def test_the_chance_is_the_share_of_draws_over_the_limit_anywhere_and_at_each_speed(tight):
    curve = curve_of(tight, "charge temperature")
    over = curve.draws > 1.0
    assert 0.05 < curve.chance < 0.95
    assert curve.chance == np.mean(over.any(axis=1))
    np.testing.assert_array_equal(curve.chances, over.mean(axis=0))
    assert curve.chance >= curve.chances.max()


def test_three_patterns_of_the_sentence():
    assert limits_answer([limit()]) == (
        "No known limit gives. Rotor speed comes nearest: 20\u00a0±\u00a010\u00a0% left at 6\u202f000 rev/min."
    )
    assert limits_answer([shifted("belt power per rib", 0.25)]) == (
        "Belt power per rib may give at 6\u202f000 rev/min: 105\u00a0±\u00a010\u00a0% of its limit."
    )
    assert limits_answer([shifted("rotor speed", 0.5), limit(name="fuel flow")]) == (
        "Rotor speed gives first: over its limit by 30\u00a0±\u00a010\u00a0% at 6\u202f000 rev/min."
    )


def test_the_sentence_counts_what_is_not_known_and_never_says_that_nothing_gives():
    assert limits_answer([limit(), UNKNOWN]).endswith(" 1\u00a0limit is not known.")
    assert limits_answer([UNKNOWN]) == "No limit is known. 1\u00a0limit is not known."


def test_what_may_be_over_is_near_at_least_and_what_is_over_says_so():
    assert limit().status is LimitStatus.OK
    assert limit(worst=limit().worst + 0.15).status is LimitStatus.NEAR
    assert shifted("x", 0.25).status is LimitStatus.OVER
    assert UNKNOWN.status is LimitStatus.NOT_KNOWN
    assert not wants_margin(UNKNOWN)


def test_the_half_width_is_the_wider_side_of_the_range():
    assert Estimate(value=1.0, lower=0.7, upper=1.1).half_width == pytest.approx(0.3)


def test_the_first_crossing_lies_on_the_straight_line_between_two_places():
    shares = np.array([[0.5, 0.9, 1.1], [1.2, 0.5, 0.5], [0.1, 0.2, 0.3], [0.8, np.inf, np.inf]])
    found = first_crossing(shares, np.array([10.0, 20.0, 30.0]))
    np.testing.assert_allclose(found[:2], [25.0, 10.0])
    assert found[2] == np.inf
    assert found[3] == 10.0  # where a part cannot do it at all, nothing is known of the way there


def test_the_pulley_that_is_said_to_give_margin_does_give_it(tight):
    change = next(c for c in tight.changes if (c.limit, c.name) == ("belt power per rib", "blower pulley"))
    assert change.present == pytest.approx(0.068)
    assert change.present <= change.needed.lower < change.needed.value < change.needed.upper
    assert change.power_change.value < 0.0
    after = curve_of(build_limits(with_pulley(TIGHT, change.needed.value), SPEEDS, AIR), "belt power per rib")
    assert np.mean(after.worst < 1.0 - WANTED_MARGIN) == pytest.approx(0.5, abs=0.06)
    surely = curve_of(build_limits(with_pulley(TIGHT, change.needed.upper), SPEEDS, AIR), "belt power per rib")
    assert np.mean(surely.worst < 1.0 - WANTED_MARGIN) > 0.95


def test_the_cooler_that_is_said_to_give_margin_does_give_it(tight):
    change = next(c for c in tight.changes if (c.limit, c.name) == ("charge temperature", "cooler effectiveness"))
    assert 0.8 < change.needed.value < 0.99
    numbers = {**TIGHT.numbers, "cooler.effectiveness": change.needed.value}
    after = curve_of(build_limits(replace(TIGHT, numbers=numbers), SPEEDS, AIR), "charge temperature")
    assert np.mean(after.worst < 1.0 - WANTED_MARGIN) == pytest.approx(0.5, abs=0.06)


def test_larger_injectors_stay_open_in_proportion_shorter(tight):
    change = next(c for c in tight.changes if c.name == "flow of an injector")
    worst = curve_of(tight, "injector duty").worst
    assert change.needed.value == pytest.approx(450e-6 / 60 * np.median(worst) / 0.95, rel=1e-6)


def test_less_engine_speed_is_offered_where_the_limit_is_worst_at_the_top(tight):
    change = next(c for c in tight.changes if (c.limit, c.name) == ("injector duty", "highest engine speed"))
    assert SPEEDS[0] < change.needed.value < SPEEDS[-1]
    curve = curve_of(tight, "injector duty")
    share = [np.interp(change.needed.value, SPEEDS, row) for row in curve.draws[:200]]
    assert np.mean(np.array(share) < 0.95) == pytest.approx(0.5, abs=0.05)


def test_no_leaner_mixture_is_ever_offered_and_nothing_is_where_nothing_is_tight(tight):
    assert tight.changes
    for change in tight.changes:
        if "mixture" in change.name:
            assert change.end < change.present
    assert build_limits(build_file(), SPEEDS, AIR).changes == ()


def test_the_json_carries_every_curve_and_is_strict(tight):
    said = json.loads(json.dumps(tight.as_json(), allow_nan=False))
    first = said["limits"][0]
    assert first["name"] == said["binding_limit"] == tight.limits[0].name
    assert len(first["curve"]["margin_percent"]) == SPEEDS.size
    assert first["margin_percent_lower"] <= first["margin_percent"] <= first["margin_percent_upper"]
    assert {change["wanted_margin_percent"] for change in said["changes"]} == {5.0}


@pytest.fixture(scope="module")
def campaign():
    return read_campaign(example_folder("inlet-elbow"))


@pytest.fixture(scope="module")
def tested(campaign):
    return campaign_limits(campaign, "machined")


def test_the_margins_of_a_campaign_are_those_of_its_engine_and_narrower_than_its_build_files(campaign, tested):
    build = study.read_build_file(campaign.folder / "builds" / "machined.toml")
    alone = build_limits(build, tested.engine_speed, tested.ambient)
    widths = [
        curve_of(result, "charge temperature").greatest.upper - curve_of(result, "charge temperature").greatest.lower
        for result in (tested, alone)
    ]
    assert widths[0] < 0.7 * widths[1]
    assert "calibrated on the pulls of cast and machined" in tested.basis
    rotor = curve_of(tested, "rotor speed")
    turned = 60 * rotor.values[-1] / (60 * tested.engine_speed[-1])
    assert 0.96 * (164 / 76) < turned < 164 / 76  # the pitch line less the slip of the belt


def test_a_setup_that_is_not_compared_is_refused_with_those_that_are(campaign):
    with pytest.raises(DataError, match=r"polished.*is not a setup that this campaign compares; ask cast or machined"):
        campaign_limits(campaign, "polished")


def test_a_setup_without_a_build_is_refused(campaign):
    setups = {**campaign.setups, "cast": SimpleNamespace(build=None)}
    with pytest.raises(DataError, match="names no build, and limits stand in one"):
        campaign_limits(replace(campaign, setups=setups), "cast")


def test_a_draw_without_an_operating_point_counts_as_over_every_limit():
    build = build_of(build_file())
    points = np.stack([build_points(build, SPEEDS, AIR)] * 40)
    points["leakage_area"][:10] = 0.0
    points["blower_displacement"][:10] *= 25.0
    draws = matched(points)
    assert draws.is_matched.all(axis=1).tolist() == [False] * 10 + [True] * 30
    curves = limit_curves(build, operation_of_draws(draws, build, np.random.default_rng(1), 1.0))
    assert {curve.chance for curve in curves if curve.is_known} == {0.25}


def test_each_setup_of_a_campaign_has_its_own_margins(campaign, tested):
    """The machined elbow of the example passes more air at the top, and so fills the manifold higher there."""

    def few(calibration, _count, generator):
        return randomised_maximum_likelihood(calibration, 50, generator)

    cast = campaign_limits(campaign, "cast", sampler=few)
    cast_pressure, machined_pressure = (curve_of(result, "manifold pressure").values for result in (cast, tested))
    assert machined_pressure[-1] > 1.005 * cast_pressure[-1]
    assert cast.draw_count == 50

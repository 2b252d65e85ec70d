"""What the band allows to be said, and how it is said."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.studies import verdict
from boostwright.studies.compare_result import Curves, Interval
from boostwright.studies.verdict import GAIN, LOSS, OPEN, Evidence
from boostwright.units import parse_unit

SPEED = np.array([50.0, 60.0, 70.0, 80.0, 90.0])
RANGE = (48.0, 92.0)
GOOD = Evidence(
    baseline_pulls=3,
    candidate_pulls=3,
    installations=4,
    share_a_day=True,
    has_archive=False,
    corrected_outside_range=False,
    fit_warnings=(),
)
AVERAGE = Interval(
    value=5300.0, lower=3300.0, upper=7300.0, relative_value=0.017, relative_lower=0.0104, relative_upper=0.0236
)
NOTHING = Interval(
    value=100.0, lower=-900.0, upper=1100.0, relative_value=0.0003, relative_lower=-0.003, relative_upper=0.0036
)
FLAT = np.zeros(5)
CURVES = Curves(
    engine_speed=SPEED,
    baseline=FLAT + 3e5,
    candidate=FLAT + 3e5,
    gain=FLAT,
    lower=FLAT,
    upper=FLAT,
    relative_gain=FLAT,
    relative_lower=FLAT - 0.011,
    relative_upper=FLAT + 0.012,
)


def parts_of(lower, upper):
    return verdict.stretches(SPEED, np.asarray(lower, float), np.asarray(upper, float), RANGE)


def said(parts, average=AVERAGE, evidence=GOOD):
    text = verdict.sentence(
        parts=parts,
        average=average,
        curves=CURVES,
        speed_range=RANGE,
        names=("cast", "machined", "power"),
        unit=parse_unit("kW"),
        evidence=evidence,
    )
    return text.replace("\u00a0", " ").replace("\u202f", "")


def test_the_range_splits_where_an_edge_of_the_band_crosses_zero():
    parts = parts_of([-3, -2, -1, 1, 2], [-1, 1, 2, 3, 4])
    assert [part.state for part in parts] == [LOSS, OPEN, GAIN]
    assert [part.from_speed for part in parts] == pytest.approx([48.0, 55.0, 75.0])
    assert [part.to_speed for part in parts] == pytest.approx([55.0, 75.0, 92.0])


def test_a_jump_from_loss_to_gain_leaves_no_gap():
    parts = parts_of([-2, -2, 1, 1, 1], [-1, -1, 2, 2, 2])
    assert [part.state for part in parts] == [LOSS, GAIN]
    assert parts[0].to_speed == parts[1].from_speed


@pytest.mark.parametrize(
    ("lower", "upper", "expected"),
    [
        ([1] * 5, [2] * 5, "gain shown"),
        ([-2] * 5, [-1] * 5, "loss shown"),
        ([-1] * 5, [1] * 5, "not shown"),
        ([-3, -2, -1, 1, 2], [-1, 1, 2, 3, 4], "gain and loss shown"),
    ],
)
def test_the_verdict_follows_the_band(lower, upper, expected):
    assert verdict.verdict(parts_of(lower, upper), GOOD) == expected


def test_setups_that_never_share_a_day_are_not_comparable_whatever_the_band_says():
    apart = replace(GOOD, share_a_day=False)
    assert verdict.verdict(parts_of([1] * 5, [2] * 5), apart) == "not comparable"
    assert verdict.grade(apart)[0] == "unsupported"
    assert "run both setups on one day" in said(parts_of([1] * 5, [2] * 5), evidence=apart)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, "publishable"),
        ({"installations": 2}, "indicative"),
        ({"baseline_pulls": 1}, "unsupported"),
        ({"baseline_pulls": 1, "has_archive": True}, "indicative"),
        ({"corrected_outside_range": True}, "indicative"),
        ({"fit_warnings": ("few effective draws",)}, "indicative"),
    ],
)
def test_the_grade_follows_how_the_pulls_were_made(change, expected):
    level, reason = verdict.grade(replace(GOOD, **change))
    assert level == expected
    assert bool(reason) == (expected != "publishable")


def test_the_sentence_says_average_places_pulls_and_confidence():
    assert said(parts_of([-3, -2, -1, 1, 2], [-1, 1, 2, 3, 4])) == (
        "Over 2880–5520 rev/min machined gives more power than cast on average, +5 ± 2 kW (+1.7 ± 0.7 %); "
        "gain shown at 4500–5520 rev/min; loss shown at 2880–3300 rev/min; open at 3300–4500 rev/min. "
        "3 pulls of cast, 3 of machined, 95 % confidence."
    )


def test_no_difference_is_a_result_with_its_bounds():
    text = said(parts_of([-1] * 5, [1] * 5), NOTHING)
    assert "no difference in average power between machined and cast is shown: 0.0 ± 0.3 %" in text
    assert "no gain larger than 1.2 % and no loss larger than 1.1 % at any speed" in text


def test_a_grade_below_publishable_stands_in_the_sentence_and_in_the_headline():
    evidence = replace(GOOD, installations=2)
    parts = parts_of([1] * 5, [2] * 5)
    assert "Indicative: each setup was installed only once" in said(parts, evidence=evidence)
    assert verdict.headline(parts, CURVES, evidence) == "Gain shown over the whole range (indicative)."


def test_the_headline_of_no_difference_gives_the_farthest_that_the_band_reaches():
    assert verdict.headline(parts_of([-1] * 5, [1] * 5), CURVES, GOOD) == (
        "No difference is shown; the band stays within ±\u00a01.2\u00a0%."
    )

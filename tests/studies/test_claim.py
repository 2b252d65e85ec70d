"""What may be claimed, in numbers and words, and how often a picked number would mislead."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.studies.claim import (
    ClaimKind,
    ClaimRequest,
    claim_of,
    claim_request,
    claimed_gain,
    largest_gain,
    refuse_what_no_pulls_join,
)
from boostwright.studies.language import language
from tests.publish.results import AVERAGE, SPEED, gain_of, result

PEAK, LARGEST, BEST = (ClaimRequest(kind=kind) for kind in (ClaimKind.PEAK, ClaimKind.LARGEST, ClaimKind.BEST_PULL))


def test_the_claim_is_the_lower_end_rounded_down():
    claim = claim_of(replace(result(), average=replace(AVERAGE, relative_lower=0.01097)))
    assert claim.is_allowed
    assert claim.sentence == (
        "With machined this engine gave at least 1.0\u00a0% more power than with cast, averaged over "
        "3\u202f000–5\u202f800\u00a0rev/min, at 95\u00a0% confidence."
    )


def test_no_gain_may_be_claimed_where_the_lower_end_is_not_above_zero():
    claim = claim_of(replace(result(), average=replace(AVERAGE, relative_lower=-0.001)))
    assert not claim.is_allowed
    assert claim.sentence.startswith(
        "No gain may be claimed over 3\u202f000–5\u202f800\u00a0rev/min: +1.7\u00a0±\u00a01."
    )


def test_a_lower_end_that_rounds_down_to_nothing_claims_nothing():
    assert not claim_of(replace(result(), average=replace(AVERAGE, relative_lower=0.0009))).is_allowed


@pytest.mark.parametrize("request_", [ClaimRequest(), PEAK, LARGEST, BEST])
def test_evidence_below_publishable_allows_no_claim_of_any_kind(request_):
    weak = replace(result(), grade="indicative", grade_reason="each setup was installed only once")
    claim = claim_of(weak, request_)
    assert not claim.is_allowed
    assert claim.sentence == "No claim: the evidence is indicative; each setup was installed only once."


def test_another_quantity_than_power_or_torque_is_not_claimed():
    claim = claim_of(replace(result(), quantity="charge_temperature"))
    assert claim.sentence == "A claim speaks about power or torque, not about charge temperature."
    assert not claim.is_allowed


def test_a_claim_at_a_speed_takes_the_edge_of_the_band_and_not_a_narrower_one():
    gain = claimed_gain(result(), claim_request("at-speed 4500"))
    half = 0.008 + 0.003 * ((4500 - 4400) / 1400) ** 2
    assert gain.relative_lower == pytest.approx(np.expm1(gain_of(4500) - half), abs=2e-4)  # straight lines between bins
    sentence = claim_of(result(), claim_request("at-speed 4500")).sentence
    assert "at 4\u202f500\u00a0rev/min" in sentence
    assert "holds for a speed picked after the pulls" in sentence


def test_a_claim_at_a_speed_that_was_not_measured_is_refused_with_those_that_were():
    with pytest.raises(DataError, match=r"--claim: 6\u202f200 rev/min lies outside .*; choose one within 3\u202f060–5"):
        claim_of(result(), claim_request("at-speed 6200"))


@pytest.mark.parametrize("text", ["mean", "peak 4500", "at-speed", "at-speed high", ""])
def test_an_unknown_claim_is_refused_with_the_choices(text):
    with pytest.raises(DataError, match="choose average, peak, largest, best-pull, or a speed"):
        claim_request(text)


def test_a_best_pull_is_claimed_as_its_setups_with_readings_as_readings():
    claim = claim_of(result(), BEST)
    assert claimed_gain(result(), BEST) == result().peak_gain
    assert "Beyond the luck of the pick" in claim.sentence
    assert "out of 3" in claim.sentence
    assert "is no gain of the setups" in claim.sentence


def test_picked_numbers_mislead_seldom_and_naive_ones_often():
    """No gain at all, the noise of a curve known: a claim of the largest gain is wrong in 2.5 % at most.

    600 campaigns: 2.5 % plus three standard errors is 4.4 %. The interval of the single speed that looks best, which a
    careless report would print, claims a gain in more than a tenth of them.
    """
    generator = np.random.default_rng(7)
    distance = SPEED[:, None] - SPEED[None, :]
    sd, covariance = 0.01, 1e-4 * np.exp(-0.5 * (distance / 6.0) ** 2)
    factor = np.linalg.cholesky(covariance + 1e-10 * np.eye(SPEED.size))
    noise = generator.standard_normal((4600, SPEED.size)) @ factor.T
    critical = np.quantile(np.max(np.abs(noise[600:]), axis=1) / sd, 0.95)
    start = result()
    wrong = naive = 0
    for estimate in noise[:600]:
        curves = replace(
            start.curves,
            relative_gain=estimate,
            relative_lower=estimate - critical * sd,
            relative_upper=estimate + critical * sd,
        )
        wrong += claim_of(replace(start, curves=curves), LARGEST).is_allowed
        naive += bool(np.max(estimate) - 1.96 * sd > 0.001)
    assert wrong / 600 < 0.044
    assert naive / 600 > 0.10


def test_the_largest_gain_lies_between_the_largest_edges_of_the_band():
    curves = result().curves
    gain = largest_gain(curves)
    assert gain.relative_lower == np.max(curves.relative_lower)
    assert gain.relative_upper == np.max(curves.relative_upper)


def test_a_claim_across_days_that_no_pulls_join_is_refused_with_the_reason():
    apart = replace(result(), verdict="not comparable", grade_reason="the setups never share a day and a stand")
    with pytest.raises(
        DataError, match=r"machined over cast cannot be claimed: the setups never share a day and a stand; "
    ):
        refuse_what_no_pulls_join(apart)
    refuse_what_no_pulls_join(result())


def test_the_claim_speaks_german():
    sentence = claim_of(result(), language=language("de")).sentence
    assert "mindestens 1,0\u00a0% mehr Leistung" in sentence

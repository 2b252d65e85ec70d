from dataclasses import replace

import pytest

from boostwright.errors import DataError
from boostwright.reduction.atmosphere import CORRECTION_RULES
from boostwright.reduction.claim import boosted_engine_warnings, one_correction_rule
from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReductionSettings
from tests.reduction.logs import RPM, WEATHER, raw_pull, sweep_channels


def pull(rule, barometer=97e3, manifold=1.0):
    channels = sweep_channels()
    channels["manifold_pressure"] = manifold * channels["manifold_pressure"]
    settings = ReductionSettings(speed_range=(3000 * RPM, 5800 * RPM), rule=CORRECTION_RULES[rule])
    return reduce_pull(raw_pull(channels, weather=replace(WEATHER, barometer=barometer)), settings)


def test_pulls_under_one_rule_may_be_claimed_together():
    assert one_correction_rule([pull("iso-1585"), pull("iso-1585", barometer=99e3)]) == "iso-1585"


def test_two_rules_in_one_claim_are_refused():
    mixed = [pull("iso-1585"), replace(pull("sae-j1349"), file="pulls/07.csv")]
    words = r"mixes correction rules \(pulls/03\.csv by iso-1585, pulls/07\.csv by sae-j1349\)"
    with pytest.raises(DataError, match=words):
        one_correction_rule(mixed)


def test_two_editions_of_one_standard_are_two_rules():
    with pytest.raises(DataError, match="reduce all pulls with one rule"):
        one_correction_rule([pull("sae-j1349"), pull("sae-j1349-jun90")])


def test_correcting_a_boosted_engine_is_warned_of_with_the_largest_factor():
    (warning,) = boosted_engine_warnings([pull("sae-j1349", barometer=100e3), pull("sae-j1349", barometer=92e3)])
    assert warning.startswith(
        "this engine is boosted to 1.67 times the barometer, and sae-j1349 changes its power by up to 12.0% "
        "(factor 1.1198, pulls/03.csv). Where boost is held to an absolute pressure, the air flow hardly follows"
    )
    assert "nearly all of this is over-correction" in warning
    assert 'or set correction = "none"' in warning


@pytest.mark.parametrize(("rule", "manifold"), [("none", 1.0), ("sae-j1349", 0.6)])
def test_no_warning_without_correction_or_without_boost(rule, manifold):
    assert boosted_engine_warnings([pull(rule, manifold=manifold)]) == ()


def test_no_pulls_no_warning():
    assert boosted_engine_warnings([]) == ()

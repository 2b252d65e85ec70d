"""Pools of the example campaigns, and what a pool refuses."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import DataError
from boostwright.inference.meta_analysis import mean_of, random_effects
from boostwright.records.campaign import Campaign, read_campaign
from boostwright.studies.compare import compare_setups, question_of, reduced_pulls
from boostwright.studies.pool import PoolQuestion, pool_campaigns
from boostwright.studies.pool_result import PoolResult

FAMILY = Path(__file__).parents[2] / "examples" / "workboat-family"
_WITHOUT_WEATHER = (
    ('barometer = "1011.0 hPa"\n', ""),
    ('air_temperature = "18.0 degC"\n', ""),
    ("relative_humidity = 0.55\n", ""),
)


def campaigns(*names: str) -> list[Campaign]:
    return [read_campaign(FAMILY / name) for name in names]


def edited(folder: Path, name: str, *changes: tuple[str, str]) -> Campaign:
    """A copy of one of the family's campaigns with words of its campaign file changed."""
    copy = folder / f"{name}-edited"
    shutil.copytree(FAMILY / name, copy)
    text = (copy / "campaign.toml").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (copy / "campaign.toml").write_text(text)
    return read_campaign(copy)


@pytest.fixture(scope="module")
def family() -> PoolResult:
    return pool_campaigns(campaigns("four", "five", "six", "eight", "big-six"), PoolQuestion(trend="air-flow"))


def test_the_family_gains_and_the_intervals_hold_its_truth(family):
    """Gains of 0.2 % and 10 % per kg/s of air were put in, with a spread of 0.5 % (the script of the example)."""
    flow = np.array([row.moderator for row in family.campaigns])
    truth = 0.002 + 0.1 * flow.mean()
    assert family.mean.lower < truth < family.mean.upper
    assert family.trend.slope.lower < 0.1 < family.trend.slope.upper
    assert family.next_engine.lower < family.mean.lower
    assert family.verdict == "gain shown"


def test_the_common_range_is_what_all_have_declared(family):
    assert (60 * family.range_from, 60 * family.range_to) == pytest.approx((3000, 5000))


def test_campaigns_enter_with_the_average_that_compare_prints(family):
    """Over the same range; the standard error is the printed half-width over 1.96."""
    campaign = read_campaign(FAMILY / "six")
    speed_range = (family.range_from, family.range_to)
    asked = Campaign(**{**campaign.__dict__, "speed_range": speed_range})
    alone = compare_setups(reduced_pulls(asked), question_of(asked, "power")).average
    six = next(row for row in family.campaigns if row.name == "six")
    assert (six.gain.lower, six.gain.upper) == (alone.relative_lower, alone.relative_upper)
    assert six.standard_error == pytest.approx(alone.relative_half_width / 1.959964)
    effects, errors = np.array([[row.gain.estimate, row.standard_error] for row in family.campaigns]).T
    assert family.mean.estimate == pytest.approx(float(random_effects(mean_of(effects, errors)).coefficients[0]))


def test_a_trend_over_boost_is_over_the_gauge_pressure_of_the_baseline():
    """The script gives the four a boost of 42 kPa at 5600 rev/min and three quarters of it at rest."""
    result = pool_campaigns(campaigns("four", "five", "eight"), PoolQuestion(trend="boost"))
    middle = (60 * result.range_from + 60 * result.range_to) / 2
    assert result.campaigns[0].moderator == pytest.approx(42e3 * (0.75 + 0.25 * middle / 5600), rel=0.01)
    assert result.trend.unit.symbol == "kPa"
    assert result.trend.next_lower.size == 0  # a line through three leaves one degree of freedom


def test_a_shared_stand_and_what_decides_alone_are_warned_of(family):
    said = " | ".join(family.warnings)
    assert "six and eight were pulled on the same stand, bench 2" in said
    assert "the answer would be “not shown” instead of “gain shown”" in said
    assert "5 campaigns are few for a trend" in said


def test_two_campaigns_give_a_mean_and_no_next_engine():
    result = pool_campaigns(campaigns("four", "big-six"), PoolQuestion())
    assert result.next_engine is None
    assert result.as_json()["next_engine"] is None
    assert result.campaigns[0].others_mean is None
    assert result.mean.upper - result.mean.lower > 0.15  # Student's t with one degree of freedom is 12.7
    assert "cannot be known from two" in result.sentence
    assert result.warnings[0].startswith("with two campaigns the gain of a next engine cannot be known")


def test_a_range_within_all_is_taken_and_one_beyond_is_refused():
    pair = campaigns("four", "five")
    assert pool_campaigns(pair, PoolQuestion(speed_range=(50.0, 80.0))).range_to == 80.0
    with pytest.raises(DataError, match=r"--range: 2.400–4.800.rev/min reaches beyond what every campaign declared"):
        pool_campaigns(pair, PoolQuestion(speed_range=(40.0, 80.0)))


def test_one_campaign_is_no_pool_and_two_no_trend():
    with pytest.raises(DataError, match="1 is too few campaigns for a pool: 2 at least; compare a single one with"):
        pool_campaigns(campaigns("four"), PoolQuestion())
    with pytest.raises(DataError, match="2 is too few campaigns for a trend: 3 at least; leave --trend out"):
        pool_campaigns(campaigns("four", "five"), PoolQuestion(trend="boost"))
    with pytest.raises(DataError, match='--trend: "colour" is no trend that we draw; choose air-flow or boost'):
        pool_campaigns(campaigns("four", "five", "six"), PoolQuestion(trend="colour"))


def test_the_same_pulls_under_another_name_are_refused(tmp_path):
    again = edited(tmp_path, "four", ('name = "harbour bench"', 'name = "another"'))
    with pytest.raises(DataError, match=r"four-edited/pulls/01-cast.csv: is the same pull as .*four/pulls/01-cast.csv"):
        pool_campaigns([*campaigns("four", "five"), again], PoolQuestion())


def test_mixed_rules_and_ranges_apart_are_refused(tmp_path):
    ruled = edited(tmp_path, "five", ('correction = "none"', 'correction = "iso-1585"'))
    with pytest.raises(DataError, match=r"correction: differs \(.*five-edited by iso-1585, .*four by none\)"):
        pool_campaigns([*campaigns("four"), ruled], PoolQuestion())
    apart = edited(tmp_path, "six", ("[3000, 5800]", "[5650, 5800]"))
    with pytest.raises(DataError, match="the declared ranges share no engine speed"):
        pool_campaigns([*campaigns("four"), apart], PoolQuestion())


def test_a_campaign_that_compares_nothing_is_refused_with_its_reason(tmp_path):
    days = ('setup = "machined"\nstarted = 2025-09-', 'setup = "machined"\nstarted = 2025-10-')
    with pytest.raises(
        DataError, match=r"four-edited: compares nothing: the setups never share a day .+; leave it out"
    ):
        pool_campaigns([*campaigns("five"), edited(tmp_path, "four", days)], PoolQuestion())


def test_a_trend_over_boost_needs_the_barometer(tmp_path):
    unweighed = edited(tmp_path, "four", *_WITHOUT_WEATHER)
    with pytest.raises(DataError, match=r"four-edited/pulls/.*has no barometer, from which boost is counted"):
        pool_campaigns([*campaigns("five", "eight"), unweighed], PoolQuestion(trend="boost"))


def test_a_stand_without_a_name_is_said(tmp_path):
    unnamed = edited(tmp_path, "four", ('name = "harbour bench"\n', ""))
    said = pool_campaigns([*campaigns("five"), unnamed], PoolQuestion()).warnings
    assert any("names no stand, so a shared one would not be seen" in words for words in said)


def test_other_names_of_the_setups_are_said(tmp_path):
    renamed = edited(tmp_path, "five", ('"machined"', '"milled"'), ("[setups.machined]", "[setups.milled]"))
    result = pool_campaigns([*campaigns("four"), renamed], PoolQuestion())
    assert any(
        "the candidate is called machined and milled: pool only what is the same change" in w for w in result.warnings
    )
    assert "no difference in average power between the candidate and the baseline" in result.sentence


def test_json_says_what_the_result_says(family):
    json = family.as_json()
    assert json["mean"]["gain_percent"] == pytest.approx(100 * family.mean.estimate, rel=1e-5)
    assert [row["campaign"] for row in json["campaigns"]] == ["four", "five", "six", "eight", "big-six"]
    assert sum(row["weight"] for row in json["campaigns"]) == pytest.approx(1.0, abs=1e-5)
    line = json["trend"]["line"]
    assert len(line["at"]) == len(line["gain_percent"]) == len(line["next_upper_percent"])

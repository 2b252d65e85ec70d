"""What campaigns leave in the archive, and what it gives to the next comparison; all data is invented."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from boostwright.errors import DataError, FileError
from boostwright.records.archive import Search, add_pulls, archived_channels, created, found_pulls
from boostwright.records.campaign import read_campaign
from boostwright.studies.archive import (
    archive_campaign,
    archive_evidence,
    search_from_text,
    speed_profile,
    stands,
)
from boostwright.studies.compare import reduced_pulls

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"
NOW = datetime(2026, 3, 20, tzinfo=UTC)


@pytest.fixture(scope="module")
def campaign():
    return read_campaign(EXAMPLE)


@pytest.fixture(scope="module")
def pulls(campaign):
    return reduced_pulls(campaign)


@pytest.fixture(scope="module")
def filled(campaign, tmp_path_factory):
    archive = created(tmp_path_factory.mktemp("archive"))
    return archive, list(archive_campaign(archive, campaign, NOW))


def with_levels(filled, campaign, tmp_path, spread: float):
    """An archive of 20 pairs of pulls on the campaign's stand, each pair `spread` apart in level."""
    pull = filled[1][0].pull.description
    archive = created(tmp_path / "archive")
    described = [
        replace(
            pull,
            file=f"{n}",
            installation=n // 2,
            started=(datetime(2026, 1, 1, 8) + timedelta(minutes=10 * n)).isoformat(),
            level=6.1 + spread * (n % 2),
        )
        for n in range(40)
    ]
    speed = np.linspace(50.0, 96.0, 10)
    list(add_pulls(archive, ((said, {"engine_speed": speed + n}) for n, said in enumerate(described)), NOW))
    return archive


def test_every_pull_of_a_campaign_is_kept_with_its_fault_and_its_build(filled, campaign):
    archive, additions = filled

    found = {pull.description.file: pull.description for pull in found_pulls(archive, Search())}

    assert [addition.outcome for addition in additions] == ["added"] * len(campaign.pulls)
    assert set(found) == {entry.file for entry in campaign.pulls}
    assert found["pulls/05-cast.tsv"].fault == "belt slip"
    assert len({said.build for said in found.values()}) == 2


def test_a_stand_is_as_repeatable_as_its_pulls_of_one_installation(filled, pulls):
    """By hand: the sound pairs of one installation are pulls 2, 3 and 4, 6."""
    [stand] = stands(filled[0])

    level = [float(np.mean(np.log(pull.values["torque"]))) for pull in pulls]
    by_hand = np.sqrt(((level[1] - level[2]) ** 2 / 2 + (level[3] - level[5]) ** 2 / 2) / 2)
    assert stand.repeatability is not None
    assert stand.repeatability.pull_level_sd == pytest.approx(by_hand)
    assert (stand.repeatability.degrees_of_freedom, stand.pulls, stand.blocks) == (2, 6, 4)


def test_the_pulls_that_are_compared_do_not_vouch_for_themselves(filled, campaign, pulls):
    evidence = archive_evidence(filled[0], campaign, pulls)

    assert evidence.repeatability is None
    assert "holds no repeated pulls" in evidence.sentence


def test_an_archive_that_agrees_gives_its_figure(filled, campaign, pulls, tmp_path):
    evidence = archive_evidence(with_levels(filled, campaign, tmp_path, 0.007), campaign, pulls)

    assert evidence.repeatability is not None
    assert evidence.repeatability.pull_level_sd == pytest.approx(0.007 / np.sqrt(2))
    assert "near the archive's figure, 0.49 % from 40 archived pulls (20 degrees of freedom)" in evidence.sentence


def test_an_archive_that_today_contradicts_is_not_used(filled, campaign, pulls, tmp_path):
    evidence = archive_evidence(with_levels(filled, campaign, tmp_path, 0.00005), campaign, pulls)

    assert evidence.repeatability is None
    assert "it is not used" in evidence.sentence


def test_the_mean_by_speed_is_that_of_the_pulls_own_means(filled):
    archive, _ = filled
    edges = np.array([3000.0, 3500.0, 4000.0, 20000.0, 36500.0]) / 60
    profile = speed_profile(archive, Search(setup="machined"), "torque", edges[:3])

    frames = [pl.DataFrame(archived_channels(archive, pull)) for pull in found_pulls(archive, Search(setup="machined"))]
    means = [
        frame.filter((pl.col("engine_speed") >= edges[0]) & (pl.col("engine_speed") < edges[1]))["torque"].mean()
        for frame in frames
    ]
    assert profile.mean[0] == pytest.approx(np.mean(means))
    half = 4.302653 * np.std(means, ddof=1) / np.sqrt(3)  # Student's t, 2 degrees of freedom, 97.5 %
    assert profile.upper[0] - profile.mean[0] == pytest.approx(half)
    assert profile.pulls.tolist() == [3, 3]
    assert profile.warnings == ()


def test_a_mean_of_unlike_pulls_says_so(filled):
    mixed = speed_profile(filled[0], Search(), "torque", np.array([50.0, 60.0]))
    assert mixed.warnings == ("The mean is of 2\u00a0setups; narrow it with --setup.",)


def test_a_bin_that_no_pull_reaches_stays_empty(filled):
    profile = speed_profile(filled[0], Search(), "torque", np.array([200.0, 300.0, 400.0]))

    assert np.isnan(profile.mean).all()
    assert profile.pulls.tolist() == [0, 0]


def test_what_is_not_there_is_said():
    with pytest.raises(FileError, match=r'--since: "14\.3\.2026" is not a day; write year, month and day'):
        search_from_text(
            stand=None,
            engine_family=None,
            setup=None,
            build=None,
            quantity=None,
            first_day="14.3.2026",
            last_day=None,
            with_superseded=False,
        )


def test_a_quantity_that_no_pull_carries_is_refused(filled):
    with pytest.raises(DataError, match="fuel_mass_flow is in no archived pull that matches"):
        speed_profile(filled[0], Search(), "fuel_mass_flow", np.array([50.0, 60.0]))

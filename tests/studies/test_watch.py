"""A session as it arrives: every complete pull exactly once, whatever its writer does; all data is invented."""

import shutil
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from boostwright.errors import FileError
from boostwright.records.arrivals import Arrivals
from boostwright.records.campaign import read_campaign
from boostwright.records.campaign_writer import write_campaign
from boostwright.studies.watch import Session, arrived, brought_in, session_news

EXAMPLE = Path(__file__).parents[2] / "examples" / "inlet-elbow"
NOON = datetime(2026, 3, 14, 12, 0, 12)
HEAD = """title = "Elbow"
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5400]
[setups.cast]
[setups.machined]
"""
LOG = "time [s],rpm,Torque [N*m]\n0,3000,450\n6,4000,460\n12,5600,430\n"


@pytest.fixture
def session(tmp_path) -> Session:
    (tmp_path / "pulls").mkdir()
    (tmp_path / "campaign.toml").write_text(HEAD)
    return Session(campaign=read_campaign(tmp_path), contents={})


def put(session: Session, file: str, text: str = LOG) -> str:
    (session.campaign.folder / file).write_text(text)
    return file


def take(session: Session, file: str, minutes: int = 0, setup: str | None = None) -> Session:
    return arrived(session, file, NOON + timedelta(minutes=minutes), setup).session


def files(session: Session) -> list[str]:
    return [entry.file for entry in session.campaign.pulls]


def test_a_log_becomes_a_pull_that_began_when_its_first_row_was_written(session):
    arrival = arrived(session, put(session, "pulls/01-cast.csv"), NOON, None)

    [entry] = arrival.session.campaign.pulls
    assert (entry.setup, entry.started, entry.installation) == ("cast", NOON - timedelta(seconds=12), 1)
    assert arrival.notes == (
        'is taken as a pull of "cast", as its name says',
        "has no weather: enter it in campaign.toml",
    )


def test_the_setup_is_the_one_named_else_the_one_asked_for_else_the_one_on_the_stand(session):
    session = take(session, put(session, "pulls/a_Machined2.csv", LOG + "13,5700,400\n"), 0)
    session = take(session, put(session, "pulls/b.csv", LOG + "13,5700,401\n"), 10, "cast")
    session = take(session, put(session, "pulls/castle.csv", LOG + "13,5700,402\n"), 20)

    assert [entry.setup for entry in session.campaign.pulls] == ["machined", "cast", "cast"]
    assert [entry.installation for entry in session.campaign.pulls] == [1, 2, 2]


def test_a_first_log_that_does_not_say_its_setup_is_refused_with_the_choices(session):
    with pytest.raises(FileError, match='does not say its setup in its name; give --setup: "cast" or "machined"'):
        arrived(session, put(session, "pulls/01.csv"), NOON, None)


def test_weather_is_borrowed_from_the_nearest_pull_and_it_is_said(session):
    write_campaign(take(session, put(session, "pulls/01-cast.csv")).campaign)
    toml = session.campaign.folder / "campaign.toml"
    toml.write_text(toml.read_text() + 'barometer = "1006 hPa"\nair_temperature = "24 degC"\nrelative_humidity = 0.5\n')
    known = Session(campaign=read_campaign(session.campaign.folder), contents=session.contents)

    soon = arrived(known, put(session, "pulls/02-cast.csv", LOG + "13,5700,400\n"), NOON + timedelta(hours=1), None)
    late = arrived(known, put(session, "pulls/03-cast.csv", LOG + "13,5700,401\n"), NOON + timedelta(hours=3), None)

    assert soon.session.campaign.pulls[-1].weather == known.campaign.pulls[0].weather
    assert "has the weather of pulls/01-cast.csv until you enter its own" in soon.notes[1]
    assert late.session.campaign.pulls[-1].weather is None


def test_a_changed_log_is_the_same_pull_a_renamed_one_moves_and_a_copy_counts_once(session):
    session = take(session, put(session, "pulls/01-cast.csv"))
    session = take(session, put(session, "pulls/01-cast.csv", LOG + "13,5700,400\n"))
    assert files(session) == ["pulls/01-cast.csv"]

    shutil.copy(session.campaign.folder / "pulls/01-cast.csv", session.campaign.folder / "pulls/copy.csv")
    copy = arrived(session, "pulls/copy.csv", NOON, None)
    assert (files(copy.session), copy.is_news) == (["pulls/01-cast.csv"], False)
    assert copy.notes == ("holds the same as pulls/01-cast.csv, and a pull counts once: left out",)

    (session.campaign.folder / "pulls/01-cast.csv").unlink()
    assert files(take(session, "pulls/copy.csv")) == ["pulls/copy.csv"]


def test_a_log_that_cannot_be_read_leaves_the_session_as_it_is(session):
    with pytest.raises(FileError, match=r"01-cast\.csv"):
        arrived(session, put(session, "pulls/01-cast.csv", "time [s],rpm,Torque [N*m]\n0,3000,45x\n"), NOON, None)


def test_a_logger_that_reuses_its_file_name_loses_no_pull(session, tmp_path_factory):
    log = tmp_path_factory.mktemp("logger") / "log.csv"
    for text in (LOG[:30], LOG, LOG.replace("450", "451"), LOG.replace("450", "451")[:30]):
        log.write_text(text)
        brought_in(session, log)

    kept = {path.name: path.read_text() for path in (session.campaign.folder / "pulls").iterdir()}
    assert kept == {"log.csv": LOG, "log-2.csv": LOG.replace("450", "451")}


def test_news_names_what_is_missing_then_calls_out_faults_and_answers(tmp_path):
    shutil.copytree(EXAMPLE, tmp_path / "job", ignore=shutil.ignore_patterns("results", "report*"))
    whole = read_campaign(tmp_path / "job")
    (tmp_path / "job" / "campaign.toml").write_text(
        (EXAMPLE / "campaign.toml").read_text().split("[[pulls]]")[0].rstrip() + "\n"
    )
    session = Session(campaign=read_campaign(tmp_path / "job"), contents={})
    assert session_news(session.campaign, "power").waiting_for == ("cast", "machined")

    known = Arrivals(quiet=0.0)  # as one who looks at files that all stand still
    known, ready = known.looked(tmp_path / "job" / "pulls", 0.0)
    for name in ready:
        session = arrived(session, f"pulls/{name}", NOON, None).session
    assert sorted(files(session)) == sorted(entry.file for entry in whole.pulls)
    assert known.looked(tmp_path / "job" / "pulls", 1.0)[1] == ()

    news = session_news(whole, "power")
    assert [file for file, _ in news.faults] == ["pulls/05-cast.tsv"]
    assert news.result is not None

"""The pulls of a campaign: gauge made absolute, torque and power completed, and all faults of all files at once."""

import math

import numpy as np
import pytest

from boostwright.errors import FileError
from boostwright.records.campaign import read_campaign
from boostwright.records.log import read_log
from boostwright.records.pull import lone_pull, read_pulls

HEAD = """
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5800]
[setups.cast]
[setups.machined]
"""
WEATHER = 'barometer = "1000 hPa"\nair_temperature = "24 degC"\nrelative_humidity = 0.52\n'


@pytest.fixture
def campaign_of(make_file, tmp_path):
    """A campaign of logs, half an hour apart, and what it says about them."""

    def make(*logs: str, weather: str = WEATHER, head: str = HEAD):
        text = head
        for place, log in enumerate(logs):
            make_file(log, f"pulls/{place + 1}.csv")
            text += f'[[pulls]]\nfile = "pulls/{place + 1}.csv"\nsetup = "cast"\n'
            text += f"started = 2026-03-14T{9 + place // 2:02}:{30 * (place % 2):02}:00\n{weather}"
        make_file(text, "campaign.toml")
        return read_campaign(tmp_path)

    return make


def refusal(campaign) -> list[str]:
    with pytest.raises(FileError) as caught:
        read_pulls(campaign)
    return str(caught.value).replace(f"{campaign.folder}/", "").splitlines()


def test_a_pull_knows_its_place_in_the_session(campaign_of):
    log = "rpm,Torque [N*m]\n3000,400\n3006,401\n"

    pulls = read_pulls(campaign_of(log, log, log))

    assert [pull.elapsed for pull in pulls] == [0.0, 1800.0, 3600.0]
    assert {(pull.session, pull.installation, pull.setup) for pull in pulls} == {("2026-03-14", 1, "cast")}
    assert pulls[1].weather == pulls[0].weather


def test_boost_becomes_absolute_with_the_barometer_of_its_own_pull(campaign_of):
    log = "rpm,Torque [N*m],Boost [kPa]\n3000,400,60\n3006,401,-20\n"
    campaign = campaign_of(log, log)
    low = (campaign.folder / "campaign.toml").read_text().replace("1000 hPa", "900 hPa", 1)
    (campaign.folder / "campaign.toml").write_text(low)

    first, second = read_pulls(read_campaign(campaign.folder))

    assert first.channels["manifold_pressure"] == pytest.approx([150e3, 70e3])
    assert second.channels["manifold_pressure"] == pytest.approx([160e3, 80e3])


def test_power_follows_from_torque_and_torque_from_power(campaign_of):
    torque = "rpm,Torque [N*m]\n0,0\n3000,400\n"
    power = "rpm,Power [kW]\n0,0\n3000,125.663706143592\n"

    by_torque, by_power = read_pulls(campaign_of(torque, power))

    assert by_torque.channels["power"] == pytest.approx([0.0, 400 * math.tau * 50])
    assert by_power.channels["torque"] == pytest.approx([0.0, 400.0])


def test_both_are_kept_where_both_are_logged(campaign_of):
    (pull,) = read_pulls(campaign_of("rpm,Torque [N*m],Power [kW]\n3000,400,120\n"))

    assert (pull.channels["torque"][0], pull.channels["power"][0]) == (400.0, 120e3)


def test_progress_is_told_each_file(campaign_of):
    told: list[str] = []

    read_pulls(campaign_of("rpm,kW\n3000,100\n", "rpm,kW\n3000,100\n"), progress=told.append)

    assert told == ["pulls/1.csv", "pulls/2.csv"]


def test_faults_of_all_files_are_told_together(campaign_of):
    campaign = campaign_of("rpm,kW\n3000,x\n", "", "rpm,Gear\n3000,4\n", "rpm,kW\n3000,100\n")
    (campaign.folder / "pulls/4.csv").unlink()

    assert refusal(campaign) == [
        'pulls/1.csv, row 2, column "kW": "x" is not a number; correct it, or delete the row',
        "pulls/2.csv: is empty; check that the logger has saved the pull",
        "pulls/4.csv: is not there; check the name and the folder",
        "pulls/3.csv: has neither torque nor power; log one of them, or say which column it is under [columns]: "
        '"..." = "torque [N*m]"',
    ]


def test_gauge_pressure_without_a_barometer_is_refused(campaign_of):
    assert refusal(campaign_of("rpm,kW,Boost [psi]\n3000,100,9\n", weather="")) == [
        'pulls/1.csv, column "Boost [psi]": is gauge pressure, and there is no barometer; '
        'give this pull its barometer = "1006 hPa", air_temperature and relative_humidity'
    ]


def test_boost_that_calls_itself_absolute_is_refused(campaign_of):
    assert refusal(campaign_of("rpm,kW,MAP [kPa]\n3000,100,55\n3006,101,70\n")) == [
        'pulls/1.csv, column "MAP [kPa]": never rises above 70 kPa absolute with the barometer at 100 kPa; '
        'if it is boost, say so under [columns]: "MAP [kPa]" = "manifold_pressure [kPa gauge]"'
    ]


def test_a_rule_about_no_column_is_refused(campaign_of):
    campaign = campaign_of("rpm,kW\n3000,100\n", head=HEAD + '[columns]\n"Trq" = "torque [N*m]"\n')

    assert refusal(campaign) == [
        'campaign.toml, column "Trq": is the header of no column in any log; '
        "write the header as the logs have it, or take it out"
    ]


def test_a_lone_log_is_a_pull_without_what_only_a_campaign_knows(make_file):
    pull = lone_pull(read_log(make_file("rpm,kW,Boost [psi]\n3000,100,9\n")))

    assert (pull.weather, pull.soak_temperature, pull.setup) == (None, None, "")
    assert sorted(pull.channels) == ["engine_speed", "power", "torque"]
    assert all(np.isfinite(values).all() for values in pull.channels.values())

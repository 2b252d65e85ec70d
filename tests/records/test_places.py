"""Clocks, places and names as computers elsewhere write them: zones, Windows paths, long paths, every script."""

import os
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

from boostwright.errors import FileError
from boostwright.records.campaign import read_campaign
from boostwright.records.campaign_writer import write_campaign
from boostwright.records.folder import draft_campaign, find_logs
from boostwright.records.log import read_log
from boostwright.records.pull import read_pulls
from boostwright.records.zip_file import zip_bytes

LOG = "time [s],rpm,Torque [N*m]\n" + "".join(f"{row / 10},{3000 + 50 * row},{400 + row}\n" for row in range(5))
HEAD = """
title = "Elbow"
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5800]
[setups.cast]
[setups.machined]
"""


def campaign_of(folder: Path, *pulls: tuple[str, str, str]):
    """A campaign of (file as it is written, setup, started); every file that can be is there."""
    text = HEAD
    for file, setup, started in pulls:
        path = folder / file.replace("\\", "/")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(LOG, encoding="utf-8")
        text += f"[[pulls]]\nfile = '{file}'\nsetup = \"{setup}\"\nstarted = {started}\n"
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return read_campaign(folder)


class TestClocks:
    """Clocks went from 03:00 +02:00 to 02:00 +01:00 on 25 October 2026."""

    FIRST, SECOND, THIRD = "2026-10-25T02:50:00+02:00", "2026-10-25T02:10:00+01:00", "2026-10-25T03:10:00+01:00"

    def test_pulls_on_both_sides_of_a_change_of_clocks_stand_in_the_order_of_time(self, tmp_path):
        campaign = campaign_of(
            tmp_path,
            ("pulls/1.csv", "cast", self.FIRST),
            ("pulls/2.csv", "machined", self.SECOND),
            ("pulls/3.csv", "machined", self.THIRD),
        )

        pulls = read_pulls(campaign)

        assert [pull.elapsed for pull in pulls] == [0.0, 20 * 60.0, 80 * 60.0]
        assert [pull.installation for pull in pulls] == [1, 2, 2]

    def test_a_zone_comes_back_as_it_was_written(self, tmp_path):
        campaign = campaign_of(tmp_path, ("pulls/1.csv", "cast", self.FIRST), ("pulls/2.csv", "machined", self.SECOND))

        write_campaign(campaign)

        assert read_campaign(tmp_path) == campaign
        assert campaign.pulls[0].started == datetime.fromisoformat(self.FIRST)
        assert self.FIRST in (tmp_path / "campaign.toml").read_text(encoding="utf-8")

    def test_the_zone_of_the_computer_changes_nothing(self, tmp_path):
        campaign_of(
            tmp_path, ("pulls/1.csv", "cast", "2026-10-25T02:50:00"), ("pulls/2.csv", "cast", self.FIRST[:16] + ":30")
        )
        code = (
            "import sys; from pathlib import Path; from boostwright.records.campaign import read_campaign; "
            "from boostwright.records.pull import read_pulls; "
            "print([(pull.started.isoformat(), pull.elapsed) for pull in read_pulls(read_campaign(Path(sys.argv[1])))])"
        )
        told = {
            subprocess.run(
                [sys.executable, "-c", code, str(tmp_path)],
                env=os.environ | {"TZ": zone},
                capture_output=True,
                text=True,
                check=True,
            ).stdout
            for zone in ("UTC", "America/St_Johns")
        }
        assert told == {"[('2026-10-25T02:50:00', 0.0), ('2026-10-25T02:50:30', 30.0)]\n"}


class TestPaths:
    def test_a_path_written_on_windows_is_the_same_file(self, tmp_path):
        campaign = campaign_of(tmp_path, ("pulls\\01.csv", "cast", "2026-03-14T09:12:00"))

        assert campaign.pulls[0].file == "pulls/01.csv"
        assert read_pulls(campaign)[0].file == "pulls/01.csv"

    def test_one_file_written_in_both_ways_is_one_file(self, tmp_path):
        with pytest.raises(FileError, match="is the file of more than one pull"):
            campaign_of(
                tmp_path,
                ("pulls\\01.csv", "cast", "2026-03-14T09:12:00"),
                ("pulls/01.csv", "cast", "2026-03-14T10:12:00"),
            )

    @pytest.mark.parametrize("file", ["..\\01.csv", "C:\\01.csv", "\\\\server\\01.csv"])
    def test_a_windows_path_that_leads_elsewhere_is_refused(self, tmp_path, file):
        (tmp_path / "pulls").mkdir()
        text = f"{HEAD}[[pulls]]\nfile = '{file}'\nsetup = \"cast\"\nstarted = 2026-03-14T09:12:00\n"
        (tmp_path / "campaign.toml").write_text(text, encoding="utf-8")

        with pytest.raises(FileError, match="lies outside the campaign folder"):
            read_campaign(tmp_path)

    @pytest.mark.parametrize("name", ["nul.csv", "COM1.csv", "aux", "pulls/prn.tsv"])
    def test_a_name_that_windows_keeps_for_a_device_is_not_handed_over(self, name):
        with pytest.raises(FileError, match="is a name that not every system can write; rename it"):
            zip_bytes({name: b""})

    def test_a_path_longer_than_windows_once_allowed_is_read_and_written(self, tmp_path):
        deep = tmp_path.joinpath(*["a folder with a rather long name of its own"] * 8)
        deep.mkdir(parents=True)
        campaign = campaign_of(deep, ("pulls/01.csv", "cast", "2026-03-14T09:12:00"))

        assert len(str(deep)) > 300
        assert len(read_pulls(campaign)) == 1
        assert read_campaign(write_campaign(campaign).parent) == campaign

    def test_a_name_too_long_for_the_system_is_refused_in_words(self, tmp_path):
        with pytest.raises(FileError, match="cannot be read: file name too long"):
            read_log(tmp_path / f"{'n' * 300}.csv")

    @pytest.mark.parametrize(
        "name",
        ["Ansaugkrümmer 1.csv", "Ansaugkru\u0308mmer 1.csv", "吸気.csv", "запуск №1.csv", "pull 🚤.csv", "100 %.csv"],
    )
    def test_a_name_in_any_script_is_found_drafted_and_read(self, tmp_path, name):
        campaign = campaign_of(tmp_path, (f"pulls/{name}", "cast", "2026-03-14T09:12:00"))

        assert find_logs(tmp_path) == (f"pulls/{name}",)
        assert f'"pulls/{name}"' in draft_campaign(tmp_path)
        assert read_pulls(campaign)[0].channels["torque"].size == 5


def test_no_file_is_read_or_written_in_the_encoding_of_the_country(tmp_path):
    """Python itself tells of a file that is opened without saying in which encoding."""
    campaign_of(tmp_path, ("pulls/01.csv", "cast", "2026-03-14T09:12:00"))
    (tmp_path / "pulls" / "02.csv").write_text(LOG.replace("Torque [N*m]", "Drehmoment [N·m]"), encoding="utf-8")
    command = [sys.executable, "-X", "warn_default_encoding", "-W", "error::EncodingWarning"]

    done = subprocess.run(
        [*command, "-m", "boostwright", "inspect", str(tmp_path), "--json", str(tmp_path / "told.json")],
        env=os.environ | {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )

    assert "EncodingWarning" not in done.stderr
    assert done.returncode == 0, done.stderr
    assert "N*m" in done.stdout

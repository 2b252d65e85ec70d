"""The logs of a folder, and the draft of their campaign."""

import tomllib

import pytest

from boostwright.errors import FileError
from boostwright.records.campaign import read_campaign
from boostwright.records.columns import ColumnRule, parse_rule
from boostwright.records.folder import draft_campaign, find_logs, write_draft
from boostwright.units import parse_unit

LOG = "rpm,Torque [N*m]\n3000,400\n3006,401\n"


@pytest.fixture
def folder_of(make_file, tmp_path):
    def make(*names: str, text: str = LOG):
        for name in names:
            make_file(text, name)
        return tmp_path

    return make


def test_logs_are_found_in_the_folder_and_its_pulls(folder_of):
    folder = folder_of("b.csv", "pulls/a.TSV", "notes.md", ".hidden.csv", "~lock.csv", "results/x.csv")

    assert find_logs(folder) == ("b.csv", "pulls/a.TSV")


def test_setups_are_taken_from_plain_file_names(folder_of):
    folder = folder_of("pulls/01-cast.csv", "pulls/02-machined.csv", "pulls/03-machined.csv", "pulls/cast_4.csv")

    drafted = tomllib.loads(draft_campaign(folder))

    assert list(drafted["setups"]) == ["cast", "machined"]
    assert [pull["setup"] for pull in drafted["pulls"]] == ["cast", "machined", "machined", "cast"]


@pytest.mark.parametrize(
    "names",
    [("pull_01.csv", "pull_02.csv"), ("cast 1.csv", "cast 2.csv"), ("a(1).csv", "b.csv"), ("run1.csv", "log2.csv")],
)
def test_setups_are_not_guessed_from_other_names(folder_of, names):
    drafted = tomllib.loads(draft_campaign(folder_of(*names)))

    assert list(drafted["setups"]) == ["first", "second"]
    assert {pull["setup"] for pull in drafted["pulls"]} == {"?"}


def test_a_draft_says_what_is_still_missing(folder_of):
    folder = folder_of("pulls/cast 1.csv", "pulls/machined 1.csv")
    write_draft(folder)

    with pytest.raises(FileError) as caught:
        read_campaign(folder)

    open_keys = [fault.key for fault in caught.value.faults]
    assert {fault.problem for fault in caught.value.faults} == {"is still to be filled in"}
    assert open_keys[:4] == ["baseline", "candidate", "speed_range_rpm", "stand.name"]
    assert open_keys[4:8] == [
        f"pulls[1].{key} (pulls/cast 1.csv)" for key in ("started", "barometer", "air_temperature", "relative_humidity")
    ]
    assert len(open_keys) == 12


def test_a_draft_that_is_filled_in_is_a_campaign(folder_of):
    folder = folder_of("cast 1.csv", "machined 1.csv")
    text = draft_campaign(folder)
    answers = {
        'baseline = "?"': 'baseline = "cast"',
        'candidate = "?"': 'candidate = "machined"',
        'speed_range_rpm = "?"': "speed_range_rpm = [3000, 5800]",
        'name = "?"': 'name = "bench 2"',
        'barometer = "?"': 'barometer = "1006 hPa"',
        'air_temperature = "?"': 'air_temperature = "24 degC"',
        'relative_humidity = "?"': "relative_humidity = 0.5",
    }
    for said, answer in answers.items():
        text = text.replace(said, answer)
    text = text.replace('started = "?"', "started = 2026-03-14T09:12:00", 1)
    text = text.replace('started = "?"', "started = 2026-03-14T09:30:00", 1)
    (folder / "campaign.toml").write_text(text)

    assert [pull.setup for pull in read_campaign(folder).pulls] == ["cast", "machined"]


def test_a_draft_asks_about_columns_that_are_not_plain(folder_of):
    drafted = draft_campaign(folder_of("a.csv", "b.csv", text='rpm,MAP [psi],"Gear ""]\x07 = 1"\n3000,9,4\n'))

    table = drafted[drafted.index("[columns]") : drafted.index("[[pulls]]")].splitlines()
    assert table == [
        "[columns]",
        '# "MAP [psi]" does not say whether its psi is absolute or gauge; say under [columns] or with --column: '
        '"MAP [psi]" = "manifold_pressure [psi abs]" or "manifold_pressure [psi gauge]"',
        '# "Gear "] = 1" is left out: not known',
        "",
    ]
    assert tomllib.loads(drafted)["columns"] == {}


def test_a_draft_holds_what_is_said_of_columns(folder_of):
    folder = folder_of("a.csv", text="Eng,MAP,Boost [psi],kW\n3000,11,9,100\n")
    said = ("engine_speed [rpm]", "manifold_pressure [psi gauge]", "ignore")
    rules = [parse_rule(header, rule) for header, rule in zip(("Eng", "MAP", "Boost [psi]"), said, strict=True)]

    columns = tomllib.loads(draft_campaign(folder, rules))["columns"]

    assert columns == dict(zip(("Eng", "MAP", "Boost [psi]"), said, strict=True))


def test_a_unit_alone_is_drafted_with_its_quantity(folder_of):
    rule = ColumnRule(header="MAP", unit=parse_unit("psi abs"))

    columns = tomllib.loads(draft_campaign(folder_of("a.csv", text="rpm,MAP\n3000,21\n"), [rule]))["columns"]

    assert columns == {"MAP": "manifold_pressure [psi abs]"}


def test_a_draft_leaves_the_unit_to_the_logs_where_they_say_it(folder_of, make_file):
    folder = folder_of("a.csv", text="rpm,Trq\n1/min,N*m\n3000,400\n")
    make_file("rpm,Trq\n1/min,lb-ft\n3000,300\n", "b.csv")

    columns = tomllib.loads(draft_campaign(folder, [parse_rule("Trq", "torque")]))["columns"]

    assert columns == {"Trq": "torque"}


def test_a_file_name_of_any_kind_stays_text(folder_of):
    name = 'a"\\ = [x].csv'

    assert tomllib.loads(draft_campaign(folder_of(name)))["pulls"][0]["file"] == name


def test_a_campaign_that_is_there_is_never_written_over(folder_of):
    folder = folder_of("a.csv")
    (folder / "campaign.toml").write_text("mine")

    with pytest.raises(FileError, match=r"campaign\.toml: is there already; edit it, or move it away first"):
        write_draft(folder)
    assert (folder / "campaign.toml").read_text() == "mine"


def test_a_folder_without_logs_has_no_draft(tmp_path):
    with pytest.raises(FileError, match="holds no logs; put the logs in it, or in its pulls/"):
        write_draft(tmp_path)

"""The campaign folder: what `campaign.toml` says, what it may leave out, and every way in which it can be wrong."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import FileError
from boostwright.records.campaign import Campaign, PullEntry, Setup, Stand, read_campaign, read_column_rules
from boostwright.records.campaign_writer import write_campaign
from boostwright.records.columns import parse_rule
from boostwright.records.weather import Weather

HEAD = """
title = "Machined inlet elbow against the cast one"
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5800]
[setups.cast]
[setups.machined]
"""
PULL = """
[[pulls]]
file = "pulls/01.csv"
setup = "cast"
started = 2026-03-14T09:12:00
"""


@pytest.fixture
def folder(tmp_path):
    return tmp_path


def campaign_of(folder, text) -> Campaign:
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return read_campaign(folder)


def refusal(folder, text) -> list[str]:
    with pytest.raises(FileError) as caught:
        campaign_of(folder, text)
    return str(caught.value).replace(f"{folder}/", "").splitlines()


def pull(number: int, setup: str, started: str, more: str = "") -> str:
    return f'[[pulls]]\nfile = "pulls/{number:02}.csv"\nsetup = "{setup}"\nstarted = {started}\n{more}\n'


def test_a_whole_campaign_is_read_into_si(folder):
    (folder / "builds").mkdir()
    (folder / "builds/cast.toml").touch()
    text = """
        title = "Machined inlet elbow against the cast one"
        baseline = "cast"
        candidate = "machined"
        speed_range_rpm = [3000, 5800]
        correction = "sae-j1349-jun90"
        units = "us"
        [stand]
        name = "bench 2"
        kind = "hub"
        rotating_inertia = "0.45 kg*m**2"
        [setups.cast]
        build = "builds/cast.toml"
        [setups.machined]
        [columns]
        "Eng Spd" = "engine_speed [rpm]"
        [[pulls]]
        file = "pulls/01.csv"
        setup = "cast"
        started = 2026-03-14T09:12:00
        barometer = "1006 hPa"
        air_temperature = "24 degC"
        relative_humidity = "52 %"
        soak_temperature = "88 degF"
        installation = 3
        session = "morning"
    """

    assert campaign_of(folder, text) == Campaign(
        folder=folder,
        title="Machined inlet elbow against the cast one",
        baseline="cast",
        candidate="machined",
        speed_range=(pytest.approx(50.0), pytest.approx(96.666667)),
        correction="sae-j1349-jun90",
        units="us",
        stand=Stand(name="bench 2", kind="hub", rotating_inertia=0.45),
        setups={"cast": Setup(name="cast", build="builds/cast.toml"), "machined": Setup(name="machined")},
        columns=(parse_rule("Eng Spd", "engine_speed [rpm]"),),
        pulls=(
            PullEntry(
                file="pulls/01.csv",
                setup="cast",
                session="morning",
                installation=3,
                started=datetime(2026, 3, 14, 9, 12),
                weather=Weather(barometer=100600.0, air_temperature=297.15, relative_humidity=0.52),
                soak_temperature=pytest.approx(304.2611),
            ),
        ),
    )


def test_what_may_be_left_out_has_its_default(folder):
    campaign = campaign_of(folder, HEAD.replace('title = "Machined inlet elbow against the cast one"', "") + PULL)

    assert campaign.title == folder.name
    assert (campaign.correction, campaign.units, campaign.stand) == ("none", "metric", Stand())
    assert campaign.pulls[0].session == "2026-03-14"
    assert (campaign.pulls[0].weather, campaign.pulls[0].soak_temperature) == (None, None)


def test_installations_are_counted_from_changes_of_setup_and_session_in_the_order_of_time(folder):
    pulls = [
        pull(1, "machined", "2026-03-14T10:40:00"),
        pull(2, "cast", "2026-03-14T09:12:00"),
        pull(3, "cast", "2026-03-14T09:30:00"),
        pull(4, "machined", "2026-03-14T10:20:00"),
        pull(5, "cast", "2026-03-14T11:00:00"),
        pull(6, "cast", "2026-03-15T09:00:00"),
    ]

    campaign = campaign_of(folder, HEAD + "".join(pulls))

    assert [entry.installation for entry in campaign.pulls] == [2, 1, 1, 2, 3, 4]


@pytest.mark.parametrize(
    ("said", "instead", "message"),
    [
        ('baseline = "cast"', "", 'key baseline: is missing; write baseline = "the name of a setup"'),
        (
            'candidate = "machined"',
            'candidate = "milled"',
            'key candidate: "milled" is not one of the setups; choose "cast" or "machined"',
        ),
        (
            'candidate = "machined"',
            'candidate = "cast"',
            'key candidate: "cast" is the baseline as well; name two setups',
        ),
        (
            "[3000, 5800]",
            "[5800, 3000]",
            "key speed_range_rpm: is not a range of engine speeds in rpm, the lower first; write",
        ),
        ("[3000, 5800]", "[50, 97]", "key speed_range_rpm: is not a range of engine speeds in rpm"),
        (
            "[3000, 5800]",
            '"3000-5800"',
            'key speed_range_rpm: "3000-5800" is not a list of numbers; write speed_range_rpm = [3000, 5800]',
        ),
        (
            "speed_range_rpm = [3000, 5800]",
            "",
            "key speed_range_rpm: is missing; write speed_range_rpm = [3000, 5800], the range that the",
        ),
        (
            "[setups.cast]",
            'correction = "j1349"\n[setups.cast]',
            'key correction: "j1349" is not one of the choices; did you mean sae-j1349',
        ),
        (
            "[setups.cast]",
            "correction = 1349\n[setups.cast]",
            "key correction: 1349 is not one of the choices; did you mean sae-j1349?",
        ),
        (
            "[setups.cast]",
            'units = "imperial"\n[setups.cast]',
            'key units: "imperial" is not one of the choices; did you mean metric?',
        ),
        (
            "[setups.cast]",
            "[stand]\ninertia = 1\n[setups.cast]",
            "key stand.inertia: is not a key that we know; did you mean rotating_inertia?",
        ),
        (
            "[setups.cast]",
            "[stand]\nrotating_inertia = 0.45\n[setups.cast]",
            "key stand.rotating_inertia: 0.45 has no unit where an inertia is wanted; write one such as",
        ),
        (
            "[setups.cast]",
            '[stand]\nrotating_inertia = "-1 kg*m^2"\n[setups.cast]',
            'key stand.rotating_inertia: "-1 kg*m^2" is below zero',
        ),
        ("[setups.cast]", 'tittle = "x"\n[setups.cast]', "key tittle: is not a key that we know; did you mean title?"),
        (
            "[setups.cast]",
            '[setups.cast]\nbuild = "builds/none.toml"',
            'key setups.cast.build: "builds/none.toml" is not there; check the name; comparing needs no',
        ),
        (
            "[setups.cast]",
            '[setups.cast]\nbuild = "../cast.toml"',
            'key setups.cast.build: "../cast.toml" lies outside the campaign folder; copy it into builds/',
        ),
        (
            "[setups.cast]",
            "[setups.cast]\nbuilds = 1",
            "key setups.cast.builds: is not a key that we know; did you mean build?",
        ),
        (
            "[setups.cast]\n[setups.machined]",
            "",
            "key setups: is missing; write a table for each, such as [setups.cast] and [setups.machined]",
        ),
        (
            "[setups.cast]",
            '[columns]\n"Trq" = "torqe [N*m]"\n[setups.cast]',
            'key columns.Trq: "torqe [N*m]" names no quantity that a log may carry; did you mean torque',
        ),
        (
            "[setups.cast]",
            '[columns]\n"MAP" = "manifold_pressure [psi]"\n[setups.cast]',
            'key columns.MAP: "manifold_pressure [psi]" does not say whether its psi is absolute or gauge',
        ),
        ('file = "pulls/01.csv"', "", 'key pulls[1].file: is missing; write file = "pulls/01.csv"'),
        (
            'file = "pulls/01.csv"',
            'file = "/etc/passwd"',
            'key pulls[1].file (/etc/passwd): "/etc/passwd" lies outside the campaign folder; copy it into',
        ),
        (
            'file = "pulls/01.csv"',
            'file = "../01.csv"',
            'key pulls[1].file (../01.csv): "../01.csv" lies outside the campaign folder',
        ),
        ('setup = "cast"', "", 'key pulls[1].setup (pulls/01.csv): is missing; write setup = "cast" or "machined"'),
        (
            'setup = "cast"',
            'setup = "?"',
            'key pulls[1].setup (pulls/01.csv): "?" is still to be filled in; write setup = "cast" or',
        ),
        (
            'setup = "cast"',
            'setup = "casts"',
            'key pulls[1].setup (pulls/01.csv): "casts" is not one of the setups; write setup = "cast" or',
        ),
        (
            "started = 2026-03-14T09:12:00",
            "",
            "key pulls[1].started (pulls/01.csv): is missing; write started = 2026-03-14T09:12:00, the date",
        ),
        (
            "started = 2026-03-14T09:12:00",
            'started = "2026-03-14 09:12"',
            'key pulls[1].started (pulls/01.csv): "2026-03-14 09:12" is not a date with a time of day;',
        ),
        (
            "started = 2026-03-14T09:12:00",
            "started = 2026-03-14",
            "key pulls[1].started (pulls/01.csv): 2026-03-14 is not a date with a time of day",
        ),
        (
            PULL,
            PULL + PULL,
            'key pulls[2].file (pulls/01.csv): "pulls/01.csv" is the file of more than one pull; give each',
        ),
        (
            PULL,
            PULL + PULL.replace("01.csv", "02.csv"),
            "key pulls[2].started (pulls/02.csv): 2026-03-14 09:12:00 is the start of more than one pull;",
        ),
        (
            PULL,
            PULL + pull(2, "cast", "2026-03-14T09:30:00Z"),
            "key pulls[2].started (pulls/02.csv): 2026-03-14 09:30:00+00:00 has a time zone and others have",
        ),
        (
            PULL,
            PULL + pull(2, "cast", "2026-03-14T09:30:00", "installation = 2"),
            "key pulls[1].installation (pulls/01.csv): is missing and other pulls have it; give it for",
        ),
        (
            PULL,
            PULL + "installation = 1\n" + pull(2, "machined", "2026-03-14T09:30:00", "installation = 1"),
            'key pulls[2].installation (pulls/02.csv): 1 is an installation of "cast" too; count one',
        ),
        (
            PULL,
            PULL + "installation = 0",
            "key pulls[1].installation (pulls/01.csv): 0 is not a whole number from 1 upward; write",
        ),
        (
            PULL,
            PULL + "session = 1",
            'key pulls[1].session (pulls/01.csv): 1 is not a text; write session = "2026-03-14"',
        ),
        (
            PULL,
            PULL + "baromter = 1",
            "key pulls[1].baromter (pulls/01.csv): is not a key that we know; did you mean barometer?",
        ),
        (
            PULL,
            PULL + 'barometer = "1006 hPa"',
            "key pulls[1].air_temperature (pulls/01.csv): is missing beside the rest of the weather; give",
        ),
        (
            PULL,
            PULL + 'barometer = "2 psig"',
            'key pulls[1].barometer (pulls/01.csv): "2 psig" is a gauge pressure where an absolute pressure',
        ),
        (
            PULL,
            PULL + 'soak_temperature = "31"',
            "key pulls[1].soak_temperature (pulls/01.csv): 31 has no unit where a temperature is wanted;",
        ),
        (PULL, "[pulls]\nfile = 1", "key pulls: is not a list of tables; write [[pulls]] above each"),
        (
            "[setups.cast]",
            "stand = 2\n[setups.cast]",
            "key stand: 2 is not a table; write [stand] on a line of its own",
        ),
    ],
)
def test_each_fault_stands_at_its_key_with_what_to_write(folder, said, instead, message):
    text = HEAD + PULL
    assert said in text

    faults = refusal(folder, text.replace(said, instead))

    assert any(fault.startswith(f"campaign.toml, {message}") for fault in faults), faults


@pytest.mark.parametrize(
    ("weather", "message"),
    [
        (
            "barometer = '29.9 kPa'",
            'barometer (pulls/01.csv): "29.9 kPa" lies outside 50 to 110 kPa; give the absolute station',
        ),
        ("barometer = '1006 kPa'", "is the unit right (hPa, kPa, inHg), or is it a gauge reading?"),
        (
            "air_temperature = '76 degC'",
            'air_temperature (pulls/01.csv): "76 degC" lies outside -40 to 60 degC; give the temperature of',
        ),
        (
            "relative_humidity = 52",
            'relative_humidity (pulls/01.csv): 52 lies outside 0 to 1; give a fraction such as 0.52, or "52',
        ),
    ],
)
def test_impossible_weather_is_refused(folder, weather, message):
    rest = {"barometer": "'1006 hPa'", "air_temperature": "'24 degC'", "relative_humidity": "0.52"}
    rest.pop(weather.split(" = ")[0])
    said = "\n".join([weather, *(f"{key} = {value}" for key, value in rest.items())])

    (fault,) = refusal(folder, HEAD + PULL + said)

    assert message in fault


def test_weather_that_cannot_be_is_no_weather_in_python_either():
    with pytest.raises(ValueError, match=r"key barometer: 29\.9 kPa lies outside 50 to 110 kPa"):
        Weather(barometer=29.9e3, air_temperature=297.0, relative_humidity=0.5)


def test_all_faults_are_told_at_once(folder):
    text = 'baseline = "cast"\nunits = "x"\n[setups.cast]\n[[pulls]]\nfile = "a.csv"\n[[pulls]]\nsetup = "b"\n'

    keys = [fault.split(": ")[0].removeprefix("campaign.toml, key ") for fault in refusal(folder, text)]

    assert keys == [
        "candidate",
        "speed_range_rpm",
        "units",
        "pulls[1].setup (a.csv)",
        "pulls[1].started (a.csv)",
        "pulls[2].file",
        "pulls[2].setup",
        "pulls[2].started",
    ]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            b'title = "a"\nbaseline = cast\n',
            "campaign.toml, row 2: is not TOML: invalid value; write key = value, and text in",
        ),
        (b'title = "a\xff"\n', "campaign.toml, row 1: is not UTF-8 text; save it as UTF-8"),
        (b"a = 1\na = 2\n", "campaign.toml, row 2: is not TOML: cannot overwrite a value"),
    ],
)
def test_what_is_not_toml_is_refused_with_its_row(folder, content, message):
    (folder / "campaign.toml").write_bytes(content)

    with pytest.raises(FileError) as caught:
        read_campaign(folder)

    assert str(caught.value).replace(f"{folder}/", "").startswith(message)


def test_a_folder_without_a_campaign_says_how_to_draft_one(folder):
    with pytest.raises(
        FileError, match=r"campaign\.toml: is not there; draft one with: boostwright inspect .* --write"
    ):
        read_campaign(folder)


def test_a_campaign_made_in_python_names_setups_that_it_has(folder):
    campaign = campaign_of(folder, HEAD + PULL)

    with pytest.raises(
        FileError, match='key candidate: "milled" is not one of the setups; choose "cast" or "machined"'
    ):
        replace(campaign, candidate="milled")


def test_the_columns_can_be_read_though_the_rest_is_wrong(folder):
    (folder / "campaign.toml").write_text('title = 1\n[columns]\n"Trq" = "torque [N*m]"\n"X" = "?"\n')

    assert read_column_rules(folder) == (parse_rule("Trq", "torque [N*m]"),)


TEXT = """# Our question
title = "old"      # what it is about
baseline = "cast"
candidate = "machined"
speed_range_rpm = [3000, 5800]   # declared before looking

[stand]
rotating_inertia = "0.45 kg*m**2"
[setups.cast]
[setups.machined]
[[pulls]]
file = "pulls/01.csv"
setup = "cast"
started = 2026-03-14T09:12:00
barometer = "29.71 inHg"    # by the door
air_temperature = "24 degC"
relative_humidity = "52 %"
"""


def test_writing_keeps_what_has_not_changed_with_its_comments_and_units(folder):
    campaign = campaign_of(folder, TEXT)

    write_campaign(replace(campaign, title="new"))

    assert (folder / "campaign.toml").read_text() == TEXT.replace('"old"', '"new"')


names = st.text("abcdefg-_ äö\"'#\\", min_size=1, max_size=8).filter(lambda name: name.strip() == name)
weathers = st.builds(
    Weather,
    barometer=st.floats(60e3, 105e3),
    air_temperature=st.floats(240.0, 320.0),
    relative_humidity=st.floats(0.0, 1.0),
)


@st.composite
def campaigns(draw):
    setups = draw(st.lists(names, min_size=2, max_size=3, unique=True))
    starts = sorted(draw(st.sets(st.integers(0, 5000), min_size=1, max_size=5)))
    pulls = tuple(
        PullEntry(
            file=f"pulls/{minutes}.csv",
            setup=draw(st.sampled_from(setups)),
            session=draw(names),
            installation=place + 1,
            started=datetime(2026, 3, 14) + timedelta(minutes=minutes),
            weather=draw(st.none() | weathers),
            soak_temperature=draw(st.none() | st.floats(240.0, 400.0)),
        )
        for place, minutes in enumerate(starts)
    )
    rules = draw(
        st.dictionaries(names, st.sampled_from(["torque [N*m]", "boost [psi]", "power", "ignore"]), max_size=3)
    )
    return Campaign(
        folder=Path(),
        title=draw(names),
        baseline=setups[0],
        candidate=setups[1],
        speed_range=(draw(st.integers(200, 4000)) / 60, draw(st.integers(4001, 20000)) / 60),
        correction=draw(st.sampled_from(["none", "sae-j1349", "din-70020"])),
        units=draw(st.sampled_from(["metric", "us"])),
        stand=Stand(name=draw(names), kind="hub", rotating_inertia=draw(st.floats(0.01, 9.0))),
        setups={name: Setup(name=name) for name in setups},
        columns=tuple(parse_rule(header, said) for header, said in rules.items()),
        pulls=pulls,
    )


def numbers_of(campaign: Campaign) -> list[float]:
    """What passes through a unit on its way, and so through a rounding."""
    numbers = [*campaign.speed_range, campaign.stand.rotating_inertia]
    for pull in campaign.pulls:
        numbers += [pull.soak_temperature or 0.0]
        numbers += [pull.weather.barometer, pull.weather.air_temperature] if pull.weather else [0.0]
    return numbers


def words_of(campaign: Campaign) -> Campaign:
    """All the rest."""
    pulls = tuple(replace(pull, weather=None, soak_temperature=None) for pull in campaign.pulls)
    stand = replace(campaign.stand, rotating_inertia=0.0)
    return replace(campaign, speed_range=(1.0, 2.0), stand=stand, pulls=pulls, folder=Path())


@given(first=campaigns(), second=campaigns())
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read_again_also_over_another(tmp_path_factory, first, second):
    folder = tmp_path_factory.mktemp("campaign")
    for campaign in (first, second):
        write_campaign(replace(campaign, folder=folder))

        read = read_campaign(folder)
        assert numbers_of(read) == pytest.approx(numbers_of(campaign), rel=1e-10)
        assert words_of(read) == words_of(campaign)


def test_a_campaign_may_be_written_before_its_first_pull(folder):
    assert campaign_of(folder, HEAD).pulls == ()

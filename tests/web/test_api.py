"""What the page asks and what it is told: the same numbers and faults as the command line."""

import io
import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.publish.bundle import bundle_contents
from boostwright.publish.compare_tables import speed_rows
from boostwright.publish.published import ReportRequest
from boostwright.publish.pulley_tables import chance_text
from boostwright.records.campaign import read_campaign
from boostwright.studies.carry import carry
from boostwright.studies.carry_request import asked_of
from boostwright.studies.compare import compare_pairs, question_of, reduced_pulls
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import campaign_data
from boostwright.studies.limits import campaign_limits
from boostwright.studies.plan import PlanQuestion
from boostwright.studies.run_card import RunCardQuestion, run_card
from boostwright.web.access import Access
from boostwright.web.app import create_app
from tests.web.client import Client


def test_the_campaign_is_shown_in_the_words_of_its_file(client):
    view = client.get("/api/campaign").json
    assert view["state"] == "ready"
    assert view["faults"] == []
    assert view["campaign"]["title"] == "Machined inlet elbow against the cast one"
    assert view["campaign"]["pulls"][0] == {
        "file": "pulls/01-cast.csv",
        "setup": "cast",
        "started": "2026-03-14T09:12:00",
        "barometer": "1006.2 hPa",
        "air_temperature": "21.6 degC",
        "relative_humidity": "0.52",
        "soak_temperature": "28.0 degC",
        "installation": None,
        "session": "",
    }
    assert {"power", "torque", "boost"} <= set(view["quantities"])
    assert len(view["inspection"]["logs"]) == 7


def test_a_comparison_is_that_of_the_command(client, folder):
    campaign = read_campaign(folder)
    expected = compare_pairs(reduced_pulls(campaign), campaign, "torque")[0]
    view = client.get("/api/compare?quantity=torque").json
    assert view["result"] == json.loads(json.dumps(expected.as_json()))
    readings = dict(zip(view["page"]["readings_rpm"], view["page"]["readings"], strict=True))
    for row in speed_rows(expected):
        said = readings[int(row.engine_speed.replace("\u202f", ""))]
        assert (said["gain"][:3], said["state"]) == (row.gain[:3], row.state)
    assert client.get("/api/gain.csv?quantity=torque").body.decode().count("\n") == 24


def test_turning_points_are_those_of_the_sentence(client):
    view = client.get("/api/compare").json
    points = view["page"]["turning_points_rpm"]
    borders = [10 * round(stretch["to_rpm"] / 10) for stretch in view["result"]["stretches"][:-1]]
    assert set(borders) <= set(points)
    assert points == sorted(points)
    assert (points[0], points[-1]) == (view["page"]["readings_rpm"][0], view["page"]["readings_rpm"][-1])


def test_the_published_report_is_that_of_the_command_and_its_bundle_holds_the_same_files(client, folder):
    made = bundle_contents(read_campaign(folder), ReportRequest(), "a4")
    events = client.events("/api/publish")
    told = [data["words"] for name, data in events if name == "progress"]
    assert {"Explaining the gain", "Looking for what gives first"} <= set(told)
    view = events[-1][1]
    assert (view["sentence"], view["check_code"]) == (made.document.opening.sentence, made.document.check_code)
    page = client.get("/api/report?kind=html")
    assert page.headers["content-disposition"] == "attachment; filename*=UTF-8''report-power.html"
    assert page.body == made.files["report/report.html"]
    bundle = client.get("/api/report?kind=zip")
    assert bundle.headers["content-type"] == "application/zip"
    assert view["file_bytes"]["zip"] == len(bundle.body)
    with zipfile.ZipFile(io.BytesIO(bundle.body)) as packed:
        assert set(packed.namelist()) == {*made.files, "manifest.json"}
        assert packed.read("report/report.pdf") == client.get("/api/report").body == made.files["report/report.pdf"]


def test_a_report_of_a_quantity_that_is_not_logged_is_refused(client):
    assert "is not logged" in client.get("/api/publish?quantity=money").faults[0]
    assert "key kind" in client.get("/api/report?kind=exe").faults[0]


def test_a_quantity_that_is_not_logged_is_a_fault_with_its_remedy(client):
    answer = client.get("/api/compare?quantity=<b>x</b>")
    assert answer.status == 422
    assert "<b>x</b> is not logged; compare a quantity that every pull carries" in answer.faults[0]
    assert answer.headers["content-type"] == "application/json"


class TestWhatIf:
    def test_as_tested_nothing_differs(self, client):
        page = client.post("/api/match", {"setup": "cast"}).json["page"]
        for curve in page["curves"]:
            assert curve["tested"] == curve["asked"]
        assert not page["is_far"]

    def test_a_smaller_blower_pulley_gives_more_boost(self, client):
        asked = {"setup": "cast", "drive_ratio": 2.3}
        curves = {curve["name"]: curve for curve in client.post("/api/match", asked).json["page"]["curves"]}
        boost = curves["boost_kpa"]
        assert all(low > 0 for low in boost["difference_lower"])
        assert all(a > t for a, t in zip(boost["asked"], boost["tested"], strict=True))

    def test_thin_air_takes_power_and_is_said_to_be_far(self, client):
        page = client.post("/api/match", {"setup": "cast", "ambient_pressure_kpa": 80}).json["page"]
        assert page["basis"] == "build"
        assert set(page["states"]) == {"loss shown"}
        assert page["is_far"]

    def test_the_difference_is_surer_than_the_curves(self, client):
        """The same draws in both settings: what nobody knows of the build cancels."""
        page = client.post("/api/match", {"setup": "cast", "drive_ratio": 2.3}).json["page"]
        torque = page["curves"][0]
        for low, high, lower, upper in zip(
            torque["difference_lower"], torque["difference_upper"], torque["lower"], torque["upper"], strict=True
        ):
            assert high - low < 0.5 * (upper - lower)

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            ({"setup": "nobody"}, 'setup "nobody" names no build; write build'),
            (
                {"setup": "cast", "fuel_blend": "E200"},
                'fuel "E200" is not known; an ethanol blend goes from E0 to E100',
            ),
            ({"setup": "cast", "drive_ratio": 99}, "key drive_ratio: input should be less than or equal to 20"),
            ({"setup": "cast", "pulley": 3}, "key pulley: extra inputs are not permitted"),
            ({}, "key setup: field required"),
        ],
    )
    def test_wrong_settings_are_faults(self, client, asked, said):
        answer = client.post("/api/match", asked)
        assert answer.status == 422
        assert said in answer.faults[0]


class TestNext:
    def test_the_run_card_is_that_of_the_command(self, client, folder):
        campaign = read_campaign(folder)
        question = PlanQuestion(speed_range=campaign.speed_range, pull_time=300.0, change_time=2400.0)
        asked = RunCardQuestion(plan=question, worthwhile_gain=0.02, time_left=5400.0)
        expected = run_card(reduced_pulls(campaign), question_of(campaign, "torque"), asked)
        view = client.get("/api/plan?quantity=torque&pull_min=5&change_min=40&gain_percent=2&hours_left=1.5").json
        assert view["result"] == json.loads(json.dumps(expected.as_json()))
        chosen = [row for row in view["page"]["rows"] if row["is_chosen"]]
        assert [row["order"].replace("\u00a0", "") for row in chosen] == [expected.reach.pulls.order]
        names = [step["name"] for step in view["page"]["steps"]]
        assert len(names) == 1 + len(expected.reach.pulls.order)
        assert names[1] in ("A5", "B4")  # the pulls that were made are counted

    def test_a_time_that_allows_nothing_has_no_card(self, client):
        page = client.get("/api/plan?change_min=2880&pull_min=30&hours_left=0.05").json["page"]
        assert page["steps"] == []
        assert "no pull that fits" in page["headline"]

    @pytest.mark.parametrize("query", ["pull_min=0", "pull_min=soon", "gain_percent=nan", "hours_left=-1", "aim=3"])
    def test_a_wrong_cost_is_a_fault(self, client, query):
        answer = client.get(f"/api/plan?{query}")
        assert answer.status == 422
        assert query.partition("=")[0] in answer.faults[0]


class TestWhy:
    def test_the_explanation_is_that_of_the_command(self, client, folder):
        campaign = read_campaign(folder)
        expected = explain(campaign_data(campaign), campaign.baseline, campaign.candidate)
        view = client.get("/api/explain").json
        assert view["result"] == json.loads(json.dumps(expected.as_json()))
        page = view["page"]
        assert f"{page['headline'][:-1]}. {page['because']}" == expected.sentence
        parts = [*page["causes"], page["interaction"], page["unexplained"]]
        for i, measured in enumerate(page["measured"]["values"]):
            assert sum(part["values"][i] for part in parts) == pytest.approx(measured, abs=1e-4)  # six figures each

    def test_an_explained_setup_is_tried_as_the_machine_that_fits_its_pulls(self, client):
        before = client.post("/api/match", {"setup": "cast"}).json["page"]
        client.get("/api/explain")
        after = client.post("/api/match", {"setup": "cast"}).json["page"]
        assert (before["basis"], after["basis"]) == ("build", "pulls")
        torque = {view["basis"]: view["curves"][0] for view in (before, after)}
        widths = {basis: curve["upper"][6] - curve["lower"][6] for basis, curve in torque.items()}
        assert widths["pulls"] < 0.5 * widths["build"]
        measured = client.get("/api/compare?quantity=torque").json["result"]["curve"]
        for speed, low, high in zip(
            after["engine_speed_rpm"], torque["pulls"]["lower"], torque["pulls"]["upper"], strict=True
        ):
            assert low < np.interp(speed, measured["engine_speed_rpm"], measured["baseline"]) < high
        other = client.post("/api/match", {"setup": "cast", "fuel_blend": "E85", "drive_ratio": 2.3}).json["page"]
        assert set(other["states"]) == {"gain shown"}

    def test_without_builds_the_remedy_is_named(self, client, folder):
        text = (folder / "campaign.toml").read_text(encoding="utf-8")
        (folder / "campaign.toml").write_text(text.replace('build = "builds/cast.toml"', ""), encoding="utf-8")
        answer = client.get("/api/explain")
        assert answer.status == 422
        assert 'write build = "builds/cast.toml"' in answer.faults[0]


class TestLimits:
    def test_limits_with_their_chances_are_those_of_the_command(self, client, folder):
        expected = campaign_limits(read_campaign(folder), "cast")
        view = client.get("/api/limits?setup=cast").json
        assert view["result"] == json.loads(json.dumps(expected.as_json()))
        page = view["page"]
        assert page["limits_headline"] == expected.sentence
        assert [limit["chance"] for limit in page["limits"] if limit["share_percent"] is not None] == [
            chance_text(curve.chance, expected.draw_count) for curve in expected.known
        ]
        assert page["room"].startswith("Every known limit has more than 5")

    def test_what_gives_room_is_said_with_its_cost_in_the_units_of_the_reader(self, client, folder):
        """A rotor that may turn no faster than it did near the end of the range."""
        for build in (folder / "builds" / name for name in ("cast.toml", "machined.toml")):
            text = build.read_text("utf-8").replace('speed_limit = "14000 rpm"', 'speed_limit = "12000 rpm"')
            build.write_text(text, encoding="utf-8")
        metric, us = (client.get(f"/api/limits?setup=cast&units={units}").json["page"] for units in ("metric", "us"))
        assert metric["room"] == "What would give it room"
        assert metric["limits"][0]["name"] == metric["changes"][0]["limit"] == "rotor speed"
        assert metric["limits"][0]["chance"] == "100 %"
        assert metric["changes"][0]["power"].endswith("kW")
        assert us["changes"][0]["power"].endswith("hp")

    def test_a_setup_that_is_not_compared_is_refused(self, client):
        assert "is not a setup that this campaign compares" in client.get("/api/limits?setup=third").faults[0]


class TestCarry:
    def test_the_gain_is_carried_to_the_builds_that_no_setup_uses(self, client, folder):
        names = ("other-engine", "racing-methanol")
        question = asked_of(folder, [folder / "builds" / f"{name}.toml" for name in names], None, None, None)
        expected = carry(question.tested, question.targets)
        view = client.get("/api/carry").json
        assert view["result"] == json.loads(json.dumps(expected.as_json()))
        assert [row["build"] for row in view["page"]["builds"]] == list(names)
        for row, build in zip(view["page"]["builds"], expected.builds, strict=True):
            assert row["sentence"] == build.sentence
            assert row["gain"].replace("\u00a0", " ") in build.sentence.replace("\u00a0", " ")
            assert row["reach"] == build.distance.furthest
        us = client.get("/api/carry?units=us").json["page"]["builds"][0]
        assert us["power"].endswith("hp")
        assert us["gain"] == view["page"]["builds"][0]["gain"]
        said = us["sentence"] + us["distance"]
        assert us["power"].replace("\u00a0", " ") in said.replace("\u00a0", " ")
        assert "kW" not in said
        assert "kPa" not in said

    def test_a_build_that_cannot_be_carried_to_says_why_and_the_others_are_carried(self, client, folder):
        other = folder / "builds" / "other-engine.toml"
        bigger = other.read_text("utf-8").replace('displacement = "1.6 L"', 'displacement = "2.4 L"')
        (folder / "builds" / "bigger.toml").write_text(bigger, encoding="utf-8")
        page = client.get("/api/carry").json["page"]
        assert [refused["build"] for refused in page["refused"]] == ["bigger"]
        assert "is another blower than the tested one" in page["refused"][0]["said"]
        assert str(folder) not in page["refused"][0]["said"]
        assert len(page["builds"]) == 2


class TestUnits:
    """US units everywhere are the metric numbers, converted; percentages stay."""

    def test_a_comparison(self, client):
        metric, us = (client.get(f"/api/compare?units={units}").json for units in ("metric", "us"))
        assert (metric["page"]["unit"], us["page"]["unit"]) == ("kW", "hp")
        assert us["result"]["curve"]["gain"][5] == pytest.approx(
            metric["result"]["curve"]["gain"][5] / 0.745699872, rel=1e-5
        )
        assert us["page"]["average"] == metric["page"]["average"]

    def test_a_what_if_its_sliders_limits_and_map(self, client):
        asked = {"setup": "cast", "units": "us", "ambient_pressure_inhg": 26.0, "air_temperature_degF": 86.0}
        us = client.post("/api/match", asked).json
        same = {"setup": "cast", "ambient_pressure_kpa": 26.0 * 3.38638867, "air_temperature_degC": 30.0}
        metric = client.post("/api/match", same).json
        units = [curve["unit"] for curve in us["page"]["curves"]]
        assert units == ["lb-ft", "hp", "psi", "°F", "hp"]
        assert us["page"]["curves"][0]["asked"][4] == pytest.approx(
            metric["page"]["curves"][0]["asked"][4] / 1.3558179483, rel=1e-4
        )
        charge = [view["page"]["curves"][3]["asked"][4] for view in (us, metric)]
        assert charge[0] == pytest.approx(1.8 * charge[1] + 32.0, rel=1e-4)
        assert [slider["key"] for slider in us["sliders"][1:]] == ["ambient_pressure_inhg", "air_temperature_degF"]
        assert [slider["asked"] for slider in us["sliders"][1:]] == [26.0, 86.0]
        assert us["page"]["limits_headline"] == metric["page"]["limits_headline"]
        flows = [client.get(f"/api/map?setup=cast&units={u}").json["map"]["highest_flow"] for u in ("us", "metric")]
        assert flows[0] == pytest.approx(35.3146667 * flows[1])

    def test_an_explanation(self, client):
        metric, us = (client.get(f"/api/explain?units={units}").json["page"] for units in ("metric", "us"))
        assert [row["unit"] for row in us["derived"]] == ["lb/min", "psi", "%", "%", "hp", "°F"]
        assert us["air"] == metric["air"]

    def test_what_is_no_system_is_a_fault(self, client):
        assert "key units" in client.get("/api/compare?units=imperial").faults[0]


class TestWriting:
    def change(self, client: Client, **said: object) -> dict:
        view = client.get("/api/campaign").json
        return {"version": view["version"], "campaign": {**view["campaign"], **said}}

    def test_a_change_is_written_and_the_rest_stays_as_it_was(self, client, folder):
        answer = client.put("/api/campaign", self.change(client, title="Elbow, again"))
        assert answer.status == 200
        assert answer.json["campaign"]["title"] == "Elbow, again"
        text = (folder / "campaign.toml").read_text(encoding="utf-8")
        assert text.startswith("# Invented data")
        assert 'barometer = "1006.2 hPa"' in text

    def test_wrong_weather_is_refused_at_its_key_and_nothing_is_written(self, client, folder):
        change = self.change(client)
        change["campaign"]["pulls"][1]["barometer"] = "29.9 hPa"
        before = (folder / "campaign.toml").read_bytes()
        answer = client.put("/api/campaign", change)
        assert answer.status == 422
        assert answer.json["faults"][0]["key"] == "pulls[2].barometer (pulls/02-machined.csv)"
        assert "lies outside 50 to 110 kPa" in answer.faults[0]
        assert (folder / "campaign.toml").read_bytes() == before

    def test_two_who_change_at_once_do_not_overwrite_each_other(self, client, folder):
        first, second = self.change(client, title="one"), self.change(client, title="two")
        assert client.put("/api/campaign", first).status == 200
        answer = client.put("/api/campaign", second)
        assert answer.status == 409
        assert "was changed by somebody else meanwhile" in answer.faults[0]
        assert 'title = "one"' in (folder / "campaign.toml").read_text(encoding="utf-8")

    def test_a_changed_file_is_computed_anew(self, client):
        before = client.get("/api/compare").json["result"]["range"]
        client.put("/api/campaign", self.change(client, speed_range_rpm=[3500, 5500]))
        after = client.get("/api/compare").json["result"]["range"]
        assert (before["from_rpm"], after["from_rpm"]) == (3000, 3500)


class TestBeginning:
    """From an empty folder to a campaign that the command line reads."""

    def test_an_empty_folder_says_so(self, beginner):
        view = beginner.get("/api/campaign").json
        assert (view["state"], view["faults"], view["campaign"]["pulls"]) == ("empty", [], [])

    def test_a_campaign_is_made_of_dropped_logs(self, beginner, empty, folder):
        logs = sorted((folder / "pulls").iterdir())
        kept = beginner.drop(*((path.name, path.read_bytes()) for path in logs)).json["kept"]
        assert kept == [f"pulls/{path.name}" for path in logs]
        build = (folder / "builds" / "cast.toml").read_bytes()
        assert beginner.drop(("cast.toml", build)).json["kept"] == ["builds/cast.toml"]
        view = beginner.get("/api/campaign").json
        assert view["state"] == "logs"
        setups = [(setup["name"], setup["build"]) for setup in view["campaign"]["setups"]]
        assert setups == [("cast", "builds/cast.toml"), ("machined", "")]
        draft = view["campaign"] | {"baseline": "cast", "candidate": "machined", "speed_range_rpm": [3000, 5800]}
        for hour, pull in enumerate(draft["pulls"]):
            pull |= {"started": f"2026-03-14T{9 + hour:02}:00", "barometer": "1006 hPa", "air_temperature": "22 degC"}
            pull |= {"relative_humidity": "52 %"}
        answer = beginner.put("/api/campaign", {"version": "", "campaign": draft})
        assert answer.status == 200
        assert answer.json["state"] == "ready"
        assert read_campaign(empty).candidate == "machined"

    def test_what_is_still_open_is_named(self, beginner, folder):
        beginner.drop(("01-cast.csv", (folder / "pulls" / "01-cast.csv").read_bytes()))
        draft = beginner.get("/api/campaign").json["campaign"]
        answer = beginner.put("/api/campaign", {"version": "", "campaign": draft})
        assert answer.status == 422
        missing = {fault["key"].partition(" ")[0] for fault in answer.json["faults"]}
        assert {"baseline", "candidate", "speed_range_rpm", "pulls[1].setup", "pulls[1].started"} <= missing

    def test_a_wrong_unit_is_seen_and_mended_before_anything_is_written(self, beginner, empty):
        beginner.drop(("a.csv", b"rpm,Torque [N*m],MAP [psi]\n1000,100,11.2\n2000,110,12.0\n"))
        faults = beginner.get("/api/campaign").json["inspection"]["logs"][0]["faults"]
        assert "absolute or gauge" in faults[0]["said"]
        mended = beginner.post("/api/inspect", {"columns": {"MAP": "manifold_pressure [psi abs]"}}).json
        columns = {column["header"]: column["unit"] for column in mended["logs"][0]["columns"]}
        assert columns["MAP [psi]"] == "psi abs"
        assert not (empty / "campaign.toml").exists()

    def test_a_rule_that_means_nothing_is_a_fault(self, client):
        answer = client.post("/api/inspect", {"columns": {"MAP [kPa abs]": "pressure [furlong]"}})
        assert answer.status == 422
        assert 'column "MAP [kPa abs]"' in answer.faults[0]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "title = ",
        "pulls = 3",
        "[setups]\ncast = 3",
        "setups = []",
        "[[pulls]]\nfile = 3\ninstallation = -1",
        "\xff",
        "columns = 1",
    ],
)
def test_a_campaign_file_of_any_kind_is_shown_with_its_faults(client, folder, text):
    (folder / "campaign.toml").write_bytes(text.encode("latin-1"))
    view = client.get("/api/campaign")
    assert view.status == 200
    assert view.json["state"] == "fault"
    assert view.json["faults"]
    assert client.get("/api/compare").status == 422


def test_html_in_titles_names_and_headers_travels_as_text_only(client, folder):
    evil = "<script>alert(1)</script>"
    (folder / "pulls" / "08 <b>.csv").write_text(f"rpm,Torque [N*m],{evil}\n1000,100,1\n2000,110,1\n", encoding="utf-8")
    view = client.get("/api/campaign").json
    view["campaign"]["title"] = evil
    assert client.put("/api/campaign", {"version": view["version"], "campaign": view["campaign"]}).status == 200
    answer = client.get("/api/campaign")
    assert answer.headers["content-type"] == "application/json"
    assert evil not in client.get("/api/report?kind=html").body.decode()


def test_the_description_names_every_route_and_its_models_resolve(client):
    told = client.get("/openapi.json").json
    served = {route.path for route in client.app.routes if route.path.startswith("/api/")}
    assert set(told["paths"]) == served
    schemas = told["components"]["schemas"]
    for reference in set(_references(told)):
        assert reference.removeprefix("#/components/schemas/") in schemas


def _references(part: object) -> list[str]:
    if isinstance(part, dict):
        own = [part["$ref"]] if isinstance(part.get("$ref"), str) else []
        return own + [found for value in part.values() for found in _references(value)]
    return [found for value in part for found in _references(value)] if isinstance(part, list) else []


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**6), 10**6) | st.floats(allow_nan=False) | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
KEYS = ("setup", "drive_ratio", "columns", "version", "campaign", "fuel_blend", "ambient_pressure_kpa")
ANY_BODY = st.dictionaries(st.sampled_from(KEYS), ANY_JSON | st.sampled_from(["cast", "machined", "E85"]), max_size=4)


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Client:
    from boostwright.records.examples import copy_example

    place = copy_example("inlet-elbow", tmp_path_factory.mktemp("standing") / "elbow")
    return Client(create_app(place, Access()))


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(
    route=st.sampled_from([("POST", "/api/match"), ("POST", "/api/inspect"), ("PUT", "/api/campaign")]), body=ANY_BODY
)
def test_no_body_of_any_form_is_our_fault(standing, route, body):
    method, path = route
    sent = json.dumps(body).encode()
    answer = standing.send(method, path, sent, {"content-type": "application/json"})
    assert answer.status in (200, 409, 422)


@settings(max_examples=25)
@given(body=st.binary(max_size=60), path=st.sampled_from(["/api/match", "/api/logs", "/api/inspect"]))
def test_no_bytes_of_any_form_are_our_fault(standing, body, path):
    for kind in ("application/json", "multipart/form-data; boundary=x", "multipart/form-data", ""):
        assert standing.send("POST", path, body, {"content-type": kind}).status in (413, 415, 422)


def test_the_page_and_its_licences_are_shipped(client):
    assert b"<title>boostwright</title>" in client.get("/").body
    static = Path(__file__).parents[2] / "src" / "boostwright" / "web" / "static"
    for name in ("source-sans-3", "source-serif-4", "uplot"):
        assert (static / "licences" / f"{name}.txt").stat().st_size > 500

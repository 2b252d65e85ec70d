"""`boostwright compare` and `boostwright demo`, from the folder to the report, and what they refuse."""

import json
import re
import shutil
from html.parser import HTMLParser

import pytest
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import BoostwrightError
from boostwright.records.examples import example_folder

EXAMPLE = example_folder("inlet-elbow")
RUN = CliRunner()


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    folder = tmp_path_factory.mktemp("campaigns") / "elbow"
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("results"))
    return folder


def run(*arguments):
    return RUN.invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)


def copy_of(campaign, tmp_path, **changes):
    """A copy of the campaign whose campaign.toml has each text replaced by another."""
    folder = tmp_path / "copy"
    shutil.copytree(campaign, folder, ignore=shutil.ignore_patterns("results"))
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return folder


def test_json_on_standard_output_stands_alone_and_finds_the_known_truth(campaign):
    """The truth that made the example: a sign change at 3950 rev/min and +5.0 % at 5374."""
    done = run("compare", campaign, "--json", "-", "--no-files")
    found = json.loads(done.stdout)
    assert done.exit_code == 0
    assert found["verdict"] == "gain and loss shown"
    assert found["grade"] == "publishable"
    (crossing,) = found["crossovers"]
    assert crossing["lower_rpm"] < 3950 < crossing["upper_rpm"]
    curve = found["curve"]
    place = min(range(23), key=lambda i: abs(curve["engine_speed_rpm"][i] - 5374))
    assert curve["lower_percent"][place] < 5.0 < curve["upper_percent"][place]
    assert [pull["used"] for pull in found["pulls"]] == [True, True, True, True, False, True, True]


def test_files_are_written_and_a_second_run_gives_the_same_bytes(campaign):
    run("compare", campaign)
    results = campaign / "results"
    first = {path.name: path.read_bytes() for path in results.iterdir()}
    own = results / "my notes.txt"
    own.write_text("kept")
    run("compare", campaign)
    second = {path.name: path.read_bytes() for path in results.iterdir() if path != own}
    assert first == second
    assert own.read_text() == "kept"
    assert {"report.html", "machined-over-cast-power.json", "machined-over-cast-power.png"} <= set(first)


def test_the_report_is_one_file_that_asks_for_nothing_and_names_its_inputs(campaign):
    run("compare", campaign)
    text = (campaign / "results" / "report.html").read_text(encoding="utf-8")
    links = re.findall(r"(?:src|href)=['\"]?([^'\" >]+)", text)
    assert [link for link in links if not link.startswith(("#", "data:"))] == []
    assert "url(http" not in text
    digests = re.findall(r"SHA-256 <code>([0-9a-f]{64})", text)
    assert len(digests) == 8
    HTMLParser().feed(text)
    assert "left out: " in text
    assert "(A)" in text


def test_us_units_reach_table_report_and_json(campaign, tmp_path):
    folder = copy_of(campaign, tmp_path, **{'units = "metric"': 'units = "us"'})
    done = run("compare", folder, "--json", folder / "out.json")
    assert json.loads((folder / "out.json").read_text())["unit"] == "hp"
    assert "hp" in done.stdout
    assert "psi abs" in done.stdout


def test_names_with_markup_are_inert_in_the_report(campaign, tmp_path):
    folder = copy_of(campaign, tmp_path, **{'title = "Machined': 'title = "<script>alert(1)</script> Machined'})
    run("compare", folder)
    text = (folder / "results" / "report.html").read_text(encoding="utf-8")
    assert "<script>" not in text
    assert "&lt;script&gt;" in text


@pytest.mark.parametrize(
    ("changes", "arguments", "words"),
    [
        ({}, ("--quantity", "oil_pressure"), r"oil pressure is not logged; compare a quantity that every pull carries"),
        (
            {},
            ("--candidate", "polished"),
            r'key candidate: "polished" is not one of the setups; choose "cast" or "mach',
        ),
        ({'correction = "none"': 'correction = "sae"'}, (), r"key correction: .*sae.* sae-j1349"),
        (
            {'barometer = "1006.2 hPa"': 'barometer = "29.9 hPa"'},
            (),
            r"pulls\[1\]\.barometer .*29\.9 hPa. lies outside 50 to 110 kPa; give",
        ),
    ],
)
def test_wrong_input_is_refused_with_place_value_and_remedy(campaign, tmp_path, changes, arguments, words):
    folder = copy_of(campaign, tmp_path, **changes)
    with pytest.raises(BoostwrightError, match=words):
        run("compare", folder, *arguments)
    assert not (folder / "results").exists()


def test_a_file_where_results_would_go_is_kept_and_named(campaign, tmp_path):
    folder = copy_of(campaign, tmp_path)
    (folder / "results").write_text("mine")
    with pytest.raises(BoostwrightError, match="is a file where the results folder would be; move that file away"):
        run("compare", folder)
    assert (folder / "results").read_text() == "mine"


def test_the_demo_never_writes_over_what_is_there(tmp_path):
    (tmp_path / "demo").mkdir()
    done = run("demo", tmp_path / "demo")
    assert list((tmp_path / "demo").iterdir()) == []
    report = tmp_path / "demo-2" / "results" / "report.html"
    assert report.is_file()
    assert str(report) in done.stdout
    text = report.read_text(encoding="utf-8")
    assert "Why did it gain: more air, or only more pressure?" in text
    assert "builds/machined.toml: SHA-256" in text


def test_a_report_goes_where_it_is_wanted_with_the_reason_for_the_gain(campaign, tmp_path):
    target = tmp_path / "why" / "report.html"
    run("compare", campaign, "--no-files", "--why", "--report", target)
    text = target.read_text(encoding="utf-8")
    assert "Which part brought it?" in text
    assert len(re.findall(r"SHA-256 <code>([0-9a-f]{64})", text)) == 10


def test_without_builds_the_report_says_what_the_reason_for_the_gain_would_need(campaign, tmp_path):
    folder = copy_of(campaign, tmp_path, **{'build = "builds/cast.toml"': ""})
    run("compare", folder, "--why")
    text = (folder / "results" / "report.html").read_text(encoding="utf-8")
    assert "names no build, and an explanation needs one of each setup; write build = " in text


def test_a_place_for_json_that_cannot_be_written_is_refused_before_anything_is_read(tmp_path):
    wrong = CliRunner().invoke(app, ["compare", str(tmp_path / "no-campaign"), "--json", str(tmp_path)]).exception
    assert isinstance(wrong, BoostwrightError)
    assert str(wrong).endswith("cannot be written: is a directory; give a folder in which you may write")

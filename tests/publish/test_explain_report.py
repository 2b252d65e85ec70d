"""The why part of the HTML report: valid, readable aloud, and made of the same numbers as the result."""

import html
import re
import shutil
from dataclasses import replace

import html5lib
import numpy as np
import pytest

from boostwright.publish.compare_report import compare_report
from boostwright.publish.explain_report import explain_report, why_of, why_part
from boostwright.publish.explain_tables import (
    channel_table,
    derived_table,
    fit_table,
    parameter_table,
    share_table,
)
from boostwright.publish.identity import Identity
from boostwright.publish.why_part import NOT_ASKED, NoWhy
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.compare import reduced_pulls
from boostwright.studies.explain_words import answer, headline
from tests.publish import results
from tests.publish.test_explain_figures import explained
from tests.studies.test_explain import BASIC

IDENTITY = Identity(version="0", command="boostwright explain .", inputs=(("campaign.toml", 64 * "0"),))


@pytest.fixture(scope="module")
def campaign():
    return read_campaign(example_folder("inlet-elbow"))


@pytest.fixture(scope="module")
def result():
    return explained(24, BASIC, "inlet_area", "leakage_area", "coolant_start", "mechanical_linear")


@pytest.fixture(scope="module")
def part(result):
    return why_part(result)


@pytest.fixture(scope="module")
def page(campaign, part):
    return compare_report([results.result()], campaign, IDENTITY, part)


def numbers(cell):
    """Value and half-width of a printed cell."""
    plain = cell.replace("\u2212", "-").replace("\u202f", "").replace("\u00a0", " ")
    value, half_width = re.match(r"([+-]?[\d.]+) ± ([\d.]+)", plain).groups()
    return float(value), float(half_width)


def test_a_pressure_that_a_valve_holds_is_printed_no_finer_than_a_valve_holds(result):
    """With a cap on the manifold the chain has no spread of its pressure; a hundredth of a per cent is fine enough."""
    pressure = result.channels[1]
    held = replace(pressure.baseline.fitted, mean=150e3, mean_lower=150e3 - 3e-4, mean_upper=150e3 + 3e-4)
    channel = replace(pressure, baseline=replace(pressure.baseline, fitted=held))
    table = fit_table(replace(result, channels=(result.channels[0], channel, *result.channels[2:])))
    assert pressure.name == "manifold_pressure"
    assert next(numbers(row.cells[2]) for row in table.rows if row.head == "manifold pressure") == (150.0, 0.015)
    none = replace(result.pressure_gain, mean=-4e-7, mean_lower=-6e-7, mean_upper=-2e-7)
    said = answer(result.air_gain, none, result.air_minus_pressure, result.causes, result.measured_gain)
    assert "absolute manifold pressure 0.000\u00a0±\u00a00.010\u00a0%" in said
    less_air = replace(result.air_gain, mean=0.0, mean_lower=-0.01, mean_upper=0.01)
    said = answer(less_air, none, less_air, result.causes, result.measured_gain)
    assert said.startswith("Neither more air nor more pressure is shown")  # four parts in ten million are no pressure


def test_a_cause_is_not_shown_without_saying_that_power_as_a_whole_is_not(result):
    gain = replace(result.measured_gain.relative_gain, mean=0.002, mean_lower=-0.013, mean_upper=0.017)
    unshown = replace(result.measured_gain, relative_gain=gain)
    cause = replace(
        result.causes[0], relative_gain=replace(gain, mean=0.003, mean_lower=0.001, mean_upper=0.005), name="inlet"
    )
    bands = result.air_gain, result.pressure_gain, result.air_minus_pressure
    whole = "No change of power as a whole is shown: +0.2\u00a0±\u00a01.5\u00a0%."

    assert answer(*bands, (cause,), unshown).endswith(f"Shown in power: inlet +0.3\u00a0±\u00a00.2\u00a0%. {whole}")
    assert headline(*bands, (cause,), unshown).endswith(", though no change of power as a whole is.")
    assert whole not in answer(*bands, (), unshown)  # there is no cause that would claim one
    assert "as a whole" not in answer(*bands, (cause,), result.measured_gain)


def test_the_report_is_valid_html_and_names_nothing_twice(page):
    html5lib.HTMLParser(strict=True).parse(page)
    names = re.findall(r'\sid="([^"]+)"', page)
    assert len(names) > 100
    assert len(names) == len(set(names))
    used = set(re.findall(r"url\(#([^)]+)\)", page)) | set(re.findall(r'href="#([^"]+)"', page))
    assert used <= set(names)


def test_the_explanation_alone_is_valid_html(campaign, result):
    text = explain_report(result, campaign, IDENTITY)
    html5lib.HTMLParser(strict=True).parse(text)
    assert "Belts, pulleys and rotors" in text
    assert text == explain_report(result, campaign, IDENTITY)


def test_every_picture_is_spoken_as_its_sentence_and_followed_by_a_table(page, result):
    tree = html5lib.parse(page, namespaceHTMLElements=False)
    spoken = [svg.get("aria-label") for svg in tree.iter("{http://www.w3.org/2000/svg}svg") if svg.get("role") == "img"]
    assert spoken[1:] == [result.headline, result.fit_sentence, result.parameter_sentence]
    after = [page.index(html.escape(sentence, quote=False).replace("'", "&#39;")) for sentence in spoken[1:]]
    assert all("<table>" in page[start:end] for start, end in zip(after, [*after[1:], None], strict=True))
    regions = [div for div in tree.iter("div") if div.get("role") == "region"]
    assert all(div.get("aria-label") and div.get("tabindex") == "0" for div in regions)
    assert len({div.get("aria-label") for div in regions}) == len(regions)


def test_shares_in_the_table_are_those_of_the_result_and_add_up_to_the_measured_gain(result):
    table = share_table(result)
    by_name = {row.head: [numbers(cell) for cell in row.cells] for row in table.rows}
    for term in result.causes:
        value, half_width = by_name[term.name][1]
        assert value == pytest.approx(100 * term.relative_gain.mean, abs=0.051)
        assert half_width == pytest.approx(100 * term.relative_gain.half_width, rel=0.34)
    speeds = [float(head.split(" rev")[0].replace("\u202f", "")) for head in table.columns[3:]]
    assert 3 <= len(speeds) <= 6
    for place, speed in enumerate(speeds):
        parts = [
            cells[2 + place][0]
            for name, cells in by_name.items()
            if name not in ("measured gain", "all causes together")
        ]
        measured = np.interp(speed, 60 * result.engine_speed, 100 * result.measured_gain.relative_gain.values)
        assert sum(parts) == pytest.approx(measured, abs=0.05 * len(parts))


def test_every_number_of_the_tables_has_its_interval(result):
    for table, columns in ((share_table(result), slice(0, None)), (derived_table(result), slice(0, 2))):
        for row in table.rows:
            assert all(numbers(cell)[1] >= 0 for cell in row.cells[columns]), row.head
    for row in parameter_table(result).rows:
        assert all(" to " in cell for cell in row.cells[:2])


def test_tables_hold_all_unknowns_all_channels_and_what_else_to_log(result):
    assert len(parameter_table(result).rows) == len(result.parameters)
    assert [row.head for row in fit_table(result).rows] == [
        word for channel in ("torque", "manifold pressure") for word in (channel, channel)
    ]
    assert {row.head for row in channel_table(result).rows} >= {"rotor speed", "blower inlet pressure"}


def test_us_readers_get_their_units(result):
    units = {row.head: row.cells[-1] for row in derived_table(result, "us").rows}
    assert units["blower drive power"] == "hp"
    assert units["blower outlet temperature"] == "°F"
    metric, us = (numbers(derived_table(result, system).rows[5].cells[0]) for system in ("metric", "us"))
    assert us[0] == pytest.approx(1.8 * metric[0] + 32, abs=2)
    assert us[1] == pytest.approx(1.8 * metric[1], rel=0.1)
    assert share_table(result, "us").columns[1] == "mean, hp"
    assert {row.cells[2] for row in parameter_table(result).rows} >= {"cm²", "hPa", "–"}
    assert {row.cells[2] for row in parameter_table(result, "us").rows} >= {"in²", "inHg", "–"}


def test_merging_and_warnings_are_said(campaign, result):
    doubtful = replace(result, warnings=("More than three standard deviations from what was assumed: leakage area.",))
    text = explain_report(doubtful, campaign, IDENTITY)
    assert html.escape(doubtful.warnings[0]) in text
    assert all(html.escape(note) in text for note in result.merging)
    assert result.merging


def test_names_with_markup_are_inert(campaign, result):
    named = replace(result, candidate="<b>machined</b>")
    text = explain_report(named, campaign, IDENTITY)
    assert "<b>" not in text
    html5lib.HTMLParser(strict=True).parse(text)


@pytest.mark.parametrize(
    ("drop", "words"),
    [
        ('build = "builds/cast.toml"', "names no build, and an explanation needs one of each setup; write build ="),
        ('barometer = "1006.2 hPa"', "has no weather; give it barometer, air_temperature and relative_humidity"),
    ],
)
def test_what_lacks_for_an_explanation_is_said_in_one_sentence_with_the_remedy(tmp_path, drop, words):
    folder = tmp_path / "elbow"
    shutil.copytree(example_folder("inlet-elbow"), folder, ignore=shutil.ignore_patterns("results"))
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    assert drop in text
    lines = [line for line in text.splitlines() if drop not in line]
    if "barometer" in drop:
        at = text.splitlines().index(drop)
        lines = [line for i, line in enumerate(text.splitlines()) if i not in (at, at + 1, at + 2)]
    (folder / "campaign.toml").write_text("\n".join(lines), encoding="utf-8")
    campaign = read_campaign(folder)
    why = why_of(campaign, reduced_pulls(campaign))
    assert isinstance(why, NoWhy)
    assert words in why.reason
    page = compare_report([results.result()], campaign, IDENTITY, why)
    html5lib.HTMLParser(strict=True).parse(page)
    assert html.escape(why.reason, quote=False).replace('"', "&#34;") in page


def test_a_report_that_was_not_asked_why_says_how_to_ask(campaign):
    assert "boostwright compare CAMPAIGN --why" in html.unescape(
        compare_report([results.result()], campaign, IDENTITY, NOT_ASKED)
    )

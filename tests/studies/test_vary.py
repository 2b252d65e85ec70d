"""Designs of a build: each is what `match` says of the changed file, and what differs between them is not blurred."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from boostwright.errors import DataError, FileError
from boostwright.records.build_file import changed
from boostwright.studies.match import match_build
from boostwright.studies.match_request import blower_from_text
from boostwright.studies.vary import LIMIT_COLUMN, Chunk, Search, chunk_table, chunks, grid_designs, latin_designs
from boostwright.studies.vary_request import goal_from_text, study_speeds, variation_from_text
from boostwright.studies.vary_result import ranged
from boostwright.studies.vary_run import result_of
from boostwright.units import UnitError
from tests.studies.varied import (
    AIR,
    AVERAGE,
    PORT,
    PULLEY_AND_AREA,
    limited_file,
    plan_for,
    stored,
    study_of,
)


@pytest.fixture(scope="module")
def study():
    return study_of(*PULLEY_AND_AREA)


@pytest.fixture(scope="module")
def table(study):
    return chunk_table(Chunk(study=study, first=1, designs=grid_designs(study.variations)))


@pytest.fixture(scope="module")
def ports():
    """Ports varied, four sets of chambers."""
    return study_of(*PORT, sets=4)


@pytest.fixture(scope="module")
def port_table(ports):
    return chunk_table(Chunk(study=ports, first=1, designs=grid_designs(ports.variations)))


def power_of(study, table, design):
    return table.filter(pl.col("design") == design)["brake_power_kw"].to_numpy().reshape(-1, len(study.engine_speed))


def test_a_grid_has_every_combination_and_a_latin_hypercube_fills_every_range_evenly(study):
    designs = grid_designs(study.variations)
    assert designs.shape == (12, 2)
    assert len({tuple(row) for row in designs}) == 12
    latin = latin_designs(study.variations, 40, np.random.default_rng(5))
    for place, variation in enumerate(study.variations):
        share = (np.sort(latin[:, place]) - variation.low) / (variation.high - variation.low)
        assert np.all(np.floor(40 * share) == np.arange(40))  # one design in each fortieth: the definition


@pytest.mark.parametrize("design", [1, 6, 12])
def test_a_design_as_it_is_taken_to_be_is_what_match_says_of_the_changed_file(study, table, design):
    values = grid_designs(study.variations)[design - 1]
    file = changed(limited_file(), {v.key_path: x for v, x in zip(study.variations, values, strict=True)})
    expected = match_build(file, np.array(study.engine_speed), AIR)
    found = power_of(study, table, design)[0]
    assert found == pytest.approx(expected.operating["brake_power"] / 1e3, rel=2e-4)  # what the cycle calls agreement
    charge = next(limit for limit in expected.limits if limit.name == "charge temperature")
    share = table.filter((pl.col("design") == design) & (pl.col("set") == 0))[LIMIT_COLUMN + "charge temperature"]
    assert share.max() == pytest.approx(1.0 - charge.margin, abs=1e-3)


def test_ports_of_a_design_are_those_of_the_chamber_form(ports, port_table):
    values = grid_designs(ports.variations)[4]
    file = changed(limited_file(), {v.key_path: x for v, x in zip(ports.variations, values, strict=True)})
    expected = match_build(file, np.array(ports.engine_speed), AIR, blower_from_text("chamber", file))
    found = power_of(ports, port_table, 5)[0]
    assert found == pytest.approx(expected.operating["brake_power"] / 1e3, rel=1e-3)  # another grid of the map


def test_the_build_as_it_stands_gains_nothing_over_itself_in_any_set(study):
    again = np.vstack([study.present, study.present])
    table = chunk_table(Chunk(study=study, first=0, designs=again))
    assert np.array_equal(power_of(study, table, 0), power_of(study, table, 1))


def test_more_port_area_alone_loses_nowhere_in_any_set(ports, port_table):
    """More area alone never makes a crossing: it saves loss, which grows with the square of speed."""
    for angle in range(3):
        small, large = (power_of(ports, port_table, 1 + 2 * angle + step) for step in (0, 1))
        assert np.all(large[1:] > small[1:])


def test_closing_later_costs_at_low_speed_and_more_with_speed_it_costs_less_or_gains(ports, port_table):
    """Sealing arc and bounce back through the open port cost at low speed; inertia gains at high speed."""
    early, late = (power_of(ports, port_table, design)[1:] for design in (2, 6))
    gain = (late - early).mean(axis=0)
    assert gain[0] < 0.0
    assert gain[-1] > gain[0]


def test_sets_differ_and_are_the_same_for_every_design(study, table):
    low, high = power_of(study, table, 1), power_of(study, table, 12)
    assert np.ptp(low[1:, -1]) > 10.0  # kW: an engine of which nobody has said anything
    assert np.std(high[1:, -1] - low[1:, -1]) < 0.35 * np.std(low[1:, -1])  # common to both, it cancels


def test_a_set_that_knows_no_better_says_what_the_design_is_taken_to_be(study):
    """Sets run by closed forms, which lie some per cent off the cycle: what the cycle changed must be theirs too."""
    alike = replace(study.sets, points=np.stack([study.sets.reference_points] * 2))
    table = chunk_table(Chunk(study=replace(study, sets=alike), first=1, designs=grid_designs(study.variations)[3:5]))
    for name in ("brake_power_kw", "charge_temperature_degC", LIMIT_COLUMN + "charge temperature"):
        taken, first, second = np.moveaxis(table[name].to_numpy().reshape(2, 3, 3), 1, 0)
        assert first == pytest.approx(taken, rel=1e-9)
        assert np.array_equal(first, second)


def test_a_chunk_says_the_same_whatever_goes_before_it(study):
    designs = grid_designs(study.variations)
    whole = chunks(study, designs, 1)
    assert sum(len(chunk.designs) for chunk in whole) == 12
    assert chunk_table(whole[0]).equals(chunk_table(whole[0]))


def test_a_design_that_cannot_be_says_why_and_stops_no_other():
    study = study_of("inlet.port_closing_angle=200:300:2", sets=2, speeds="3000:3000:1")
    table = chunk_table(Chunk(study=study, first=1, designs=grid_designs(study.variations)))
    wrong = table.filter(pl.col("design") == 2)
    assert set(wrong["outcome"]) == {"not possible"}
    assert "port_closing_angle 300.0 deg must come before outlet_opening_angle" in wrong["reason"][0]
    assert table.filter(pl.col("design") == 1)["brake_power_kw"].is_finite().all()


def test_the_best_design_is_the_one_with_the_most_mean_gain_among_those_that_keep_the_limits(tmp_path):
    study = study_of(*PULLEY_AND_AREA, file=limited_file(charge_temperature="61 degC"))
    result = result_of(study, AVERAGE, stored(plan_for(study), tmp_path / "r.parquet"))
    whole = pl.read_parquet(tmp_path / "r.parquet")
    speeds = np.array(study.engine_speed)
    power = whole["brake_power_kw"].to_numpy().reshape(13, 9, 3)
    mean = np.trapezoid(power, speeds, axis=2)[:, 1:] / np.ptp(speeds)
    gain = (mean - mean[0]).mean(axis=1)
    used = np.array(
        [whole[LIMIT_COLUMN + n].to_numpy().reshape(13, 9, 3)[:, 1:].max(axis=2) for n in study.limit_names]
    )
    kept = (np.quantile(used, 0.95, axis=2) <= 1.0).all(axis=0)
    kept[0] = False
    assert 0 < kept.sum() < 12  # or this test asks nothing of the limits
    expected = int(np.argmax(np.where(kept, gain, -np.inf)))
    assert result.best == expected
    assert result.verdicts.gain.value[expected] == pytest.approx(gain[expected], rel=1e-9)
    assert result.shown_gain.value == pytest.approx((power[expected, 1:] - power[0, 1:]).mean(axis=0), rel=1e-9)
    assert "drive.driven_pulley" in result.headline


def test_an_allowed_loss_keeps_designs_out_that_lose_more_at_that_speed(ports, tmp_path):
    store = stored(plan_for(ports), tmp_path / "r.parquet")
    free = result_of(ports, goal_from_text("5500 rpm", [], 0.5), store)
    bound = result_of(ports, goal_from_text("5500 rpm", ["2500 rpm, 0.1 %"], 0.5), store)
    lost = bound.scores.losses[:, 0, 1:].mean(axis=1) / bound.scores.losses[0, 0, 1:].mean() - 1.0
    assert np.array_equal(bound.verdicts.is_allowed, free.verdicts.is_allowed & (lost >= -1e-3))
    assert bound.verdicts.is_allowed.sum() < free.verdicts.is_allowed.sum()


def test_where_no_design_keeps_the_limits_the_nearest_is_said_with_what_it_overdraws(tmp_path):
    study = study_of("drive.driven_pulley=66:72:3", file=limited_file(manifold_pressure="120 kPa"))
    result = result_of(study, AVERAGE, stored(plan_for(study), tmp_path / "r.parquet"))
    assert result.best is None
    assert "manifold pressure is exceeded in 100 % of the sets" in result.headline
    assert "drive.driven_pulley 72\u00a0mm" in result.headline  # the slowest blower
    assert result.as_json()["best"] is None


def test_the_optimiser_comes_at_least_as_far_as_a_grid(tmp_path):
    varied = ("drive.driven_pulley=66:72", "inlet.flow_area=40:70")
    study = study_of(*varied, search=Search.OPTIMISE)
    grid = study_of("drive.driven_pulley=66:72:7", "inlet.flow_area=40:70:4")
    searched = result_of(
        study, AVERAGE, stored(plan_for(study, search=Search.OPTIMISE, designs=80), tmp_path / "o.parquet")
    )
    laid = result_of(grid, AVERAGE, stored(plan_for(grid), tmp_path / "g.parquet"))
    assert searched.best is not None
    assert laid.best is not None
    best, there = (result.verdicts.gain.value[result.best] for result in (searched, laid))
    assert best >= there - 0.02  # kW
    assert np.all(searched.scores.used[searched.best] <= 1.0)


def test_the_range_of_few_sets_holds_the_next_one_nineteen_times_in_twenty():
    draws = norm.rvs(size=(20_000, 8), random_state=np.random.default_rng(11))
    next_one = norm.rvs(size=20_000, random_state=np.random.default_rng(12))
    band = ranged(draws)
    assert np.mean((band.lower < next_one) & (next_one < band.upper)) == pytest.approx(0.95, abs=0.005)


@pytest.mark.parametrize(
    ("text", "low", "high", "steps"),
    [
        ("inlet.port_closing_angle=200:240:9", np.radians(200), np.radians(240), 9),
        ("inlet.port_closing_angle=200:240:9 deg", np.radians(200), np.radians(240), 9),
        ("drive.driven_pulley=6.4cm:7.2cm", 0.064, 0.072, 5),
        ("inlet.flow_area=4000 mm2:70 cm2:3", 4e-3, 7e-3, 3),
        ("cooler.effectiveness=0.7:0.9:3", 0.7, 0.9, 3),
        ("cooler.coolant_temperature=20 degC:50 degC:4", 293.15, 323.15, 4),
        ("blower.chambers=4:8:3", 4, 8, 3),
    ],
)
def test_what_is_varied_is_read_with_its_unit(text, low, high, steps):
    variation = variation_from_text(text, limited_file(), Search.GRID)
    assert (variation.low, variation.high, variation.steps) == pytest.approx((low, high, steps))


@pytest.mark.parametrize(
    ("text", "search", "message"),
    [
        (
            "inlet.port_closing_angle",
            Search.GRID,
            "does not say what is varied from where to where; write KEY=LOW:HIGH",
        ),
        (
            "inlet.closing_angle=1:2",
            Search.GRID,
            r"names no key of a build file, inlet\.closing_angle; did you mean inl",
        ),
        ("fuel.blend=1:2", Search.GRID, r"names fuel\.blend, which is not a number"),
        ("inlet.flow_area=70:40:3", Search.GRID, "is not a rising range"),
        ("inlet.flow_area=40 mm:70 mm:3", Search.GRID, "is a length where an area is wanted"),
        ("inlet.flow_area=a:b:3", Search.GRID, "has an end that is no number, a|is not a unit"),
        ("drive.driven_pulley=30:70:3", Search.GRID, "has an end outside what is possible, 30; ISO 9981"),
        ("inlet.flow_area=40:70:3", Search.LATIN, "says how many steps, which only a grid has"),
        ("blower.chambers=4:8:4", Search.GRID, "takes steps between whole numbers"),
        ("fuel.pump_flow=1:2 L/min:3", Search.GRID, "is a number that the build does not have|is not a unit|no number"),
        ("fuel.pump_flow=1 L/min:2 L/min:3", Search.GRID, "is a number that the build does not have; write pump_flow"),
    ],
)
def test_what_cannot_be_varied_is_refused_in_words(text, search, message):
    with pytest.raises(UnitError, match=message):
        variation_from_text(text, limited_file(), search)


def test_numbers_that_change_nothing_of_this_form_of_blower_are_refused():
    with pytest.raises(
        FileError, match=r"key inlet\.port_area: changes nothing of a blower with a slip law; use --blower ch"
    ):
        study_of("inlet.port_area=8:13:2", blower="slip")
    with pytest.raises(FileError, match=r"key blower\.filling_loss: changes nothing of a blower with chambers"):
        study_of("blower.filling_loss=0.01:0.1:2", blower="chamber")
    with pytest.raises(FileError, match=r"key inlet\.flow_area: is varied twice"):
        study_of("inlet.flow_area=40:70:3", "inlet.flow_area=40:70:3")
    with pytest.raises(DataError, match="2500000 designs are asked for, 1000000 are the most"):
        plan_for(study_of("inlet.flow_area=40:70:5000", "inlet.heating=2:6:500", sets=0))


def test_a_goal_is_read_and_its_speeds_are_matched_too():
    goal = goal_from_text("5230 rpm", ["2000 rpm, 1 %", "2100 rpm, 2 kW"], 0.1)
    assert goal.objective_speed == pytest.approx(5230 / 60)
    assert [(loss.share, loss.power) for loss in goal.allowed_losses] == [(0.01, 0.0), (0.0, 2000.0)]
    speeds = study_speeds(limited_file(), np.array([2000.0, 3000.0]) / 60.0, goal)
    assert 60.0 * speeds == pytest.approx([2000, 2100, 3000, 5230])
    for objective, losses, risk, message in (
        ("fast", [], 0.1, "--objective .fast. is not a number with a unit; write average, or"),
        ("average", ["2000 rpm"], 0.1, "is not an engine speed and a loss of power"),
        ("average", ["2000 rpm, 3 kg"], 0.1, "is not an engine speed and a loss of power"),
        ("average", [], 1.5, "is not a chance"),
    ):
        with pytest.raises(UnitError, match=message):
            goal_from_text(objective, losses, risk)

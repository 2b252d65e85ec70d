"""The picture and the printed page of a study of designs: the numbers in them are those of the result."""

import io

import numpy as np
import pytest
from rich.console import Console

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.figure_style import save
from boostwright.publish.vary_figure import contour_rows, vary_figure
from boostwright.publish.vary_terminal import print_vary
from boostwright.studies.vary import Search
from boostwright.studies.vary_run import result_of
from tests.studies.varied import AVERAGE, PULLEY_AND_AREA, limited_file, plan_for, stored, study_of


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    folder = tmp_path_factory.mktemp("varied")

    def of(name, *varied, search=Search.GRID, designs=0, limit="61 degC"):
        study = study_of(*varied, file=limited_file(charge_temperature=limit), search=search)
        plan = plan_for(study, search=search, designs=designs)
        return result_of(study, AVERAGE, stored(plan, folder / f"{name}.parquet"))

    return {
        "one": of("one", "drive.driven_pulley=66:72:4"),
        "two": of("two", *PULLEY_AND_AREA),
        "three": of("three", *PULLEY_AND_AREA, "cooler.effectiveness=0.7:0.9:2"),
        "scattered": of(
            "scattered", "drive.driven_pulley=66:72", "inlet.flow_area=40:70", search=Search.LATIN, designs=12
        ),
        "none": of("none", *PULLEY_AND_AREA, limit="30 degC"),
    }


def texts(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts] + [text.get_text() for text in figure.texts]


@pytest.mark.parametrize("name", ["one", "two", "three", "scattered", "none"])
def test_every_study_can_be_drawn_and_names_its_best_or_nearest_design(results, name):
    figure = vary_figure(results[name])
    word = "nearest: " if name == "none" else "best: "
    assert any(text.startswith(word) for text in texts(figure))
    target = io.BytesIO()
    save(figure, target, "svg")
    assert target.getvalue().startswith(b"<?xml")


def test_the_mark_of_the_best_design_stands_at_its_numbers(results):
    result = results["two"]
    axes = vary_figure(result).axes[0]
    marks = [line.get_xydata()[0] for line in axes.lines if line.get_marker() == "o"]
    first, second = (
        v.unit.from_si(x) for v, x in zip(result.study.variations, result.scores.designs[result.best], strict=True)
    )
    assert marks[0] == pytest.approx([float(first), float(second)])


def test_a_limit_that_is_crossed_inside_has_its_line_and_name(results):
    assert any("charge temperature at its limit" in text for text in texts(vary_figure(results["two"])))
    assert not any("rotor speed at its limit" in text for text in texts(vary_figure(results["two"])))


def test_with_a_third_number_the_contours_are_a_slice_through_the_shown_design(results):
    result = results["three"]
    rows = contour_rows(result)
    assert len(rows) == 12
    assert np.ptp(result.scores.designs[rows, 2]) == 0.0
    assert result.best in rows


def test_the_printed_page_has_answer_designs_curve_and_cautions(results):
    target = io.StringIO()
    print_vary(results["two"], Console(file=target, width=110, highlight=False))
    page = " ".join(target.getvalue().split())
    assert page.startswith("Best of 12 designs: ")
    assert "95 % range over 8 sets of what nobody has measured" in page
    assert all(caution in page for caution in CAUTIONS)

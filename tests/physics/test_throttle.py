import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.throttle import throttle_open_area

CLOSED = np.radians(7.0)


def counted_area(bore: float, shaft: float, angle: float, closed: float) -> float:
    """Open area by counting the cells of a fine grid that neither plate nor shaft hides."""
    n = 2000
    x, y = np.meshgrid((np.arange(n) + 0.5) / n, (np.arange(n) + 0.5) / n)  # a quarter of the bore, radius 1
    plate = x**2 + (y * np.cos(closed) / np.cos(angle)) ** 2 <= 1
    open_cells = (x**2 + y**2 <= 1) & ~plate & (y > shaft / bore)
    return 4 * float(open_cells.mean()) * (bore / 2) ** 2


@pytest.mark.parametrize("degrees", [10, 20, 30, 45, 60, 75, 80, 83, 88])
def test_open_area_is_what_one_sees_along_the_bore(degrees):
    angle = np.radians(degrees)
    area = float(throttle_open_area(0.09, 0.01, angle, CLOSED))
    assert area == pytest.approx(
        counted_area(0.09, 0.01, angle, CLOSED), rel=2e-3, abs=2e-6
    )  # a cell is 1e-3 of a radius


@pytest.mark.parametrize(
    ("degrees", "printed"), [(10, 49.54), (15, 170.41), (20, 338.33), (30, 809.76), (45, 1825.89), (60, 3145.88)]
)
def test_open_area_against_a_printed_form_of_heywood_7_18(degrees, printed):
    """90 mm bore, 10 mm shaft, closed at 7 deg: evaluated from Heywood's equation as remembered, in mm2.

    In that form the two arcs of the shaft carry the opposite sign. It is 0.06 to 0.2 % low up to 60 deg and 1.4 % low
    at 80 deg (5112 mm2); the grid of the test above decides for ours.
    """
    area = float(throttle_open_area(0.09, 0.01, np.radians(degrees), CLOSED)) * 1e6
    assert area == pytest.approx(printed, rel=2e-3)


def test_a_closed_throttle_is_closed_and_an_open_one_shows_its_shaft():
    assert float(throttle_open_area(0.09, 0.01, CLOSED, CLOSED)) == pytest.approx(0.0, abs=1e-18)
    thin_shaft = np.pi / 4 * 0.09**2 - 0.09 * 0.001  # a strip across the middle
    assert float(throttle_open_area(0.09, 0.001, np.pi / 2, CLOSED)) == pytest.approx(thin_shaft, rel=1e-6)


@given(st.floats(0.13, 1.57), st.floats(0.13, 1.57), st.floats(0.0, 0.02))
@settings(deadline=None)
def test_opening_never_closes(a, b, shaft):
    low, high = sorted((a, b))
    less, more = throttle_open_area(0.09, shaft, [low, high], CLOSED)
    assert 0 <= less + 1e-15 <= more + 2e-15


def test_a_plate_out_of_its_range_is_refused_in_words():
    with pytest.raises(ValueError, match=r"plate angle 45 rad is not between closed, .* was it given in degrees"):
        throttle_open_area(0.09, 0.01, 45.0, CLOSED)
    with pytest.raises(ValueError, match=r"throttle shaft 0\.09 m is as wide as its bore"):
        throttle_open_area(0.01, 0.09, 1.0, CLOSED)

"""UI rules for numbers: same decimals on value and uncertainty, no finer than the uncertainty deserves."""

import pytest

from boostwright.studies import words


@pytest.mark.parametrize(
    ("value", "half_width", "unit", "expected"),
    [
        (542.3, 3.2, "N m", "542 ± 3 N m"),
        (37.1, 17.4, "%", "37 ± 17 %"),
        (1.04, 0.123, "%", "1.04 ± 0.12 %"),
        (12.6, 0.96, "kW", "12.6 ± 1.0 kW"),
        (-0.04, 0.8, "%", "0.0 ± 0.8 %"),
        (1234.0, 250.0, "Pa", "1\u202f234 ± 250 Pa"),
    ],
)
def test_a_value_is_printed_no_finer_than_its_uncertainty_deserves(value, half_width, unit, expected):
    assert words.plus_minus(value, half_width, unit).replace("\u00a0", " ") == expected


def test_a_difference_carries_a_sign_unless_it_rounds_to_zero():
    assert words.signed(0.04, 1) == "0.0"
    assert words.signed(-0.04, 1) == "0.0"
    assert words.signed(1.26, 1) == "+1.3"
    assert words.signed(-1234.0) == "−1\u202f234"


def test_speeds_are_said_to_the_nearest_ten():
    assert words.speed_text(1934.0 / 60) == "1\u202f930"
    assert words.speed_span_text(3000 / 60, 5800 / 60) == "3\u202f000–5\u202f800\u00a0rev/min"


def test_lists_read_as_a_person_says_them():
    assert words.joined(["a"]) == "a"
    assert words.joined(["a", "b", "c"]) == "a, b and c"
    assert words.count(1, "pull") == "1\u00a0pull"
    assert words.count(3, "pull") == "3\u00a0pulls"

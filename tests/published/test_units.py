"""Conversion factors that are exact by definition, or conventional."""

import pytest

from boostwright.units import parse_quantity, parse_unit

# NIST Special Publication 811 (2008), appendix B, and the definitions of pound, inch and standard gravity.
FACTORS = [
    ("hp", 745.69987158227),  # 550 ft lbf/s
    ("PS", 735.49875),  # 75 m kgf/s
    ("psi", 6894.757293168361),
    ("mmHg", 133.322387415),  # conventional
    ("inHg", 3386.389),  # conventional, seven figures; the inch at 60 degF is 3376.85 Pa
    ("inH2O", 249.08891),  # conventional
    ("lb", 0.45359237),
    ("lb/min", 0.007559872833),
    ("lb-ft", 1.3558179483314),
    ("cfm", 4.719474432e-4),
    ("in^3", 16.387064e-6),
    ("Btu", 1055.05585262),  # international table
]


@pytest.mark.parametrize(("spelling", "expected"), FACTORS)
def test_factor_is_the_published_one(spelling, expected):
    figures = 2e-7 if spelling == "inHg" else 1e-10  # the published inHg is rounded to seven figures

    assert parse_unit(spelling).scale == pytest.approx(expected, rel=figures)


def test_the_trade_speaks_of_24000_rpm_for_a_ratio_of_3_38_at_7000_rpm():
    """Common practice, no source: a 254 mm driving and a 75 mm driven pulley are spoken of as "3.38"."""
    ratio = parse_quantity("254 mm", dimension="length") / parse_quantity("75 mm", dimension="length")

    rotor_speed = ratio * parse_quantity("7000 rpm", dimension="speed")

    assert ratio == pytest.approx(3.38, abs=0.01)
    assert parse_unit("rpm").from_si(rotor_speed) == pytest.approx(24_000, rel=0.02)  # "close to"

"""What the terminal says of a comparison beside its tables."""

import io

from rich.console import Console

from boostwright.publish.compare_terminal import print_comparison
from boostwright.studies.compare import compare_setups
from tests.studies.synthetic import QUESTION, campaign


def printed(order: str, gain: float) -> str:
    target = io.StringIO()
    print_comparison(compare_setups(campaign(order, gain), QUESTION), Console(file=target, width=110))
    return " ".join(target.getvalue().replace("\u00a0", " ").split())


def test_drift_and_soak_have_a_line_each_and_single_pulls_one_for_the_shape():
    with_four, with_two = printed("ABBA", 0.02), printed("AB", 0.02)
    for said in (with_four, with_two):
        assert "% an hour. Without allowing for drift and heat soak the average gain would read +" in said
        assert "Heat soak before the pull: −0.09 ± 0.08 % a kelvin, from these pulls and what was known." in said
    assert "Shape, which is known better than the level from single pulls:" in with_two
    assert "Shape" not in with_four

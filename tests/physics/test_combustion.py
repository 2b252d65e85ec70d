"""Burn curve: limits and inverse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.combustion import burn_progress, burned_fraction


@given(st.floats(0.001, 0.99), st.floats(3.0, 8.0), st.floats(1.0, 4.0))
def test_progress_and_burned_fraction_undo_one_another(share, completeness, form):
    progress = burn_progress(share, completeness, form)

    assert burned_fraction(progress, completeness, form) == pytest.approx(share, rel=1e-9)


def test_nothing_burns_before_the_start():
    np.testing.assert_array_equal(burned_fraction([-1.0, -1e-9, 0.0], 5.0, 2.0), 0.0)


def test_the_end_of_the_curve_is_refused_with_its_reason():
    with pytest.raises(ValueError, match="burned fraction 1 must lie from 0 up to, not including, 1"):
        burn_progress([0.5, 1.0], 5.0, 2.0)

"""Burn curve: limits and inverse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics.combustion import burn_progress, burn_rate_kernel, burned_fraction


@given(st.floats(0.001, 0.99), st.floats(3.0, 8.0), st.floats(1.0, 4.0))
def test_progress_and_burned_fraction_undo_one_another(share, completeness, form):
    progress = burn_progress(share, completeness, form)

    assert burned_fraction(progress, completeness, form) == pytest.approx(share, rel=1e-9)


def test_nothing_burns_before_the_start():
    np.testing.assert_array_equal(burned_fraction([-1.0, -1e-9, 0.0], 5.0, 2.0), 0.0)


@given(st.floats(0.01, 1.2), st.floats(3.0, 8.0), st.floats(1.0, 4.0))
def test_rate_is_the_slope_of_the_burned_fraction(progress, completeness, form):
    step = 1e-6

    rise = np.diff(burned_fraction([progress - step, progress + step], completeness, form)).item()

    assert burn_rate_kernel(progress, completeness, form) == pytest.approx(rise / (2 * step), abs=1e-8)


def test_the_end_of_the_curve_is_refused_with_its_reason():
    with pytest.raises(ValueError, match="burned fraction 1 must lie from 0 up to, not including, 1"):
        burn_progress([0.5, 1.0], 5.0, 2.0)

"""Small campaigns for the tests of the gain curve."""

from dataclasses import replace

import numpy as np

from benchmarks.synthetic_pulls import (
    Gain,
    as_modelled,
    broad_gain,
    random_order,
    random_stand,
)
from boostwright.inference.gain_model import GainData


def made_campaign(letters: str, seed: int, gain: Gain = broad_gain, sessions: int = 1) -> GainData:
    """Pulls after the model, on a stand at the medians of the priors."""
    generator = np.random.default_rng([20260401, seed])
    order = random_order(letters, sessions, generator)
    return as_modelled(order, gain, random_stand(0.0, 1.0, generator), generator).data


def masked(data: GainData, pull: int, bins: slice) -> GainData:
    """The same pulls with some bins of one pull masked."""
    values = data.values.copy()
    values[pull, bins] = np.nan
    return replace(data, values=values)


def first_bins(data: GainData, bins: int) -> GainData:
    """The same pulls over a narrower range."""
    return replace(
        data,
        engine_speed=data.engine_speed[:bins],
        values=data.values[:, :bins],
        counts=data.counts[:, :bins],
    )

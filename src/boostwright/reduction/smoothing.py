"""Smooth values and rates of a logged channel: a line through a moving stretch of time, wild samples set aside."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

Floats = NDArray[np.float64]

_LEAST_NEIGHBOURS = 4  # on either side, for a slow logger
_WILD = 6.0  # robust standard deviations
_NEIGHBOURS = 11  # rows of the running median, so that a burst of five wild samples still goes


@dataclass(frozen=True, kw_only=True)
class SmoothSignal:
    """A channel smoothed over time, with its rate of change, row by row."""

    value: Floats
    rate: Floats


def smooth_signal(time: Floats, values: Floats, half_width: float) -> SmoothSignal:
    """A channel (rows,) and its rate from a line through all samples within `half_width` seconds of each row.

    At least four neighbours on either side count, however slow the logger; at the ends the stretch is one-sided.
    """
    rows = np.arange(time.size)
    first = np.minimum(np.searchsorted(time, time - half_width), rows - _LEAST_NEIGHBOURS).clip(0)
    last = np.maximum(np.searchsorted(time, time + half_width, side="right"), rows + _LEAST_NEIGHBOURS + 1).clip(
        max=time.size
    )
    t, y = time - time.mean(), values - values.mean()
    count = last - first
    mean_t, mean_y, mean_tt, mean_ty = (_sums(x, first, last) / count for x in (t, y, t * t, t * y))
    spread = mean_tt - mean_t**2
    rate = np.divide(mean_ty - mean_t * mean_y, spread, out=np.zeros_like(y), where=spread > 0)
    return SmoothSignal(value=values.mean() + mean_y + rate * (t - mean_t), rate=rate)


def without_wild_samples(values: Floats) -> Floats:
    """The channel with gaps bridged, and with samples far off their neighbours' median replaced by it."""
    finite = np.isfinite(values)
    rows = np.arange(values.size)
    bridged = values if finite.all() else np.interp(rows, rows[finite], values[finite])
    median = np.asarray(median_filter(bridged, size=_NEIGHBOURS, mode="nearest"), dtype=np.float64)
    off = np.abs(bridged - median)
    limit = max(_WILD * 1.4826 * float(np.median(off)), 1e-3 * float(np.median(np.abs(bridged))))
    return np.where(off > limit, median, bridged)


def _sums(values: Floats, first: NDArray[np.int64], last: NDArray[np.int64]) -> Floats:
    total = np.concatenate(([0.0], np.cumsum(values)))
    return total[last] - total[first]

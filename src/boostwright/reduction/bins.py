"""Bins of engine speed: a pull's value of every quantity at fixed speeds, so that pulls lie over one another."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

BIN_WIDTH = 120 / 60  # 1/s
LEAST_SAMPLES = 3

LOGARITHMIC_QUANTITIES = frozenset(
    {"torque", "power", "manifold_pressure", "blower_inlet_pressure", "air_mass_flow", "fuel_mass_flow"}
)
"""Quantities averaged and compared on the scale of their logarithm; pressures are absolute."""


def speed_bins(speed_range: tuple[float, float]) -> Floats:
    """Edges of equal bins of about 120 rpm over the declared range, shape (bins + 1,) [1/s]."""
    low, high = speed_range
    return np.linspace(low, high, max(round((high - low) / BIN_WIDTH), 1) + 1)


def bin_centres(edges: Floats) -> Floats:
    """Middle of each bin, shape (bins,) [1/s]."""
    return (edges[1:] + edges[:-1]) / 2


def bin_of(engine_speed: Floats, edges: Floats) -> Integers:
    """Which bin each row falls into, shape (rows,): -1 below the lowest edge, the number of bins above the highest."""
    return np.searchsorted(edges, engine_speed, side="right") - 1


def binned_values(engine_speed: Floats, channels: Mapping[str, Floats], edges: Floats) -> dict[str, Floats]:
    """Mean of each channel (rows,) in each bin, carried to the bin's centre; NaN where a bin has under three samples.

    Logarithmic quantities have their geometric mean. Samples crowd to one side of a bin when the sweep rate changes,
    and their mean belongs to their own mean speed: the slope between the neighbouring bins takes it to the centre.
    """
    bins, which = edges.size - 1, bin_of(engine_speed, edges)
    inside = (which >= 0) & (which < bins)
    logarithmic = np.array([name in LOGARITHMIC_QUANTITIES for name in channels])
    rows = np.array([values[inside] for values in channels.values()])
    with np.errstate(divide="ignore", invalid="ignore"):  # a torque of zero or less has no logarithm and is masked
        rows[logarithmic] = np.log(rows[logarithmic])
    speeds, means = _bin_means(engine_speed[inside], rows, which[inside], bins)
    at_centres = means + _slopes(speeds, means) * (bin_centres(edges) - speeds)
    at_centres[logarithmic] = np.exp(at_centres[logarithmic])
    return dict(zip(channels, at_centres, strict=True))


def _bin_means(engine_speed: Floats, rows: Floats, which: Integers, bins: int) -> tuple[Floats, Floats]:
    """Mean speed and mean value of each quantity in each bin, shape (quantities, bins)."""
    good = np.isfinite(rows)
    cell = (which + bins * np.arange(len(rows))[:, None])[good]
    counts = np.bincount(cell, minlength=bins * len(rows)).astype(np.float64)
    counts[counts < LEAST_SAMPLES] = np.nan
    speeds = np.broadcast_to(engine_speed, rows.shape)
    x, y = (np.bincount(cell, weights=w[good], minlength=counts.size) / counts for w in (speeds, rows))
    return x.reshape(-1, bins), y.reshape(-1, bins)


def _slopes(x: Floats, y: Floats) -> Floats:
    """Slope through the bins on either side, or to the one that is there; 0 where both are missing."""
    slope = np.diff(y) / np.diff(x)
    missing = np.full((len(y), 1), np.nan)
    before, after = np.hstack((missing, slope)), np.hstack((slope, missing))
    both = np.isfinite(before) & np.isfinite(after)
    return np.nan_to_num(np.where(both, (before + after) / 2, np.where(np.isfinite(before), before, after)))

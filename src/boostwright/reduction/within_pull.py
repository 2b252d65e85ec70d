"""Faults that one pull shows by itself: a frozen sensor, a belt that slips, a misfire that dents the torque."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from boostwright.reduction.stages import PullFault, Reason, SteadyPull

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_MOVING = ("engine_speed", "torque", "power", "manifold_pressure", "rotor_speed", "air_mass_flow", "fuel_mass_flow")
_CARRYING = ("engine_speed", "torque", "power")  # where one of these is frozen, the row says nothing
_FROZEN_ROWS = 10
_FROZEN_SHARE = 0.05  # of the sweep
_FROZEN_OVER_USUAL = 8.0  # times the usual run of equal readings, which a coarse resolution makes long
_USUAL_CREEP = 0.02  # of a ribbed belt: common practice, no source
_SLIP_WITHIN_PULL = 0.01  # below the least slip of the same pull, where the drive ratio is not known
_DENT = 0.05  # below the running median; a shallower dent may be the engine's own curve
_DENT_OVER_RIPPLE = 6.0  # robust standard deviations
_DENT_NEIGHBOURS = 7  # bins


def mask_frozen_sensors(steady: SteadyPull) -> SteadyPull:
    """The pull without the readings of a sensor that stands still while the speed rises."""
    inside = np.flatnonzero(steady.reason != Reason.OUTSIDE_SWEEP)
    channels, reason, faults = dict(steady.channels), steady.reason.copy(), list(steady.faults)
    for quantity in _MOVING:
        values = channels.get(quantity)
        if values is None or not (rows := _standstill(values[inside])):
            continue
        frozen = inside[rows]
        channels[quantity] = values.copy()
        channels[quantity][frozen] = np.nan
        if quantity in _CARRYING:
            reason[frozen] = np.where(reason[frozen] == Reason.USED, Reason.FROZEN, reason[frozen])
        faults.append(_frozen(quantity, steady.engine_speed[frozen], frozen.size / inside.size))
    return replace(steady, channels=channels, reason=reason, faults=tuple(faults))


def belt_slip_faults(edges: Floats, values: Mapping[str, Floats], drive_ratio: float | None) -> tuple[PullFault, ...]:
    """Stretches where the rotor falls behind the engine, by the drive ratio or else by the pull's own best."""
    rotor_speed = values.get("rotor_speed")
    if rotor_speed is None or not np.isfinite(rotor_speed).any():
        return ()
    ratio = rotor_speed / ((edges[1:] + edges[:-1]) / 2)
    if drive_ratio is None:
        best, limit = float(np.nanpercentile(ratio, 90)), _SLIP_WITHIN_PULL
        against = f"this pull's best ratio {best:.3f}"
    else:
        best, limit = drive_ratio, _USUAL_CREEP
        against = f"the drive ratio {best:.3f}"
    slip = 1 - ratio / best
    return tuple(
        _fault("belt slip", edges, where, slip, f"the rotor falls behind by up to {{:.1%}} of {against}")
        for where in _stretches(slip > limit)
        if where.stop - where.start > 1  # one bin alone is a pickup that missed teeth
    )


def dent_faults(edges: Floats, values: Mapping[str, Floats]) -> tuple[PullFault, ...]:
    """Stretches where torque is dented well below what lies on either side: a misfire, a cut, a short lift."""
    torque = values.get("torque")
    if torque is None or np.isfinite(torque).sum() < _DENT_NEIGHBOURS:
        return ()
    level = np.log(torque)
    known = np.isfinite(level)
    bridged = np.interp(np.arange(level.size), np.flatnonzero(known), level[known])
    dent = np.asarray(median_filter(bridged, size=_DENT_NEIGHBOURS, mode="nearest")) - level
    ripple = 1.4826 * float(np.median(np.abs(dent[known])))
    lost = 1 - np.exp(-dent)
    return tuple(
        _fault("misfire", edges, where, lost, "torque is dented by up to {:.1%}: misfire, cut or short lift")
        for where in _stretches(dent > max(_DENT, _DENT_OVER_RIPPLE * ripple))
    )


def _standstill(values: Floats) -> slice | None:
    """The longest run of equal readings, if it is far longer than the sensor's usual ones."""
    ends = np.append(np.flatnonzero(np.diff(values)), values.size - 1) + 1
    lengths = np.diff(ends, prepend=0)
    longest = int(np.argmax(lengths))
    rows = int(lengths[longest])
    usual = (values.size - rows) / max(lengths.size - 1, 1)
    if rows <= max(_FROZEN_ROWS, _FROZEN_SHARE * values.size, _FROZEN_OVER_USUAL * usual):
        return None
    return slice(int(ends[longest]) - rows, int(ends[longest]))


def _frozen(quantity: str, engine_speed: Floats, share: float) -> PullFault:
    low, high = float(engine_speed.min()), float(engine_speed.max())
    sentence = f"{quantity} stands still from {low * 60:.0f} to {high * 60:.0f} rpm"
    return PullFault(kind="sensor frozen", from_speed=low, to_speed=high, size=share, sentence=sentence)


def _stretches(flags: Flags) -> list[slice]:
    change = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0)).tolist()
    return [slice(first, stop) for first, stop in zip(change[::2], change[1::2], strict=True)]


def _fault(kind: str, edges: Floats, where: slice, loss: Floats, sentence: str) -> PullFault:
    low, high, size = float(edges[where.start]), float(edges[where.stop]), float(loss[where].max())
    said = f"{sentence.format(size)} from {low * 60:.0f} to {high * 60:.0f} rpm"
    return PullFault(kind=kind, from_speed=low, to_speed=high, size=size, sentence=said)

"""How well an order of pulls shows a gain: before any pull is made, and with some made and others to follow."""

from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np

from boostwright.inference.disturbances import (
    Disturbances,
    Flags,
    Floats,
    RunOrder,
    level_covariance,
    pull_covariance,
)

EFFECTIVE_DEGREES_OF_FREEDOM = 12.0
"""Tails of the average gain's interval with two to four pulls of each setup, the priors counted in."""


def timed_order(letters: str, between_pulls: float, change_of_setup: float) -> RunOrder:
    """An order such as "ABBA" in one session; A is the baseline, B the candidate.

    Parameters
    ----------
    letters : str
        The setups in the order in which they are pulled.
    between_pulls : float
        Time from one pull to the next of the same installation. [s]
    change_of_setup : float
        Time from one pull to the next when the setup is changed between them. [s]
    """
    if not letters:
        _refuse(letters)
    changed, elapsed = _timed(letters, letters[0], between_pulls, change_of_setup)
    return RunOrder(
        is_candidate=_is_candidate(letters),
        session=np.zeros(len(letters), dtype=np.int64),
        installation=np.cumsum(changed, dtype=np.int64),
        elapsed=elapsed - between_pulls,
    )


@dataclass(frozen=True, kw_only=True)
class StandNow:
    """What stands on the stand after the last pull: "A", "B", or nothing of the two; and when that pull began. [s]

    `session` and `installation` are those of the last pull, counted as in the order of the pulls made.
    """

    installed: str
    session: int
    installation: int
    elapsed: float


def continued_order(
    order: RunOrder, now: StandNow, letters: str, between_pulls: float, change_of_setup: float
) -> RunOrder:
    """The pulls made, and further ones in the same session; each change of setup begins a new installation."""
    changed, elapsed = _timed(letters, now.installed, between_pulls, change_of_setup)
    changes, newest = np.cumsum(changed, dtype=np.int64), max(int(order.installation.max()), now.installation)
    further = RunOrder(
        is_candidate=_is_candidate(letters),
        session=np.full(len(letters), now.session),
        installation=np.where(changes == 0, now.installation, newest + changes),
        elapsed=now.elapsed + elapsed,
    )
    return _together(order, further)


def order_with_days(order: RunOrder, further: RunOrder) -> RunOrder:
    """The pulls made, and further sessions; in every one of them the setups are installed anew."""
    later = replace(
        further,
        session=further.session + int(order.session.max()) + 1,
        installation=further.installation + int(order.installation.max()) + 1,
    )
    return _together(order, later)


def repeated_order(order: RunOrder, sessions: int) -> RunOrder:
    """The same order run anew in each of several sessions, with setups installed anew."""
    pulls = order.session.size
    number = np.repeat(np.arange(sessions), pulls)
    sessions_apart, installations_apart = np.ptp(order.session) + 1, np.ptp(order.installation) + 1
    return RunOrder(
        is_candidate=np.tile(order.is_candidate, sessions),
        session=np.tile(order.session, sessions) + number * sessions_apart,
        installation=np.tile(order.installation, sessions) + number * installations_apart,
        elapsed=np.tile(order.elapsed, sessions),
        soak=None if order.soak is None else np.tile(order.soak, sessions),
    )


def rest_of_average(engine_speed: Floats, disturbances: Disturbances) -> Floats:
    """Variance that bends, ripple and noise leave in a pull's average over the range; the same for every order."""
    return np.asarray(pull_covariance(engine_speed, disturbances).mean(axis=(-2, -1)), np.float64)


def standard_uncertainty(order: RunOrder, likely: Disturbances, rest: Floats) -> float:
    """Standard uncertainty of the average gain that the order gives, averaged over likely sizes of the disturbances.

    `rest` is `rest_of_average` of the same sizes: reckoned once for the many orders that are weighed.
    """
    return float(np.mean(np.sqrt(_gain_variance(order, likely, rest))))


def _gain_variance(order: RunOrder, disturbances: Disturbances, rest: Floats) -> Floats:
    """The last entry of (Z'V^-1 Z)^-1, Z being ones beside the pulls of the candidate.

    A steady drift of unknown size in the covariance V makes generalised least squares the drift-eliminating sequences
    of metrology: A B A is then weighed with -1/2, 1, -1/2.
    """
    Z = np.column_stack([np.ones(order.is_candidate.size), order.is_candidate])
    covariance = level_covariance(order, disturbances) + rest[..., None, None] * np.eye(order.is_candidate.size)
    information = Z.T @ np.linalg.solve(covariance, Z)
    return np.asarray(np.linalg.inv(information)[..., 1, 1], np.float64)


def _is_candidate(letters: str) -> Flags:
    if set(letters) - {"A", "B"}:
        _refuse(letters)
    return np.array([letter == "B" for letter in letters], dtype=np.bool_)


def _refuse(letters: str) -> NoReturn:
    raise ValueError(f'order "{letters}": write A for a pull of the baseline and B for the candidate, as in "ABBA"')


def _timed(letters: str, installed: str, between_pulls: float, change_of_setup: float) -> tuple[Flags, Floats]:
    """Ahead of which pulls the setup is changed, and when each begins after the last pull of what is installed."""
    before = [installed, *letters][: len(letters)]
    changed = np.array([letter != last for letter, last in zip(letters, before, strict=True)], dtype=np.bool_)
    return changed, np.cumsum(np.where(changed, change_of_setup, between_pulls))


def _together(order: RunOrder, further: RunOrder) -> RunOrder:
    """Both, one after the other; of pulls not made the soak is taken to be the mean of those made."""
    soak = None
    if order.soak is not None:
        soak = np.r_[order.soak, np.full(further.is_candidate.size, order.soak.mean())]
    return RunOrder(
        is_candidate=np.r_[order.is_candidate, further.is_candidate],
        session=np.r_[order.session, further.session],
        installation=np.r_[order.installation, further.installation],
        elapsed=np.r_[order.elapsed, further.elapsed],
        soak=soak,
    )

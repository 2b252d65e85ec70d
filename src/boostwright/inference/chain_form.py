"""The forms of the machine that can be calibrated: how each matches points, what it leaves uncertain, what can gain."""

from collections.abc import Callable
from dataclasses import dataclass

from boostwright.inference.attribution import CAUSES, Cause
from boostwright.inference.priors import SLIP_LAW_PRIOR, MachinePrior, Points
from boostwright.machine.operating_point import OperatingPoints, matched


def _nothing_held(_points: Points) -> tuple[str, ...]:
    """The slip law has no border."""
    return ()


@dataclass(frozen=True, kw_only=True)
class ChainForm:
    """A form of the machine: its match, what is uncertain of it, and the causes that a gain is split into.

    `held` names what of some points lies at the border of what the form was made for, and is held there.
    """

    name: str
    prior: MachinePrior
    causes: tuple[Cause, ...]
    matched: Callable[[Points], OperatingPoints]
    held: Callable[[Points], tuple[str, ...]] = _nothing_held


SLIP_LAW_FORM = ChainForm(name="slip law", prior=SLIP_LAW_PRIOR, causes=CAUSES, matched=matched)

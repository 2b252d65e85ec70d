"""The forms of the machine that can be calibrated: how each matches points, what it leaves uncertain, what can gain."""

from collections.abc import Callable
from dataclasses import dataclass

from boostwright.inference.attribution import CAUSES, Cause
from boostwright.inference.priors import SLIP_LAW_PRIOR, MachinePrior, Points
from boostwright.machine.operating_point import OperatingPoints, matched


@dataclass(frozen=True, kw_only=True)
class ChainForm:
    """A form of the machine: its match, what is uncertain of it, and the causes that a gain is split into."""

    name: str
    prior: MachinePrior
    causes: tuple[Cause, ...]
    matched: Callable[[Points], OperatingPoints]


SLIP_LAW_FORM = ChainForm(name="slip law", prior=SLIP_LAW_PRIOR, causes=CAUSES, matched=matched)

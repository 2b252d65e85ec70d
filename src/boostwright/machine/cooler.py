"""The charge cooler, by the effectiveness it has at one flow, and how that falls as the flow grows."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Cooler:
    """A charge cooler fed with coolant of one temperature; without any, the transfer units are 0.

    Effectiveness is 1 - exp(-NTU): the coolant flow is taken as large beside the charge.
    """

    cooler_transfer_units: float
    cooler_reference_flow: float
    cooler_transfer_exponent: float
    cooler_area: float
    coolant_temperature: float

    def __post_init__(self) -> None:
        if not self.cooler_transfer_units >= 0.0:
            raise ValueError(f"cooler_transfer_units {self.cooler_transfer_units:g} must not be negative")
        for name in ("cooler_reference_flow", "cooler_area", "coolant_temperature"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} {getattr(self, name):g} must be positive")


def transfer_units(cooler_effectiveness: float) -> float:
    """Transfer units of a cooler whose coolant hardly warms."""
    if not 0.0 <= cooler_effectiveness < 1.0:
        raise ValueError(f"cooler_effectiveness {cooler_effectiveness:g} must be from 0 to below 1")
    return -math.log1p(-cooler_effectiveness)

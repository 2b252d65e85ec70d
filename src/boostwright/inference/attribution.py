"""The gain of a candidate split into causes and into paths, additively, for every draw of the unknowns.

By cause: groups of columns of the match table are switched from the baseline's values to the candidate's. Each group's
share is the mean of what it adds when it is switched first and when it is switched last; that is its Shapley value, but
for interactions of three and more groups, which stay in a term of their own.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.priors import Points

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Cause:
    """A cause of gain: what it is called, and the columns of the match table that it moves."""

    name: str
    words: tuple[str, ...]


CAUSES: tuple[Cause, ...] = (
    Cause(name="inlet", words=("throttle_area", "inlet_area", "inlet_heating")),
    Cause(name="filling", words=("filling_loss", "delivery_factor")),
    Cause(name="leakage", words=("leakage_area",)),
    Cause(name="belt slip", words=("belt_slip",)),
    Cause(name="drive loss", words=("mechanical_power_at_limit", "belt_efficiency")),
    Cause(
        name="charge cooling",
        words=(
            "coolant_temperature",
            "cooler_transfer_units",
            "cooler_reference_flow",
            "cooler_transfer_exponent",
            "cooler_area",
        ),
    ),
    Cause(name="weather", words=("ambient_pressure", "air_temperature", "humidity_ratio")),
    Cause(
        name="mixture",
        words=(
            "excess_air_ratio",
            "stoichiometric_air_fuel_ratio",
            "lower_heating_value",
            "latent_heat",
            "fuel_molar_mass",
            "octane_number",
            "evaporated_share",
            "upstream_evaporation",
        ),
    ),
    Cause(name="drive ratio", words=("drive_ratio", "internal_step")),
    Cause(
        name="blower size",
        words=(
            "blower_displacement",
            "internal_volume_ratio",
            "speed_limit",
            "gas_work_factor",
            "heat_loss_share",
            "mechanical_heat_share",
            "added_outlet_temperature",
            "added_shaft_power",
        ),
    ),
    Cause(name="bypass", words=("bypass_area", "bypass_opening", "manifold_pressure_cap")),
    Cause(
        name="engine",
        words=(
            "engine_displacement",
            "compression_ratio",
            "stroke",
            "engine_volumetric_efficiency",
            "intake_temperature_exponent",
            "exhaust_area",
            "exhaust_temperature",
            "indicated_efficiency_factor",
            "efficiency_temperature_slope",
            "friction_factor",
            "peak_pressure_factor",
            "knock_factor",
            "knock_index_limit",
            "spark_retard",
        ),
    ),
)
"""All causes: every column of the match but engine speed is moved by one of them."""

_PORTS = Cause(
    name="ports",
    words=("port_closing_angle", "port_inertance", "port_effective_area", "drawing", "filling_loss", "delivery_factor"),
)
CHAMBER_CAUSES = tuple(_PORTS if cause.name == "filling" else cause for cause in CAUSES)
"""The same with the ports of a chamber blower where the slip law has its filling."""


@dataclass(frozen=True, kw_only=True)
class CauseShares:
    """What each cause adds, (causes, draws, speeds), and what their interaction adds, in the unit of what is split."""

    causes: tuple[Cause, ...]
    shares: Floats
    interaction: Floats


def cause_shares(
    baseline: Points, candidate: Points, causes: tuple[Cause, ...], quantity: Callable[[Points], Floats]
) -> CauseShares:
    """Split the change of a quantity from baseline to candidate over the causes that differ between them.

    Parameters
    ----------
    baseline, candidate : ndarray of records, shape (draws, speeds)
        Points of the two setups, in any table whose columns the causes name.
    causes : tuple of Cause
        Groups of columns; those that differ nowhere are left out of the result.
    quantity : callable
        From a table, shape (..., draws, speeds), to the quantity that is split, in the same shape.

    Notes
    -----
    Two runs a cause and two in all, in one batch; exact up to interactions of pairs.

    References
    ----------
    .. [1] L. S. Shapley, A value for n-person games, Annals of Mathematics Studies 28, 1953 (from memory).
    """
    present = tuple(cause for cause in causes if _differs(baseline, candidate, cause))
    tables = [baseline, candidate]
    tables += [_switched(baseline, candidate, cause) for cause in present]
    tables += [_switched(candidate, baseline, cause) for cause in present]
    runs = quantity(np.stack(tables))
    first = runs[2 : 2 + len(present)] - runs[0]
    last = runs[1] - runs[2 + len(present) :]
    shares = 0.5 * (first + last)
    return CauseShares(causes=present, shares=shares, interaction=runs[1] - runs[0] - shares.sum(axis=0))


def _differs(baseline: Points, candidate: Points, cause: Cause) -> bool:
    names = baseline.dtype.names or ()
    return any(word in names and not np.array_equal(baseline[word], candidate[word]) for word in cause.words)


def _switched(points: Points, others: Points, cause: Cause) -> Points:
    """The points with the columns of one cause taken from the others."""
    table = points.copy()
    for word in cause.words:
        if word in (points.dtype.names or ()):
            table[word] = others[word]
    return table


@dataclass(frozen=True, kw_only=True)
class GainPaths:
    """The way a gain takes, candidate minus baseline, (draws, speeds).

    Air mass flow splits as logarithms into manifold pressure, charge temperature and the engine's volumetric
    efficiency; brake power into indicated, pumping, friction and drive power [W].
    """

    air_mass_flow: Floats
    manifold_pressure: Floats
    charge_temperature: Floats
    engine_volumetric_efficiency: Floats
    indicated_power: Floats
    pumping_power: Floats
    friction_power: Floats
    blower_drive_power: Floats


def gain_paths(baseline: Points, candidate: Points) -> GainPaths:
    """Paths from the matched states of two setups: d ln(air) = d ln(p) - d ln(T) + d ln(efficiency), exactly."""

    def relative(word: str) -> Floats:
        return np.log(candidate[word] / baseline[word])

    def absolute(word: str) -> Floats:
        return np.asarray(candidate[word] - baseline[word], float)

    air, pressure, warmth = relative("air_mass_flow"), relative("manifold_pressure"), -relative("charge_temperature")
    return GainPaths(
        air_mass_flow=air,
        manifold_pressure=pressure,
        charge_temperature=warmth,
        engine_volumetric_efficiency=air - pressure - warmth,
        indicated_power=absolute("indicated_power"),
        pumping_power=absolute("pumping_power"),
        friction_power=-absolute("friction_power"),
        blower_drive_power=-absolute("blower_drive_power"),
    )

"""What is uncertain about two setups before a pull is made, and how it acts on the points that the match solves.

Every unknown is a standard normal. It acts on one column of the table through a fixed pattern over setups and speeds:
on the logarithm of a column that is positive by nature, on the column itself otherwise. The two setups are alike and
only their difference matters for a gain, so what may differ is a common value plus and minus half a difference.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import radians
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.void]


class Law(StrEnum):
    """How an unknown acts on its column."""

    FACTOR = "factor"  # the column is multiplied by exp(x)
    OFFSET = "offset"  # x is added, in the unit of the column


class Scope(StrEnum):
    """What an unknown belongs to, and so where it may be carried: a blower travels to other engines, a day does not."""

    BLOWER = "blower"
    ENGINE = "engine"
    COOLER = "cooler"
    DRIVE = "drive"
    SESSION = "session"


class Contrast(StrEnum):
    """Whether both setups share an unknown, or it is their difference."""

    COMMON = "common"
    DIFFERENCE = "difference"


class SpeedShape(StrEnum):
    """How an unknown acts along engine speed, z = 0 at the lowest and 1 at the highest speed of the data."""

    LEVEL = "level"
    SLOPE = "slope"  # z - 1/2
    WARMING = "warming"  # z^1.3: a coolant circuit warms through a pull


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """One uncertain number: the column it acts on, how, and its standard deviation (of the logarithm for a factor).

    `centre` is its mean beyond what the nominal table holds.
    """

    word: str
    law: Law
    sd: float
    scope: Scope
    contrast: Contrast = Contrast.COMMON
    shape: SpeedShape = SpeedShape.LEVEL
    centre: float = 0.0

    @property
    def name(self) -> str:
        """The word, and what of it is meant: its slope along speed, its difference between the setups."""
        words = [self.word, "" if self.shape is SpeedShape.LEVEL else self.shape.value]
        words += ["" if self.contrast is Contrast.COMMON else self.contrast.value]
        return " ".join(word for word in words if word)


@dataclass(frozen=True, kw_only=True)
class SmoothError:
    """What the chain may get wrong, smoothly along speed: a Gaussian process of the logarithm of a column.

    It stands where the error lives, not on what is measured, so that it reaches air flow, drive power, temperatures and
    other engines with the right sign. `length` and the range of the nodes are in the speed that it belongs to.
    """

    word: str
    sd: float
    length: float
    node_count: int
    scope: Scope
    contrast: Contrast = Contrast.COMMON


KNOWN_SHARE = 0.3  # of the spread that is left when a number is stated or logged instead of left to the default
_RPM = 1 / 60
_COMMON, _DIFFERENCE = Contrast.COMMON, Contrast.DIFFERENCE
_ENGINE, _COOLER, _DRIVE, _SESSION, _BLOWER = Scope.ENGINE, Scope.COOLER, Scope.DRIVE, Scope.SESSION, Scope.BLOWER
_FACTOR, _OFFSET = Law.FACTOR, Law.OFFSET


def _both(word: str, law: Law, sd: float, difference_sd: float, scope: Scope) -> tuple[Unknown, Unknown]:
    """A common value and the difference of the setups."""
    return (
        Unknown(word=word, law=law, sd=sd, scope=scope),
        Unknown(word=word, law=law, sd=difference_sd, scope=scope, contrast=_DIFFERENCE),
    )


# Standard deviations are assumptions, to be replaced from the maker's own archive.
UNKNOWNS: tuple[Unknown, ...] = (
    Unknown(word="engine_volumetric_efficiency", law=_FACTOR, sd=0.05, scope=_ENGINE),
    Unknown(word="indicated_efficiency_factor", law=_FACTOR, sd=0.045, scope=_ENGINE),
    Unknown(word="friction_factor", law=_FACTOR, sd=0.2, scope=_ENGINE),
    Unknown(word="exhaust_area", law=_FACTOR, sd=0.22, scope=_ENGINE),
    Unknown(word="intake_temperature_exponent", law=_OFFSET, sd=0.1, scope=_ENGINE),
    Unknown(word="evaporated_share", law=_FACTOR, sd=0.42, scope=_ENGINE),
    Unknown(word="efficiency_temperature_slope", law=_FACTOR, sd=0.8, scope=_ENGINE),
    *_both("excess_air_ratio", _OFFSET, 0.04, 0.023, _SESSION),
    Unknown(word="cooler_transfer_units", law=_FACTOR, sd=0.25, scope=_COOLER),
    Unknown(word="cooler_transfer_exponent", law=_OFFSET, sd=0.1, scope=_COOLER),
    Unknown(word="cooler_area", law=_FACTOR, sd=0.2, scope=_COOLER),
    *_both("coolant_temperature", _OFFSET, 5.0, 2.0, _SESSION),
    Unknown(word="coolant_temperature", law=_OFFSET, sd=2.5, scope=_SESSION, shape=SpeedShape.WARMING, centre=4.0),
    *_both("belt_slip", _FACTOR, 0.6, 0.6, _DRIVE),
    Unknown(word="belt_slip", law=_FACTOR, sd=0.6, scope=_DRIVE, shape=SpeedShape.SLOPE, centre=0.5),
    Unknown(word="belt_slip", law=_FACTOR, sd=0.6, scope=_DRIVE, shape=SpeedShape.SLOPE, contrast=_DIFFERENCE),
    # the instruments of one weather station: their common error cancels in a gain and is left out
    Unknown(word="ambient_pressure", law=_OFFSET, sd=42.0, scope=_SESSION, contrast=_DIFFERENCE),
    Unknown(word="air_temperature", law=_OFFSET, sd=0.7, scope=_SESSION, contrast=_DIFFERENCE),
    *_both("mechanical_power_at_limit", _FACTOR, 0.45, 0.08, _BLOWER),
    Unknown(word="gas_work_factor", law=_OFFSET, sd=0.03, scope=_BLOWER),
    Unknown(word="heat_loss_share", law=_FACTOR, sd=0.5, scope=_BLOWER),  # never below nothing
    Unknown(word="throttle_area", law=_FACTOR, sd=0.15, scope=_BLOWER),
    Unknown(word="inlet_heating", law=_FACTOR, sd=0.6, scope=_BLOWER),
    *_both("inlet_area", _FACTOR, 0.25, 0.4, _BLOWER),
    # effective area changes with the flow through it
    Unknown(word="inlet_area", law=_FACTOR, sd=0.08, scope=_BLOWER, shape=SpeedShape.SLOPE),
    Unknown(word="inlet_area", law=_FACTOR, sd=0.05, scope=_BLOWER, shape=SpeedShape.SLOPE, contrast=_DIFFERENCE),
    *_both("filling_loss", _FACTOR, 0.35, 0.35, _BLOWER),
    *_both("leakage_area", _FACTOR, 0.3, 0.2, _BLOWER),
    Unknown(word="delivery_factor", law=_FACTOR, sd=0.015, scope=_BLOWER),
)
"""Numbers that are uncertain of every pair of setups."""

_ENGINE_FIELDS = (
    SmoothError(word="engine_volumetric_efficiency", sd=0.035, length=800 * _RPM, node_count=8, scope=_ENGINE),
    SmoothError(word="indicated_efficiency_factor", sd=0.015, length=1300 * _RPM, node_count=5, scope=_ENGINE),
)
# Lengths as a share of the blower's speed limit. The difference acts whole on each setup, with opposite signs.
_BLOWER_FIELDS = (
    SmoothError(word="delivery_factor", sd=0.015, length=0.38, node_count=7, scope=_BLOWER),
    SmoothError(word="delivery_factor", sd=0.009, length=0.38, node_count=7, scope=_BLOWER, contrast=_DIFFERENCE),
)


@dataclass(frozen=True, kw_only=True)
class SpeedwiseError:
    """What the chain may get wrong at each speed of the data apart, of both setups alike: the logarithm of a column."""

    word: str
    sd: float
    scope: Scope


@dataclass(frozen=True, kw_only=True)
class MachinePrior:
    """Everything that is uncertain of two setups under one form of the blower."""

    unknowns: tuple[Unknown, ...]
    engine_fields: tuple[SmoothError, ...]
    blower_fields: tuple[SmoothError, ...]
    speedwise: tuple[SpeedwiseError, ...] = ()


SLIP_LAW_PRIOR = MachinePrior(unknowns=UNKNOWNS, engine_fields=_ENGINE_FIELDS, blower_fields=_BLOWER_FIELDS)

# Of the chambers: the port of a drawing is known to some 15 degrees and 30 %, its inertance to a factor of four, and
# the engine's volumetric efficiency is free at every speed, as no blower's map knows its tuning. Both setups share it.
_OF_THE_SLIP_LAW = ("filling_loss",)
_CHAMBER_UNKNOWNS = (
    *(unknown for unknown in UNKNOWNS if unknown.word not in _OF_THE_SLIP_LAW),
    *_both("port_closing_angle", _OFFSET, radians(7.5), radians(6.0), _BLOWER),
    *_both("port_inertance", _FACTOR, 0.7, 0.2, _BLOWER),
    *_both("port_effective_area", _FACTOR, 0.15, 0.15, _BLOWER),
)
CHAMBER_PRIOR = MachinePrior(
    unknowns=_CHAMBER_UNKNOWNS,
    engine_fields=_ENGINE_FIELDS,
    blower_fields=_BLOWER_FIELDS,
    speedwise=(SpeedwiseError(word="engine_volumetric_efficiency", sd=0.015, scope=_ENGINE),),
)
_BLOWER_NODE_RANGE = (0.1, 1.1)  # of the speed limit: beyond the tested rotor speeds the field falls back to its prior


@dataclass(frozen=True, kw_only=True)
class Influence:
    """How the unknowns of one column act: value x exp(basis z + centre), or value + basis z + centre."""

    word: str
    law: Law
    members: NDArray[np.intp]
    basis: Floats
    centre: Floats


@dataclass(frozen=True, kw_only=True)
class ParameterSpace:
    """All unknowns of two setups as one vector of standard normals, and the table of points that a vector means.

    `nominal` holds the baseline's points, then the candidate's, at the same engine speeds. The first members of a
    vector are the `unknowns`, the others the coefficients of smooth errors.
    """

    names: tuple[str, ...]
    scopes: tuple[Scope, ...]
    unknowns: tuple[Unknown, ...]
    nominal: Points
    influences: tuple[Influence, ...]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.names)

    def points(self, vectors: Floats) -> Points:
        """The table of each vector: shape (vectors, points of both setups)."""
        nominal, words = _columns(self.nominal), self.nominal.dtype.names or ()
        columns = np.broadcast_to(nominal, (len(vectors), *nominal.shape)).copy()
        for influence in self.influences:
            c = words.index(influence.word)
            x = vectors[:, influence.members] @ influence.basis.T + influence.centre
            if influence.law is Law.FACTOR:
                columns[:, :, c] *= np.exp(x)
            else:
                columns[:, :, c] += x
        return columns.view(self.nominal.dtype)[..., 0]


def _columns(points: Points) -> Floats:
    return np.ascontiguousarray(points).view(np.float64).reshape(points.size, -1)


@dataclass(frozen=True, kw_only=True)
class Known:
    """Words that somebody has looked at: `stated` in a build file, or `logged` in every pull; the rest are defaults."""

    stated: frozenset[str] = frozenset()
    logged: frozenset[str] = frozenset()


NOTHING_KNOWN = Known()


def parameter_space(
    baseline: Points,
    candidate: Points,
    known: Known = NOTHING_KNOWN,
    speed_span: tuple[float, float] | None = None,
    prior: MachinePrior = SLIP_LAW_PRIOR,
) -> ParameterSpace:
    """The unknowns of two setups around their nominal tables, which hold the same engine speeds in the same order.

    A stated level is believed to a share of the usual spread; of a logged word the setups' difference is as well, and
    its course along speed is that of the log. What acts along engine speed does so over `speed_span`, or else over the
    speeds of the tables: an engine that was fitted at some speeds keeps its curves when it is asked about others.
    """
    if not np.array_equal(baseline["engine_speed"], candidate["engine_speed"]):
        raise ValueError("the two setups must be given at the same engine speeds")
    nominal = np.concatenate([baseline, candidate])
    unknowns = tuple(believed(unknown, known) for unknown in prior.unknowns)
    span = _span(nominal["engine_speed"]) if speed_span is None else speed_span
    effects = [_scalar(unknown, nominal, span) for unknown in unknowns]
    effects += [_field(error, nominal, nominal["engine_speed"], span) for error in prior.engine_fields]
    turned = nominal["engine_speed"] * nominal["drive_ratio"] * nominal["internal_step"] / nominal["speed_limit"]
    effects += [_field(error, nominal, turned, _BLOWER_NODE_RANGE) for error in prior.blower_fields]
    effects += [_at_each_speed(error, nominal.size) for error in prior.speedwise]
    return ParameterSpace(
        names=tuple(name for effect in effects for name in effect.names),
        scopes=tuple(effect.scope for effect in effects for _ in effect.names),
        unknowns=unknowns,
        nominal=nominal,
        influences=_influences(effects),
    )


def believed(unknown: Unknown, known: Known) -> Unknown:
    """An unknown with the spread that is left of it once it is stated or logged."""
    if unknown.word in known.logged:
        return replace(unknown, sd=KNOWN_SHARE * unknown.sd, centre=0.0)
    is_level = unknown.contrast is _COMMON and unknown.shape is SpeedShape.LEVEL
    return replace(unknown, sd=KNOWN_SHARE * unknown.sd) if is_level and unknown.word in known.stated else unknown


@dataclass(frozen=True, kw_only=True)
class _Effect:
    """One unknown, or all coefficients of a smooth error, on its column."""

    names: tuple[str, ...]
    word: str
    law: Law
    scope: Scope
    basis: Floats
    centre: Floats


def _scalar(unknown: Unknown, nominal: Points, span: tuple[float, float]) -> _Effect:
    low, high = span
    z = (nominal["engine_speed"] - low) / max(high - low, 1e-9)
    warming = np.maximum(z, 0.0) ** 1.3
    along = {SpeedShape.LEVEL: np.ones_like(z), SpeedShape.SLOPE: z - 0.5, SpeedShape.WARMING: warming}[unknown.shape]
    pattern = along * (_sides(nominal.size) / 2 if unknown.contrast is _DIFFERENCE else 1.0)
    return _Effect(
        names=(unknown.name,),
        word=unknown.word,
        law=unknown.law,
        scope=unknown.scope,
        basis=unknown.sd * pattern[:, None],
        centre=unknown.centre * pattern,
    )


def _field(error: SmoothError, nominal: Points, at: Floats, node_range: tuple[float, float]) -> _Effect:
    basis = error.sd * smooth_basis(at, np.linspace(*node_range, error.node_count), error.length)
    if error.contrast is _DIFFERENCE:
        basis = basis * _sides(nominal.size)[:, None]
    suffix = " difference" if error.contrast is _DIFFERENCE else ""
    return _Effect(
        names=tuple(f"{error.word} curve{suffix} {k + 1}" for k in range(error.node_count)),
        word=error.word,
        law=Law.FACTOR,
        scope=error.scope,
        basis=basis,
        centre=np.zeros(nominal.size),
    )


def _at_each_speed(error: SpeedwiseError, size: int) -> _Effect:
    count = size // 2
    return _Effect(
        names=tuple(f"{error.word} at speed {k + 1}" for k in range(count)),
        word=error.word,
        law=Law.FACTOR,
        scope=error.scope,
        basis=error.sd * np.vstack([np.eye(count), np.eye(count)]),
        centre=np.zeros(size),
    )


def smooth_basis(at: Floats, nodes: Floats, length: float) -> Floats:
    """Basis of a Gaussian process of unit sd and squared-exponential covariance, whitened at its nodes.

    Shape (at, nodes). Between nodes the process is its own conditional mean; outside them it falls back to zero.
    """
    between = _squared_exponential(nodes, nodes, length) + 1e-8 * np.eye(len(nodes))
    return np.asarray(np.linalg.solve(np.linalg.cholesky(between), _squared_exponential(nodes, at, length)).T, float)


def _squared_exponential(a: Floats, b: Floats, length: float) -> Floats:
    return np.asarray(np.exp(-0.5 * ((a[:, None] - b) / length) ** 2), float)


def _sides(size: int) -> Floats:
    """-1 for the baseline's points, +1 for the candidate's."""
    return np.repeat([-1.0, 1.0], size // 2)


def _span(values: Any) -> tuple[float, float]:
    return float(np.min(values)), float(np.max(values))


def _influences(effects: list[_Effect]) -> tuple[Influence, ...]:
    """Effects gathered by column."""
    first = np.cumsum([0, *[len(effect.names) for effect in effects]])
    gathered: dict[str, list[int]] = {}
    for i, effect in enumerate(effects):
        gathered.setdefault(effect.word, []).append(i)
    return tuple(
        Influence(
            word=word,
            law=effects[rows[0]].law,
            members=np.concatenate([np.arange(first[i], first[i + 1]) for i in rows]),
            basis=np.hstack([effects[i].basis for i in rows]),
            centre=np.sum([effects[i].centre for i in rows], axis=0),
        )
        for word, rows in gathered.items()
    )

"""What gives first: every limit's margin against engine speed, how likely it is exceeded, and what would give it room.

Of a build file the draws are of what the file leaves open. Of a campaign they are the engine that was tested: the
unknowns as its pulls have determined them, at the speeds of the pulls, in their weather or in another.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.inference.calibrate import CalibrationData, calibrate
from boostwright.inference.posterior_draws import SPREAD_FACTOR, Sampler, randomised_maximum_likelihood
from boostwright.machine.build import Build, build_of
from boostwright.machine.operating_point import Ambient, BlowerForm, matched
from boostwright.records.build_file import BuildFile, read_build_file
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.studies.drawn_operation import (
    DrawnOperation,
    drawn_build,
    in_air,
    operation_of_draws,
    with_unjudged,
)
from boostwright.studies.explain_data import campaign_data
from boostwright.studies.limit_changes import WANTED_MARGIN, LimitChange, limit_changes
from boostwright.studies.limit_curves import (
    CONFIDENCE,
    LimitCurve,
    binding,
    limit_curves,
    limits_answer,
    not_known,
    worst_of_all,
)
from boostwright.studies.match import SEED
from boostwright.studies.rounding import json_number
from boostwright.studies.words import count, joined

Floats: TypeAlias = NDArray[np.float64]

DRAW_COUNT = 400
ACCEPTED = 0.05  # chance of being exceeded above which a limit wants more margin
_MOST_CHANGED = 4


@dataclass(frozen=True, kw_only=True)
class LimitsResult:
    """Every limit of a build at work, the one that binds first, those that nobody has stated last."""

    name: str
    setup: str
    basis: str
    ambient: Ambient
    engine_speed: Floats
    limits: tuple[LimitCurve, ...]
    changes: tuple[LimitChange, ...]
    chance: float
    draw_count: int
    sentence: str
    warnings: tuple[str, ...]

    @property
    def known(self) -> tuple[LimitCurve, ...]:
        """The limits that can be judged."""
        return tuple(curve for curve in self.limits if curve.is_known)

    @property
    def unknown(self) -> tuple[LimitCurve, ...]:
        """The limits of which nothing can be said."""
        return not_known(self.limits)

    def as_json(self) -> dict[str, object]:
        """The result as JSON; each key carries its unit, or the unit stands beside it."""
        first = binding(self.limits)
        return {
            "name": self.name,
            "setup": self.setup or None,
            "basis": self.basis,
            "confidence": CONFIDENCE,
            "draws": self.draw_count,
            "ambient": {
                "pressure_kpa": json_number(self.ambient.ambient_pressure / 1e3),
                "temperature_degC": json_number(self.ambient.air_temperature - 273.15),
                "humidity_ratio": json_number(self.ambient.humidity_ratio),
            },
            "chance_percent": json_number(100.0 * self.chance),
            "binding_limit": None if first is None else first.name,
            "limits": [{**curve.as_json(), "curve": curve.curve_json()} for curve in self.limits],
            "changes": [change.as_json() for change in self.changes],
            "sentence": self.sentence,
            "warnings": list(self.warnings),
        }


def build_limits(
    build_file: BuildFile, engine_speed: Floats, ambient: Ambient, blower: BlowerForm | None = None
) -> LimitsResult:
    """Limits of a build by its file alone; the draws are of everything that the file leaves open."""
    generator = np.random.default_rng(SEED)
    build = build_of(build_file)
    operation = drawn_build(build_file, engine_speed, DRAW_COUNT, generator, blower).operation(build, ambient)
    basis = "the build file, with what it leaves open drawn from its documented ranges"
    return _result(build, operation, ambient, basis, "", list(build.cautions))


def campaign_limits(
    campaign: Campaign,
    setup: str,
    ambient: Ambient | None = None,
    sampler: Sampler = randomised_maximum_likelihood,
) -> LimitsResult:
    """Limits of the engine that was tested, as the pulls of a campaign have determined it.

    Parameters
    ----------
    campaign : Campaign
        Its two setups are fitted together, as for an explanation.
    setup : str
        Which of the two is meant.
    ambient : Ambient or None
        Another weather than that of the pulls.
    sampler : callable
        How the unknowns are drawn.

    Raises
    ------
    DataError
        If the setup is neither of the two, or the pulls do not carry what a calibration needs.
    """
    build = _setup_build(campaign, setup)
    data = campaign_data(campaign)
    side = _CANDIDATE if setup == campaign.candidate else _BASELINE
    operation, air = _calibrated(data, side, build, ambient, sampler)
    basis = f"the engine as calibrated on the pulls of {campaign.baseline} and {campaign.candidate}"
    warnings = ["Margins hold at the tested speeds only; faster than that, ask the build file."]
    if ambient is not None:
        warnings.append("Another weather than that of the pulls: the calibration is carried there by the model alone.")
    if any(curve.is_known for curve in limit_curves(build, operation) if curve.name in _UNMEASURED):
        warnings.append("No pull has measured knock or peak pressure: their spread is that of the build file alone.")
    return _result(build, operation, air, basis, setup, warnings)


_BASELINE, _CANDIDATE = 0, 1
_UNMEASURED = ("knock index", "peak cylinder pressure")


def _setup_build(campaign: Campaign, setup: str) -> Build:
    if setup not in (campaign.baseline, campaign.candidate):
        problem, remedy = (
            "is not a setup that this campaign compares",
            f"ask {campaign.baseline} or {campaign.candidate}",
        )
        raise DataError(str(Fault(file=CAMPAIGN_FILE, value=setup, problem=problem, remedy=remedy)))
    path = campaign.setups[setup].build
    if path is None:
        problem, remedy = "names no build, and limits stand in one", f'write build = "builds/{setup}.toml"'
        raise DataError(str(Fault(file=CAMPAIGN_FILE, key=f"setups.{setup}", problem=problem, remedy=remedy)))
    return build_of(read_build_file(campaign.folder / path))


def _calibrated(
    data: CalibrationData, side: int, build: Build, ambient: Ambient | None, sampler: Sampler
) -> tuple[DrawnOperation, Ambient]:
    """The tested engine at work, and the air around it; `side` is the setup's place in the table of both."""
    generator = np.random.default_rng(SEED)
    calibration = calibrate(data)
    draws = sampler(calibration, DRAW_COUNT, generator)
    both = calibration.predictor.space.points(draws.vectors)
    points = with_unjudged(np.split(both, 2, axis=1)[side], build, generator)
    nominal = (data.baseline, data.candidate)[side]
    air = ambient or Ambient(
        ambient_pressure=float(nominal["ambient_pressure"].mean()),
        air_temperature=float(nominal["air_temperature"].mean()),
        humidity_ratio=float(nominal["humidity_ratio"].mean()),
    )
    return operation_of_draws(matched(in_air(points, air)), build, generator, SPREAD_FACTOR), air


def _result(
    build: Build, operation: DrawnOperation, ambient: Ambient, basis: str, setup: str, warnings: list[str]
) -> LimitsResult:
    curves = limit_curves(build, operation)
    tight = [curve for curve in curves if wants_margin(curve)][:_MOST_CHANGED]
    worst = worst_of_all(curves, operation)
    return LimitsResult(
        name=build.name,
        setup=setup,
        basis=basis,
        ambient=ambient,
        engine_speed=operation.central["engine_speed"],
        limits=curves,
        changes=limit_changes(build, operation, tight) if tight else (),
        chance=float(np.mean(worst > 1.0)),
        draw_count=len(operation.friction_coefficient),
        sentence=limits_answer(curves),
        warnings=(*_unmatched(operation), *_missing(curves), *warnings),
    )


def wants_margin(curve: LimitCurve) -> bool:
    """Whether a limit is exceeded too often, or has less room than is wanted."""
    if not curve.is_known:
        return False
    return curve.chance > ACCEPTED or curve.greatest.value > 1.0 - WANTED_MARGIN


def _unmatched(operation: DrawnOperation) -> list[str]:
    lost = int(np.sum(~operation.draws.is_matched.all(axis=1)))
    if lost == 0:
        return []
    of = f"{count(lost, 'draw')} of {len(operation.friction_coefficient)}"
    return [f"{of} have no operating point at some speed; they count as exceeding every limit."]


def _missing(curves: tuple[LimitCurve, ...]) -> list[str]:
    names = [curve.name for curve in not_known(curves)]
    return [f"Not known, and in no chance: {joined(names)}."] if names else []

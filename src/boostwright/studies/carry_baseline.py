"""A baseline pull on the other engine, as the joint fit of both engines reads it."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.inference.calibrate import (
    CHANNELS,
    TYPICAL_SENSOR_ERRORS,
    SensorErrors,
    block_diagonal,
    observed_scale,
)
from boostwright.inference.fault_screen import screen_pulls
from boostwright.inference.priors import Known
from boostwright.inference.transfer import BaselineData
from boostwright.machine.build import Build
from boostwright.machine.operating_point import Ambient
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.carry_target import CarrySource, CarryTarget, target_points
from boostwright.studies.compare import reduced_pulls
from boostwright.studies.explain_data import (
    FEWEST_SPEEDS,
    OWN_COLUMNS,
    SPEED_COUNT,
    as_measured,
    logged_by_all,
    mean_weather,
    refuse_without,
    stated_words,
)

Floats: TypeAlias = NDArray[np.float64]

_TYPICAL_PULLS = 2  # that the usual errors of a setup's curve are stated for


def baseline_weather(campaign: Campaign) -> Ambient:
    """Mean weather of the used pulls of a campaign's baseline."""
    return mean_weather(_baseline_pulls(campaign))


def baseline_data(tested: CarrySource, target_build: Build, campaign: Campaign) -> BaselineData:
    """Curves of a campaign's baseline, pulled on the other engine, with the nominal points of the build there.

    Raises
    ------
    DataError
        If the baseline has no used pull, or its pulls lack weather, torque or manifold pressure.
    """
    pulls = _baseline_pulls(campaign)
    channels = logged_by_all(pulls, CHANNELS)
    refuse_without(("torque", "manifold_pressure"), channels)
    chosen = _chosen_speeds(pulls, channels)
    speeds = pulls[0].engine_speed[chosen]
    target = CarryTarget(build=target_build, ambient=mean_weather(pulls), engine_speed=speeds, is_another_specimen=True)
    points, _ = target_points(tested, target)
    for word in logged_by_all(pulls, OWN_COLUMNS):
        points[word] = np.nanmean([pull.values[word][chosen] for pull in pulls], axis=0)
    means = [np.nanmean([pull.values[c][chosen] for pull in as_measured(pulls)], axis=0) for c in channels]
    blocks = [_covariance(TYPICAL_SENSOR_ERRORS[channel], speeds, len(pulls)) for channel in channels]
    return BaselineData(
        points=points,
        channels=channels,
        observations=np.stack([observed_scale(c, values) for c, values in zip(channels, means, strict=True)]),
        covariance=block_diagonal(blocks),
        known=Known(stated=stated_words([target_build]), logged=frozenset(logged_by_all(pulls, OWN_COLUMNS))),
    )


def _baseline_pulls(campaign: Campaign) -> list[ReducedPull]:
    pulls = [pull for pull in reduced_pulls(campaign) if pull.setup == campaign.baseline]
    used = [row.pull for row in screen_pulls(pulls) if row.used] if pulls else []
    if not used:
        problem = "has no pull that can be used, and the fit of both engines needs one"
        remedy = "pull the baseline there, or leave --baseline out"
        fault = Fault(
            file=str(campaign.folder / CAMPAIGN_FILE), value=f'"{campaign.baseline}"', problem=problem, remedy=remedy
        )
        raise DataError(str(fault))
    return used


def _chosen_speeds(pulls: list[ReducedPull], channels: tuple[str, ...]) -> NDArray[np.intp]:
    """Bins, evenly spaced, in which some pull has a value of every channel."""
    filled = [np.any([np.isfinite(pull.values[channel]) for pull in pulls], axis=0) for channel in channels]
    usable = np.flatnonzero(np.all(filled, axis=0))
    if usable.size < FEWEST_SPEEDS:
        problem = "has all its channels in fewer than five speed bins"
        raise DataError(str(Fault(file=pulls[0].file, problem=problem, remedy="sweep a wider range of speeds")))
    return usable[np.unique(np.linspace(0, usable.size - 1, SPEED_COUNT).round().astype(np.intp))]


def _covariance(errors: SensorErrors, engine_speed: Floats, pull_count: int) -> Floats:
    """Covariance of a curve that is the mean of some pulls; what they share of a sensor is not averaged away."""
    near = np.exp(-0.5 * ((engine_speed[:, None] - engine_speed) / errors.curve_length) ** 2)
    own = errors.level_sd**2 + errors.curve_sd**2 * near + errors.noise_sd**2 * np.eye(len(engine_speed))
    return np.asarray(own * _TYPICAL_PULLS / pull_count + errors.common_sd**2, float)

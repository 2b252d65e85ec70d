"""From a campaign's pulls and builds to the curves that an explanation fits."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import DataError, Fault
from boostwright.inference.calibrate import (
    CHANNELS,
    LOGARITHMIC,
    TYPICAL_SENSOR_ERRORS,
    CalibrationData,
    block_diagonal,
)
from boostwright.inference.fault_screen import screen_pulls
from boostwright.inference.gain_model import GAIN_KNOT_SPACING, spline_basis
from boostwright.inference.priors import Known, Points
from boostwright.machine.assumptions import RULES
from boostwright.machine.build import Build, build_of
from boostwright.machine.operating_point import Ambient, ambient_air, build_points
from boostwright.records.build_file import read_build_file
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.compare import (
    RELATIVE,
    gain_posterior,
    question_of,
    reduced_pulls,
    refuse_setups_without_pulls,
)

Floats: TypeAlias = NDArray[np.float64]

SPEED_COUNT = 13
FEWEST_SPEEDS = 5
OWN_COLUMNS = ("excess_air_ratio", "coolant_temperature")
"""Logged quantities that are conditions of the match rather than results of it."""

_MEASURED_FREEDOM = 200.0  # the gain curve has already weighed how large the errors of its pulls are
_LEAST_NOISE = 0.5  # of a channel's usual noise: what a smooth curve hides between two speeds
_SAME_QUESTION = {"cooler_effectiveness": "cooler_transfer_units"}


def campaign_data(campaign: Campaign) -> CalibrationData:
    """Curves of the two setups that a campaign compares, with the nominal points of their builds.

    Raises
    ------
    DataError
        If a setup names no build, or a used pull lacks its weather, torque or manifold pressure.
    """
    return screened_data(campaign, reduced_pulls(campaign))


def screened_data(campaign: Campaign, pulls: Sequence[ReducedPull]) -> CalibrationData:
    """The same from all pulls of the campaign, reduced already; those that the screen flags are left out."""
    setups = (campaign.baseline, campaign.candidate)
    builds = [setup_build(campaign, setup) for setup in setups]
    refuse_setups_without_pulls(pulls, setups)
    screened = screen_pulls([pull for pull in pulls if pull.setup in setups])
    return curves_data(campaign, [row.pull for row in screened if row.used], builds)


def curves_data(campaign: Campaign, pulls: Sequence[ReducedPull], builds: Sequence[Build]) -> CalibrationData:
    """The same from the pulls that count; the builds are the baseline's and the candidate's."""
    channels = logged_by_all(pulls, CHANNELS)
    refuse_without(("torque", "manifold_pressure"), channels)
    chosen = _chosen_speeds(pulls, channels)
    curves = [_curves(campaign, as_measured(pulls), channel, chosen) for channel in channels]
    setups = (campaign.baseline, campaign.candidate)
    points = [_points(b, [p for p in pulls if p.setup == s], chosen) for b, s in zip(builds, setups, strict=True)]
    return CalibrationData(
        baseline=points[0],
        candidate=points[1],
        channels=channels,
        observations=np.stack([values for values, _ in curves]),
        covariance=block_diagonal([covariance for _, covariance in curves]),
        known=Known(stated=stated_words(builds), logged=frozenset(logged_by_all(pulls, OWN_COLUMNS))),
        degrees_of_freedom=_MEASURED_FREEDOM,
    )


def setup_build(campaign: Campaign, setup: str) -> Build:
    """The build that a setup of a campaign names."""
    path = campaign.setups[setup].build
    if path is None:
        problem = "names no build, and an explanation needs one of each setup"
        remedy = f'write build = "builds/{setup}.toml"'
        raise DataError(str(Fault(file=CAMPAIGN_FILE, key=f"setups.{setup}", problem=problem, remedy=remedy)))
    return build_of(read_build_file(campaign.folder / path))


def logged_by_all(pulls: Sequence[ReducedPull], words: Sequence[str]) -> tuple[str, ...]:
    """Those of the words that every pull carries."""
    return tuple(word for word in words if all(word in pull.values for pull in pulls))


def refuse_without(needed: Sequence[str], channels: Sequence[str]) -> None:
    """Refuse channels that lack one that is needed."""
    missing = [word.replace("_", " ") for word in needed if word not in channels]
    if missing:
        problem = "is not logged in every pull, and an explanation needs it"
        raise DataError(str(Fault(value=" and ".join(missing), problem=problem, remedy="log it, or leave pulls out")))


def _chosen_speeds(pulls: Sequence[ReducedPull], channels: Sequence[str]) -> NDArray[np.intp]:
    """Bins, evenly spaced, in which each setup has a value of every channel."""
    setups = {pull.setup for pull in pulls}
    filled = [
        np.any([np.isfinite(pull.values[channel]) for pull in pulls if pull.setup == setup], axis=0)
        for channel in channels
        for setup in setups
    ]
    usable = np.flatnonzero(np.all(filled, axis=0))
    if usable.size < FEWEST_SPEEDS:
        problem = "have all their channels in fewer than five speed bins together"
        remedy = "sweep the same range with both, or leave the sparse channel out"
        raise DataError(str(Fault(value=" and ".join(sorted(setups)), problem=problem, remedy=remedy)))
    return usable[np.unique(np.linspace(0, usable.size - 1, SPEED_COUNT).round().astype(np.intp))]


def as_measured(pulls: Sequence[ReducedPull]) -> list[ReducedPull]:
    """Pulls with the weather correction of torque taken back: the chain models the weather itself."""
    return [
        replace(pull, values={**pull.values, "torque": pull.values["torque"] / pull.correction_factor})
        for pull in pulls
    ]


def _curves(
    campaign: Campaign, pulls: Sequence[ReducedPull], channel: str, chosen: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Both curves of a channel, (2, speeds), on the scale of comparison, with their covariance.

    Their difference and its uncertainty are those of the gain curve, pulls, installations and days included. Their
    middle is a smooth curve through the means; what is uncertain of it is the sensor's own error, which both share.
    """
    posterior = gain_posterior(pulls, question_of(campaign, channel))
    covariance = np.asarray(posterior.gain_covariance, float)[np.ix_(chosen, chosen)]
    gain, middle = posterior.gain[chosen], _middle(campaign, pulls, channel)[chosen]
    if channel in RELATIVE and channel not in LOGARITHMIC:  # compared by ratio, fitted as it stands: d p = p d ln p
        gain, covariance = middle * gain, np.outer(middle, middle) * covariance
    errors = TYPICAL_SENSOR_ERRORS[channel]
    own = np.kron(np.eye(2), covariance / 2) + (_LEAST_NOISE * errors.noise_sd) ** 2 * np.eye(2 * len(chosen))
    return np.stack([middle - gain / 2, middle + gain / 2]), own + errors.common_sd**2


def _middle(campaign: Campaign, pulls: Sequence[ReducedPull], channel: str) -> Floats:
    """Smooth curve half-way between the means of the two setups."""
    scale = np.log if channel in LOGARITHMIC else np.asarray
    means = [
        np.nanmean([scale(pull.values[channel]) for pull in pulls if pull.setup == setup], axis=0)
        for setup in (campaign.baseline, campaign.candidate)
    ]
    middle = np.mean(means, axis=0)
    basis, present = spline_basis(pulls[0].engine_speed, GAIN_KNOT_SPACING).matrix, np.isfinite(middle)
    return np.asarray(basis @ np.linalg.lstsq(basis[present], middle[present], rcond=None)[0], float)


def _points(build: Build, pulls: Sequence[ReducedPull], chosen: NDArray[np.intp]) -> Points:
    """Nominal points of a build in the mean weather of its pulls, with the conditions that they log."""
    points = build_points(build, pulls[0].engine_speed[chosen], mean_weather(pulls))
    for word in logged_by_all(pulls, OWN_COLUMNS):
        points[word] = np.nanmean([pull.values[word][chosen] for pull in pulls], axis=0)
    return points


def mean_weather(pulls: Sequence[ReducedPull]) -> Ambient:
    """Mean weather of pulls, which all must have it."""
    known = [pull.weather for pull in pulls if pull.weather is not None]
    if len(known) < len(pulls):
        lacking = next(pull for pull in pulls if pull.weather is None)
        problem, remedy = "has no weather", "give it barometer, air_temperature and relative_humidity"
        raise DataError(str(Fault(file=lacking.file, problem=problem, remedy=remedy)))
    mean = np.mean([(w.barometer, w.air_temperature, w.relative_humidity) for w in known], axis=0)
    return ambient_air(*(float(value) for value in mean))


def stated_words(builds: Sequence[Build]) -> frozenset[str]:
    """Words that every build file states rather than leaves to a rule."""
    words = {rule.key_path: rule.default.word for rule in RULES}
    assumed = {words[assumption.key_path] for build in builds for assumption in build.assumptions}
    return frozenset(_SAME_QUESTION.get(word, word) for word in set(words.values()) - assumed)

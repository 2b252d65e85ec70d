"""Other engines that a blower of an invented campaign goes to, and the true points of both setups there.

The blower, its inlet and what its candidate changes stay those of the campaign; engine, cooler, belt and conditions are
drawn as those of a campaign are, alike for both setups. All data are invented.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.synthetic_engine import TRUTH, SyntheticCampaign, nominal_points, smooth, solved, synthetic_truth
from boostwright.inference.calibrate import LOGARITHMIC, TYPICAL_SENSOR_ERRORS, sensor_covariance
from boostwright.inference.priors import Points
from boostwright.inference.transfer import BaselineData
from boostwright.physics.fuels import fuel_named

Floats = NDArray[np.float64]

OF_THE_ENGINE = (
    "engine_speed",
    "ambient_pressure",
    "air_temperature",
    "humidity_ratio",
    "drive_ratio",
    "slip_level",
    "slip_load_exponent",
    "belt_efficiency",
    "cooler_units",
    "cooler_exponent",
    "coolant_flow_ratio",
    "cooler_resistance",
    "coolant_start",
    "coolant_warming",
    "excess_air_ratio",
    "engine_displacement",
    "compression_ratio",
    "stroke",
    "efficiency_of_filling",
    "residual_exponent",
    "intake_exponent",
    "evaporated_share",
    "exhaust_resistance",
    "exhaust_heat",
    "indicated_efficiency",
    "temperature_slope",
    "temperature_bend",
    "mixture_bend",
    "friction_level",
    "knock_level",
    "air_fuel_ratio",
    "heating_value",
    "latent_heat",
    "vapour_displacement",
)
"""Columns of the truth that the other build brings; the others belong to the blower and its inlet."""


@dataclass(frozen=True, kw_only=True)
class SyntheticTarget:
    """The truth of both setups on another build, and what is nominally known of them there."""

    true_baseline: NDArray[np.void]
    true_candidate: NDArray[np.void]
    baseline: Points
    candidate: Points
    is_tested_engine: bool

    @property
    def true_states(self) -> NDArray[np.void]:
        """True states of both setups, (2, speeds)."""
        return solved(np.stack([self.true_baseline, self.true_candidate]))


def faster_pulley(campaign: SyntheticCampaign, generator: np.random.Generator) -> SyntheticTarget:
    """The tested engine with a drive ratio a tenth larger, on another day."""
    own = campaign.true_baseline.copy()
    own["drive_ratio"] *= 1.1
    own["coolant_start"] += 2.0 * generator.standard_normal()
    return _target(campaign, own, is_tested_engine=True)


def low_boost(campaign: SyntheticCampaign, generator: np.random.Generator) -> SyntheticTarget:
    """Another engine on petrol near sea level, blown gently."""
    own = _other_engine(campaign, generator, displacement_ratio=generator.uniform(1.4, 1.7))
    return _target(campaign, own, is_tested_engine=False)


def high_place(campaign: SyntheticCampaign, generator: np.random.Generator) -> SyntheticTarget:
    """Another engine on petrol at 1600 m, blown as the tested ones are."""
    own = _other_engine(campaign, generator, displacement_ratio=generator.uniform(1.7, 2.1))
    _climb(own)
    return _target(campaign, own, is_tested_engine=False)


def methanol_high_place(campaign: SyntheticCampaign, generator: np.random.Generator) -> SyntheticTarget:
    """Another engine on methanol at 1600 m, blown hard by a fast rotor: the far case."""
    own = _other_engine(campaign, generator, displacement_ratio=generator.uniform(2.3, 2.8))
    _climb(own)
    own["air_fuel_ratio"], own["heating_value"], own["latent_heat"] = 6.45, 19.9e6, 1160e3
    own["vapour_displacement"] = 28.97 / 32.04
    own["knock_level"] *= (112 / 95) ** -3.5
    own["excess_air_ratio"] += -0.02
    return _target(campaign, own, is_tested_engine=False)


TARGETS: dict[str, Callable[[SyntheticCampaign, np.random.Generator], SyntheticTarget]] = {
    "tested engine, drive ratio + 10 %": faster_pulley,
    "other engine, petrol, low boost": low_boost,
    "other engine, petrol, 1600 m": high_place,
    "other engine, methanol, 1600 m": methanol_high_place,
}


def _other_engine(
    campaign: SyntheticCampaign, generator: np.random.Generator, displacement_ratio: float
) -> NDArray[np.void]:
    """Columns of another engine sized for the campaign's blower, its rotor at most a tenth above its limit."""
    other, _ = synthetic_truth(generator)
    Vb, limit = campaign.true_baseline["blower_displacement"][0], campaign.true_baseline["speed_limit"][0]
    Ve = float(Vb / generator.uniform(0.30, 0.45))
    size = Ve / other["engine_displacement"][0]
    other["exhaust_resistance"] /= size**2
    other["cooler_resistance"] /= size**2
    other["coolant_flow_ratio"] *= size
    other["engine_displacement"] = Ve
    stretched = size ** (1 / 3)
    other["stroke"] *= stretched
    ratio = displacement_ratio * Ve / (2 * Vb)
    other["drive_ratio"] = min(ratio, 1.1 * limit / other["engine_speed"][-1])
    other["excess_air_ratio"] = (
        0.87
        + 0.015 * generator.standard_normal()
        + smooth(generator, np.asarray(other["engine_speed"], float), 0.006, 1000 / 60)
    )
    return other


def _climb(own: NDArray[np.void]) -> None:
    own["ambient_pressure"] = own["ambient_pressure"] * 0.835
    own["air_temperature"] -= 8.0


def _target(campaign: SyntheticCampaign, own: NDArray[np.void], *, is_tested_engine: bool) -> SyntheticTarget:
    truths = [_with_blower_of(setup, own) for setup in (campaign.true_baseline, campaign.true_candidate)]
    nominal = [_nominal(truth, own) for truth in truths]
    return SyntheticTarget(
        true_baseline=truths[0],
        true_candidate=truths[1],
        baseline=nominal[0],
        candidate=nominal[1],
        is_tested_engine=is_tested_engine,
    )


def _with_blower_of(setup: NDArray[np.void], own: NDArray[np.void]) -> NDArray[np.void]:
    truth = np.zeros(own.size, TRUTH)
    for word in TRUTH.names or ():
        truth[word] = own[word] if word in OF_THE_ENGINE else setup[word][0]
    return truth


def _nominal(truth: NDArray[np.void], own: NDArray[np.void]) -> Points:
    """What a build file of the other engine says: sizes, fuel and a mixture as aimed at."""
    points = nominal_points(truth)
    points["excess_air_ratio"] = 0.87 if own["air_fuel_ratio"][0] > 10 else 0.85
    if own["air_fuel_ratio"][0] < 10:
        fuel = fuel_named("methanol")
        points["stoichiometric_air_fuel_ratio"] = fuel.stoichiometric_air_fuel_ratio
        points["lower_heating_value"] = fuel.lower_heating_value
        points["latent_heat"] = fuel.latent_heat
        points["fuel_molar_mass"] = fuel.vapour.molar_mass
        points["octane_number"] = fuel.octane_number
    return points


def baseline_pulls(target: SyntheticTarget, channels: tuple[str, ...], generator: np.random.Generator) -> BaselineData:
    """What a logger shows of the baseline on the other engine, with the errors of two pulls of ordinary quality."""
    states, n = target.true_states[0], target.true_baseline.size
    curves, blocks = list[Floats](), list[Floats]()
    for channel in channels:
        errors = TYPICAL_SENSOR_ERRORS[channel]
        C = sensor_covariance(errors, np.asarray(target.true_baseline["engine_speed"], float))[:n, :n]
        noise = math.exp(0.3 * generator.standard_normal()) * np.linalg.cholesky(C) @ generator.standard_normal(n)
        clean = states[channel]
        curves.append(np.log(clean) + noise if channel in LOGARITHMIC else clean + noise)
        blocks.append(C)
    covariance = np.zeros((n * len(channels), n * len(channels)))
    for i, block in enumerate(blocks):
        covariance[i * n : (i + 1) * n, i * n : (i + 1) * n] = block
    return BaselineData(points=target.baseline, channels=channels, observations=np.stack(curves), covariance=covariance)

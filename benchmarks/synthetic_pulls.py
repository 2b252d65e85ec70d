"""Invented campaigns of back-to-back pulls whose gain is known, to count how often an interval holds it.

There are two worlds. `as_modelled` makes pulls by the very assumptions of the gain-curve model. `beyond_the_model`
breaks them: pull levels have heavy tails; ripple follows another kernel and holds a resonance; warm-up levels off; the
speed axis is scaled and shifted, and takes the gain with it; noise is larger at low speed; soak is read with an error.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from boostwright.inference.disturbances import (
    FITTED,
    DisturbancePriors,
    Disturbances,
    Floats,
    RunOrder,
    disturbances_from,
    level_covariance,
    pull_covariance,
    session_time,
)
from boostwright.inference.gain_model import GainData
from boostwright.inference.run_order import repeated_order, timed_order

POPULATION = DisturbancePriors()
ENGINE_SPEED = np.arange(2460.0, 6000.0, 120.0) / 60  # [1/s], 30 bins
SAMPLES_IN_A_BIN = 40

_BETWEEN_PULLS = 6 * 60.0  # [s]
_CHANGE_OF_SETUP = 35 * 60.0  # [s]
_COOLING_TIME = 40 * 60.0  # [s]
_WARM_UP_TIME = 40 * 60.0  # [s]
_SOAK_READING_SD = 1.0  # [K]

Gain = Callable[[Floats], Floats]  # engine speed [1/s] to ln(candidate / baseline)


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """Pulls, the gain that is in them, and the sizes of what disturbed them."""

    data: GainData
    true_gain: Floats
    disturbances: Disturbances


World = Callable[[RunOrder, Gain, Disturbances, np.random.Generator], Campaign]


def no_gain(engine_speed: Floats) -> Floats:
    """No difference between the setups."""
    return np.zeros_like(engine_speed)


def broad_gain(engine_speed: Floats) -> Floats:
    """Plus 1 % everywhere and 3 % more about 4600 rpm."""
    return 0.01 + 0.03 * np.exp(-0.5 * ((60 * engine_speed - 4600) / 450) ** 2)


def crossing_gain(engine_speed: Floats) -> Floats:
    """From minus 3 % at low speed to plus 4 % at high speed, through zero near 3900 rpm."""
    return -0.03 + 0.07 / (1 + np.exp(-(60 * engine_speed - 4000) / 350))


def random_order(letters: str, sessions: int, generator: np.random.Generator) -> RunOrder:
    """The order run once in each session, no two gaps alike; soak grows with every pull and decays between."""
    order = repeated_order(timed_order(letters, _BETWEEN_PULLS, _CHANGE_OF_SETUP), sessions)
    gaps = np.diff(session_time(order), prepend=0.0).clip(0.0)
    gaps *= generator.uniform(0.8, 1.3, gaps.size)
    first = np.r_[True, order.session[1:] != order.session[:-1]]
    return replace(order, elapsed=np.cumsum(gaps), soak=_soak(gaps, first, generator))


def random_stand(spread: float, scatter: float, generator: np.random.Generator) -> Disturbances:
    """Disturbances of one stand, log-normal about the population's medians with `spread` times its own spread.

    `scatter` multiplies the pull level: 2 is a stand twice as bad as its peers.
    """
    priors = [getattr(POPULATION, name) for name in FITTED]
    logs = np.array([np.log(prior.median) + spread * prior.log_sd * generator.standard_normal() for prior in priors])
    stand = disturbances_from(logs, POPULATION)
    return replace(stand, pull_level_sd=scatter * stand.pull_level_sd)


def as_modelled(order: RunOrder, gain: Gain, stand: Disturbances, generator: np.random.Generator) -> Campaign:
    """Pulls that follow the assumptions of the model."""
    pulls, r = order.is_candidate.size, ENGINE_SPEED
    levels = _normal(level_covariance(replace(order, soak=None), stand), 1, generator)[0] + _soak_effect(
        order, generator
    )
    inside = _normal(pull_covariance(r, stand), pulls, generator)
    axis_error = stand.speed_axis_sd * generator.standard_normal((pulls, 1)) * _slope(r)
    return _campaign(order, _ln_torque(r) + levels[:, None] + inside - axis_error, gain, stand)


def beyond_the_model(order: RunOrder, gain: Gain, stand: Disturbances, generator: np.random.Generator) -> Campaign:
    """Pulls that break the assumptions of the model, with disturbances of the same sizes."""
    pulls, r = order.is_candidate.size, ENGINE_SPEED
    scale, shift = stand.speed_axis_sd / np.sqrt(2) * generator.standard_normal((2, pulls, 1))
    axis = r * (1 + scale) + r.mean() * shift
    noise = stand.noise_sd * np.linspace(1.5, 0.6, r.size) * generator.standard_normal((pulls, r.size))
    levels = _uneven_levels(order, stand, generator)[:, None]
    values = _ln_torque(axis) + levels + _other_shape(r, stand, pulls, generator) + noise
    misread = replace(order, soak=_soak_of(order) + generator.normal(0, _SOAK_READING_SD, pulls))
    return _campaign(misread, values + order.is_candidate[:, None] * (gain(axis) - gain(r)), gain, stand)


def _campaign(order: RunOrder, values: Floats, gain: Gain, stand: Disturbances) -> Campaign:
    true_gain = gain(ENGINE_SPEED)
    data = GainData(
        engine_speed=ENGINE_SPEED,
        values=values + order.is_candidate[:, None] * true_gain,
        counts=np.full(values.shape, SAMPLES_IN_A_BIN),
        order=order,
    )
    return Campaign(data=data, true_gain=true_gain, disturbances=stand)


def _soak(gaps: Floats, first: Floats, generator: np.random.Generator) -> Floats:
    soak, history = 0.0, []
    for gap, is_first in zip(gaps, first, strict=True):
        soak = generator.normal(8.0, 4.0) if is_first else soak * np.exp(-gap / _COOLING_TIME)
        history.append(soak)
        soak += generator.uniform(4.0, 9.0)
    return np.array(history)


def _soak_effect(order: RunOrder, generator: np.random.Generator) -> Floats:
    return generator.normal(POPULATION.soak_sensitivity, POPULATION.soak_sensitivity_sd) * _soak_of(order)


def _soak_of(order: RunOrder) -> Floats:
    return np.zeros(order.is_candidate.size) if order.soak is None else order.soak


def _uneven_levels(order: RunOrder, stand: Disturbances, generator: np.random.Generator) -> Floats:
    """Levels with the tails of Student's t with 5 degrees of freedom, and a warm-up that has levelled off after 2 h."""
    pulls = order.is_candidate.size
    own = stand.pull_level_sd * np.sqrt(3 / 5) * generator.standard_t(5, pulls)
    shared = replace(stand, pull_level_sd=0.0, linear_drift_sd=0.0)
    others = _normal(level_covariance(replace(order, soak=None), shared), 1, generator)[0]
    warm_up = stand.linear_drift_sd * 3600 * generator.standard_normal(np.ptp(order.session) + 1)[order.session]
    levelling = (1 - np.exp(-session_time(order) / _WARM_UP_TIME)) / (1 - np.exp(-3600 / _WARM_UP_TIME))
    return own + others + warm_up * levelling + _soak_effect(order, generator)


def _other_shape(r: Floats, stand: Disturbances, pulls: int, generator: np.random.Generator) -> Floats:
    """Smooth deviation with a rational quadratic kernel; ripple half Matern 3/2, half a resonance of random phase."""
    apart = np.abs(r[:, None] - r)
    smooth = (1 + (apart / stand.shape_length) ** 2 / 4) ** -2
    scaled = np.sqrt(3) * apart / (1.5 * stand.ripple_length)
    matern = (1 + scaled) * np.exp(-scaled)
    phase, period = generator.uniform(0, 2 * np.pi, (pulls, 1)), generator.uniform(250, 600) / 60
    resonance = stand.ripple_sd * np.sin(2 * np.pi * r / period + phase)  # variance: half of the ripple's
    return _normal(stand.shape_sd**2 * smooth + 0.5 * stand.ripple_sd**2 * matern, pulls, generator) + resonance


def _ln_torque(r: Floats) -> Floats:
    """An invented 4.2-litre straight six: torque rises to 4200 rpm, falls after, with one hump of the intake."""
    bow = -0.35 * (60 * r / 4200 - 1) ** 2
    return np.log(620.0) + bow + 0.03 * np.exp(-0.5 * ((60 * r - 3200) / 300) ** 2)


def _slope(r: Floats) -> Floats:
    step = 1e-4
    return (_ln_torque(r * np.exp(step)) - _ln_torque(r * np.exp(-step))) / (2 * step)


def _normal(covariance: Floats, draw_count: int, generator: np.random.Generator) -> Floats:
    root = np.linalg.cholesky(covariance + 1e-14 * np.eye(len(covariance)))
    return generator.standard_normal((draw_count, len(covariance))) @ root.T

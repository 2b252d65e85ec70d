"""Processor time of fit, draws and whole explanation of one campaign, and of the fit by scipy's least_squares.

    python -m benchmarks.calibrate_speed

Both fits minimise the same residuals on one core; scipy takes its own differences, one vector at a time. Ours fits
twice: the residuals of the first fit rescale the errors for the second.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: a ratio of two programs is told on one core

import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares

from benchmarks.recovery import CASES, MIXTURE_LOGGED
from benchmarks.synthetic_engine import synthetic_campaign
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS as ERRORS
from boostwright.inference.calibrate import CalibrationData, calibrate, calibration_data
from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.studies.explain import DRAW_COUNT, explain

REPEATS = 5


def shortest(work: Callable[[], object]) -> float:
    """Shortest processor time of a few runs. [s]"""
    times: list[float] = []
    for _ in range(REPEATS):
        started = time.process_time()
        work()
        times.append(time.process_time() - started)
    return min(times)


def main() -> None:
    """Measure and print a table."""
    campaign = synthetic_campaign(np.random.default_rng(1))
    print("| channels | fit | draws | explanation | fit by scipy | scipy over ours | minimum, ours | minimum, scipy |")
    print("|---|---|---|---|---|---|---|---|")
    for case, channels in CASES.items():
        curves = {channel: campaign.curves[channel] for channel in channels}
        print(row(case, calibration_data(campaign.baseline, campaign.candidate, curves, ERRORS, MIXTURE_LOGGED)))


def row(case: str, data: CalibrationData) -> str:
    """Times of one logger case, after a first fit that compiles; scipy gets the residuals of our last fit."""
    calibration = calibrate(data)
    predictor, ours = calibration.predictor, calibration.fit
    residuals = predictor.residuals(predictor.data.observations.ravel())

    def by_scipy() -> float:
        def one(z: np.ndarray) -> np.ndarray:
            return np.concatenate([residuals(z[None])[0], z])

        return 2 * least_squares(one, np.zeros(predictor.space.size), diff_step=1e-4, xtol=1e-6, ftol=1e-6).cost

    fit = shortest(lambda: calibrate(data))
    draws = shortest(lambda: randomised_maximum_likelihood(calibration, DRAW_COUNT, np.random.default_rng(2)))
    whole, theirs = shortest(lambda: explain(data, "a", "b")), shortest(by_scipy)
    minimum = ours.residuals @ ours.residuals + ours.estimates @ ours.estimates
    figures = f"{fit:.3f} | {draws:.3f} | {whole:.3f} | {theirs:.3f} | {theirs / fit:.1f}"
    return f"| {case} | {figures} | {minimum:.3f} | {by_scipy():.3f} |"


if __name__ == "__main__":
    main()

"""Processor time of fit, draws and whole explanation of one campaign, and of the fit by scipy's least_squares.

    python -m benchmarks.calibrate_speed

Both fits minimise the same residuals on one core; scipy takes its own differences, one vector at a time. Ours fits
twice: the residuals of the first fit rescale the errors for the second. The rows with chambers take the blower by its
chambers and ports; their runs, once a campaign, have a column of their own, and the explanation holds them. `--budget`
ends with status 1 where an explanation takes more than 1 s by the slip law or 20 s with chambers.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: a ratio of two programs is told on one core

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from benchmarks.recovery import CASES, MIXTURE_LOGGED
from benchmarks.synthetic_engine import synthetic_campaign
from boostwright.inference.calibrate import TYPICAL_SENSOR_ERRORS as ERRORS
from boostwright.inference.calibrate import CalibrationData, calibrate, calibration_data
from boostwright.inference.chamber_form import with_chambers
from boostwright.inference.posterior_draws import randomised_maximum_likelihood
from boostwright.machine.chamber_defaults import typical_roots_geometry
from boostwright.studies.explain import DRAW_COUNT, explain

REPEATS, FEW = 5, 2
SLIP_LAW_BUDGET, CHAMBER_BUDGET = 1.0, 20.0


def shortest(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Shortest processor time of a few runs. [s]"""
    times: list[float] = []
    for _ in range(repeats):
        started = time.process_time()
        work()
        times.append(time.process_time() - started)
    return min(times)


@dataclass(frozen=True, kw_only=True)
class Row:
    """Times of one logger case. [s]"""

    runs: float
    fit: float
    draws: float
    whole: float
    scipy_fit: float
    minimum: float
    scipy_minimum: float

    def line(self, case: str) -> str:
        """As a row of the table."""
        times = " | ".join(f"{value:.3f}" for value in (self.runs, self.fit, self.draws, self.whole, self.scipy_fit))
        ratio = f"{self.scipy_fit / self.fit:.1f}"
        return f"| {case} | {times} | {ratio} | {self.minimum:.3f} | {self.scipy_minimum:.3f} |"


def main() -> int:
    """Measure and print a table."""
    campaign = synthetic_campaign(np.random.default_rng(1))
    nominal = campaign.baseline[0]
    drawing = typical_roots_geometry(float(nominal["blower_displacement"]), float(nominal["speed_limit"]))
    print(
        "| channels | chamber runs | fit | draws | explanation | fit by scipy | scipy over ours | minimum, ours "
        "| minimum, scipy |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    missed = False
    for case, channels in CASES.items():
        curves = {channel: campaign.curves[channel] for channel in channels}
        data = calibration_data(campaign.baseline, campaign.candidate, curves, ERRORS, MIXTURE_LOGGED)
        slip_law = row(data, lambda plain: plain, REPEATS)
        print(slip_law.line(case))
        chambers = row(data, lambda plain: with_chambers(plain, (drawing, drawing)), FEW)
        print(chambers.line(f"{case}, chambers"), flush=True)
        missed |= slip_law.whole > SLIP_LAW_BUDGET or chambers.whole > CHAMBER_BUDGET
    return 1 if missed and "--budget" in sys.argv[1:] else 0


def row(plain: CalibrationData, in_form: Callable[[CalibrationData], CalibrationData], repeats: int) -> Row:
    """Times of one logger case, after a first fit that compiles; scipy gets the residuals of our last fit."""
    data = in_form(plain)
    calibration = calibrate(data)
    predictor, ours = calibration.predictor, calibration.fit
    residuals = predictor.residuals(predictor.data.observations.ravel())
    found: list[float] = []

    def by_scipy() -> None:
        def one(z: np.ndarray) -> np.ndarray:
            return np.concatenate([residuals(z[None])[0], z])

        start = np.zeros(predictor.space.size)
        found.append(2 * least_squares(one, start, diff_step=1e-4, xtol=1e-6, ftol=1e-6).cost)

    return Row(
        runs=shortest(lambda: in_form(plain), repeats),
        fit=shortest(lambda: calibrate(data), repeats),
        draws=shortest(
            lambda: randomised_maximum_likelihood(calibration, DRAW_COUNT, np.random.default_rng(2)), repeats
        ),
        whole=shortest(lambda: explain(in_form(plain), "a", "b"), repeats),
        scipy_fit=shortest(by_scipy, repeats if repeats == REPEATS else 1),
        minimum=float(ours.residuals @ ours.residuals + ours.estimates @ ours.estimates),
        scipy_minimum=found[-1],
    )


if __name__ == "__main__":
    sys.exit(main())

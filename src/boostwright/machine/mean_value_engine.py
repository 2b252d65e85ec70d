"""An engine without crank angle: closed forms of filling, efficiency and friction, for the fast path of the match."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.machine.assumptions import BEST_FILLING_PISTON
from boostwright.physics.crank import mean_piston_speed

LEAST_FILLING = 0.4  # of the best, far from the speeds at which the curve of an engine is known


@dataclass(frozen=True, kw_only=True)
class MeanValueEngine:
    """An engine by its size and by what its closed forms need.

    Its volumetric efficiency has residual gas and exhaust apart. It follows `volumetric_efficiency_curve`, pairs of
    engine speed and value that are held beyond their ends, if there is one; else it has its best at a mean piston speed
    of 13 m/s and falls off on both sides with `volumetric_efficiency_curvature`.
    """

    engine_displacement: float
    cylinders: int
    compression_ratio: float
    stroke: float
    engine_speed_limit: float
    engine_volumetric_efficiency: float
    volumetric_efficiency_curvature: float
    volumetric_efficiency_curve: tuple[tuple[float, float], ...]
    intake_temperature_exponent: float
    exhaust_area: float
    exhaust_temperature: float
    indicated_efficiency_factor: float
    efficiency_temperature_slope: float
    friction_factor: float
    peak_pressure_factor: float
    knock_factor: float
    spark_retard: float

    def __post_init__(self) -> None:
        for name in ("engine_displacement", "stroke", "engine_speed_limit", "exhaust_area", "exhaust_temperature"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} {getattr(self, name):g} must be positive")
        if not self.compression_ratio > 1.0:
            raise ValueError(f"compression_ratio {self.compression_ratio:g} must be above 1")

    def volumetric_efficiency(self, engine_speed: ArrayLike) -> NDArray[np.float64]:
        """Air drawn over displacement filled at manifold state, residual gas apart."""
        if self.volumetric_efficiency_curve:
            speeds, values = zip(*self.volumetric_efficiency_curve, strict=True)
            return np.interp(np.asarray(engine_speed, dtype=float), speeds, values)
        off_best = mean_piston_speed(self.stroke, engine_speed) / BEST_FILLING_PISTON - 1.0
        shape = 1.0 - self.volumetric_efficiency_curvature * off_best**2
        return self.engine_volumetric_efficiency * np.maximum(shape, LEAST_FILLING)

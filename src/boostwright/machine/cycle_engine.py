"""The crank-angle cycle in place of the closed forms of the engine, at the points of a match."""

from dataclasses import dataclass, replace

import numpy as np

from boostwright.machine.build import Build
from boostwright.machine.cycle import CycleResult, run_cycles
from boostwright.machine.engine import CycleConditions, Engine, engine_with_defaults
from boostwright.machine.operating_point import Correction, FinerModel, OperatingPoints
from boostwright.physics.fuels import Fuel

FLOW_AGREEMENT = 1e-4  # between the cycle and the closed form that it corrects
PEAK_KNOCK_EXPONENT = 1.7  # of the ignition delay over pressure: how the knock index follows the mass in the cylinder
FILLING_KEYS = frozenset(("engine.volumetric_efficiency", "engine.volumetric_efficiency_curve"))


@dataclass(frozen=True, kw_only=True)
class CycleEngine(FinerModel):
    """An engine followed over the crank angle: filling, work, friction, exhaust, peak pressure and knock are its own.

    Where the filling of the engine is known better than the cycle could compute it, the cycle burns what is known to be
    there: its work, peak pressure and knock are moved to that mass.
    """

    engine: Engine
    fuel: Fuel
    is_filling_known: bool

    def correction(self, operating: OperatingPoints) -> Correction:
        """Filling, efficiency, friction, exhaust, peak pressure and knock of the closed forms moved to the cycle's."""
        cycle, swept = self._cycle(operating), 0.5 * operating["engine_speed"] * operating["engine_displacement"]
        filling = cycle.air_mass_flow / operating["air_mass_flow"]
        held = filling if self.is_filling_known else np.ones_like(filling)  # else the manifold moves to the cycle's
        net_power = cycle.indicated_power / filling  # either way the blower sets the air, and work goes with it
        pumping_power = cycle.pumping_mep * swept
        apart = 0.0 if self.is_filling_known else np.abs(filling - 1.0) / FLOW_AGREEMENT
        points = operating.points.copy()
        if not self.is_filling_known:
            points["engine_volumetric_efficiency"] *= filling
        points["indicated_efficiency_factor"] *= (net_power - operating["pumping_power"]) / operating["indicated_power"]
        points["friction_factor"] *= cycle.fmep * swept / operating["friction_power"]
        points["exhaust_temperature"] = cycle.exhaust_temperature
        points["peak_pressure_factor"] *= cycle.peak_cylinder_pressure / held / operating["peak_cylinder_pressure"]
        points["knock_factor"] *= cycle.knock_index / held**PEAK_KNOCK_EXPONENT / operating["knock_index"]
        return Correction(
            points=points,
            disagreement=np.where(cycle.is_settled, apart, np.inf),
            shifts={
                "pumping_power": pumping_power - operating["pumping_power"],
                "indicated_power": operating["pumping_power"] - pumping_power,
                "residual_share": cycle.residual_share - operating["residual_share"],
            },
        )

    def _cycle(self, operating: OperatingPoints) -> CycleResult:
        words = ("engine_speed", "manifold_pressure", "charge_temperature", "exhaust_pressure", "humidity_ratio")
        words += ("excess_air_ratio", "evaporated_share", "octane_number")
        given = {word: operating[word] for word in words}
        retard = operating.points["spark_retard"]
        return run_cycles(self.engine, CycleConditions(fuel=self.fuel, spark_retard=retard, **given))


def cycle_engine(build: Build) -> CycleEngine:
    """The engine of a build over the crank angle; what a build does not know of it is as `ENGINE_DEFAULTS` have it."""
    law = build.engine
    engine = engine_with_defaults(law.engine_displacement, law.cylinders, law.compression_ratio)
    square = float(engine.stroke)
    return CycleEngine(
        engine=replace(engine, bore_stroke_ratio=(square / law.stroke) ** 1.5, friction_factor=law.friction_factor),
        fuel=build.fuel_system.fuel,
        is_filling_known=bool(FILLING_KEYS & build.stated) or bool(law.volumetric_efficiency_curve),
    )

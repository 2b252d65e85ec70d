"""Fuel and what brings it: the mixture, the injectors at their real pressure difference, the pump."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.fuels import Fuel
from boostwright.physics.injection import injector_duty, injector_flow, unreferenced_pressure_difference


@dataclass(frozen=True, kw_only=True)
class Injectors:
    """Injectors of one rail; `rated_flow` is the volume flow of one held open at the rail pressure.

    A referenced rail keeps its pressure above the manifold, any other above the surroundings, so that boost takes away.
    """

    injector_count: int
    rated_flow: float
    rail_gauge_pressure: float
    is_referenced: bool

    def pressure_difference(self, manifold_pressure: ArrayLike, ambient_pressure: float) -> NDArray[np.float64]:
        """Difference across the injectors [Pa]; zero where boost would blow into the rail."""
        if self.is_referenced:
            return np.full(np.shape(manifold_pressure), self.rail_gauge_pressure)
        difference = unreferenced_pressure_difference(self.rail_gauge_pressure, ambient_pressure, manifold_pressure)
        return np.maximum(difference, 0.0)


@dataclass(frozen=True, kw_only=True)
class FuelSystem:
    """A fuel, how rich it is burned, and its injectors and pump where they are known."""

    fuel: Fuel
    excess_air_ratio: float
    octane_number: float
    evaporated_share: float
    injectors: Injectors | None
    pump_flow: float | None

    def __post_init__(self) -> None:
        if not self.excess_air_ratio > 0.0 or not self.octane_number > 0.0:
            raise ValueError(
                f"excess_air_ratio {self.excess_air_ratio:g} and octane_number {self.octane_number:g} must be positive"
            )
        if not 0.0 <= self.evaporated_share <= 1.0:
            raise ValueError(f"evaporated_share {self.evaporated_share:g} must be a share from 0 to 1")

    @property
    def stoichiometric_air_fuel_ratio(self) -> float:
        """Mass of dry air that burns one mass of the fuel."""
        return self.fuel.stoichiometric_air_fuel_ratio

    @property
    def lower_heating_value(self) -> float:
        """Of the fuel as supplied [J/kg]."""
        return self.fuel.lower_heating_value

    @property
    def latent_heat(self) -> float:
        """Of the fuel [J/kg]."""
        return self.fuel.latent_heat

    @property
    def fuel_molar_mass(self) -> float:
        """Of the fuel vapour [kg/mol]."""
        return self.fuel.molar_mass

    def duty(
        self, fuel_mass_flow: ArrayLike, manifold_pressure: ArrayLike, ambient_pressure: float
    ) -> NDArray[np.float64] | None:
        """Share of the time for which the injectors are open, infinite where they pass nothing; not known of gases."""
        if self.injectors is None or self.fuel.is_gaseous:
            return None
        rail = self.injectors.rail_gauge_pressure
        difference = self.injectors.pressure_difference(manifold_pressure, ambient_pressure)
        passing = np.where(difference > 0.0, difference, np.nan)
        flow = injector_flow(self.injectors.rated_flow, rail, passing)
        duty = injector_duty(fuel_mass_flow, self.injectors.injector_count, flow, self.fuel.fuel_density)
        return np.where(difference > 0.0, duty, np.inf)

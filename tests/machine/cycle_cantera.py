"""The engine cycle as a Cantera reactor network: one gas, valves, piston, burning as heat through a wall.

Air alone, so that the composition of charge and burned gas plays no part, and an intake port without end, so that what
flows back is lost. Flow, wall heat and burning are Python functions of time that read the reactor's state.
"""

import math
from typing import NamedTuple

import cantera as ct
import numpy as np

AIR = "O2:0.2095, N2:0.7808, Ar:0.0093, CO2:0.0004"
COMPRESSION, BURNING, EXPANSION, EXCHANGE = range(4)


class NetworkResult(NamedTuple):
    """One cycle of the network."""

    imep: float
    trapped_mass: float
    peak_pressure: float
    exhaust_temperature: float


def air_gas():
    species = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    gas = ct.Solution(thermo="ideal-gas", species=[species[name] for name in ("O2", "N2", "Ar", "CO2")])
    gas.TPX = 300.0, 1e5, AIR
    return gas


def orifice_flow(area, gas, temperature, pressure, back_pressure):
    """The law of St Venant and Wantzel with the properties of the gas upstream."""
    k, R = gas.cp_mass / gas.cv_mass, ct.gas_constant / gas.mean_molecular_weight
    ratio = max(back_pressure / pressure, (2 / (k + 1)) ** (k / (k - 1)))
    psi = math.sqrt(max(2 * k / (k - 1) * (ratio ** (2 / k) - ratio ** ((k + 1) / k)), 0.0))
    return area * pressure / math.sqrt(R * temperature) * psi


class EngineNetwork:
    """A cylinder between two reservoirs, for a case of `cycle_reference`; angles are those of the case."""

    def __init__(self, case, tolerance):
        self.case, self.turn = case, 2 * math.pi * case.speed
        self.supply, self.burned, self.gas = air_gas(), air_gas(), air_gas()
        self.supply.TP = case.port_temperature, case.intake_pressure
        self.burned.TP = 1150.0, case.exhaust_pressure
        self.gas.TP = case.port_temperature + 30, case.intake_pressure
        self.swept = math.pi / 4 * case.bore**2 * case.stroke
        self.shut = case.intake_closing - 4 * math.pi
        self.phase, self.lit, self.trapped = COMPRESSION, 0.0, 0.0
        self._build(tolerance)

    def _build(self, tolerance):
        intake = ct.Reservoir(self.supply, clone=False)
        self.exhaust = ct.Reservoir(self.burned, clone=False)
        self.cylinder = ct.IdealGasReactor(self.gas, clone=False)
        self.cylinder.volume = self.volume(self.shut)
        surroundings = ct.Reservoir(air_gas(), clone=False)
        ct_flow = ct.MassFlowController
        self.parts = [
            ct_flow(intake, self.cylinder, mdot=lambda t: max(self.intake_flow(t), 0.0)),
            ct_flow(self.cylinder, intake, mdot=lambda t: max(-self.intake_flow(t), 0.0)),
            ct_flow(self.cylinder, self.exhaust, mdot=lambda t: max(self.exhaust_flow(t), 0.0)),
            ct_flow(self.exhaust, self.cylinder, mdot=lambda t: max(-self.exhaust_flow(t), 0.0)),
            ct.Wall(surroundings, self.cylinder, velocity=lambda t: -self.volume_rate(t)),
            ct.Wall(surroundings, self.cylinder, Q=self.heating),
        ]
        self.network = ct.ReactorNet([self.cylinder])
        self.network.rtol, self.network.atol = tolerance, 1e-15

    def angle(self, time):
        return self.shut + self.turn * (time - self.start) if hasattr(self, "start") else self.shut

    def volume(self, angle):
        c = self.case
        a = c.stroke / 2
        travel = c.rod + a - a * math.cos(angle) - math.sqrt(c.rod**2 - (a * math.sin(angle)) ** 2)
        return math.pi / 4 * c.bore**2 * (c.stroke / (c.compression_ratio - 1) + travel)

    def volume_rate(self, time):
        c, angle = self.case, self.angle(time)
        a = c.stroke / 2
        slope = a * math.sin(angle) * (1 + a * math.cos(angle) / math.sqrt(c.rod**2 - (a * math.sin(angle)) ** 2))
        return math.pi / 4 * c.bore**2 * slope * self.turn

    def _area(self, angle, opening, closing, diameter, throat, lift, flow):
        z = (2 * angle - opening - closing) / (closing - opening)
        if z * z >= 1:
            return 0.0
        curtain = math.pi * diameter * lift * (1 - z * z) ** 2
        return flow * curtain * throat / math.sqrt(curtain**2 + throat**2)

    def intake_flow(self, time):
        c, p = self.case, self.cylinder.phase.P
        area = self._area(
            self.angle(time), c.intake_opening, c.intake_closing, c.intake_diameter, c.intake_throat, c.intake_lift,
            c.intake_flow,
        )  # fmt: skip
        if self.phase != EXCHANGE or area == 0.0:
            return 0.0
        if p < c.intake_pressure:
            return orifice_flow(area, self.supply, c.port_temperature, c.intake_pressure, p)
        return -orifice_flow(area, self.cylinder.phase, self.cylinder.phase.T, p, c.intake_pressure)

    def exhaust_flow(self, time):
        c, p = self.case, self.cylinder.phase.P
        area = self._area(
            self.angle(time), c.exhaust_opening, c.exhaust_closing, c.exhaust_diameter, c.exhaust_throat,
            c.exhaust_lift, c.exhaust_flow,
        )  # fmt: skip
        if self.phase != EXCHANGE or area == 0.0:
            return 0.0
        if p > c.exhaust_pressure:
            return orifice_flow(area, self.cylinder.phase, self.cylinder.phase.T, p, c.exhaust_pressure)
        return -orifice_flow(area, self.burned, self.burned.T, c.exhaust_pressure, p)

    def heating(self, time):
        """Burning less heat to the walls."""
        c, gas, angle, V = self.case, self.cylinder.phase, self.angle(time), self.volume(self.angle(time))
        velocity = (6.18 if self.phase == EXCHANGE else 2.28) * 2 * c.stroke * c.speed
        if self.phase in (BURNING, EXPANSION):
            R = ct.gas_constant / gas.mean_molecular_weight
            velocity += 3.24e-3 * self.swept * (gas.P - self.lit / V**1.33) / (self.trapped * R)
        h = c.wall_factor * 3.26 * c.bore**-0.2 * (gas.P / 1000) ** 0.8 * gas.T**-0.55 * velocity**0.8
        area = math.pi / 4 * c.bore**2
        walls = h * (area * (2 * gas.T - c.piston - c.head) + 4 * V / c.bore * (gas.T - c.liner))
        z = max((angle - c.burn_start) / c.burn_duration, 0.0) if self.phase == BURNING else 0.0
        slope = c.wiebe_a * (c.wiebe_m + 1) * z**c.wiebe_m * math.exp(-c.wiebe_a * z ** (c.wiebe_m + 1))
        burned = slope / (1 - math.exp(-c.wiebe_a)) / c.burn_duration * self.turn
        return self.trapped * c.heat * burned - walls

    def cycle(self, sample):
        """One cycle, sampled at this step of crank angle; what has flowed out becomes the exhaust of the next."""
        c = self.case
        self.start = self.network.time
        self.trapped = self.cylinder.mass
        ends = (c.burn_start, c.burn_start + c.burn_duration, c.exhaust_opening)
        events = sorted((c.exhaust_opening, c.intake_opening, c.exhaust_closing, c.intake_closing))
        phases = [*zip((COMPRESSION, BURNING, EXPANSION), ends, strict=True), *((EXCHANGE, end) for end in events[1:])]
        begin, work, peak, enthalpy, out = self.shut, 0.0, 0.0, 0.0, 0.0
        for self.phase, end in phases:
            if self.phase == BURNING:
                self.lit = self.cylinder.phase.P * self.cylinder.volume**1.33
            self.network.reinitialize()
            angles = np.linspace(begin, end, max(2, 1 + math.ceil((end - begin) / sample)))
            p, V, flow, h = np.empty((4, angles.size))
            for k, angle in enumerate(angles):
                time = self.start + (angle - self.shut) / self.turn
                if k:
                    self.network.advance(time)
                p[k], V[k] = self.cylinder.phase.P, self.volume(angle)
                flow[k], h[k] = max(self.exhaust_flow(time), 0.0), self.cylinder.phase.enthalpy_mass
            work += np.trapezoid(p, V)
            peak = max(peak, p.max())
            enthalpy, out = enthalpy + np.trapezoid(flow * h, angles), out + np.trapezoid(flow, angles)
            begin = end
        self.burned.HP = enthalpy / out, c.exhaust_pressure
        self.exhaust.syncState()
        return NetworkResult(work / self.swept, self.trapped, peak, self.burned.T)

"""The chamber model once more, as an ordinary differential equation for an adaptive integrator, to check the kernels.

It shares the geometry with the kernels, and nothing else: the orifice law is the exact one with its powers, ports are
evaluated where the integrator asks, and no step, pass, chord or damping of the kernels occurs. The outlet temperature
is held at the periodic one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from boostwright.machine.chamber import ChamberGeometry

R, K = 287.05, 1.4
SMALL = 1e-5  # relative drop below which the model's law is straight
CRITICAL = (2 / (K + 1)) ** (K / (K - 1))


def flow_squared(drop):
    """Psi^2 of St Venant and Wantzel."""
    r = np.maximum(1.0 - drop, CRITICAL)
    return 2 * K / (K - 1) * (r ** (2 / K) - r ** ((K + 1) / K))


def orifice_flow(area, pa, Ta, pb, Tb):
    forward = pa >= pb
    pu, pd, Tu = np.where(forward, pa, pb), np.where(forward, pb, pa), np.where(forward, Ta, Tb)
    y = 1 - pd / pu
    rounded = np.sqrt(flow_squared(y) * y / np.sqrt(y * y + SMALL * SMALL))
    return np.where(forward, 1, -1) * area * pu / np.sqrt(R * Tu) * rounded


def port_loss(area, w, pa, Ta, pb, Tb):
    """Pressure that a port takes from the flow w from a to b."""
    forward = w >= 0
    pu, pd, Tu = np.where(forward, pa, pb), np.where(forward, pb, pa), np.where(forward, Ta, Tb)
    y = np.maximum(1 - pd / pu, 1e-9)
    over_drop, area = flow_squared(y) / y, np.maximum(area, 1e-9)
    linear = area * pu * np.sqrt(SMALL * over_drop / (R * Tu))
    return R * Tu / (pu * area**2 * over_drop) * w * (np.abs(w) + linear)


@dataclass(frozen=True)
class ReferenceRun:
    """One geometry at one point.

    A state is mass, pressure and port flow of the chambers, then plenum mass and pressure, tract flow, mass taken in
    and work done.
    """

    geometry: ChamberGeometry
    inlet_pressure: float
    inlet_temperature: float
    outlet_pressure: float
    outlet_temperature: float
    rotor_speed: float

    def rates(self, angle: float, state: NDArray[np.float64]) -> NDArray[np.float64]:
        g, n = self.geometry, self.geometry.chambers_alive
        p1, T1, p2, T2 = self.inlet_pressure, self.inlet_temperature, self.outlet_pressure, self.outlet_temperature
        m, p, w = state[: 3 * n].reshape(3, n)
        m_pl, p_pl, w_tract = state[3 * n : 3 * n + 3]
        place = angle + g.pitch * np.arange(n)
        small = 1e-5
        V, dV = g.volume(place), (g.volume(place + small) - g.volume(np.maximum(place - small, 0.0)))
        dV = dV / (place + small - np.maximum(place - small, 0.0)) * 2 * np.pi * self.rotor_speed
        T, T_pl = p * V / (m * R), p_pl * g.plenum_volume / (m_pl * R)
        ahead = np.arange(n - g.sealing_pitches) + g.sealing_pitches
        behind = ahead - g.sealing_pitches
        leak = orifice_flow(g.tip_leakage_area, p[ahead], T[ahead], p[behind], T[behind])
        leak_heat = leak * np.where(leak >= 0, T[ahead], T[behind])
        dm, heat = np.zeros(n), np.zeros(n)
        dm[behind] += leak
        dm[ahead] -= leak
        heat[behind] += leak_heat
        heat[ahead] -= leak_heat
        out = orifice_flow(g.outlet_area(place), p2, T2, p, T)
        area = g.port_area(place)
        w = np.where(area > 0, w, 0.0)
        dm += out + w
        heat += out * np.where(out >= 0, T2, T) + w * np.where(w >= 0, T_pl, T)
        dp = (K * R * heat - K * p * dV) / V
        dw = np.where(
            area > 0, (p_pl - p - port_loss(area, w, p_pl, T_pl, p, T)) / g.port_inertance, -state[2 * n : 3 * n] * 1e6
        )
        mesh = orifice_flow(g.mesh_leakage_area, p2, T2, p_pl, T_pl)
        tract_heat = w_tract * (T1 if w_tract >= 0 else T_pl) + mesh * (T2 if mesh >= 0 else T_pl)
        plenum_heat = tract_heat - np.sum(w * np.where(w >= 0, T_pl, T))
        inertance = g.tract_length / g.tract_effective_area
        shared = [
            w_tract + mesh - w.sum(),
            K * R * plenum_heat / g.plenum_volume,
            (p1 - p_pl - port_loss(g.tract_effective_area, w_tract, p1, T1, p_pl, T_pl)) / inertance,
            w_tract,
            -np.sum(p * dV),
        ]
        return np.concatenate([dm, dp, dw, shared]) / (2 * np.pi * self.rotor_speed)

    def pitch(self, state: NDArray[np.float64], relative_tolerance: float) -> NDArray[np.float64]:
        """The state one pitch later, every chamber shifted to the place ahead of it, the sums begun at zero."""
        n = self.geometry.chambers_alive
        start = state.copy()
        start[-2:] = 0.0
        scale = np.concatenate([np.full(n, 1e-4), np.full(n, 1e5), np.full(n, 0.1), [1e-3, 1e5, 0.1, 1e-4, 10.0]])
        end = solve_ivp(
            self.rates,
            (0.0, self.geometry.pitch),
            start,
            method="LSODA",
            rtol=relative_tolerance,
            atol=relative_tolerance * scale,
        ).y[:, -1]
        chambers = np.roll(end[: 3 * n].reshape(3, n), 1, axis=1)
        chambers[2, 0] = 0.0
        return np.concatenate([chambers.ravel(), end[3 * n :]])

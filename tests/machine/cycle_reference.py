"""The equations of the engine cycle written a second time, in temperature instead of energy, for scipy's integrators.

Nothing of the cycle kernels is used here but the nouns that describe the engine. The flow law is the exact one of
`boostwright.physics.restriction`, gas properties are the NASA polynomials, and every phase ends on its event.
"""

import math
from dataclasses import fields
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from boostwright.machine.engine import CycleConditions, Engine
from boostwright.physics.compiled import compiled
from boostwright.physics.fuels import gas_heating_value
from boostwright.physics.gases import enthalpy_kernel, heat_capacity_kernel
from boostwright.physics.restriction import restriction_flow_kernel
from boostwright.physics.species import CARBON_MONOXIDE, HYDROGEN
from boostwright.physics.working_gas import burned_amounts, burned_gas, moist_air_gas, unburned_charge


class Case(NamedTuple):
    """One engine at one point, in plain numbers."""

    bore: float
    stroke: float
    rod: float
    compression_ratio: float
    speed: float
    intake_pressure: float
    exhaust_pressure: float
    port_temperature: float
    port_heat_capacity: float
    port_heat_capacity_ratio: float
    port_gas_constant: float
    port_mass: float
    intake_opening: float
    intake_closing: float
    exhaust_opening: float
    exhaust_closing: float
    intake_diameter: float
    intake_throat: float
    intake_lift: float
    intake_flow: float
    exhaust_diameter: float
    exhaust_throat: float
    exhaust_lift: float
    exhaust_flow: float
    burn_start: float
    burn_duration: float
    wiebe_a: float
    wiebe_m: float
    heat: float
    piston: float
    head: float
    liner: float
    wall_factor: float
    fresh_R: float
    burned_R: float
    fresh_zero: float
    burned_zero: float


def reference_case(engine: Engine, conditions: CycleConditions):
    """Plain numbers of scalar nouns, with the polynomials of fresh and burned gas."""
    e = {f.name: float(np.asarray(getattr(engine, f.name))) for f in fields(engine)}
    c = {f.name: float(np.asarray(getattr(conditions, f.name))) for f in fields(conditions) if f.name != "fuel"}
    fuel, ratio = conditions.fuel, c["excess_air_ratio"]
    swept = e["engine_displacement"] / e["cylinders"]
    stroke = (4 * swept / (math.pi * e["bore_stroke_ratio"] ** 2)) ** (1 / 3)
    bore = e["bore_stroke_ratio"] * stroke
    air = moist_air_gas(c["humidity_ratio"])
    fresh = unburned_charge(fuel, ratio, c["humidity_ratio"])
    burned = burned_gas(fuel, ratio, c["humidity_ratio"])
    f = 1 / (ratio * fuel.stoichiometric_air_fuel_ratio * (1 + c["humidity_ratio"]))
    vapour = c["evaporated_share"] * f
    T3 = c["charge_temperature"]
    cp = float(air.heat_capacity(T3)) + vapour * float(fuel.vapour.heat_capacity(T3))
    port_temperature = T3 - vapour * fuel.latent_heat / cp
    gas = air.specific_gas_constant + vapour * fuel.vapour.specific_gas_constant
    density = c["manifold_pressure"] / (fresh.specific_gas_constant * port_temperature)
    left = burned_amounts(fuel, ratio, c["humidity_ratio"])
    unburned = sum(
        amount * gas_heating_value(species) * species.molar_mass
        for amount, species in ((left.carbon_monoxide, CARBON_MONOXIDE), (left.hydrogen, HYDROGEN))
    ) / (fuel.lower_heating_value * fuel.molar_mass)
    a, n = e["burn_completeness"], e["burn_form_factor"] + 1
    z10, z50, z90 = ((-math.log(1 - share * (1 - math.exp(-a))) / a) ** (1 / n) for share in (0.1, 0.5, 0.9))
    duration = e["burn_duration"] / (z90 - z10)
    case = Case(
        bore=bore,
        stroke=stroke,
        rod=e["rod_ratio"] * stroke,
        compression_ratio=e["compression_ratio"],
        speed=c["engine_speed"],
        intake_pressure=c["manifold_pressure"],
        exhaust_pressure=c["exhaust_pressure"],
        port_temperature=port_temperature,
        port_heat_capacity=cp / (1 + vapour),
        port_heat_capacity_ratio=cp / (cp - gas),
        port_gas_constant=gas / (1 + vapour) * ((1 + vapour) / (1 + f)) ** 2,
        port_mass=density * e["intake_port_volume"],
        intake_opening=e["intake_opening"],
        intake_closing=e["intake_closing"],
        exhaust_opening=e["exhaust_opening"],
        exhaust_closing=e["exhaust_closing"],
        intake_diameter=e["intake_valve_diameter"],
        intake_throat=math.pi / 4 * e["intake_valve_diameter"] ** 2 * e["valve_throat_ratio"],
        intake_lift=e["intake_valve_lift"],
        intake_flow=e["intake_valve_count"] * e["intake_discharge_coefficient"],
        exhaust_diameter=e["exhaust_valve_diameter"],
        exhaust_throat=math.pi / 4 * e["exhaust_valve_diameter"] ** 2 * e["valve_throat_ratio"],
        exhaust_lift=e["exhaust_valve_lift"],
        exhaust_flow=e["exhaust_valve_count"] * e["exhaust_discharge_coefficient"],
        burn_start=e["burn_centre"] + c["spark_retard"] - z50 * duration,
        burn_duration=duration,
        wiebe_a=a,
        wiebe_m=n - 1,
        heat=(
            f / (1 + f) * (1 - unburned) * (fuel.lower_heating_value + fuel.latent_heat)
            * e["combustion_efficiency"]
        ),
        piston=e["piston_temperature"],
        head=e["head_temperature"],
        liner=e["liner_temperature"],
        wall_factor=e["wall_heat_factor"],
        fresh_R=fresh.specific_gas_constant,
        burned_R=burned.specific_gas_constant,
        fresh_zero=float(fresh.enthalpy(298.15)),
        burned_zero=float(burned.enthalpy(298.15)),
    )  # fmt: skip
    return case, fresh.polynomial, burned.polynomial


@compiled
def _volume(c, angle):
    a = c.stroke / 2
    s = a * math.cos(angle) + math.sqrt(c.rod**2 - (a * math.sin(angle)) ** 2)
    piston = c.rod + a - s
    slope = a * math.sin(angle) * (1 + a * math.cos(angle) / math.sqrt(c.rod**2 - (a * math.sin(angle)) ** 2))
    area = math.pi / 4 * c.bore**2
    return area * (c.stroke / (c.compression_ratio - 1) + piston), area * slope


@compiled
def _area(angle, opening, closing, diameter, throat, lift, flow):
    z = (2 * angle - opening - closing) / (closing - opening)
    if z * z >= 1:
        return 0.0
    curtain = math.pi * diameter * lift * (1 - z * z) ** 2
    return flow / math.sqrt(1 / curtain**2 + 1 / throat**2) if curtain > 0 else 0.0


@compiled
def _caloric(c, fresh, burned, T, y):
    """Enthalpy, gas constant, heat capacity at constant volume, slope of energy with burned share."""
    h_f, h_b = enthalpy_kernel(T, fresh) - c.fresh_zero, enthalpy_kernel(T, burned) - c.burned_zero
    R = c.fresh_R + y * (c.burned_R - c.fresh_R)
    cp = (1 - y) * heat_capacity_kernel(T, fresh) + y * heat_capacity_kernel(T, burned)
    return (1 - y) * h_f + y * h_b, R, cp - R, h_b - h_f - (c.burned_R - c.fresh_R) * T


@compiled
def _wall(c, p, T, V, velocity):
    h = c.wall_factor * 3.26 * c.bore**-0.2 * (p / 1000) ** 0.8 * T**-0.55 * velocity**0.8
    area = math.pi / 4 * c.bore**2
    return h * (area * (T - c.piston) + area * (T - c.head) + 4 * V / c.bore * (T - c.liner))


@compiled
def exchange_rates(angle, x, c, fresh, burned, exhaust):
    """Rates per radian: mass, temperature, burned share, port enthalpy and share, work, heat, six flow accounts."""
    m, T, y, h_i, y_i = x[0], x[1], x[2], x[3], x[4]
    h_e, y_e, T_e, R_e, k_e = exhaust
    turn = 2 * math.pi * c.speed
    V, dV = _volume(c, angle)
    h, R, cv, energy_step = _caloric(c, fresh, burned, T, y)
    p, k = m * R * T / V, 1 + R / cv
    h_p, _, _, _ = _caloric(c, fresh, burned, c.port_temperature, 0.0)
    h_pb, _, _, _ = _caloric(c, fresh, burned, c.port_temperature, 1.0)
    T_i = c.port_temperature + (h_i - h_p - y_i * (h_pb - h_p)) / c.port_heat_capacity
    R_i = c.port_gas_constant + y_i * (c.burned_R - c.port_gas_constant)
    A_i = _area(
        angle, c.intake_opening, c.intake_closing, c.intake_diameter, c.intake_throat, c.intake_lift, c.intake_flow
    )
    A_e = _area(
        angle,
        c.exhaust_opening,
        c.exhaust_closing,
        c.exhaust_diameter,
        c.exhaust_throat,
        c.exhaust_lift,
        c.exhaust_flow,
    )
    p_i, p_e = c.intake_pressure, c.exhaust_pressure
    if A_i == 0.0:  # or the integrator's search for a slope that is zero would end at absurd temperatures
        flow_i = 0.0
    elif p < p_i:
        flow_i = restriction_flow_kernel(p_i, T_i, p, T, A_i, c.port_heat_capacity_ratio, R_i) / turn
    else:
        flow_i = -restriction_flow_kernel(p, T, p_i, T_i, A_i, k, R) / turn
    if A_e == 0.0:
        flow_e = 0.0
    elif p > p_e:
        flow_e = restriction_flow_kernel(p, T, p_e, T_e, A_e, k, R) / turn
    else:
        flow_e = -restriction_flow_kernel(p_e, T_e, p, T, A_e, k_e, R_e) / turn
    h_in, y_in = (h_i, y_i) if flow_i > 0 else (h, y)
    h_ex, y_ex = (h, y) if flow_e > 0 else (h_e, y_e)
    q = _wall(c, p, T, V, 6.18 * 2 * c.stroke * c.speed) / turn
    dm = flow_i - flow_e
    dy = (flow_i * (y_in - y) - flow_e * (y_ex - y)) / m
    dU = flow_i * h_in - flow_e * h_ex - p * dV - q
    dT = (dU - (h - R * T) * dm - m * energy_step * dy) / (m * cv)
    out = np.zeros(13)
    out[0], out[1], out[2] = dm, dT, dy
    if flow_i > 0:
        out[3], out[4] = flow_i / c.port_mass * (h_p - h_i), -flow_i / c.port_mass * y_i
    else:
        out[3], out[4] = -flow_i / c.port_mass * (h - h_i), -flow_i / c.port_mass * (y - y_i)
    out[5], out[6], out[7], out[8] = p * dV, q, flow_i, flow_i * y_in
    if flow_e > 0:
        out[9], out[10], out[11] = flow_e, flow_e * h, flow_e * y
    out[12] = flow_e
    return out


@compiled
def _burn(c, angle):
    z = max((angle - c.burn_start) / c.burn_duration, 0.0)
    whole, power = 1 - math.exp(-c.wiebe_a), z ** (c.wiebe_m + 1)
    left = math.exp(-c.wiebe_a * power)
    return (1 - left) / whole, c.wiebe_a * (c.wiebe_m + 1) * z**c.wiebe_m * left / whole / c.burn_duration


@compiled
def _closed_state(c, fresh, burned, angle, T, m, residual, phase):
    """Volume, pressure and burned share of the shut cylinder; phase 0 compression, 1 burning, 2 expansion."""
    x, dx = _burn(c, angle) if phase == 1 else (0.0 if phase == 0 else 1.0, 0.0)
    y, dy = residual + (1 - residual) * x, (1 - residual) * dx
    V, dV = _volume(c, angle)
    R = c.fresh_R + y * (c.burned_R - c.fresh_R)
    return V, dV, m * R * T / V, y, dy


@compiled
def closed_rates(angle, x, c, fresh, burned, m, residual, phase, lit):
    """Rates per radian of temperature, work and heat when shut; `lit` is p V^1.33 at the start of burning."""
    T, turn = x[0], 2 * math.pi * c.speed
    V, dV, p, y, dy = _closed_state(c, fresh, burned, angle, T, m, residual, phase)
    _, R, cv, energy_step = _caloric(c, fresh, burned, T, y)
    velocity = 2.28 * 2 * c.stroke * c.speed
    if phase > 0:
        swept = math.pi / 4 * c.bore**2 * c.stroke
        velocity += 3.24e-3 * swept * (p - lit / V**1.33) / (m * R)
    q = _wall(c, p, T, V, velocity) / turn
    out = np.empty(3)
    out[0] = (m * dy * c.heat - p * dV - q - m * energy_step * dy) / (m * cv)
    out[1], out[2] = p * dV, q
    return out


class Outcome(NamedTuple):
    """One cycle of the reference."""

    imep: float
    gross_imep: float
    trapped_mass: float
    peak_pressure: float
    residual_share: float
    fresh_mass: float
    exhaust_enthalpy: float
    evaluations: int


SETTLED = 3e-6  # change from cycle to cycle, as the cycle itself takes it
ERROR_SCALES = np.array([1e-3, 1e3, 1.0, 1e6, 1.0, 1e3, 1e3, 1e-3, 1e-3, 1e-3, 1e3, 1e-3, 1e-3])


def reference_cycle(case, fresh, burned, state, exhaust, tolerance):
    """One cycle from intake closing on; returns the next state, the exhaust mean and what the cycle did."""
    c, (m, T, residual) = case, state[:3]
    evaluations, work, peak, lit = 0, 0.0, 0.0, 0.0
    shut, lit_angle = c.intake_closing - 4 * math.pi, c.burn_start
    burned_out = min(c.burn_start + c.burn_duration, c.exhaust_opening)
    for phase, (begin, end) in enumerate(((shut, lit_angle), (lit_angle, burned_out), (burned_out, c.exhaust_opening))):
        if phase == 1:
            V, _, p, _, _ = _closed_state(c, fresh, burned, begin, T, m, residual, 0)
            lit = p * V**1.33
        arguments = (c, fresh, burned, m, residual, phase, lit)
        solved = solve_ivp(
            closed_rates, (begin, end), [T, 0.0, 0.0], "DOP853", rtol=tolerance, atol=tolerance * 10,
            args=arguments, dense_output=True, max_step=0.1,
        )  # fmt: skip
        evaluations += solved.nfev

        def pressure(angle, solved=solved, phase=phase):
            return _closed_state(c, fresh, burned, angle, solved.sol(angle)[0], m, residual, phase)[2]

        if end > begin:
            k = int(np.argmax([pressure(angle) for angle in solved.t]))
            bracket = (solved.t[max(k - 1, 0)], solved.t[min(k + 1, solved.t.size - 1)])
            top = minimize_scalar(
                lambda angle: -pressure(angle), bounds=bracket, method="bounded", options={"xatol": 1e-8}
            )
            peak = max(peak, -top.fun, pressure(begin), pressure(end))
        T, work = solved.y[0, -1], work + solved.y[1, -1]
    share = _burn(c, burned_out)[0]
    x = np.zeros(13)
    x[:5] = m, T, residual + (1 - residual) * share, state[3], state[4]
    gross = work
    events = sorted((c.exhaust_opening, math.pi, c.intake_opening, c.exhaust_closing, 3 * math.pi, c.intake_closing))
    T_e = _temperature(c, fresh, burned, exhaust)
    _, R_e, cv_e, _ = _caloric(c, fresh, burned, T_e, exhaust[1])
    arguments = (c, fresh, burned, (exhaust[0], exhaust[1], T_e, R_e, 1 + R_e / cv_e))
    for begin, end in pairwise(events):
        solved = solve_ivp(
            exchange_rates, (begin, end), x, "Radau", rtol=tolerance, atol=tolerance * ERROR_SCALES, args=arguments,
            max_step=0.3,
        )  # fmt: skip
        evaluations += solved.nfev
        after = solved.y[:, -1]
        if end <= math.pi or begin >= 3 * math.pi:
            gross += after[5] - x[5]
        x = after
    swept = math.pi / 4 * c.bore**2 * c.stroke
    outcome = Outcome(
        (work + x[5]) / swept, gross / swept, m, peak, residual, x[7] - x[8], x[10] / x[9], evaluations
    )  # fmt: skip
    return x[:5].copy(), (x[10] / x[9], x[11] / x[9]), outcome


def _temperature(c, fresh, burned, exhaust):
    T = 1200.0
    for _ in range(30):
        h, R, cv, _ = _caloric(c, fresh, burned, T, exhaust[1])
        T -= (h - exhaust[0]) / (cv + R)
    return T


def periodic_reference(engine, conditions, tolerance, cycles):
    """The reference carried through cycles from a crude start until its state repeats; rough tolerance at first."""
    case, fresh, burned = reference_case(engine, conditions)
    T, y = case.port_temperature + 30, 0.04
    V, _ = _volume(case, case.intake_closing)
    h_port, _, _, _ = _caloric(case, fresh, burned, case.port_temperature, 0.0)
    h_exhaust, _, _, _ = _caloric(case, fresh, burned, 1150.0, 1.0)
    state = np.array([case.intake_pressure * V / (case.fresh_R * T), T, y, h_port, 0.0])
    exhaust = (h_exhaust, 1.0)
    scale = np.array([case.port_mass, 300.0, 1.0, 1e6, 1.0, 1e6, 1.0])
    changes: list[np.ndarray] = []
    change = 1.0
    for number in range(cycles):
        before = np.array([*state, *exhaust])
        own = max(tolerance, min(1e-6, 1e-3 * change))
        state, exhaust, outcome = reference_cycle(case, fresh, burned, state, exhaust, own)
        after = np.array([*state, *exhaust])
        changes.append((after - before) / scale)
        change = float(np.max(np.abs(changes[-1])))
        if change < SETTLED and own == tolerance:
            return outcome
        if number % 3 == 2:  # Aitken, by the one factor by which the changes of the trapped gas shrink
            last, earlier = changes[-1][:3], changes[-2][:3]
            factor = min(max(float(last @ earlier / (earlier @ earlier)), 0.0), 0.9)
            after = after + factor / (1 - factor) * (after - before)
            state, exhaust = after[:5], (after[5], after[6])
    raise ValueError(f"the reference has not settled: it still changes by {change:.1e}")

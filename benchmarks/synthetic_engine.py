"""A supercharged engine that follows other laws than the program's own, as the truth behind invented campaigns.

Nothing here is shared with the model that is fitted but the names of the quantities: leakage is compressible and the
clearances close as the rotors grow warm; filling fails with an exponent of its own and a tuning ripple; mechanical and
port losses hold a cube of speed; the casing takes heat by temperature difference; the cooler has a finite coolant flow
that warms; the belt slips with load; volumetric efficiency has structure at 600 to 1100 rpm; friction, exhaust,
residual gas, temperature, mixture and knock follow other correlations. All data are invented.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.attribution import Cause
from boostwright.inference.calibrate import LOGARITHMIC, TYPICAL_SENSOR_ERRORS, sensor_covariance
from boostwright.machine.match_table import MATCH_POINT
from boostwright.physics.compiled import compiled

Floats = NDArray[np.float64]

TRUTH = np.dtype(
    [
        (name, np.float64)
        for name in (
            "engine_speed",
            "ambient_pressure",
            "air_temperature",
            "humidity_ratio",
            "drive_ratio",
            "slip_level",
            "slip_load_exponent",
            "belt_efficiency",
            "inlet_area",
            "inlet_area_mach_loss",
            "inlet_heating",
            "blower_displacement",
            "speed_limit",
            "filling_loss",
            "filling_exponent",
            "filling_ripple",
            "ripple_period",
            "ripple_phase",
            "leakage_area",
            "leakage_closing",
            "leakage_speed_share",
            "gas_work_factor",
            "port_loss",
            "mechanical_linear",
            "mechanical_cubic",
            "casing_conductance",
            "casing_temperature",
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
    ]
)
TRUE_STATE = np.dtype(
    [
        (name, np.float64)
        for name in (
            "torque",
            "brake_power",
            "manifold_pressure",
            "charge_temperature",
            "blower_inlet_pressure",
            "air_mass_flow",
            "rotor_speed",
            "blower_outlet_temperature",
            "blower_drive_power",
            "blower_inlet_temperature",
            "blower_outlet_pressure",
            "blower_mass_flow",
            "shaft_power",
            "specific_gas_constant",
            "blower_volumetric_efficiency",
        )
    ]
)

R, G = 287.05, 1.398
CP = R * G / (G - 1.0)


@compiled
def nozzle_flow(area: float, p0: float, T0: float, p: float) -> float:
    r = max(p / p0, 0.5283)
    return (
        area * p0 / math.sqrt(R * T0) * math.sqrt(2.0 * G / (G - 1.0) * (r ** (2.0 / G) - r ** ((G + 1.0) / G)) + 1e-12)
    )


@compiled
def inlet_temperature(t: Any, Nb: float) -> float:
    return t.air_temperature + t.inlet_heating * (1.2 - 0.4 * Nb / t.speed_limit)


@compiled
def blower(t: Any, p1: float, p2: float, Nb: float) -> tuple[float, float, float]:
    """Mass flow, outlet temperature and shaft power."""
    T1 = inlet_temperature(t, Nb)
    rho = p1 / (R * T1)
    x = Nb / t.speed_limit
    ripple = t.filling_ripple * math.sin(2.0 * math.pi * x / t.ripple_period + t.ripple_phase)
    filled = rho * t.blower_displacement * Nb * (1.0 - t.filling_loss * x**t.filling_exponent + ripple)
    work = t.gas_work_factor * t.blower_displacement * Nb * (p2 - p1) + t.port_loss * rho * Nb**3
    mechanical = t.mechanical_linear * x + t.mechanical_cubic * x**3
    m, T2 = filled * 0.9, T1 * (p2 / p1) ** 0.4
    for _ in range(7):
        closing = max(1.0 - t.leakage_closing * (T2 - T1) / 100.0, 0.1)
        area = t.leakage_area * closing * (1.0 - t.leakage_speed_share * x)
        backwards = nozzle_flow(area, p2, 0.5 * (T1 + T2), p1) if p2 > p1 else -nozzle_flow(area, p1, T1, p2)
        m = max(filled - backwards, 0.05 * filled)
        heat = t.casing_conductance * (0.5 * (T1 + T2) - t.casing_temperature)
        T2 = min(max(T1 + (work + 0.3 * mechanical - heat) / (m * CP), 200.0), 1000.0)  # bounds for wild trials
    return filled - backwards, T2, work + mechanical


@compiled
def inlet_flow(t: Any, p1: float) -> float:
    lost = t.inlet_area_mach_loss * (1.0 - p1 / t.ambient_pressure)
    return nozzle_flow(t.inlet_area * (1.0 - lost), t.ambient_pressure, t.air_temperature, p1)


@compiled
def next_trial(low: float, f_low: float, high: float, f_high: float) -> float:
    """Where a straight line between the ends of a bracket is zero, kept a little off both ends."""
    x = low - f_low * (high - low) / (f_high - f_low)
    margin = 1e-6 * (high - low)
    return min(max(x, low + margin), high - margin)


@compiled
def fed(t: Any, p2: float, Nb: float) -> float:
    """Pressure at the rotors at which inlet and blower carry the same flow: false position, Illinois form."""
    low, high = 0.45 * t.ambient_pressure, t.ambient_pressure
    f_low = inlet_flow(t, low) - blower(t, low, p2, Nb)[0]
    f_high = inlet_flow(t, high) - blower(t, high, p2, Nb)[0]
    p1, side = high, 0
    for _ in range(60):
        p1 = next_trial(low, f_low, high, f_high)
        f = inlet_flow(t, p1) - blower(t, p1, p2, Nb)[0]
        if abs(f) < 1e-10 or high - low < 1e-4:
            break
        if f > 0.0:
            f_high = 0.5 * f_high if side > 0 else f_high
            low, f_low, side = p1, f, 1
        else:
            f_low = 0.5 * f_low if side < 0 else f_low
            high, f_high, side = p1, f, -1
    return p1


@compiled
def cooler(t: Any, m: float, T2: float) -> float:
    """Charge temperature behind a counterflow cooler."""
    units = t.cooler_units * (0.4 / m) ** t.cooler_exponent
    Cr = min(m / t.coolant_flow_ratio, 0.999)
    e = math.exp(-units * (1.0 - Cr))
    effectiveness = (1.0 - e) / (1.0 - Cr * e)
    coolant = t.coolant_start + t.coolant_warming
    return T2 - effectiveness * (T2 - coolant)


@compiled
def demand(t: Any, m: float, p3: float, T3: float) -> tuple[float, float, float]:
    """Flow that the engine swallows, exhaust pressure and port temperature."""
    f = 1.0 / (t.air_fuel_ratio * t.excess_air_ratio)
    exhaust_temperature = 1050.0 + t.exhaust_heat * m
    back = t.exhaust_resistance * (m * (1.0 + f)) ** 1.9 * exhaust_temperature / t.ambient_pressure
    p_e = t.ambient_pressure + back
    share = t.evaporated_share * (1.0 + 0.004 * (T3 - 330.0))
    T_p = T3 - share * t.latent_heat * f / (CP + 2200.0 * f)
    CR = t.compression_ratio
    residual = (CR - (p_e / p3) ** t.residual_exponent) / (CR - 1.0)
    swept = t.engine_displacement * t.engine_speed / 2.0
    swallowed = t.efficiency_of_filling * residual * p3 * swept / (R * T_p) * (T_p / 320.0) ** t.intake_exponent
    return swallowed / (1.0 + share * f * t.vapour_displacement), p_e, T_p


@compiled
def surplus(t: Any, p2: float, Nb: float) -> tuple[float, float, float, float, float, float, float]:
    """What the blower delivers beyond what the engine swallows, and the states and the power that go with it."""
    p1 = fed(t, p2, Nb)
    m, T2, power = blower(t, p1, p2, Nb)
    m = max(m, 1e-4)
    T3 = cooler(t, m, T2)
    p3 = max(p2 - t.cooler_resistance * m**1.85 * T2 / p2, 0.3 * p2)
    return m - demand(t, m, p3, T3)[0], p1, m, T2, T3, p3, power


@compiled
def solve_point(t: Any, out: Any) -> None:
    slip = t.slip_level
    for _ in range(3):
        Nb = t.drive_ratio * t.engine_speed * (1.0 - slip)
        low, high = 0.5 * t.ambient_pressure, 5.0 * t.ambient_pressure
        f_low, f_high, side = surplus(t, low, Nb)[0], surplus(t, high, Nb)[0], 0
        for _ in range(60):
            p2 = next_trial(low, f_low, high, f_high)
            f, p1, m, T2, T3, p3, power = surplus(t, p2, Nb)
            if abs(f) < 1e-9 or high - low < 1e-3:
                break
            if f > 0.0:
                f_high = 0.5 * f_high if side > 0 else f_high
                low, f_low, side = p2, f, 1
            else:
                f_low = 0.5 * f_low if side < 0 else f_low
                high, f_high, side = p2, f, -1
        reference = 1e5 * t.blower_displacement * t.drive_ratio / (2.0 * math.pi)  # one bar of pressure rise
        slip = t.slip_level * (power / (2.0 * math.pi * t.engine_speed) / reference) ** t.slip_load_exponent
    _, p_e, T_p = demand(t, m, p3, T3)
    lam = t.excess_air_ratio
    p_max = 2.3 * p3 * t.compression_ratio**1.33
    T_u = (T_p + 40.0) * (0.8 * p_max / p3) ** 0.24
    knock = t.knock_level * (3600.0 / (60.0 * t.engine_speed)) ** 0.9 * (p_max / 55e5) ** 1.6
    knock *= math.exp(-3500.0 * (1.0 / T_u - 1.0 / 850.0))
    retard = math.log1p(math.exp(8.0 * (knock - 1.0))) / 8.0 / 0.08  # a controller that gives way gradually
    heat = m / (1.0 + t.humidity_ratio) * t.heating_value / t.air_fuel_ratio
    heat *= 1.0 + 0.025 - t.mixture_bend * (lam - 0.88) ** 2
    warm = (T3 - 330.0) * t.temperature_slope + ((T3 - 330.0) / 100.0) ** 2 * t.temperature_bend
    efficiency = t.indicated_efficiency * (1.0 - t.compression_ratio**-0.29) * (1.0 - warm) * (1.0 - 4e-4 * retard**2)
    krpm = 0.06 * t.engine_speed
    fmep = t.friction_level * 1e5 * (0.97 + 0.15 * krpm + 0.05 * krpm**2)  # a textbook correlation, without load
    swept = 0.5 * t.engine_speed * t.engine_displacement
    drive = power / t.belt_efficiency
    out.brake_power = heat * efficiency + 0.8 * (p3 - p_e) * swept - fmep * swept - drive
    out.torque = out.brake_power / (2.0 * math.pi * t.engine_speed)
    out.manifold_pressure = p3
    out.charge_temperature = T3
    out.blower_inlet_pressure = p1
    out.air_mass_flow = m
    out.rotor_speed = Nb
    out.blower_outlet_temperature = T2
    out.blower_drive_power = drive
    out.blower_inlet_temperature = inlet_temperature(t, Nb)
    out.blower_outlet_pressure = p2
    out.blower_mass_flow = m
    out.shaft_power = power
    out.specific_gas_constant = R
    out.blower_volumetric_efficiency = m * R * out.blower_inlet_temperature / (p1 * t.blower_displacement * Nb)


@compiled
def solve_points(points: NDArray[np.void], states: NDArray[np.void]) -> None:
    for i in range(points.size):
        solve_point(points[i], states[i])


def solved(points: NDArray[np.void]) -> NDArray[np.void]:
    """True states of a table of any shape."""
    states = np.zeros(points.shape, TRUE_STATE)
    solve_points(np.ascontiguousarray(points).reshape(-1), states.reshape(-1))
    return states


CAUSES = (
    Cause(name="inlet", words=("inlet_area",)),
    Cause(name="filling", words=("filling_loss", "filling_exponent", "filling_ripple", "ripple_phase")),
    Cause(name="leakage", words=("leakage_area",)),
    Cause(name="belt slip", words=("slip_level", "slip_load_exponent")),
    Cause(name="drive loss", words=("mechanical_linear", "mechanical_cubic")),
    Cause(name="charge cooling", words=("coolant_start", "coolant_warming")),
    Cause(name="weather", words=("ambient_pressure", "air_temperature", "humidity_ratio")),
    Cause(name="mixture", words=("excess_air_ratio",)),
)


@dataclass(frozen=True, kw_only=True)
class SyntheticCampaign:
    """The truth of two setups, what is nominally known of them, and what a logger would show."""

    true_baseline: NDArray[np.void]
    true_candidate: NDArray[np.void]
    baseline: NDArray[np.void]
    candidate: NDArray[np.void]
    curves: dict[str, Floats]  # (2, speeds) a channel, noisy

    @property
    def true_states(self) -> NDArray[np.void]:
        """True states of both setups, (2, speeds)."""
        return solved(np.stack([self.true_baseline, self.true_candidate]))


def smooth(generator: np.random.Generator, at: Floats, sd: float, length: float) -> Floats:
    """A draw of a smooth curve along `at`."""
    C = np.exp(-0.5 * ((at[:, None] - at) / length) ** 2) + 1e-9 * np.eye(len(at))
    return sd * np.linalg.cholesky(C) @ generator.standard_normal(len(at))


def synthetic_truth(generator: np.random.Generator) -> tuple[NDArray[np.void], NDArray[np.void]]:
    """A baseline and a candidate that differ in everything that two installations and two days may change."""
    g = generator
    n, rpm = 13, 1 / 60
    speed = np.linspace(g.uniform(2300, 3000), g.uniform(5500, 6300), n) * rpm

    def factor(sd: float) -> float:
        return math.exp(sd * g.standard_normal())

    def offset(sd: float) -> float:
        return sd * g.standard_normal()

    Ve = g.uniform(3.5e-3, 6.5e-3)
    Vb = Ve * g.uniform(0.30, 0.45)
    limit = 233.0 * (2.3e-3 / Vb) ** (1 / 3)
    ratio = g.uniform(0.8, 1.0) * limit / speed[-1]
    ratio = min(ratio, 2.5 * Ve / (2 * Vb))
    stroke = (Ve / 6 * 4 / math.pi) ** (1 / 3) * g.uniform(0.93, 1.07)
    size = Vb * limit / (2.3e-3 * 233.0)
    piston = 2 * stroke * speed
    filling = 0.95 * factor(0.045) * (1 - 0.2 * factor(0.4) * (piston / 13 - 1) ** 2)
    filling = filling * np.exp(smooth(g, speed, 0.025, g.uniform(600, 1100) * rpm))
    exhaust, cooling = 6.5e-3 * Ve / 6.2e-3 * factor(0.2), 7e-3 * Ve / 6.2e-3 * factor(0.18)
    z = (speed - speed[0]) / (speed[-1] - speed[0])
    mechanical = 6.1e3 * size * factor(0.45)
    columns: dict[str, Any] = {
        "engine_speed": speed,
        "ambient_pressure": 1e5 + offset(1500.0),
        "air_temperature": 298.0 + offset(5.0),
        "humidity_ratio": g.uniform(0.004, 0.014),
        "drive_ratio": ratio,
        "slip_level": 0.008 * factor(0.6),
        "slip_load_exponent": g.uniform(0.8, 1.8),
        "belt_efficiency": 0.97 + offset(0.004),
        "inlet_area": 5e-3 * size * factor(0.2),
        "inlet_area_mach_loss": g.uniform(0.0, 0.4),
        "inlet_heating": 4.0 * factor(0.5),
        "blower_displacement": Vb,
        "speed_limit": limit,
        "filling_loss": 0.055 * factor(0.35),
        "filling_exponent": g.uniform(1.4, 2.5),
        "filling_ripple": g.uniform(0.0, 0.008),
        "ripple_period": g.uniform(0.25, 0.6),
        "ripple_phase": g.uniform(0.0, 2 * math.pi),
        "leakage_area": 64e-6 * (Vb / 2.3e-3) ** (2 / 3) * factor(0.3),
        "leakage_closing": g.uniform(0.0, 0.25),
        "leakage_speed_share": g.uniform(-0.1, 0.2),
        "gas_work_factor": 1.01 + offset(0.02),
        "port_loss": g.uniform(0.0, 0.05) * Vb * 7e4 / limit**2,
        "mechanical_linear": 0.45 * mechanical,
        "mechanical_cubic": 0.55 * mechanical,
        "casing_conductance": 60.0 * size * factor(0.4),
        "casing_temperature": 328.0 + offset(8.0),
        "cooler_units": 1.6 * factor(0.2),
        "cooler_exponent": 0.43 + offset(0.08),
        "coolant_flow_ratio": 1.2 * factor(0.3) * Ve / 4.2e-3,
        "cooler_resistance": 0.5 * R / cooling**2,
        "coolant_start": 312.0 + offset(5.0),
        "coolant_warming": max(4.0 + offset(2.0), 0.0) * z ** g.uniform(1.0, 1.8),
        "excess_air_ratio": 0.87 + offset(0.015) + smooth(g, speed, 0.006, 1000 * rpm),
        "engine_displacement": Ve,
        "compression_ratio": g.uniform(8.5, 10.5),
        "stroke": stroke,
        "efficiency_of_filling": filling,
        "residual_exponent": g.uniform(0.7, 0.9),
        "intake_exponent": 0.35 + offset(0.09),
        "evaporated_share": 0.24 * factor(0.35),
        "exhaust_resistance": 0.5 * R / exhaust**2,
        "exhaust_heat": g.uniform(0.0, 400.0),
        "indicated_efficiency": 0.725 * factor(0.045) * np.exp(smooth(g, speed, 0.013, 1300 * rpm)),
        "temperature_slope": 2e-4 * factor(0.5),
        "temperature_bend": g.uniform(0.0, 0.04),
        "mixture_bend": g.uniform(1.2, 2.2),
        "friction_level": 0.87 * factor(0.2),
        "knock_level": 0.45 * factor(0.2),
        "air_fuel_ratio": 14.4,
        "heating_value": 43e6,
        "latent_heat": 350e3,
        "vapour_displacement": 0.27,
    }
    A = np.zeros(n, TRUTH)
    for name, value in columns.items():
        A[name] = value
    B = A.copy()
    for name, sd in (("inlet_area", 0.2), ("filling_loss", 0.35), ("leakage_area", 0.2), ("slip_level", 0.6)):
        B[name] = A[name] * factor(sd)
    change = factor(0.08)
    B["mechanical_linear"], B["mechanical_cubic"] = A["mechanical_linear"] * change, A["mechanical_cubic"] * change
    B["filling_ripple"] = A["filling_ripple"] * g.uniform(0.5, 1.5)
    B["ripple_phase"] = A["ripple_phase"] + offset(0.5)
    B["slip_load_exponent"] = np.clip(A["slip_load_exponent"] + offset(0.2), 0.5, 2.0)
    B["ambient_pressure"] = A["ambient_pressure"] + offset(500.0)
    B["air_temperature"] = A["air_temperature"] + offset(3.0)
    B["humidity_ratio"] = A["humidity_ratio"] * factor(0.1)
    B["coolant_start"] = A["coolant_start"] + offset(2.0)
    B["excess_air_ratio"] = A["excess_air_ratio"] + offset(0.01)
    return A, B


def synthetic_campaign(generator: np.random.Generator) -> SyntheticCampaign:
    """A campaign with noise, weather and mixture as instruments of ordinary quality would show them."""
    A, B = synthetic_truth(generator)
    return observed_campaign(A, B, generator)


def observed_campaign(A: NDArray[np.void], B: NDArray[np.void], generator: np.random.Generator) -> SyntheticCampaign:
    """What a logger with noise of the usual size shows of two true setups."""
    g = generator
    states = solved(np.stack([A, B]))
    curves: dict[str, Floats] = {}
    for channel, errors in TYPICAL_SENSOR_ERRORS.items():
        size = math.exp(0.3 * g.standard_normal())
        C = sensor_covariance(errors, np.asarray(A["engine_speed"], float)) * size**2
        noise = (np.linalg.cholesky(C) @ g.standard_normal(len(C))).reshape(2, -1)
        clean = states[channel]
        curves[channel] = clean * np.exp(noise) if channel in LOGARITHMIC else clean + noise
    mixture_bias, mixture_difference = 0.012 * g.standard_normal(), 0.007 * g.standard_normal()
    baseline, candidate = (nominal_points(truth) for truth in (A, B))
    for points, side in ((baseline, -0.5), (candidate, 0.5)):
        points["ambient_pressure"] += 42.0 * side * g.standard_normal() * math.sqrt(2)
        points["air_temperature"] += 0.7 * side * g.standard_normal() * math.sqrt(2)
        points["excess_air_ratio"] += mixture_bias + side * mixture_difference
    return SyntheticCampaign(true_baseline=A, true_candidate=B, baseline=baseline, candidate=candidate, curves=curves)


def nominal_points(truth: NDArray[np.void]) -> NDArray[np.void]:
    """What a build file and the program's defaults would say of a true setup: sizes known, everything else assumed."""
    points = np.zeros(truth.size, MATCH_POINT)
    for word in (
        "engine_speed",
        "ambient_pressure",
        "air_temperature",
        "humidity_ratio",
        "drive_ratio",
        "blower_displacement",
        "speed_limit",
        "excess_air_ratio",
        "engine_displacement",
        "compression_ratio",
        "stroke",
    ):
        points[word] = truth[word]
    Ve, Vb, limit = truth["engine_displacement"], truth["blower_displacement"], truth["speed_limit"]
    size = Vb * limit / (2.3e-3 * 233.0)
    assumed: dict[str, Any] = {
        "belt_slip": 0.008,
        "belt_efficiency": 0.97,
        "throttle_area": 7.3e-3 * size,
        "inlet_area": 6.9e-3 * size,
        "inlet_heating": 4.0,
        "internal_step": 1.0,
        "internal_volume_ratio": 1.0,
        "filling_loss": 0.06,
        "leakage_area": 58e-6 * (Vb / 2.3e-3) ** (2 / 3),
        "gas_work_factor": 1.03,
        "mechanical_power_at_limit": 6.1e3 * size,
        "heat_loss_share": 0.06,
        "mechanical_heat_share": 0.3,
        "delivery_factor": 1.0,
        "manifold_pressure_cap": 1e7,
        "cooler_transfer_units": 1.4,
        "cooler_reference_flow": 0.6 * Ve / 6.2e-3,
        "cooler_transfer_exponent": 0.43,
        "cooler_area": 7e-3 * Ve / 6.2e-3,
        "coolant_temperature": 313.0,
        "stoichiometric_air_fuel_ratio": 14.6,
        "lower_heating_value": 43.0e6,
        "latent_heat": 350e3,
        "fuel_molar_mass": 0.105,
        "octane_number": 95.0,
        "evaporated_share": 0.24,
        "engine_volumetric_efficiency": 0.94 * (1 - 0.2 * (2 * truth["stroke"] * truth["engine_speed"] / 13 - 1) ** 2),
        "intake_temperature_exponent": 0.35,
        "exhaust_area": 6.5e-3 * Ve / 6.2e-3,
        "exhaust_temperature": 1150.0,
        "indicated_efficiency_factor": 0.705,
        "efficiency_temperature_slope": 2e-4,
        "friction_factor": 1.0,
        "peak_pressure_factor": 2.45,
        "knock_factor": 1.0,
        "knock_index_limit": math.inf,
    }
    for word, value in assumed.items():
        points[word] = value
    return points

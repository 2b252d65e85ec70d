"""A build: engine, blower, drive, air path and fuel as bolted together, complete, with what had to be assumed."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boostwright.machine.assumptions import ASSUMED_BLEND, Assumption, complete, fuel_of, is_screw
from boostwright.machine.blower import SlipLawBlower
from boostwright.machine.cooler import Cooler, transfer_units
from boostwright.machine.drive import Drive, open_belt_wrap
from boostwright.machine.fuel_system import FuelSystem, Injectors
from boostwright.machine.inlet import Inlet, effective_throttle_area
from boostwright.machine.mean_value_engine import MeanValueEngine
from boostwright.physics.belt import pitch_line_ratio
from boostwright.records.build_file import BuildFile

NO_CAP = np.inf


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What the parts bear, as far as anybody has said; `None` is not known, and never taken for well."""

    rotor_speed_limit: float | None
    tip_speed: float | None
    blower_outlet_temperature: float | None
    charge_temperature: float | None
    manifold_pressure: float | None
    rib_tension: float | None
    rib_power: float | None
    injector_duty: float | None
    mean_piston_speed: float | None
    peak_cylinder_pressure: float | None
    knock_index: float | None


@dataclass(frozen=True, kw_only=True)
class Build:
    """Everything that the operating point and its limits ask of a build; nothing in it is missing.

    `stated` are the key paths of the numbers that its file gives, `assumptions` the numbers that it does not give, and
    `cautions` what its reader should know.
    """

    name: str
    engine: MeanValueEngine
    blower: SlipLawBlower
    rotor_diameter: float | None
    drive: Drive
    inlet: Inlet
    cooler: Cooler
    fuel_system: FuelSystem
    limits: Limits
    assumptions: tuple[Assumption, ...]
    stated: frozenset[str]
    cautions: tuple[str, ...]


def build_of(build_file: BuildFile) -> Build:
    """The build that a file describes, what it does not say filled in by the rules of `assumptions`."""
    numbers, assumptions = complete(build_file)
    return Build(
        name=build_file.name,
        engine=_engine(numbers, build_file),
        blower=_blower(numbers),
        rotor_diameter=numbers.get("blower.rotor_diameter"),
        drive=_drive(numbers),
        inlet=_inlet(numbers),
        cooler=_cooler(numbers),
        fuel_system=_fuel_system(numbers, build_file),
        limits=_limits(build_file.numbers, numbers["limits.injector_duty"]),
        assumptions=assumptions,
        stated=frozenset(build_file.numbers),
        cautions=tuple(_cautions(build_file)),
    )


def _engine(numbers: Mapping[str, float], build_file: BuildFile) -> MeanValueEngine:
    curve = build_file.volumetric_efficiency_curve
    return MeanValueEngine(
        engine_displacement=numbers["engine.displacement"],
        cylinders=round(numbers["engine.cylinders"]),
        compression_ratio=numbers["engine.compression_ratio"],
        stroke=numbers["engine.stroke"],
        engine_speed_limit=numbers["engine.speed_limit"],
        engine_volumetric_efficiency=max(value for _, value in curve)
        if curve
        else numbers["engine.volumetric_efficiency"],
        volumetric_efficiency_curvature=numbers.get("engine.volumetric_efficiency_curvature", 0.0),
        volumetric_efficiency_curve=curve,
        intake_temperature_exponent=numbers["engine.intake_temperature_exponent"],
        exhaust_area=numbers["engine.exhaust_area"],
        exhaust_temperature=numbers["engine.exhaust_temperature"],
        indicated_efficiency_factor=numbers["engine.indicated_efficiency_factor"],
        efficiency_temperature_slope=numbers["engine.efficiency_loss_per_kelvin"],
        friction_factor=numbers["engine.friction_factor"],
        peak_pressure_factor=numbers["engine.peak_pressure_factor"],
        knock_factor=numbers["engine.knock_factor"],
        spark_retard=numbers["engine.spark_retard"],
    )


def _blower(numbers: Mapping[str, float]) -> SlipLawBlower:
    return SlipLawBlower(
        blower_displacement=numbers["blower.displacement"],
        internal_volume_ratio=numbers["blower.internal_volume_ratio"],
        speed_limit=numbers["blower.speed_limit"],
        filling_loss=numbers["blower.filling_loss"],
        leakage_area=numbers["blower.leakage_area"],
        gas_work_factor=numbers["blower.gas_work_factor"],
        mechanical_power_at_limit=numbers["blower.mechanical_power_at_limit"],
        heat_loss_share=numbers["blower.heat_loss_share"],
        mechanical_heat_share=numbers["blower.mechanical_heat_share"],
        delivery_factor=numbers["blower.delivery_factor"],
    )


def _drive(numbers: Mapping[str, float]) -> Drive:
    driving, driven = numbers.get("drive.driving_pulley"), numbers.get("drive.driven_pulley")
    differential = numbers.get("drive.line_differential", 0.0)
    ribs = numbers.get("drive.ribs")
    if (ratio := numbers.get("drive.ratio")) is None:
        ratio = float(pitch_line_ratio(numbers["drive.driving_pulley"], numbers["drive.driven_pulley"], differential))
    return Drive(
        drive_ratio=ratio,
        internal_step=numbers["drive.internal_step"],
        belt_slip=numbers["drive.belt_slip"],
        belt_efficiency=numbers["drive.efficiency"],
        driving_pulley=driving,
        driven_pulley=driven,
        line_differential=differential,
        ribs=None if ribs is None else round(ribs),
        wrap_angle=_wrap(numbers),
        friction_coefficient=numbers["drive.friction_coefficient"],
        installed_tension=numbers.get("drive.installed_tension"),
        rib_mass_per_length=numbers.get("drive.rib_mass_kg_per_m"),
    )


def _wrap(numbers: Mapping[str, float]) -> float | None:
    if "drive.wrap" in numbers:
        return numbers["drive.wrap"]
    geometry = ("drive.driving_pulley", "drive.driven_pulley", "drive.centre_distance")
    return open_belt_wrap(*(numbers[path] for path in geometry)) if set(geometry) <= set(numbers) else None


def _inlet(numbers: Mapping[str, float]) -> Inlet:
    if "inlet.throttle_bore" in numbers:
        area = effective_throttle_area(
            numbers["inlet.throttle_bore"],
            numbers["inlet.throttle_shaft"],
            numbers["inlet.throttle_angle"],
            numbers["inlet.throttle_discharge_coefficient"],
        )
    else:
        area = numbers["inlet.throttle_area"]
    return Inlet(
        throttle_area=area,
        inlet_area=numbers["inlet.flow_area"],
        inlet_heating=numbers["inlet.heating"],
        upstream_evaporation=numbers["fuel.upstream_evaporation"],
        bypass_area=numbers["bypass.area"],
        bypass_opening=numbers["bypass.opening"],
        manifold_pressure_cap=numbers.get("bypass.manifold_pressure_cap", NO_CAP),
    )


def _cooler(numbers: Mapping[str, float]) -> Cooler:
    return Cooler(
        cooler_transfer_units=transfer_units(numbers["cooler.effectiveness"]),
        cooler_reference_flow=numbers["cooler.reference_flow"],
        cooler_transfer_exponent=numbers["cooler.transfer_exponent"],
        cooler_area=numbers["cooler.flow_area"],
        coolant_temperature=numbers["cooler.coolant_temperature"],
    )


def _fuel_system(numbers: Mapping[str, float], build_file: BuildFile) -> FuelSystem:
    return FuelSystem(
        fuel=fuel_of(build_file),
        excess_air_ratio=numbers["fuel.excess_air_ratio"],
        octane_number=numbers["fuel.octane_number"],
        evaporated_share=numbers["fuel.evaporated_share"],
        injectors=_injectors(numbers),
        pump_flow=numbers.get("fuel.pump_flow"),
    )


def _injectors(numbers: Mapping[str, float]) -> Injectors | None:
    """The injectors, if the file says how many there are, what they pass, and at which pressure."""
    count, flow, rail, referenced = (
        numbers.get(f"fuel.injectors.{name}") for name in ("count", "flow", "rail_pressure", "referenced")
    )
    if count is None or flow is None or rail is None or referenced is None:
        return None
    return Injectors(
        injector_count=round(count), rated_flow=flow, rail_gauge_pressure=rail, is_referenced=bool(referenced)
    )


def _limits(said: Mapping[str, float], injector_duty: float) -> Limits:
    """What the file says, and no more: a limit that nobody knows stays unknown."""
    return Limits(
        rotor_speed_limit=said.get("blower.speed_limit"),
        tip_speed=said.get("limits.tip_speed"),
        blower_outlet_temperature=said.get("limits.blower_outlet_temperature"),
        charge_temperature=said.get("limits.charge_temperature"),
        manifold_pressure=said.get("limits.manifold_pressure"),
        rib_tension=said.get("limits.rib_tension"),
        rib_power=said.get("limits.rib_power"),
        injector_duty=injector_duty,
        mean_piston_speed=said.get("limits.mean_piston_speed"),
        peak_cylinder_pressure=said.get("limits.peak_cylinder_pressure"),
        knock_index=said.get("limits.knock_index"),
    )


def _cautions(build_file: BuildFile) -> list[str]:
    numbers = build_file.numbers
    said: list[str] = []
    if "fuel.blend" not in build_file.words:
        said.append(f"No fuel is named: matched with {ASSUMED_BLEND}.")
    if "cooler" not in build_file.tables:
        said.append("No [cooler] table: matched without a charge cooler.")
    if is_screw(build_file) and "blower.internal_volume_ratio" not in numbers:
        said.append("The internal volume ratio of the screw is assumed; drive power and heat hang on it.")
    pulleys = {"drive.ratio", "drive.driving_pulley", "drive.driven_pulley"}
    if pulleys <= set(numbers):
        pitch = pitch_line_ratio(
            numbers["drive.driving_pulley"],
            numbers["drive.driven_pulley"],
            numbers.get("drive.line_differential", 2e-3),
        )
        said.append(
            f"The ratio {numbers['drive.ratio']:.4g} is as stated; on the pitch line the pulleys give {pitch:.4g}."
        )
    elif "drive.ratio" not in numbers:
        said.append("The ratio is that of the pitch line of the belt, not of the nominal diameters.")
    if 0 < len({key for key in numbers if key.startswith("fuel.injectors.")}) < 4:
        said.append("Injectors need count, flow, rail_pressure and referenced: their duty is not known.")
    return said

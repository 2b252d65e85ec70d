"""The engine cycle against air-standard limits and an independent reactor network."""

import math
from dataclasses import replace

import pytest

from boostwright.machine.cycle import flat
from boostwright.machine.engine import engine_with_defaults
from boostwright.physics.gases import DRY_AIR, constant_property_gas
from tests.machine.cycle_cantera import EngineNetwork
from tests.machine.cycle_reference import reference_case
from tests.machine.single_gas import at, breathing, one_gas_cycle, value

DEGREE = math.pi / 180


def ideal_engine(compression_ratio):
    """Valves that open and shut at the dead centres, walls that take no heat, a burn of a tenth of a degree."""
    return replace(
        engine_with_defaults(3e-3, 6, compression_ratio),
        intake_opening=2 * math.pi,
        intake_closing=3 * math.pi,
        exhaust_opening=math.pi,
        exhaust_closing=2 * math.pi,
        burn_centre=0.0,
        burn_duration=0.1 * DEGREE,
        wall_heat_factor=0.0,
        combustion_efficiency=1.0,
    )


@pytest.mark.parametrize(
    ("heat_capacity_ratio", "compression_ratio", "efficiency"),
    [
        (1.4, 8.0, 0.56472),
        (1.4, 9.0, 0.58476),
        (1.4, 10.0, 0.60189),
        (1.4, 12.0, 0.62989),
        (1.3, 8.0, 0.46411),
        (1.3, 9.0, 0.48272),
        (1.3, 10.0, 0.49881),
        (1.3, 12.0, 0.52549),
    ],
)
def test_instant_burn_without_losses_is_the_otto_cycle(heat_capacity_ratio, compression_ratio, efficiency):
    """1 - CR^(1 - gamma) to five digits; on a grid made for real burns and valves, here eight times finer."""
    gas = constant_property_gas(heat_capacity_ratio, 287.0)
    engine, conditions = flat(ideal_engine(compression_ratio), (1,)), flat(breathing(50.0, 1e5, 1e5), (1,))

    block = one_gas_cycle(engine, conditions, gas, 1.5e6, fineness=8)

    assert value(block, at.GROSS_WORK) / value(block, at.CHEMICAL_ENERGY) == pytest.approx(efficiency, abs=1e-5)


@pytest.mark.parametrize("gas", [constant_property_gas(1.4, 287.0), constant_property_gas(1.3, 280.0), DRY_AIR])
def test_motored_without_losses_compression_is_isentropic_and_gives_its_work_back(gas):
    """p2/p1 of the isentrope: CR^gamma, and for air with the heat capacities of the NASA polynomials."""
    engine, conditions = flat(ideal_engine(10.0), (1,)), flat(breathing(50.0, 1e5, 1e5), (1,))

    block = one_gas_cycle(engine, conditions, gas, 0.0, fineness=8)

    mass, top = value(block, at.TRAPPED_MASS), value(block, at.PEAK_PRESSURE)
    V_top = value(block, at.CLEARANCE_VOLUME)
    T_top = top * V_top / (mass * gas.specific_gas_constant)
    T_bottom = bottom_temperature(gas, T_top, 10.0)
    first = mass * gas.specific_gas_constant * T_bottom / (10.0 * V_top)
    assert gas.isentropic_temperature(T_bottom, top / first) == pytest.approx(T_top, rel=1e-7)
    assert value(block, at.GROSS_WORK) == pytest.approx(0.0, abs=1e-5 * top * V_top)


def bottom_temperature(gas, top, ratio):
    """Temperature from which the isentrope of a volume ratio leads to that at the top."""
    low, high = 200.0, top
    for _ in range(60):
        mid = 0.5 * (low + high)
        reached = float(gas.isentropic_temperature(mid, ratio * top / mid))
        low, high = (mid, high) if reached < top else (low, mid)
    return mid


@pytest.mark.parametrize(("speed", "manifold", "exhaust"), [(4000, 1.8e5, 1.3e5), (2500, 0.95e5, 1.2e5)])
def test_cycle_of_air_agrees_with_a_reactor_network(speed, manifold, exhaust):
    """Work, trapped mass and peak pressure within 0.02 %, exhaust within 0.2 K of Cantera's own integration.

    What is left is the grid of the cycle, some 1e-4, and the 0.5 degrees at which the network is sampled.
    """
    engine = replace(engine_with_defaults(4.2e-3, 6, 9.5), intake_port_volume=1e3)  # what flows back is lost
    conditions = breathing(speed / 60, manifold, exhaust)
    block = one_gas_cycle(flat(engine, (1,)), flat(conditions, (1,)), DRY_AIR, 2.4e6)
    case, _, _ = reference_case(engine, conditions)
    network = EngineNetwork(case._replace(heat=2.4e6 * (1 - value(block, at.RESIDUAL_SHARE))), 1e-9)

    for _ in range(5):
        expected = network.cycle(0.5 * DEGREE)

    assert value(block, at.WORK) / network.swept == pytest.approx(expected.imep, rel=2e-4)
    assert value(block, at.TRAPPED_MASS) == pytest.approx(expected.trapped_mass, rel=2e-4)
    assert value(block, at.PEAK_PRESSURE) == pytest.approx(expected.peak_pressure, rel=2e-4)
    assert value(block, at.EXHAUST + at.SUPPLY_TEMPERATURE) == pytest.approx(expected.exhaust_temperature, abs=0.2)

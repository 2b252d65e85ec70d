"""The engine cycle against an adaptive reference, its accounts, its smoothness and what an engineer expects of it."""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle import COARSE_STEPS, STEPS, flat, run_cycles
from boostwright.machine.cycle_period import one_cycle
from boostwright.machine.cycle_repeat import repeat_cycle
from boostwright.machine.cycle_setup import charges_of, cycle_blocks
from boostwright.machine.engine import CycleConditions, engine_with_defaults
from boostwright.physics.combustion import burned_fraction
from boostwright.physics.crank import cylinder_volume
from boostwright.physics.fuels import fuel_named
from boostwright.physics.gases import constant_property_gas
from boostwright.physics.knock import autoignition_delay, knock_integral
from tests.machine.cycle_points import DEGREE, OUTCOMES, point_set, random_rows, reference_points
from tests.machine.cycle_reference import periodic_reference
from tests.machine.single_gas import breathing, one_gas_cycle, value

ENGINE = engine_with_defaults(4.2e-3, 6, 9.5)
CONDITIONS = CycleConditions(
    engine_speed=4000 / 60,
    manifold_pressure=1.8e5,
    charge_temperature=325.0,
    exhaust_pressure=1.25e5,
    humidity_ratio=0.008,
    fuel=fuel_named("E10"),
    excess_air_ratio=0.86,
    evaporated_share=0.24,
    octane_number=97.0,
    spark_retard=0.0,
)
LIMITS = {  # relative and absolute
    "imep": (5e-4, 0.0),
    "gross_imep": (5e-4, 0.0),
    "trapped_mass": (5e-4, 0.0),
    "peak_cylinder_pressure": (1e-3, 0.0),
    "residual_share": (4e-3, 2e-5),
}


@pytest.fixture(scope="module")
def cycles():
    """Fuel by fuel: the kept random points and their cycles."""
    return [(points, run_cycles(points.engine, points.conditions)) for points in reference_points()]


@pytest.mark.parametrize("word", OUTCOMES)
def test_every_random_point_agrees_with_the_reference(cycles, word):
    """Work and trapped mass within 0.05 %, peak pressure within 0.1 %, residual gas within 0.4 % of itself."""
    (relative, absolute), count = LIMITS[word], 0
    for points, result in cycles:
        assert result.is_settled.all()
        np.testing.assert_allclose(getattr(result, word), points.outcomes[word], relative, absolute)
        count += points.outcomes[word].size
    assert count == 512


def test_the_reference_as_it_stands_says_what_is_kept_of_it(cycles):
    """One kept row solved again, so that the kept solutions cannot outlive a change of the equations."""
    points, _ = cycles[1]
    engine, conditions = (
        replace(noun, **{f: float(np.ravel(v)[7]) for f, v in vars(noun).items() if np.ndim(v)})
        for noun in (points.engine, points.conditions)
    )

    outcome = periodic_reference(engine, conditions, 1e-7, 30)

    kept = [points.outcomes[word][7] for word in OUTCOMES]
    np.testing.assert_allclose(outcome[: len(OUTCOMES)], kept, rtol=2e-5)


def test_a_lane_does_not_depend_on_its_neighbours():
    """Bit for bit but for the number of cycles, which a block shares: the periodic state is found to 1e-6."""
    speeds = np.linspace(2000, 7000, 20) / 60

    together = run_cycles(ENGINE, replace(CONDITIONS, engine_speed=speeds))
    alone = run_cycles(ENGINE, replace(CONDITIONS, engine_speed=speeds[7]))

    for word in OUTCOMES:
        assert getattr(alone, word) == pytest.approx(getattr(together, word)[7], rel=2e-6)


def test_the_same_cycles_give_the_same_bits():
    first, second = (run_cycles(ENGINE, replace(CONDITIONS, engine_speed=np.array([40.0, 90.0]))) for _ in range(2))

    for word in OUTCOMES:
        np.testing.assert_array_equal(getattr(first, word), getattr(second, word))


@pytest.fixture(scope="module")
def one_more_cycle():
    """Sixteen random cases after their periodic cycle: the block before and after one cycle more."""
    chosen = point_set([["methanol", *row[1:]] for row in random_rows(16)], {})
    engine, conditions = flat(chosen.engine, (16,)), flat(chosen.conditions, (16,))
    blocks = cycle_blocks(engine, conditions, charges_of(conditions))
    repeat_cycle(blocks[0], COARSE_STEPS, STEPS)
    before, after = blocks[0].copy(), blocks[0]
    one_cycle(after, STEPS)
    burned_out = np.minimum(row(after, at.EVENTS + 2 * at.LANES), engine.exhaust_opening)
    progress = (burned_out - row(after, at.EVENTS + at.LANES)) * row(after, at.PER_BURN_DURATION)
    share = burned_fraction(progress, engine.burn_completeness, engine.burn_form_factor) * row(after, at.BURN_SCALE)
    return before, after, share


def row(block, number):
    return block[number : number + at.LANES]


def flowed(block, into, out):
    return sum(row(block, port + into) - row(block, port + out) for port in (at.INTAKE, at.EXHAUST))


def test_mass_is_conserved_to_rounding(one_more_cycle):
    before, after, _ = one_more_cycle

    gain = row(after, at.MASS) - row(before, at.MASS)

    np.testing.assert_allclose(gain, flowed(after, at.IN_MASS, at.OUT_MASS), atol=2e-17)  # kg, of 1e-3


def test_energy_is_conserved_to_rounding(one_more_cycle):
    before, after, burned = one_more_cycle
    released = burned * row(after, at.CHEMICAL_ENERGY)

    gain = row(after, at.ENERGY) - row(before, at.ENERGY)

    work_and_heat = row(after, at.WORK) + row(after, at.WALL_HEAT)
    balance = released + flowed(after, at.IN_ENTHALPY, at.OUT_ENTHALPY) - work_and_heat
    np.testing.assert_allclose(gain, balance, atol=2e-10)  # J, of 3000


def test_burned_mass_is_conserved_to_rounding(one_more_cycle):
    before, after, burned = one_more_cycle
    made = burned * (1 - row(after, at.RESIDUAL_SHARE)) * row(after, at.TRAPPED_MASS)

    gain = row(after, at.BURNED) - row(before, at.BURNED)

    np.testing.assert_allclose(gain, made + flowed(after, at.IN_BURNED, at.OUT_BURNED), atol=2e-17)


SWEEPS = {
    "intake_opening": 6 * DEGREE,
    "intake_closing": 6 * DEGREE,
    "exhaust_opening": 6 * DEGREE,
    "exhaust_closing": 6 * DEGREE,
    "compression_ratio": 1.0,
    "burn_centre": 5 * DEGREE,
    "burn_duration": 6 * DEGREE,
    "burn_form_factor": 0.3,
    "combustion_efficiency": 0.03,
    "intake_discharge_coefficient": 0.08,
    "exhaust_discharge_coefficient": 0.08,
    "intake_valve_lift": 1e-3,
    "exhaust_valve_lift": 1e-3,
    "intake_valve_diameter": 1.5e-3,
    "valve_throat_ratio": 0.04,
    "intake_port_volume": 2e-4,
    "wall_heat_factor": 0.3,
    "piston_temperature": 40.0,
    "bore_stroke_ratio": 0.1,
    "rod_ratio": 0.15,
    "engine_displacement": 3e-4,
    "manifold_pressure": 1e4,
    "exhaust_pressure": 1e4,
    "charge_temperature": 10.0,
    "excess_air_ratio": 0.05,
    "evaporated_share": 0.1,
    "humidity_ratio": 0.004,
}
STATES = ((3000, 1.8e5, 1.25e5), (6500, 1.1e5, 1.8e5), (4500, 2.6e5, 1.5e5))


@pytest.mark.parametrize("name", SWEEPS)
def test_central_differences_are_smooth(name):
    """Side by side in lanes, a parameter is swept over a range of which a difference takes a twentieth either way.

    The curve leaves a polynomial by no more than 6e-5 of its value, and a central difference is the polynomial's slope
    within 4 % of the greatest slope; 1e-5 of the value are allowed for, where the parameter hardly matters.
    """
    place = np.linspace(-1, 1, 81)
    for speed, manifold, exhaust in STATES:
        conditions = replace(CONDITIONS, engine_speed=speed / 60, manifold_pressure=manifold, exhaust_pressure=exhaust)
        swept = ENGINE if hasattr(ENGINE, name) else conditions
        moved = replace(swept, **{name: getattr(swept, name) + SWEEPS[name] * place})
        result = run_cycles(moved, conditions) if swept is ENGINE else run_cycles(ENGINE, moved)
        for word in ("imep", "trapped_mass", "peak_cylinder_pressure"):
            value = getattr(result, word) / np.mean(getattr(result, word))
            curve = np.polynomial.Chebyshev.fit(place, value, 7)
            slope, difference = curve.deriv()(place[2:-2]), (value[4:] - value[:-4]) / (place[4] - place[0])
            assert np.max(np.abs(value - curve(place))) < 6e-5
            assert np.max(np.abs(difference - slope)) < 0.04 * np.max(np.abs(slope)) + 1e-5 / (place[4] - place[0])


def test_volumetric_efficiency_is_air_over_displacement_at_manifold_state():
    result = run_cycles(ENGINE, CONDITIONS)

    moist_air_constant = 8.314462618 * (1 / 0.0289661 + 0.008 / 0.018015) / 1.008
    density = 1.8e5 / (moist_air_constant * 325.0)
    flow = result.engine_volumetric_efficiency * density * 4.2e-3 * 4000 / 60 / 2
    assert result.air_mass_flow == pytest.approx(float(flow), rel=1e-5)  # molar masses to five digits


def test_mean_effective_pressures_add_up():
    result = run_cycles(ENGINE, CONDITIONS)

    assert result.imep == pytest.approx(float(result.gross_imep + result.pumping_mep), rel=1e-12)
    assert result.bmep == pytest.approx(float(result.imep - result.fmep), rel=1e-12)
    assert result.brake_power == pytest.approx(float(result.bmep) * 4.2e-3 * 4000 / 60 / 2, rel=1e-12)


def test_rich_charge_releases_no_more_than_its_oxygen_allows():
    """From stoichiometric on the work per air hardly rises with more fuel; per fuel it falls with the excess air."""
    rich, even = (run_cycles(ENGINE, replace(CONDITIONS, excess_air_ratio=ratio)) for ratio in (0.8, 1.0))

    per_air = [float(r.imep / r.air_mass_flow) for r in (rich, even)]

    assert per_air[0] == pytest.approx(per_air[1], rel=0.06)
    assert rich.indicated_efficiency == pytest.approx(0.8 * float(even.indicated_efficiency), rel=0.06)


def test_fuel_that_evaporates_ahead_of_the_valve_cools_the_charge_and_lets_more_air_in():
    methanol = replace(CONDITIONS, fuel=fuel_named("methanol"))

    dry, wet = (run_cycles(ENGINE, replace(methanol, evaporated_share=share)) for share in (0.0, 0.3))

    assert dry.port_temperature == pytest.approx(325.0)
    assert 325.0 - float(wet.port_temperature) == pytest.approx(0.3 * 1168e3 / (0.86 * 6.473 * 1012 * 1.1), rel=0.05)
    assert wet.air_mass_flow > 1.02 * dry.air_mass_flow
    assert wet.knock_index < dry.knock_index


@pytest.mark.parametrize(
    ("change", "word", "sign"),
    [
        ({"exhaust_pressure": 1.6e5}, "residual_share", 1),
        ({"exhaust_pressure": 1.6e5}, "air_mass_flow", -1),
        ({"manifold_pressure": 2.0e5}, "peak_cylinder_pressure", 1),
        ({"charge_temperature": 345.0}, "knock_index", 1),
        ({"charge_temperature": 345.0}, "air_mass_flow", -1),
        ({"octane_number": 107.0}, "knock_index", -1),
        ({"spark_retard": 6 * DEGREE}, "knock_index", -1),
        ({"spark_retard": 6 * DEGREE}, "peak_cylinder_pressure", -1),
        ({"spark_retard": 6 * DEGREE}, "exhaust_temperature", 1),
        ({"engine_speed": 6000 / 60}, "knock_index", -1),
    ],
)
def test_the_cycle_moves_the_way_engines_do(change, word, sign):
    base, changed = run_cycles(ENGINE, CONDITIONS), run_cycles(ENGINE, replace(CONDITIONS, **change))

    assert sign * (getattr(changed, word) - getattr(base, word)) > 0


def test_knock_index_is_the_delay_integral_of_the_compressed_gas():
    """An ideal gas without burning or walls: the integral of dt/tau along its isentrope, from the same first state."""
    gas, degree = constant_property_gas(1.35, 287.0), DEGREE
    engine = flat(replace(ENGINE, compression_ratio=12.0, wall_heat_factor=0.0), (1,))
    conditions = flat(breathing(25.0, 1.5e5, 1.2e5), (1,))

    block = one_gas_cycle(engine, conditions, gas, 0.0)

    angle = np.linspace(value(block, at.EVENTS), value(block, at.EVENTS + 2 * at.LANES), 4001)
    rod = engine.rod_ratio * engine.stroke
    V = cylinder_volume(angle, engine.bore, engine.stroke, rod, engine.compression_ratio)
    V_top, p_top = value(block, at.CLEARANCE_VOLUME), value(block, at.PEAK_PRESSURE)
    p = p_top * (V_top / V) ** 1.35
    T = p * V / (value(block, at.TRAPPED_MASS) * 287.0)
    index = knock_integral(angle / (2 * np.pi * 25.0), autoignition_delay(p, T, 100.0))
    assert angle[0] < -100 * degree
    assert value(block, at.KNOCK) == pytest.approx(float(index), rel=5e-3)


def test_engines_and_conditions_broadcast_against_one_another():
    engine = replace(ENGINE, compression_ratio=np.array([[9.0], [10.5]]))

    result = run_cycles(engine, replace(CONDITIONS, engine_speed=np.array([50.0, 70.0, 90.0])))

    assert result.imep.shape == (2, 3)
    alone = run_cycles(replace(ENGINE, compression_ratio=10.5), replace(CONDITIONS, engine_speed=70.0))
    assert result.imep[1, 1] == pytest.approx(float(alone.imep), rel=2e-6)


def test_valves_without_overlap_work_as_well():
    engine = replace(ENGINE, exhaust_closing=350 * DEGREE, intake_opening=372 * DEGREE)

    result = run_cycles(engine, CONDITIONS)

    assert result.is_settled.all()
    assert 0.02 < result.residual_share < 0.12


@pytest.mark.parametrize("speed", [400, 9000])
@pytest.mark.parametrize("manifold", [0.5e5, 4e5])
def test_the_cycle_settles_far_outside_its_usual_range(speed, manifold):
    conditions = replace(CONDITIONS, engine_speed=speed / 60, manifold_pressure=manifold)

    assert run_cycles(ENGINE, conditions).is_settled.all()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"burn_centre": -1.9}, "before the intake valve has shut: check burn_centre, burn_duration and spark_retard"),
        ({"burn_centre": 2.7}, "after exhaust opening"),
    ],
)
def test_a_burn_outside_the_shut_cylinder_is_refused(change, words):
    with pytest.raises(ValueError, match=words):
        run_cycles(replace(ENGINE, **change), CONDITIONS)

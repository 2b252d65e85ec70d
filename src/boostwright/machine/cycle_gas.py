"""State of the gas in one lane of a cycle block: volume, mixture of fresh and burned gas, wall heat, valve flow.

The equations of `boostwright.physics` stand here once more, with their constants worked out beforehand and without a
library call, or their loops would not become vector code; tests hold each of them to its original.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.machine import cycle_block as at
from boostwright.machine.cycle_math import exponential, logarithm, root, sine_cosine
from boostwright.physics.compiled import compiled, merged

Block = NDArray[np.float64]

NASA_BREAK = 1000.0  # K, where the two polynomials of a gas meet


class _Space(NamedTuple):
    """Cylinder volume and its change per crank angle."""

    volume: float
    volume_slope: float


class _Mixture(NamedTuple):
    """Gas of the cylinder at one temperature."""

    temperature: float
    specific_gas_constant: float
    per_heat_capacity: float  # inverse of that at constant volume
    fresh_energy: float
    burned_energy: float


@merged
def lanes(block: Block) -> int:
    """Cycles in a block, as a number that the compiler does not know: `LANES` it would unroll, and make no vectors."""
    return block.size // at.ROWS


@compiled
def begin_phase(block: Block, phase: int, steps: int) -> None:
    """Take up the angle where a phase begins and its step: rows at fixed places, which the compiler can tell apart."""
    begin = at.EVENTS + phase * at.LANES
    for lane in range(lanes(block)):
        block[at.PHASE_BEGIN + lane] = block[begin + lane]
        block[at.PHASE_STEP + lane] = (block[begin + at.LANES + lane] - block[begin + lane]) / steps


@merged
def cylinder_space(block: Block, lane: int, crank_angle: float) -> _Space:
    """Volume of the cylinder and its slope (Heywood 1988, section 2.2)."""
    a, rod, area = block[at.CRANK_RADIUS + lane], block[at.ROD_LENGTH + lane], block[at.PISTON_AREA + lane]
    s, c = sine_cosine(crank_angle)
    reach = root(rod * rod - a * a * s * s)
    volume = block[at.CLEARANCE_VOLUME + lane] + area * (rod + a - a * c - reach)
    return _Space(volume, area * a * s * (1 + a * c / reach))


class _Terms(NamedTuple):
    """Internal energy of a gas as a polynomial in temperature."""

    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    c5: float


@merged
def _gas_terms(block: Block, lane: int, temperature: float, cold_row: int, step_row: int) -> _Terms:
    """Terms of one gas, whose polynomials meet at one temperature; a choice of rows would cost more than the sum."""
    hot, c, s = 0.0 if temperature < NASA_BREAK else 1.0, cold_row + lane, step_row + lane
    return _Terms(
        block[c] + hot * block[s],
        block[c + at.LANES] + hot * block[s + at.LANES],
        block[c + 2 * at.LANES] + hot * block[s + 2 * at.LANES],
        block[c + 3 * at.LANES] + hot * block[s + 3 * at.LANES],
        block[c + 4 * at.LANES] + hot * block[s + 4 * at.LANES],
        block[c + 5 * at.LANES] + hot * block[s + 5 * at.LANES],
    )


@merged
def _fresh_terms(block: Block, lane: int, temperature: float) -> _Terms:
    return _gas_terms(block, lane, temperature, at.FRESH_COLD, at.FRESH_STEP)


@merged
def _burned_terms(block: Block, lane: int, temperature: float) -> _Terms:
    return _gas_terms(block, lane, temperature, at.BURNED_COLD, at.BURNED_STEP)


@merged
def _blend(f: _Terms, b: _Terms, y: float) -> _Terms:
    """_Mixture with a share y of the second gas by mass."""
    return _Terms(
        f.c0 + y * (b.c0 - f.c0),
        f.c1 + y * (b.c1 - f.c1),
        f.c2 + y * (b.c2 - f.c2),
        f.c3 + y * (b.c3 - f.c3),
        f.c4 + y * (b.c4 - f.c4),
        f.c5 + y * (b.c5 - f.c5),
    )


@merged
def _energy(c: _Terms, T: float) -> float:
    return c.c0 + T * (c.c1 + T * (c.c2 + T * (c.c3 + T * (c.c4 + T * c.c5))))


@merged
def _energy_slope(c: _Terms, T: float) -> float:
    return c.c1 + T * (2 * c.c2 + T * (3 * c.c3 + T * (4 * c.c4 + T * 5 * c.c5)))


@merged
def _energy_curve(c: _Terms, T: float) -> float:
    return 2 * c.c2 + T * (6 * c.c3 + T * (12 * c.c4 + T * 20 * c.c5))


@merged
def gas_constant(block: Block, lane: int, burned_share: float) -> float:
    """Gas constant of a mixture."""
    fresh = block[at.FRESH_GAS_CONSTANT + lane]
    return fresh + burned_share * (block[at.BURNED_GAS_CONSTANT + lane] - fresh)


@merged
def mixture(block: Block, lane: int, energy: float, burned_share: float, guess: float) -> _Mixture:
    """Temperature at which the mixture has this energy per mass, from a guess near by.

    One step of third order, which leaves 0.04 K of 60; the steps of a cycle are shorter. The energies of the two gases
    are carried to the temperature with their slopes.
    """
    fresh, burned = _fresh_terms(block, lane, guess), _burned_terms(block, lane, guess)
    u_fresh, u_burned = _energy(fresh, guess), _energy(burned, guess)
    cv_fresh, cv_burned = _energy_slope(fresh, guess), _energy_slope(burned, guess)
    curve_fresh, curve_burned = _energy_curve(fresh, guess), _energy_curve(burned, guess)
    y = burned_share
    cv, curve = cv_fresh + y * (cv_burned - cv_fresh), curve_fresh + y * (curve_burned - curve_fresh)
    per_cv = 1 / cv
    straight = (energy - u_fresh - y * (u_burned - u_fresh)) * per_cv
    bend = curve * per_cv * straight
    rise = straight * (1 - 0.5 * bend)
    return _Mixture(
        guess + rise,
        gas_constant(block, lane, y),
        per_cv * (1 - bend + 1.5 * bend * bend),
        u_fresh + rise * (cv_fresh + 0.5 * rise * curve_fresh),
        u_burned + rise * (cv_burned + 0.5 * rise * curve_burned),
    )


@merged
def internal_energy(block: Block, lane: int, temperature: float, burned_share: float) -> float:
    """Sensible internal energy of a mixture."""
    fresh, burned = _fresh_terms(block, lane, temperature), _burned_terms(block, lane, temperature)
    return _energy(_blend(fresh, burned, burned_share), temperature)


@merged
def heat_capacity(block: Block, lane: int, temperature: float, burned_share: float) -> float:
    """Heat capacity of a mixture at constant volume."""
    fresh, burned = _fresh_terms(block, lane, temperature), _burned_terms(block, lane, temperature)
    return _energy_slope(_blend(fresh, burned, burned_share), temperature)


@merged
def wall_heat(
    block: Block, lane: int, pressure: float, temperature: float, gas_velocity: float, volume: float
) -> float:
    """Heat to the walls per radian (Woschni 1967, with one temperature each for piston, head and liner)."""
    coefficient = block[at.HEAT_FACTOR + lane] * exponential(
        0.8 * logarithm(pressure * gas_velocity) - 0.55 * logarithm(temperature)
    )
    liner = block[at.LINER_AREA_PER_VOLUME + lane] * volume
    cooled = block[at.FIXED_WALL_HEAT + lane] + liner * block[at.LINER_TEMPERATURE + lane]
    return coefficient * ((block[at.FIXED_WALL_AREA + lane] + liner) * temperature - cooled)


@merged
def valve_area(block: Block, lane: int, port: int, crank_angle: float) -> float:
    """Effective area of the valves of a port over the angular speed; see `boostwright.physics.valve`."""
    z = (crank_angle - block[port + at.LIFT_CENTRE + lane]) * block[port + at.LIFT_SHARPNESS + lane]
    lift = 1 - z * z
    lift = lift if lift > 0 else 0.0
    curtain = block[port + at.CURTAIN_PEAK + lane] * lift * lift
    throat = block[port + at.THROAT + lane]
    return block[port + at.DISCHARGE + lane] * curtain * throat / root(curtain * curtain + throat * throat)


class _FlowTerms(NamedTuple):
    """Flow function of one heat capacity ratio: Psi^2 = y (t0 + t1 y + ...), y = 1 - pressure ratio up to the limit."""

    t0: float
    t1: float
    t2: float
    t3: float
    t4: float
    limit: float


@merged
def flow_terms(heat_capacity_ratio: float) -> _FlowTerms:
    """Square of the flow function as a polynomial, for ratios of heat capacities from 1.22 to 1.42.

    Own fit to the exact law of `boostwright.physics.restriction` between equal pressures and choking; the greatest
    residual of Psi is 1.2e-6, that of the choking pressure ratio 1.2e-7.
    """
    x = heat_capacity_ratio - 1.32
    return _FlowTerms(
        2.000004737 + x * (1.212600287e-07 + x * (4.077305554e-07 - x * 2.079998312e-05)),
        -2.273113640 + x * (1.721806364 + x * (-1.310452967 + x * 1.018864069)),
        8.212256996e-02 + x * (-1.076024401 + x * (1.575513963 - x * 2.101063962)),
        2.709170060e-02 + x * (-3.079437707e-01 + x * (2.900783947e-01 + x * 1.350301402)),
        8.808150048e-02 + x * (-2.465399339e-01 + x * (-2.384242498e-01 - x * 1.078282141)),
        0.457860934 + x * (0.17814852 + x * (-0.063567419 + x * 0.023700772)),
    )


@merged
def port_flow_terms(block: Block, lane: int, port: int) -> _FlowTerms:
    """The same for the gas that a port supplies, as it was stored for the cycle."""
    return _FlowTerms(
        block[port + at.FLOW_TERM_0 + lane],
        block[port + at.FLOW_TERM_1 + lane],
        block[port + at.FLOW_TERM_2 + lane],
        block[port + at.FLOW_TERM_3 + lane],
        block[port + at.FLOW_TERM_4 + lane],
        block[port + at.FLOW_LIMIT + lane],
    )


@merged
def temperature_from_enthalpy(block: Block, lane: int, enthalpy: float, burned_share: float, guess: float) -> float:
    """Temperature at which a mixture has this enthalpy per mass, by three Newton steps from a guess within 500 K."""
    R, near = gas_constant(block, lane, burned_share), guess
    for _ in range(3):
        both = _blend(_fresh_terms(block, lane, near), _burned_terms(block, lane, near), burned_share)
        near += (enthalpy - _energy(both, near) - R * near) / (_energy_slope(both, near) + R)
    return near

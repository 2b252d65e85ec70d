"""Memory of the cycle kernels: a block of sixteen engine cycles side by side, one row a quantity.

A kernel is a loop over the lanes of one block, in which `block[MASS + lane]` is the mass of one of the sixteen. All
rows lie in one array, sixteen numbers apart, so the compiler sees that no lane reaches another and makes vector code.
Flows and rates are per radian of crank angle; energies are sensible, counted from the enthalpy at 298.15 K.
"""

LANES = 16
"""Cycles in a block."""


def _rows(first: int, count: int) -> range:
    return range(first, first + count * LANES, LANES)


# Shape of the cylinder.
(PISTON_AREA, CRANK_RADIUS, ROD_LENGTH, CLEARANCE_VOLUME) = _rows(0, 4)

# Crank angles where one phase ends and the next begins: intake valve shut, burn begins, burn ends, exhaust valve opens,
# bottom centre, first and second of {intake opens, exhaust shuts}, bottom centre, intake valve shut.
PHASES = 8
EVENTS = CLEARANCE_VOLUME + LANES
(PHASE_BEGIN, PHASE_STEP) = _rows(EVENTS + (PHASES + 1) * LANES, 2)  # of the phase under way

# Gases: constants of u = [0] + T ([1] + T ([2] + T ([3] + T ([4] + T [5])))) below 1000 K, and what is to be added to
# them above.
(FRESH_GAS_CONSTANT, BURNED_GAS_CONSTANT) = _rows(PHASE_STEP + LANES, 2)
TERMS = 6
_GASES = BURNED_GAS_CONSTANT + LANES
_WALLS = _GASES + 4 * TERMS * LANES
(FRESH_COLD, FRESH_STEP, BURNED_COLD, BURNED_STEP) = range(_GASES, _WALLS, TERMS * LANES)

# Walls: factor of p^0.8 w^0.8 T^-0.55 over the angular speed, area of piston and head with the sum of area times
# temperature, area of the liner per volume, and the gas velocities of the two states of the valves and of combustion.
(
    HEAT_FACTOR,
    FIXED_WALL_AREA,
    FIXED_WALL_HEAT,
    LINER_AREA_PER_VOLUME,
    LINER_TEMPERATURE,
    EXCHANGE_VELOCITY,
    CLOSED_VELOCITY,
    COMBUSTION_VELOCITY_VOLUME,
) = _rows(_WALLS, 8)

# Burning: inverse of the duration, constants of the curve, heat per mass of fresh charge; factor of the knock rate.
(PER_BURN_DURATION, BURN_COMPLETENESS, BURN_EXPONENT, BURN_SCALE, HEAT_OF_BURNING, KNOCK_RATE_FACTOR) = _rows(
    COMBUSTION_VELOCITY_VOLUME + LANES, 6
)

# Ports: the rows of one port, counted from INTAKE or EXHAUST.
(
    PRESSURE,
    LIFT_CENTRE,
    LIFT_SHARPNESS,
    CURTAIN_PEAK,
    THROAT,
    DISCHARGE,
    SUPPLY_TEMPERATURE,
    SUPPLY_ENTHALPY,
    BURNED_ENTHALPY_STEP,
    PER_HEAT_CAPACITY,
    SUPPLY_HEAT_CAPACITY_RATIO,
    SUPPLY_GAS_CONSTANT,
    SUPPLY_CAPACITY,
    GAS_CONSTANT_STEP,
    FLOW_LIMIT,
    FLOW_TERM_0,
    FLOW_TERM_1,
    FLOW_TERM_2,
    FLOW_TERM_3,
    FLOW_TERM_4,
    INVERSE_PORT_MASS,
    PORT_ENTHALPY,
    PORT_BURNED,
    IN_MASS,
    IN_ENTHALPY,
    IN_BURNED,
    OUT_MASS,
    OUT_ENTHALPY,
    OUT_BURNED,
) = _rows(0, 29)
INTAKE = KNOCK_RATE_FACTOR + LANES
EXHAUST = INTAKE + OUT_BURNED + LANES

# State of the cylinder, and what accumulates over a cycle.
(
    MASS,
    ENERGY,
    BURNED,
    TEMPERATURE,
    GUESS_PRESSURE,
    HEAT_RATE,
    WORK,
    WALL_HEAT,
    GROSS_WORK,
    TRAPPED_MASS,
    RESIDUAL_SHARE,
    PEAK_PRESSURE,
    KNOCK,
    CHEMICAL_ENERGY,
    MOTORED_CONSTANT,
    NODE_PRESSURE,
    NODE_SLOPE,
    END_GAS_TEMPERATURE,
    REFERENCE_MASS,
    PERIOD_CHANGE,
) = _rows(EXHAUST + OUT_BURNED + LANES, 20)

BLOCK_SIZE = PERIOD_CHANGE + LANES
"""Numbers in a block."""
ROWS = BLOCK_SIZE // LANES

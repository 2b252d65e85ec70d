"""The words of this project: one word per thing, with its unit and its meaning.

A public parameter or field in physics, reduction, machine, inference or studies must stand here (a test sees to it).
Quantities are in SI base units with absolute pressures; speeds are turns per second, because displacement is per turn.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Word:
    """One word of the trade: its unit ("-" where it has none), its meaning, and the symbol an equation uses for it."""

    name: str
    unit: str
    meaning: str
    symbol: str = ""


# Quantities: (name, unit, meaning, symbol). Each room adds its lines to its own block, in alphabetical order.

_LOGGED = (  # what a log may carry; these names are the quantities of a campaign
    ("air_mass_flow", "kg/s", "mass flow of moist air into the engine", "m"),
    ("air_temperature", "K", "temperature of the air ahead of the inlet", "T0"),
    ("blower_inlet_pressure", "Pa", "absolute pressure at the blower inlet, behind throttle and elbow", "p1"),
    ("blower_outlet_temperature", "K", "gas temperature at the blower outlet", "T2"),
    ("charge_temperature", "K", "gas temperature after the charge cooler", "T3"),
    ("coolant_temperature", "K", "temperature of the coolant that enters the charge cooler", "Tc"),
    ("engine_speed", "1/s", "crankshaft speed", "N"),
    ("excess_air_ratio", "-", "air-fuel ratio over its stoichiometric value", "lambda"),
    ("fuel_mass_flow", "kg/s", "mass flow of fuel", ""),
    ("ignition_advance", "rad", "crank angle of the spark before top dead centre", ""),
    ("manifold_pressure", "Pa", "absolute pressure in the intake manifold", "p3"),
    ("power", "W", "brake power at the crank or at the roller, as the stand reports it", "P"),
    ("rotor_speed", "1/s", "speed of the blower's driving rotor", "Nb"),
    ("throttle_position", "-", "opening of the throttle, 0 closed to 1 open", ""),
    ("time", "s", "time since the log began", "t"),
    ("torque", "N*m", "brake torque", "T"),
)

_PHYSICS: tuple[tuple[str, str, str, str], ...] = (
    ("amounts", "mol", "amounts of substance of the parts of a mixture", "n"),
    ("carbon_atoms", "-", "carbon atoms in a molecule", ""),
    ("cold_polynomial", "-", "NASA coefficients a1 to a7 of a gas below 1000 K", ""),
    ("downstream_pressure", "Pa", "absolute pressure on the side that a positive flow goes to", "p"),
    ("downstream_temperature", "K", "temperature on the side that a positive flow goes to", ""),
    ("effective_area", "m**2", "discharge coefficient times geometric area", "CdA"),
    ("heat_capacity_ratio", "-", "heat capacity at constant pressure over that at constant volume", "gamma"),
    ("hot_polynomial", "-", "NASA coefficients a1 to a7 of a gas above 1000 K", ""),
    ("humidity_ratio", "kg/kg", "mass of water vapour that goes with one kilogram of dry air", "W"),
    ("hydrogen_atoms", "-", "hydrogen atoms in a molecule", ""),
    ("mass_fractions", "-", "shares by mass of the parts of a mixture", ""),
    ("molar_mass", "kg/mol", "mass of one mole", "M"),
    ("oxygen_atoms", "-", "oxygen atoms in a molecule", ""),
    (
        "polynomial",
        "J/kg/K",
        "NASA coefficients of a gas times its gas constant, the row below 1000 K and the row above",
        "",
    ),
    ("pressure", "Pa", "absolute total pressure of a gas", "p"),
    (
        "relative_humidity",
        "-",
        "vapour pressure over saturation pressure at the same temperature, as a fraction",
        "phi",
    ),
    ("rotating_inertia", "kg*m**2", "moment of inertia of all that turns with the shaft, referred to it", "I"),
    ("shaft_acceleration", "1/s**2", "change of the shaft speed per second", ""),
    ("shaft_speed", "1/s", "turns of a shaft per second", "N"),
    ("specific_gas_constant", "J/kg/K", "gas constant per mass of gas", "R"),
    ("temperature", "K", "temperature of a gas", "T"),
    ("upstream_pressure", "Pa", "absolute stagnation pressure on the side that a positive flow comes from", "p0"),
    ("upstream_temperature", "K", "stagnation temperature on the side that a positive flow comes from", "T0"),
    ("vapour_pressure", "Pa", "partial pressure of the water vapour in moist air", "pw"),
)

_REDUCTION: tuple[tuple[str, str, str, str], ...] = ()

_MACHINE: tuple[tuple[str, str, str, str], ...] = (
    ("ambient_pressure", "Pa", "absolute pressure of the surroundings", "p0"),
    ("belt_efficiency", "-", "power at the blower pulley over power at the crank pulley", ""),
    ("belt_slip", "-", "share by which a belt-driven shaft turns slower than its ratio", ""),
    ("blower_displacement", "m3", "volume that the blower carries per turn of its drive shaft, nothing lost", "Vd"),
    ("blower_drive_power", "W", "power that the blower and its belt take from the crank", ""),
    ("blower_inlet_temperature", "K", "gas temperature at the blower inlet", "T1"),
    ("blower_mass_flow", "kg/s", "mass flow through the blower, what the bypass returns included", ""),
    ("blower_outlet_pressure", "Pa", "absolute pressure at the blower outlet, ahead of the cooler", "p2"),
    ("blower_volumetric_efficiency", "-", "mass flow over displacement, rotor speed and inlet density", "VE"),
    ("brake_power", "W", "power at the crank that is left for the load", ""),
    ("bypass_area", "m2", "discharge coefficient times area of the open bypass from plenum to blower inlet", ""),
    ("bypass_flow", "kg/s", "mass flow through the bypass, from the plenum to the blower inlet", ""),
    ("bypass_opening", "-", "opening of the bypass, 0 closed to 1 open", ""),
    ("compression_ratio", "-", "largest over smallest cylinder volume", "CR"),
    ("cooler_area", "m2", "area in which the loss of the charge cooler would be one dynamic head", "Ac"),
    ("cooler_effectiveness", "-", "cooling of the charge over its greatest possible cooling", "eps"),
    ("cooler_reference_flow", "kg/s", "mass flow at which the transfer units of the cooler are stated", ""),
    ("cooler_transfer_exponent", "-", "transfer units fall with this power of the mass flow", "n"),
    ("cooler_transfer_units", "-", "number of transfer units of the charge cooler at its reference flow", "NTU"),
    ("corrected_speed", "1/s/K**0.5", "rotor speed over the square root of inlet temperature, dry air", "N/sqrt(T1)"),
    ("corrected_speeds", "1/s/K**0.5", "corrected speeds of the rows of a blower map", ""),
    (
        "delivery_factor",
        "-",
        "what the displaced flow of a blower is multiplied by beyond the law, 1 if the law holds",
        "",
    ),
    ("drive_ratio", "-", "turns of the blower drive shaft per turn of the crank, belt slip apart", ""),
    (
        "efficiency_temperature_slope",
        "1/K",
        "share of indicated efficiency lost per kelvin of charge temperature",
        "bT",
    ),
    ("engine_displacement", "m3", "volume that all pistons sweep", "Ve"),
    (
        "engine_volumetric_efficiency",
        "-",
        "air drawn over displacement filled at manifold state, residual gas apart",
        "VE",
    ),
    ("evaporated_share", "-", "share of the fuel that evaporates before the valves close and so acts on filling", "xi"),
    ("exhaust_area", "m2", "area in which the loss of the exhaust system would be one dynamic head", "Ae"),
    ("exhaust_pressure", "Pa", "absolute pressure ahead of the exhaust system", "pe"),
    ("exhaust_temperature", "K", "gas temperature ahead of the exhaust system", ""),
    ("filling_loss", "-", "share of a chamber left unfilled at the speed limit of the blower", "phi"),
    ("flow_residual", "-", "difference of flow fed and flow swallowed that the match leaves, over the flow", ""),
    ("friction_factor", "-", "friction of the engine over that of the standard correlation", "f"),
    ("friction_power", "W", "power lost in the engine's bearings, rings and valve gear", "Pf"),
    ("fuel_molar_mass", "kg/mol", "molar mass of the fuel vapour", ""),
    ("gas_power", "W", "power that the rotors give to the gas", "Pg"),
    ("gas_work_factor", "-", "gas work over the ideal work with internal compression", "kw"),
    ("heat_loss", "W", "heat that leaves a blower through casing and oil, gas and bearings together", "Q"),
    ("heat_loss_share", "-", "share of the gas power that leaves through the casing as heat", ""),
    ("indicated_efficiency_factor", "-", "indicated efficiency over 1 - CR^-0.3", "ki"),
    ("indicated_power", "W", "power that the gas gives to the pistons while the valves are closed", "Pi"),
    (
        "inlet_area",
        "m2",
        "area in which the loss of the inlet from throttle to rotors would be one dynamic head",
        "Ain",
    ),
    ("inlet_density", "kg/m3", "density of the gas at the inlet", "rho1"),
    ("inlet_heating", "K", "warming of the air by the metal of the inlet", ""),
    ("inlet_pressure", "Pa", "absolute pressure at the inlet of the part", "p1"),
    ("inlet_temperature", "K", "gas temperature at the inlet of the part", "T1"),
    ("intake_temperature_exponent", "-", "volumetric efficiency grows with this power of port temperature", "nT"),
    ("internal_step", "-", "turns of the driving rotor per turn of the drive shaft", ""),
    ("internal_volume_ratio", "-", "trapped over outlet-opening volume of a screw chamber; 1 for a roots type", "Vi"),
    ("knock_factor", "-", "knock index over that of the standard correlation", "K0"),
    ("knock_index", "-", "how near to knock: relative to a reference case, never absolute", "KI"),
    ("knock_index_limit", "-", "knock index from which the spark is retarded", ""),
    ("latent_heat", "J/kg", "heat that evaporates the fuel", "hfg"),
    ("leakage_area", "m2", "discharge coefficient times clearance area between outlet and inlet", "CdA"),
    ("leakage_flow", "kg/s", "mass flow back through the rotor clearances", "ml"),
    ("lower_heating_value", "J/kg", "heat of combustion of the fuel, water as vapour", "LHV"),
    ("manifold_pressure_cap", "Pa", "absolute manifold pressure at which the bypass opens", ""),
    ("mass_flow", "kg/s", "mass flow, positive downstream", "m"),
    ("mechanical_heat_share", "-", "share of the mechanical loss of a blower that heats the gas", ""),
    ("mechanical_power", "W", "power lost in bearings, gears and seals", "Pm"),
    ("mechanical_power_at_limit", "W", "power lost in bearings, gears and seals at the speed limit", ""),
    ("octane_number", "-", "research octane number, or its effective value", "ON"),
    ("outcome", "-", "how the search for an operating point ended, a number of `Outcome`", ""),
    ("outlet_pressure", "Pa", "absolute pressure at the outlet of the part", "p2"),
    ("outlet_temperature", "K", "gas temperature at the outlet of the part", "T2"),
    ("peak_cylinder_pressure", "Pa", "highest absolute cylinder pressure of the cycle", "pmax"),
    ("peak_pressure_factor", "-", "peak cylinder pressure over manifold pressure times CR^1.32", ""),
    ("port_temperature", "K", "charge temperature at the inlet valves, fuel evaporated", "Tp"),
    ("pressure_ratio", "-", "absolute outlet pressure over absolute inlet pressure", "PR"),
    ("pressure_ratio_range", "-", "lowest and highest pressure ratio known at each speed of a map", ""),
    ("pressure_ratios", "-", "pressure ratios of the columns of a blower map", ""),
    ("pressure_rise", "Pa", "outlet pressure minus inlet pressure", "dp"),
    ("pumping_power", "W", "power that the gas exchange gives to the pistons", "Pp"),
    ("shaft_power", "W", "power that the drive shaft takes", "P"),
    ("spark_retard", "rad", "crank angle by which the spark is later than the best", ""),
    ("speed_limit", "1/s", "highest rotor speed that the maker of the blower allows", ""),
    ("stoichiometric_air_fuel_ratio", "-", "mass of dry air that burns one mass of fuel completely", "AFR"),
    ("stroke", "m", "travel of the piston from one dead centre to the other", "S"),
    ("throttle_area", "m2", "discharge coefficient times open area of the throttle", ""),
    ("throttle_outlet_pressure", "Pa", "absolute pressure between throttle and inlet casting", ""),
    ("upstream_evaporation", "-", "share of the fuel that evaporates ahead of the blower", ""),
    ("within_range", "-", "1 where the form or the table holds, 0 where it had to be continued", ""),
)

_INFERENCE: tuple[tuple[str, str, str, str], ...] = (
    ("degrees_of_freedom", "-", "independent pieces of information behind an estimated scatter", "nu"),
    ("elapsed", "s", "time at which a pull began, counted within its session", "t"),
    (
        "installation_sd",
        "-",
        "standard deviation of the level that pulls between two changes of setup share",
        "sigma_b",
    ),
    ("level", "-", "typical size of a quantity that is compared on its linear scale, in its own unit", ""),
    ("linear_drift_sd", "1/s", "standard deviation of a steady drift of the level within a session", "tau_t"),
    ("log_parameters", "-", "natural logarithms of the fitted disturbances", "theta"),
    ("log_sd", "-", "standard deviation of the natural logarithm", ""),
    ("median", "-", "value that half of a distribution lies below", ""),
    ("noise_sd", "-", "standard deviation of the independent noise of a speed bin", "sigma_w"),
    ("pull_level_sd", "-", "standard deviation of the level of a pull", "sigma_g"),
    ("random_drift", "1/s**0.5", "standard deviation of a random walk of the level, by the square root of time", "q"),
    ("ripple_length", "1/s", "correlation length of the ripple along engine speed", "l_r"),
    ("ripple_sd", "-", "standard deviation of the ripple inside a pull", "sigma_r"),
    ("session_sd", "-", "standard deviation of the offset between sessions", "sigma_day"),
    ("shape_length", "1/s", "correlation length of the smooth deviation along engine speed", "l_s"),
    ("shape_sd", "-", "standard deviation of the smooth deviation of a pull from its setup's curve", "sigma_s"),
    ("slope", "-", "derivative of a curve by the logarithm of engine speed", "m'"),
    ("soak", "K", "intake temperature just before a pull, above ambient", "T"),
    ("soak_sensitivity", "1/K", "change of the level by soak", "beta"),
    ("soak_sensitivity_sd", "1/K", "standard deviation of the prior of the soak sensitivity", ""),
    ("speed_axis_sd", "-", "standard deviation of the relative error of the speed axis of a pull", "sigma_eps"),
)

_STUDIES: tuple[tuple[str, str, str, str], ...] = ()

# Nouns: things rather than quantities, (name, meaning).

_NOUNS: tuple[tuple[str, str], ...] = (
    ("campaign", "a question, its setups and its pulls, in one folder"),
    ("disturbances", "sizes of what makes two pulls of one setup differ"),
    ("gas", "an ideal gas or mixture of fixed composition"),
    ("gases", "several ideal gases, the parts of a mixture"),
    ("generator", "source of random numbers, always an argument"),
    ("high", "upper end of a 95 % range"),
    ("installation", "number of the installation: the pulls between two changes of setup"),
    ("is_candidate", "whether a pull is of the candidate setup"),
    ("knots", "places between which a curve is drawn piece by piece"),
    ("low", "lower end of a 95 % range"),
    ("name", "what a thing is called"),
    ("nodes", "values and slopes at the crossings of a map's grid"),
    ("order", "when and how the pulls of a campaign were made"),
    ("point", "one row of the table that the match is given"),
    ("points", "rows of the table that the match is given"),
    ("priors", "what is known of the disturbances before the pulls"),
    ("repeatability", "a stand's archived scatter of repeated pulls"),
    ("scaling", "how a default follows size or speed"),
    ("session", "number of the session: the pulls of one day on one stand"),
    ("shape", "shape of an array"),
    ("slopes", "rule that draws the slopes of a curve through given points"),
    ("source", "where a figure comes from"),
    ("species", "one chemical species, or several"),
    ("state", "one row of the table that the match gives back"),
    ("states", "rows of the table that the match gives back"),
    ("table", "rows of numbers in the order that the function names"),
    ("tables", "rows and columns of numbers, one table a quantity"),
    ("value", "the figure itself, in the unit of its word"),
    ("values", "the figures at given places"),
    ("word", "a word of this nomenclature"),
)

WORDS: dict[str, Word] = {
    name: Word(name=name, unit=unit, meaning=meaning, symbol=symbol)
    for block in (_LOGGED, _PHYSICS, _REDUCTION, _MACHINE, _INFERENCE, _STUDIES)
    for name, unit, meaning, symbol in block
} | {name: Word(name=name, unit="-", meaning=meaning) for name, meaning in _NOUNS}

LOGGED_QUANTITIES: tuple[str, ...] = tuple(name for name, *_ in _LOGGED)

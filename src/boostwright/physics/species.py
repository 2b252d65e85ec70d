"""Chemical species of air, fuel vapour and burned gas: atoms, molar mass and NASA seven-coefficient polynomials.

Coefficients: B. J. McBride, S. Gordon and M. A. Reno, Coefficients for Calculating Thermodynamic and Transport
Properties of Individual Species, NASA TM-4513, 1993, as Cantera ships them in nasa_gas.yaml; a test compares every
species with that file. The first row holds from 200 to 1000 K, the second from 1000 to 6000 K.
"""

from dataclasses import dataclass

MOLAR_GAS_CONSTANT = 8.31446261815324
"""Exact in the SI of 2019. [J/mol/K]"""

Row = tuple[float, float, float, float, float, float, float]
"""a1 to a7 of cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4, with a6 for the enthalpy and a7 for the entropy."""


@dataclass(frozen=True, kw_only=True)
class Species:
    """One chemical species as an ideal gas."""

    name: str
    molar_mass: float
    carbon_atoms: int
    hydrogen_atoms: int
    oxygen_atoms: int
    cold_polynomial: Row
    hot_polynomial: Row


NITROGEN = Species(
    name="nitrogen",
    molar_mass=28.014e-3,
    carbon_atoms=0,
    hydrogen_atoms=0,
    oxygen_atoms=0,
    cold_polynomial=(
        3.53100528,
        -0.000123660987,
        -5.02999437e-07,
        2.43530612e-09,
        -1.40881235e-12,
        -1046.97628,
        2.96747468,
    ),
    hot_polynomial=(
        2.95257626,
        0.00139690057,
        -4.92631691e-07,
        7.86010367e-11,
        -4.60755321e-15,
        -923.948645,
        5.87189252,
    ),
)

OXYGEN = Species(
    name="oxygen",
    molar_mass=31.998e-3,
    carbon_atoms=0,
    hydrogen_atoms=0,
    oxygen_atoms=2,
    cold_polynomial=(
        3.78245636,
        -0.00299673415,
        9.847302e-06,
        -9.68129508e-09,
        3.24372836e-12,
        -1063.94356,
        3.65767573,
    ),
    hot_polynomial=(
        3.66096083,
        0.000656365523,
        -1.41149485e-07,
        2.05797658e-11,
        -1.29913248e-15,
        -1215.97725,
        3.41536184,
    ),
)

ARGON = Species(
    name="argon",
    molar_mass=39.95e-3,
    carbon_atoms=0,
    hydrogen_atoms=0,
    oxygen_atoms=0,
    cold_polynomial=(2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491),
    hot_polynomial=(2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491),
)

CARBON_DIOXIDE = Species(
    name="carbon dioxide",
    molar_mass=44.009e-3,
    carbon_atoms=1,
    hydrogen_atoms=0,
    oxygen_atoms=2,
    cold_polynomial=(
        2.35677352,
        0.00898459677,
        -7.12356269e-06,
        2.45919022e-09,
        -1.43699548e-13,
        -48371.9697,
        9.90105222,
    ),
    hot_polynomial=(
        4.63659493,
        0.00274131991,
        -9.95828531e-07,
        1.60373011e-10,
        -9.16103468e-15,
        -49024.9341,
        -1.93534855,
    ),
)

WATER = Species(
    name="water vapour",
    molar_mass=18.015e-3,
    carbon_atoms=0,
    hydrogen_atoms=2,
    oxygen_atoms=1,
    cold_polynomial=(
        4.19864056,
        -0.0020364341,
        6.52040211e-06,
        -5.48797062e-09,
        1.77197817e-12,
        -30293.7267,
        -0.849032208,
    ),
    hot_polynomial=(
        2.67703787,
        0.00297318329,
        -7.7376969e-07,
        9.44336689e-11,
        -4.26900959e-15,
        -29885.8938,
        6.88255571,
    ),
)

CARBON_MONOXIDE = Species(
    name="carbon monoxide",
    molar_mass=28.01e-3,
    carbon_atoms=1,
    hydrogen_atoms=0,
    oxygen_atoms=1,
    cold_polynomial=(
        3.57953347,
        -0.00061035368,
        1.01681433e-06,
        9.07005884e-10,
        -9.04424499e-13,
        -14344.086,
        3.50840928,
    ),
    hot_polynomial=(
        3.04848583,
        0.00135172818,
        -4.85794075e-07,
        7.88536486e-11,
        -4.69807489e-15,
        -14266.1171,
        6.0170979,
    ),
)

HYDROGEN = Species(
    name="hydrogen",
    molar_mass=2.016e-3,
    carbon_atoms=0,
    hydrogen_atoms=2,
    oxygen_atoms=0,
    cold_polynomial=(
        2.34433112,
        0.00798052075,
        -1.9478151e-05,
        2.01572094e-08,
        -7.37611761e-12,
        -917.935173,
        0.683010238,
    ),
    hot_polynomial=(
        2.93286579,
        0.000826607967,
        -1.46402335e-07,
        1.54100359e-11,
        -6.88804432e-16,
        -813.065597,
        -1.02432887,
    ),
)

ISOOCTANE = Species(
    name="isooctane vapour",
    molar_mass=114.232e-3,
    carbon_atoms=8,
    hydrogen_atoms=18,
    oxygen_atoms=0,
    cold_polynomial=(
        0.815737338,
        0.0732643959,
        1.78300688e-05,
        -6.9358962e-08,
        3.21629382e-11,
        -30477.2862,
        24.1509994,
    ),
    hot_polynomial=(
        15.9899273,
        0.055318479,
        -1.95267072e-05,
        3.11779172e-09,
        -1.85312577e-13,
        -35875.7973,
        -60.1161414,
    ),
)

ETHANOL = Species(
    name="ethanol vapour",
    molar_mass=46.069e-3,
    carbon_atoms=2,
    hydrogen_atoms=6,
    oxygen_atoms=1,
    cold_polynomial=(
        4.85868178,
        -0.0037400674,
        6.95550267e-05,
        -8.86541147e-08,
        3.5168443e-11,
        -29996.1309,
        4.80192294,
    ),
    hot_polynomial=(
        6.5628977,
        0.0152034264,
        -5.38922247e-06,
        8.62150224e-10,
        -5.12824683e-14,
        -31525.7984,
        -9.47557644,
    ),
)

METHANOL = Species(
    name="methanol vapour",
    molar_mass=32.042e-3,
    carbon_atoms=1,
    hydrogen_atoms=4,
    oxygen_atoms=1,
    cold_polynomial=(
        5.71539582,
        -0.0152309129,
        6.52441155e-05,
        -7.10806889e-08,
        2.61352698e-11,
        -25642.7656,
        -1.50409823,
    ),
    hot_polynomial=(3.60134486, 0.0102430954, -3.59985517e-06, 5.72505986e-10, -3.3911764e-14, -25997.191, 4.70512253),
)

PROPANE = Species(
    name="propane",
    molar_mass=44.097e-3,
    carbon_atoms=3,
    hydrogen_atoms=8,
    oxygen_atoms=0,
    cold_polynomial=(
        4.2110262,
        0.00171599803,
        7.06183472e-05,
        -9.19594116e-08,
        3.64421372e-11,
        -14381.2106,
        5.60930491,
    ),
    hot_polynomial=(
        6.66789363,
        0.0206120214,
        -7.36553027e-06,
        1.18440761e-09,
        -7.0695321e-14,
        -16274.8521,
        -13.1859503,
    ),
)

METHANE = Species(
    name="methane",
    molar_mass=16.043e-3,
    carbon_atoms=1,
    hydrogen_atoms=4,
    oxygen_atoms=0,
    cold_polynomial=(
        5.14987613,
        -0.0136709788,
        4.91800599e-05,
        -4.84743026e-08,
        1.66693956e-11,
        -10246.6476,
        -4.64130376,
    ),
    hot_polynomial=(
        1.63552643,
        0.0100842795,
        -3.36916254e-06,
        5.34958667e-10,
        -3.15518833e-14,
        -10005.6455,
        9.99313326,
    ),
)

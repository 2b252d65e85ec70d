"""The chambers and ports of a build: what its file says of them, the rest by `CHAMBER_DEFAULTS`."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from boostwright.machine.assumptions import (
    Assumption,
    Numbers,
    Rule,
    Scale,
    complete,
    drawn,
    is_screw,
)
from boostwright.machine.blower import LEAKAGE_AREA
from boostwright.machine.blower import REFERENCE_DISPLACEMENT as SLIP_LAW_DISPLACEMENT
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_defaults import CHAMBER_DEFAULTS, scales_of_size
from boostwright.machine.default import Default
from boostwright.records.build_file import BuildFile

CHAMBER_KEYS = {  # word of the geometry: key path of the build file
    "port_opening_angle": "inlet.port_opening_angle",
    "port_opening_ramp": "inlet.port_opening_ramp",
    "port_closing_angle": "inlet.port_closing_angle",
    "port_closing_ramp": "inlet.port_closing_ramp",
    "port_effective_area": "inlet.port_area",
    "port_inertance": "inlet.port_inertance",
    "tract_effective_area": "inlet.effective_area",
    "tract_length": "inlet.passage_length",
    "plenum_volume": "inlet.plenum_volume",
    "chambers_per_turn": "blower.chambers",
    "sealing_pitches": "blower.sealing_pitches",
    "fill_end_angle": "blower.fill_end_angle",
    "compression_start_angle": "blower.compression_start_angle",
    "discharge_end_angle": "blower.discharge_end_angle",
    "volume_rounding": "blower.volume_rounding",
    "dead_volume_share": "blower.dead_volume_share",
    "outlet_opening_advance": "blower.outlet_opening_advance",
    "outlet_ramp": "blower.outlet_ramp",
    "outlet_effective_area": "blower.outlet_area",
    "tip_leakage_area": "blower.tip_leakage_area",
    "mesh_leakage_area": "blower.mesh_leakage_area",
}
_COUNTS = ("chambers_per_turn", "sealing_pitches")
_CLEARANCES = ("tip_leakage_area", "mesh_leakage_area")
_REDRAWS = 200
_WITHOUT_KEY = {"heat_conductance": 0.0, "wall_temperature_share": 0.5}  # with heat from walls there is no map


def chamber_of(build_file: BuildFile) -> ChamberGeometry:
    """The chambers and ports of a build, per turn of the driving rotor.

    Raises
    ------
    ValueError
        If its ports and chambers do not follow one another as they must.
    """
    numbers = numbers_with_chambers(build_file)
    words = {word: numbers[path] for word, path in CHAMBER_KEYS.items() if word not in _COUNTS}
    return ChamberGeometry(
        blower_displacement=numbers["blower.displacement"] / numbers["drive.internal_step"],
        speed_limit=numbers["blower.speed_limit"],
        internal_volume_ratio=numbers["blower.internal_volume_ratio"],
        chambers_per_turn=round(numbers["blower.chambers"]),
        sealing_pitches=round(numbers["blower.sealing_pitches"]),
        mechanical_power_at_limit=numbers["blower.mechanical_power_at_limit"],
        mechanical_heat_share=numbers["blower.mechanical_heat_share"],
        **words,
        **_WITHOUT_KEY,
    )


def chamber_assumptions(build_file: BuildFile) -> tuple[Assumption, ...]:
    """What was assumed of chambers and ports because the file does not say it."""
    return complete(_sized(build_file), CHAMBER_RULES)[1]


def drawn_with_chambers(build_file: BuildFile, generator: np.random.Generator) -> BuildFile:
    """The same file with everything that it leaves open, chambers and ports too, drawn at random from its range.

    How many chambers there are is not drawn. A draw whose ports and chambers do not follow one another is drawn anew.

    Raises
    ------
    ValueError
        If no draw is possible, as when the file itself leaves no room.
    """
    rest, wrong = drawn(build_file, generator), ""
    sized = _sized(build_file)
    for _ in range(_REDRAWS):
        chambers = drawn(sized, generator, _DRAWN_RULES)
        both = replace(rest, numbers={**chambers.numbers, **rest.numbers})
        try:
            chamber_of(both)
        except ValueError as contradiction:
            wrong = str(contradiction)
        else:
            return both
    raise ValueError(wrong)


def numbers_with_chambers(build_file: BuildFile) -> Numbers:
    """All numbers of a build by key path, chambers and ports too, stated or assumed; what stays out is not known."""
    return complete(_sized(build_file), CHAMBER_RULES)[0]


def states_ports(build_file: BuildFile) -> bool:
    """Whether the file says anything that only the chamber form knows."""
    return not set(CHAMBER_KEYS.values()).isdisjoint(build_file.numbers)


def _sized(build_file: BuildFile) -> BuildFile:
    """The file with all that its own rules assume: the size of the blower among it, which the defaults here ask for."""
    return replace(build_file, numbers=complete(build_file)[0])


def _scale(default: Default) -> Scale:
    def size(numbers: Numbers, _file: BuildFile) -> float:
        displacement, speed_limit = numbers["blower.displacement"], numbers["blower.speed_limit"]
        scales = scales_of_size(displacement / numbers["drive.internal_step"], speed_limit, numbers["blower.chambers"])
        if default.word not in _CLEARANCES:
            return scales[default.scaling]
        usual = LEAKAGE_AREA.value * (displacement / SLIP_LAW_DISPLACEMENT) ** (2.0 / 3.0)
        return scales[default.scaling] * numbers["blower.leakage_area"] / usual  # whoever states the sum has the parts

    return size


def _no_scale(_numbers: Numbers, _file: BuildFile) -> float:
    return 1.0


def _rules() -> Iterator[Rule]:
    for kind, defaults in CHAMBER_DEFAULTS.items():
        for default in defaults:
            if default.word in CHAMBER_KEYS:
                yield Rule(
                    key_path=CHAMBER_KEYS[default.word],
                    default=default,
                    scale=_no_scale if default.word in _COUNTS else _scale(default),
                    applies=is_screw if kind == "screw" else lambda file: not is_screw(file),
                )


CHAMBER_RULES: tuple[Rule, ...] = tuple(_rules())  # the chambers per turn come first: the scales use them
_DRAWN_RULES = tuple(
    replace(rule, default=replace(rule.default, low=rule.default.value, high=rule.default.value))
    if rule.default.word in _COUNTS
    else rule
    for rule in CHAMBER_RULES
)

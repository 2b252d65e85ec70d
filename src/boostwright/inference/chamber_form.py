"""Data with the blower as chambers and ports in place of the slip law, and the chambers that a fit leaves."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostwright.inference.attribution import CHAMBER_CAUSES
from boostwright.inference.calibrate import Calibration, CalibrationData
from boostwright.inference.calibrated_chamber import CalibratedChamber
from boostwright.inference.chain_form import ChainForm
from boostwright.inference.posterior_draws import PosteriorDraws
from boostwright.inference.priors import CHAMBER_PRIOR, Contrast, Known, Points, believed
from boostwright.machine.blower import DRY_AIR_GAS_CONSTANT
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_match import chamber_matched, chamber_points
from boostwright.machine.chamber_ports import PORT_WORDS
from boostwright.machine.chamber_response import REACH, ChamberResponse, chamber_response, port_range
from boostwright.machine.operating_point import OperatingPoints, matched

Floats: TypeAlias = NDArray[np.float64]
Advance: TypeAlias = Callable[[float], None]

SPEEDS, RATIOS = 9, 7
_SLOWER, _FASTER = 0.93, 1.05  # corrected speeds beyond the nominal ones: slip, and warmth of the air
_LOWER, _HIGHER = 0.6, 1.45  # pressure rise likewise
_LEAST_RATIO = 1.02


def silent(share: float) -> None:
    """Nobody wants to know how far the runs of the chambers are."""


def with_chambers(
    data: CalibrationData,
    drawings: Sequence[ChamberGeometry],
    stated: frozenset[str] = frozenset(),
    advance: Advance = silent,
) -> CalibrationData:
    """The same data, to be fitted with the chambers of two drawings: the baseline's and the candidate's.

    Parameters
    ----------
    data : CalibrationData
        Data of the slip law.
    drawings : sequence of ChamberGeometry
        Baseline first. Where both are alike, one response serves both setups.
    stated : frozenset of str
        Words of `PORT_WORDS` that both drawings state rather than take from a default.
    advance : callable
        Is told the share of the chamber runs that is done.
    """
    known = Known(stated=data.known.stated | stated, logged=data.known.logged)
    different = list(dict.fromkeys(drawings))
    nominal = [matched(points) for points in (data.baseline, data.candidate)]
    responses = tuple(
        _response(drawing, nominal, known, _part(advance, number, len(different)))
        for number, drawing in enumerate(different)
    )
    numbers = [different.index(drawing) for drawing in drawings]
    return replace(
        data,
        baseline=chamber_points(data.baseline, drawings[0], numbers[0]),
        candidate=chamber_points(data.candidate, drawings[1], numbers[1]),
        known=known,
        form=ChainForm(
            name="chambers",
            prior=CHAMBER_PRIOR,
            causes=CHAMBER_CAUSES,
            matched=partial(_matched, responses=responses),
            held=partial(_held, responses=responses),
        ),
    )


def _matched(points: Points, responses: Sequence[ChamberResponse]) -> OperatingPoints:
    return chamber_matched(points, responses)


def _held(points: Points, responses: Sequence[ChamberResponse]) -> tuple[str, ...]:
    """Ports at the border of the response of their drawing."""
    ports = np.stack([np.asarray(points[word], float) for word in PORT_WORDS], axis=-1)
    found = [response.range.held(ports[points["drawing"] == number]) for number, response in enumerate(responses)]
    return tuple(dict.fromkeys(word for words in found for word in words))


def _part(advance: Advance, number: int, count: int) -> Advance:
    """The progress of one of several responses."""
    return lambda share: advance((number + share) / count)


def _response(
    drawing: ChamberGeometry, nominal: Sequence[OperatingPoints], known: Known, advance: Advance
) -> ChamberResponse:
    """The response around a drawing, over the speeds and pressure ratios at which the setups run."""
    R, T1 = ([setup[word] for setup in nominal] for word in ("specific_gas_constant", "blower_inlet_temperature"))
    virtual = np.multiply(T1, R) / DRY_AIR_GAS_CONSTANT
    speeds = np.array([setup["rotor_speed"] for setup in nominal]) / np.sqrt(virtual)
    rise = np.array([setup.pressure_ratio for setup in nominal]) - 1
    least = max(1 + _LOWER * float(rise.min()), _LEAST_RATIO)
    angle, *logarithmic = (_reach(word, known) for word in PORT_WORDS)
    return chamber_response(
        drawing,
        port_range(drawing, angle, np.array(logarithmic)),
        np.linspace(_SLOWER * speeds.min(), _FASTER * speeds.max(), SPEEDS),
        np.linspace(least, max(1 + _HIGHER * float(rise.max()), least + 0.2), RATIOS),
        advance,
    )


def _reach(word: str, known: Known) -> float:
    """How far either setup's number may lie from its drawing: the common value and half the difference together."""
    sds = {u.contrast: believed(u, known).sd for u in CHAMBER_PRIOR.unknowns if u.word == word}
    return REACH * float(np.hypot(sds[Contrast.COMMON], sds[Contrast.DIFFERENCE] / 2))


def calibrated_chambers(
    calibration: Calibration, draws: PosteriorDraws, setups: Sequence[str], drawings: Sequence[ChamberGeometry]
) -> tuple[CalibratedChamber, ...]:
    """The chambers of both setups as every draw has them, the baseline first."""
    tables = np.split(calibration.predictor.space.points(draws.vectors), 2, axis=1)
    return tuple(
        CalibratedChamber(setup=setup, drawing=drawing, points=points)
        for setup, drawing, points in zip(setups, drawings, tables, strict=True)
    )

"""The pulls of a campaign explained with the blower as chambers and ports, as the build files draw them."""

from collections.abc import Callable

import numpy as np

from boostwright.errors import DataError, Fault
from boostwright.inference.calibrate import CalibrationData, calibrate
from boostwright.inference.calibrated_chamber import CalibratedChamber
from boostwright.inference.chamber_form import calibrated_chambers, silent, with_chambers
from boostwright.inference.posterior_draws import Sampler, randomised_maximum_likelihood
from boostwright.machine.chamber import ChamberGeometry
from boostwright.machine.chamber_build import CHAMBER_KEYS, chamber_of
from boostwright.machine.chamber_ports import PORT_WORDS
from boostwright.records.build_file import BuildFile, read_build_file
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.studies.explain import DRAW_COUNT, SEED
from boostwright.studies.explain_data import campaign_data


def chamber_data(campaign: Campaign, advance: Callable[[float], None] = silent) -> CalibrationData:
    """Curves of the two setups of a campaign, to be fitted with the chambers that their build files draw.

    `advance` is told the share of the chamber runs that is done: some seconds in all.
    """
    data = campaign_data(campaign)
    files = [_build_file(campaign, setup) for setup in (campaign.baseline, campaign.candidate)]
    return with_chambers(data, [_drawing(file) for file in files], _stated(files), advance)


def campaign_chambers(
    campaign: Campaign,
    sampler: Sampler = randomised_maximum_likelihood,
    advance: Callable[[float], None] = silent,
) -> tuple[CalibratedChamber, ...]:
    """The chamber blowers of both setups as their pulls leave them, the baseline first, at the speeds of the fit."""
    data = chamber_data(campaign, advance)
    calibration = calibrate(data)
    draws = sampler(calibration, DRAW_COUNT, np.random.default_rng(SEED))
    setups = (campaign.baseline, campaign.candidate)
    drawings = [_drawing(_build_file(campaign, setup)) for setup in setups]
    return calibrated_chambers(calibration, draws, setups, drawings)


def _build_file(campaign: Campaign, setup: str) -> BuildFile:
    path = campaign.setups[setup].build
    if path is None:
        problem = "names no build, and its chambers need one"
        remedy = f'write build = "builds/{setup}.toml"'
        raise DataError(str(Fault(file=CAMPAIGN_FILE, key=f"setups.{setup}", problem=problem, remedy=remedy)))
    return read_build_file(campaign.folder / path)


def _drawing(file: BuildFile) -> ChamberGeometry:
    try:
        return chamber_of(file)
    except ValueError as contradiction:
        problem, remedy = str(contradiction), "check the angles of [inlet] and [blower] against the drawing"
        raise DataError(str(Fault(file=file.name, problem=problem, remedy=remedy))) from contradiction


def _stated(files: list[BuildFile]) -> frozenset[str]:
    """Numbers of the ports that both files state."""
    return frozenset(
        word
        for word in PORT_WORDS
        if word in CHAMBER_KEYS and all(CHAMBER_KEYS[word] in file.numbers for file in files)
    )

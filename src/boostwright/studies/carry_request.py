"""What a person types to carry a gain: a campaign, builds, air, speeds, perhaps pulls of the baseline there."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boostwright.errors import DataError, Fault
from boostwright.inference.transfer import BaselineData
from boostwright.machine.build import Build, build_of
from boostwright.records.build_file import read_build_file
from boostwright.records.campaign import Campaign, read_campaign
from boostwright.studies.carry import carry_source
from boostwright.studies.carry_baseline import baseline_data, baseline_weather
from boostwright.studies.carry_target import CarrySource, CarryTarget, carry_target
from boostwright.studies.explain_data import setup_build
from boostwright.studies.match_request import ambient_from_text, speeds_from_text
from boostwright.units import System


@dataclass(frozen=True, kw_only=True)
class CarryRequest:
    """A test, the builds to carry to, the baseline's pulls on the one build, if any, and the units of the campaign."""

    tested: CarrySource
    targets: tuple[CarryTarget, ...]
    pulls_there: BaselineData | None
    units: System


def asked_of(
    folder: Path,
    builds: Sequence[Path],
    ambient: str | None,
    speeds: str | None,
    baseline: Path | None,
    *,
    is_another_specimen: bool = False,
) -> CarryRequest:
    """Read and check everything that is asked, before anything is fitted.

    Raises
    ------
    BoostwrightError
        If a file or a text is wrong, no build is named, or a build has another blower.
    """
    there = None if baseline is None else read_campaign(baseline)
    asked = _builds(builds, there)
    air = None if ambient is None else ambient_from_text(ambient)
    at = None if speeds is None else speeds_from_text(speeds)
    if air is None and there is not None:
        air = baseline_weather(there)
    campaign = read_campaign(folder)
    tested = carry_source(campaign)
    pulls_there = None if there is None else baseline_data(tested, asked[0], there)
    if at is None and pulls_there is not None:
        at = pulls_there.points["engine_speed"]
    other = is_another_specimen or pulls_there is not None
    targets = [carry_target(tested, build, air, at, is_another_specimen=other) for build in asked]
    return CarryRequest(tested=tested, targets=tuple(targets), pulls_there=pulls_there, units=campaign.units)


def _builds(builds: Sequence[Path], there: Campaign | None) -> list[Build]:
    """The builds of the files; with pulls of the baseline there, one, which their campaign may name itself."""
    if there is not None and not builds:
        return [setup_build(there, there.baseline)]
    if not builds:
        problem, remedy = "names no build to carry to", "add --to BUILD.toml, once for each build"
        raise DataError(str(Fault(problem=f"the question {problem}", remedy=remedy)))
    if there is not None and len(builds) > 1:
        problem = f"was pulled on one build, and {len(builds)} are named"
        raise DataError(str(Fault(value="the baseline", problem=problem, remedy="give --to once with --baseline")))
    return [build_of(read_build_file(path)) for path in builds]

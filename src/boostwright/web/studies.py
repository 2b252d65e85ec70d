"""The studies behind the page, asked in a process of their own; what several answers rest on is kept by its content."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from boostwright.errors import BoostwrightError, DataError
from boostwright.inference.calibrate import Calibration
from boostwright.inference.posterior_draws import PosteriorDraws, randomised_maximum_likelihood
from boostwright.machine.assumptions import fuel_of
from boostwright.machine.build import build_of
from boostwright.machine.operating_point import OperatingPoints, Points, ambient_air
from boostwright.publish.document import Paper
from boostwright.publish.map_page import map_page
from boostwright.publish.what_if_page import FUELS, sliders, what_if_page
from boostwright.records.build_file import BuildFile, read_build_file
from boostwright.records.campaign import Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.carry import carry, carry_source
from boostwright.studies.carry_result import CarryResult
from boostwright.studies.carry_target import CarryTarget, carry_target
from boostwright.studies.compare import compare_pairs, question_of, reduced_pulls
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.explain import explain
from boostwright.studies.explain_data import campaign_data
from boostwright.studies.explain_result import ExplainResult
from boostwright.studies.inspect import Inspection
from boostwright.studies.limits import LimitsResult, campaign_limits
from boostwright.studies.match import match_build, round_speeds
from boostwright.studies.run_card import RunCardQuestion, run_card
from boostwright.studies.run_card_result import RunCard
from boostwright.studies.what_if import (
    Basis,
    Setting,
    fitted_points,
    matched_in,
    possible_points,
    range_speeds,
    refuelled,
    tested_setting,
    what_if,
    with_fuel,
)
from boostwright.units import System, parse_unit
from boostwright.web.campaign_view import inspected
from boostwright.web.folder import confined, confined_campaign, content_key, files_of, other_builds
from boostwright.web.models import MapView, WhatIfAsked, WhatIfView
from boostwright.web.workers import Progress, Tell

Result = TypeVar("Result")
MOST_KEPT: Final = 24
_ASKED: Final = (  # a field of the question, its unit, the setting that it is
    ("drive_ratio", "-", "drive_ratio"),
    ("ambient_pressure_kpa", "kPa", "ambient_pressure"),
    ("ambient_pressure_inhg", "inHg", "ambient_pressure"),
    ("air_temperature_degC", "degC", "air_temperature"),
    ("air_temperature_degF", "degF", "air_temperature"),
)


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """An explanation, and the machines of both setups that fit their pulls, for what-ifs."""

    result: ExplainResult
    fitted: Mapping[str, Points]


@dataclass(frozen=True, kw_only=True)
class Carried:
    """A carried gain, and the builds that it cannot be carried to, each with its reason."""

    result: CarryResult | None
    refused: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Publication:
    """A published report: its claim, its grade, its check code, and its files by their kind."""

    sentence: str
    standing: str
    check_code: str
    files: Mapping[str, bytes]


@lru_cache(maxsize=8)
def studies_of(folder: Path) -> "Studies":
    """The studies of a folder."""
    return Studies(folder)


class Studies:
    """What can be asked of one folder; every public method takes whom to tell how far it is."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept: dict[str, Any] = {}

    def inspection(self, tell: Tell, columns: Mapping[str, str] | None) -> Inspection:
        """What is understood of the folder's logs, by its own column rules or by these."""
        tell(Progress(words="Reading the logs"))
        return inspected(self.folder, columns)

    def comparison(self, tell: Tell, quantity: str, units: System) -> CompareResult:
        """The campaign's pair compared in one quantity."""
        return self._results(tell, confined_campaign(self.folder), quantity, units)[0]

    def publication(self, tell: Tell, quantity: str, units: System, paper: Paper) -> Publication:
        """The published report as `boostwright publish` writes it, and its bundle, not signed."""
        from boostwright.publish.bundle import bundle_contents  # draws figures: a second that nobody else needs
        from boostwright.publish.bundle_seal import sealed
        from boostwright.publish.published import ReportRequest
        from boostwright.records.zip_file import zip_bytes

        def told(words: str, share: float) -> None:
            tell(Progress(words=words, share=share))

        campaign = confined_campaign(self.folder)
        made = bundle_contents(campaign, ReportRequest(quantity=quantity, units=units), paper, told)
        opening = made.document.opening
        return Publication(
            sentence=opening.sentence,
            standing=opening.standing,
            check_code=made.document.check_code,
            files={
                "pdf": made.files["report/report.pdf"],
                "html": made.files["report/report.html"],
                "zip": zip_bytes(sealed(made, None)),
            },
        )

    def run_card(self, tell: Tell, quantity: str, asked: RunCardQuestion) -> RunCard:
        """What follows the pulls made so far."""
        campaign = confined_campaign(self.folder)
        pulls = self._pulls(tell, campaign)
        tell(Progress(words="Ranking further pulls by what they would show", share=0.4))
        return run_card(pulls, question_of(campaign, quantity), asked)

    def explanation(self, tell: Tell) -> Explanation:
        """Why the candidate gained."""
        campaign = confined_campaign(self.folder)
        tell(Progress(words=f"Reading {len(campaign.pulls)} pulls", share=0.0))
        data = campaign_data(campaign)
        tell(Progress(words="Fitting the machine to the curves of both setups", share=0.3))
        found: list[tuple[Calibration, PosteriorDraws]] = []

        def sampler(calibration: Calibration, draw_count: int, generator: Any) -> PosteriorDraws:
            tell(Progress(words=f"Fitting it {draw_count} times more, to the curves within their errors", share=0.5))
            draws = randomised_maximum_likelihood(calibration, draw_count, generator)
            found.append((calibration, draws))
            tell(Progress(words="Splitting the gain into its causes", share=0.75))
            return draws

        result = explain(data, campaign.baseline, campaign.candidate, sampler)
        baseline, candidate = fitted_points(*found[0])
        return Explanation(result=result, fitted={campaign.baseline: baseline, campaign.candidate: candidate})

    def limits(self, tell: Tell, setup: str) -> LimitsResult:
        """The limits of a setup as its pulls have determined it, with their chances and what gives room."""
        campaign = confined_campaign(self.folder)
        setup = setup or campaign.candidate
        tell(Progress(words=f"Reading {len(campaign.pulls)} pulls", share=0.0))

        def sampler(calibration: Calibration, draw_count: int, generator: Any) -> PosteriorDraws:
            tell(Progress(words=f"Fitting it {draw_count} times more, to the curves within their errors", share=0.3))
            draws = randomised_maximum_likelihood(calibration, draw_count, generator)
            tell(Progress(words="Holding every limit against the machines that fit", share=0.7))
            return draws

        return campaign_limits(campaign, setup, None, sampler)

    def carried(self, tell: Tell) -> Carried:
        """The gain on every build of the folder that no setup uses; a build that cannot be carried to says why."""
        campaign = confined_campaign(self.folder)
        tell(Progress(words=f"Reading {len(campaign.pulls)} pulls", share=0.0))
        tested = carry_source(campaign)
        targets: list[CarryTarget] = []
        refused: list[tuple[str, str]] = []
        for name in other_builds(self.folder, campaign):
            try:
                targets.append(carry_target(tested, build_of(read_build_file(confined(self.folder, name)))))
            except BoostwrightError as wrong:
                refused.append((Path(name).stem, str(wrong).replace(f"{self.folder}/", "")))
        if not targets:
            return Carried(result=None, refused=tuple(refused))

        def sampler(calibration: Calibration, draw_count: int, generator: Any) -> PosteriorDraws:
            tell(Progress(words=f"Fitting it {draw_count} times more, to the curves within their errors", share=0.3))
            draws = randomised_maximum_likelihood(calibration, draw_count, generator)
            tell(Progress(words="Matching both setups on the other builds", share=0.7))
            return draws

        tell(Progress(words="Fitting the machine to the curves of both setups", share=0.1))
        return Carried(result=carry(tested, targets, None, sampler), refused=tuple(refused))

    def what_if(
        self, tell: Tell, read: tuple[Campaign, str], asked: WhatIfAsked, fitted: Points | None, units: System
    ) -> str:
        """The build of a setup in another setting, as JSON; the campaign and its digest as the server read them."""
        campaign, content = read
        build_file = self._build(campaign, asked.setup, content)
        weather = [pull.weather for pull in campaign.pulls if pull.setup == asked.setup and pull.weather]
        tested = tested_setting(build_file, weather)
        setting = _setting(asked, tested)
        basis = Basis.BUILD if fitted is None else Basis.PULLS

        def points(of: Setting) -> Points:
            if fitted is not None:
                return refuelled(fitted, build_file, of.fuel_blend)
            return self._possible(tell, campaign.speed_range, f"{content} {asked.setup}", build_file, of.fuel_blend)

        def as_tested() -> OperatingPoints:
            return matched_in(points(tested), tested)

        before = self._keep(f"{content} as tested {asked.setup} {basis}", as_tested)
        result = what_if(build_file, before, tested, matched_in(points(setting), setting), setting, basis)
        return WhatIfView(
            setup=asked.setup,
            sliders=sliders(tested, setting, units),
            fuels=list(dict.fromkeys([tested.fuel_blend, *FUELS])),
            tested_fuel=fuel_of(build_file).name,
            page=what_if_page(result, units),
        ).model_dump_json()

    def blower_map(self, tell: Tell, setup: str, units: System) -> str:
        """The map of a setup's blower around the operating line as tested, as JSON."""
        campaign = confined_campaign(self.folder)
        build_file = self._build(campaign, setup, self._key(campaign))
        tell(Progress(words="Drawing the blower map"))
        setting = tested_setting(build_file, [])
        air = ambient_air(setting.ambient_pressure, setting.air_temperature, setting.relative_humidity)
        return MapView(map=map_page(match_build(build_file, round_speeds(build_file), air), units)).model_dump_json()

    def _results(self, tell: Tell, campaign: Campaign, quantity: str, units: System) -> list[CompareResult]:
        pulls = self._pulls(tell, campaign)
        tell(Progress(words="Drawing the gain with its band", share=0.3))
        said = replace(campaign, units=units)
        return self._keep(self._key(campaign, "compare", quantity, units), lambda: compare_pairs(pulls, said, quantity))

    def _pulls(self, tell: Tell, campaign: Campaign) -> Sequence[ReducedPull]:
        read: list[str] = []

        def progress(_: str) -> None:
            read.append("")
            count = len(campaign.pulls)
            words = f"Reading pull {len(read)} of {count}"
            tell(Progress(words=words, share=0.3 * (len(read) - 1) / count))

        return self._keep(self._key(campaign, "pulls"), lambda: reduced_pulls(campaign, progress))

    def _possible(
        self, tell: Tell, speed_range: tuple[float, float], content: str, build_file: BuildFile, blend: str
    ) -> Points:
        tell(Progress(words="Drawing what the build file leaves open"))
        return self._keep(
            f"{content} points {blend}",
            lambda: possible_points(with_fuel(build_file, blend), range_speeds(speed_range)),
        )

    def _build(self, campaign: Campaign, setup: str, content: str) -> BuildFile:
        known = campaign.setups.get(setup)
        if known is None or known.build is None:
            raise DataError(f'setup "{setup}" names no build; write build = "builds/...toml" under its table')
        name = known.build
        return self._keep(f"{content} build {setup}", lambda: read_build_file(confined(self.folder, name)))

    def _keep(self, key: str, work: Callable[[], Result]) -> Result:
        if key not in self._kept:
            self._kept[key] = work()
            while len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]
        return cast("Result", self._kept[key])

    def _key(self, campaign: Campaign, *said: str) -> str:
        return content_key(self.folder, files_of(campaign), *said)


def _setting(asked: WhatIfAsked, tested: Setting) -> Setting:
    """What was said, in SI, and otherwise what was tested."""
    said = {
        name: float(parse_unit(unit).to_si(value))
        for field, unit, name in _ASKED
        if (value := getattr(asked, field)) is not None
    }
    return replace(tested, **said, fuel_blend=asked.fuel_blend or tested.fuel_blend)

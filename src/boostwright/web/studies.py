"""The studies behind the page, each result kept by the content of the files that it was made from."""

from collections.abc import Sequence
from pathlib import Path

from boostwright.errors import DataError
from boostwright.machine.assumptions import fuel_of
from boostwright.machine.operating_point import Points, ambient_air
from boostwright.publish.compare_page import compare_page
from boostwright.publish.compare_report import compare_report
from boostwright.publish.export import gain_csv
from boostwright.publish.identity import identity
from boostwright.publish.map_page import map_page
from boostwright.publish.what_if_page import FUELS, sliders, what_if_page
from boostwright.records.build_file import BuildFile, read_build_file
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.compare import compare_companions, compare_pairs, reduced_pulls
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.match import match_build, round_speeds
from boostwright.studies.what_if import (
    Setting,
    matched_in,
    possible_points,
    range_speeds,
    tested_setting,
    what_if,
    with_fuel,
)
from boostwright.units import parse_unit
from boostwright.web.folder import confined, confined_campaign, content_key, files_of
from boostwright.web.models import CompareView, MapView, WhatIfAsked, WhatIfView
from boostwright.web.work import Workshop


class Studies:
    """What can be asked of one folder; every method may take a while and is called in a thread."""

    def __init__(self, folder: Path, workshop: Workshop) -> None:
        self.folder = folder
        self.workshop = workshop

    def comparison(self, quantity: str) -> CompareView:
        """The campaign's pair compared in one quantity."""
        campaign = confined_campaign(self.folder)
        result = self._results(campaign, quantity)[0]
        return CompareView(result=result.as_json(), page=compare_page(result))

    def csv(self, quantity: str) -> str:
        """The gain curve as a table."""
        return gain_csv(self._results(confined_campaign(self.folder), quantity)[0])

    def report(self, quantity: str) -> str:
        """The report, one file that stands alone."""
        campaign = confined_campaign(self.folder)

        def work() -> str:
            results = self._results(campaign, quantity)
            every = [*results, *compare_companions(self._pulls(campaign), campaign, quantity)]
            files = [CAMPAIGN_FILE, *(entry.file for entry in campaign.pulls)]
            command = f"boostwright compare . --quantity {quantity}"
            return compare_report(every, campaign, identity(self.folder, files, command))

        return self.workshop.kept(self._key(campaign, "report", quantity), work)

    def what_if(self, asked: WhatIfAsked) -> WhatIfView:
        """The build of a setup in another setting."""
        campaign = confined_campaign(self.folder)
        build_file = self._build(campaign, asked.setup)
        weather = [pull.weather for pull in campaign.pulls if pull.setup == asked.setup and pull.weather]
        tested = tested_setting(build_file, weather)
        setting = Setting(
            drive_ratio=_said(asked.drive_ratio, "-", tested.drive_ratio),
            ambient_pressure=_said(asked.ambient_pressure_kpa, "kPa", tested.ambient_pressure),
            air_temperature=_said(asked.air_temperature_degC, "degC", tested.air_temperature),
            relative_humidity=tested.relative_humidity,
            fuel_blend=asked.fuel_blend or tested.fuel_blend,
        )
        before = self.workshop.kept(
            self._key(campaign, "as tested", asked.setup),
            lambda: matched_in(self._points(campaign, asked.setup, build_file, tested), tested),
        )
        after = matched_in(self._points(campaign, asked.setup, build_file, setting), setting)
        result = what_if(build_file, before, tested, after, setting)
        return WhatIfView(
            setup=asked.setup,
            sliders=sliders(tested),
            fuels=list(dict.fromkeys([tested.fuel_blend, *FUELS])),
            tested_fuel=fuel_of(build_file).name,
            page=what_if_page(result),
        )

    def blower_map(self, setup: str) -> MapView:
        """The map of a setup's blower around the operating line as tested."""
        campaign = confined_campaign(self.folder)
        build_file = self._build(campaign, setup)

        def work() -> MapView:
            setting = tested_setting(build_file, [])
            air = ambient_air(setting.ambient_pressure, setting.air_temperature, setting.relative_humidity)
            return MapView(map=map_page(match_build(build_file, round_speeds(build_file), air)))

        return self.workshop.kept(self._key(campaign, "map", setup), work)

    def _results(self, campaign: Campaign, quantity: str) -> list[CompareResult]:
        work = self.workshop
        return work.kept(
            self._key(campaign, "compare", quantity),
            lambda: compare_pairs(self._pulls(campaign), campaign, quantity),
        )

    def _pulls(self, campaign: Campaign) -> Sequence[ReducedPull]:
        return self.workshop.kept(self._key(campaign, "pulls"), lambda: reduced_pulls(campaign))

    def _points(self, campaign: Campaign, setup: str, build_file: BuildFile, setting: Setting) -> Points:
        blend = setting.fuel_blend
        return self.workshop.kept(
            self._key(campaign, "points", setup, blend),
            lambda: possible_points(with_fuel(build_file, blend), range_speeds(campaign.speed_range)),
        )

    def _build(self, campaign: Campaign, setup: str) -> BuildFile:
        known = campaign.setups.get(setup)
        if known is None or known.build is None:
            raise DataError(f'setup "{setup}" names no build; write build = "builds/...toml" under its table')
        name = known.build
        key = self._key(campaign, "build", setup)
        return self.workshop.kept(key, lambda: read_build_file(confined(self.folder, name)))

    def _key(self, campaign: Campaign, *said: str) -> str:
        return content_key(self.folder, files_of(campaign), *said)


def _said(value: float | None, symbol: str, tested: float) -> float:
    """What was said, in SI, or what was tested."""
    return tested if value is None else float(parse_unit(symbol).to_si(value))

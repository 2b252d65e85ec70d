"""A carried gain as a page shows it: a row a build with its intervals, how far it lies from the test, its sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

from boostwright.studies.carry_result import CarriedBuild, CarryResult, Reach
from boostwright.studies.carry_words import build_words, level_words
from boostwright.studies.explain_result import Band
from boostwright.studies.words import signed_plus_minus, speed_span_text
from boostwright.units import System, Unit, display_unit, parse_unit, printed_symbol

_AGAINST = {Reach.TESTED: "as tested", Reach.OUTSIDE: "outside", Reach.FAR: "far outside"}
_PERCENT = parse_unit("%")


@dataclass(frozen=True, kw_only=True)
class PageCarried:
    """One build: means over its range of speeds, each with its 95 % interval, in words."""

    build: str
    span: str
    gain: str
    power_gain: str
    air_gain: str
    boost: str
    power: str
    reach: str
    against: str
    sentence: str
    distance: str
    notes: list[str]


@dataclass(frozen=True, kw_only=True)
class PageRefused:
    """A build that the gain cannot be carried to, and why."""

    build: str
    said: str


@dataclass(frozen=True, kw_only=True)
class CarryPage:
    """A carried gain with all its words; `builds` and `refused` are together all that were asked for."""

    tested: str
    builds: list[PageCarried]
    refused: list[PageRefused]
    warnings: list[str]


def carry_page(result: CarryResult | None, refused: Sequence[tuple[str, str]], units: System) -> CarryPage:
    """Set a carried gain for a page; there is no result where every build was refused."""
    said = [PageRefused(build=build, said=words) for build, words in refused]
    if result is None:
        return CarryPage(tested="", builds=[], refused=said, warnings=[])
    return CarryPage(
        tested=f"On the tested engine {_signed(result.tested_gain, _PERCENT)} of power was measured.",
        builds=[_page_carried(build, (result.baseline, result.candidate), units) for build in result.builds],
        refused=said,
        warnings=list(result.warnings),
    )


def _page_carried(build: CarriedBuild, names: tuple[str, str], units: System) -> PageCarried:
    gains, levels, reach = build.gains, build.baseline, build.distance.furthest
    power, pressure = display_unit("power", units), display_unit("gauge_pressure", units)
    speeds = build.engine_speed
    sentence, distance = build_words(build, names, units)
    return PageCarried(
        build=build.build,
        span=speed_span_text(float(speeds[0]), float(speeds[-1])),
        gain=_signed(gains["brake_power_relative"], _PERCENT),
        power_gain=_signed(gains["brake_power"], power),
        air_gain=_signed(gains["air_mass_flow_relative"], _PERCENT),
        boost=level_words(levels["boost"], pressure),
        power=level_words(levels["brake_power"], power),
        reach=reach.value,
        against=_AGAINST[reach],
        sentence=sentence,
        distance=distance,
        notes=list(build.notes),
    )


def _signed(band: Band, unit: Unit) -> str:
    return signed_plus_minus(band.mean / unit.scale, band.half_width / unit.scale, printed_symbol(unit))

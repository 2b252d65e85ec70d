"""The HTML report of a comparison: one file with its fonts and figures inside, the same bytes for the same result."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.compare_figure import compare_figure
from boostwright.publish.compare_tables import PeakRow, SpeedRow, peak_rows, pull_notes, speed_rows
from boostwright.publish.html_page import environment, picture, style
from boostwright.publish.identity import Identity
from boostwright.publish.why_part import NOT_ASKED, NoWhy, WhyPart
from boostwright.records.campaign import Campaign
from boostwright.reduction.atmosphere import CORRECTION_RULES, NO_CORRECTION
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.verdict import OPEN
from boostwright.studies.words import joined, quantity_words, signed_plus_minus, speed_span_text
from boostwright.units import format_quantity, printed_symbol


@dataclass(frozen=True, kw_only=True)
class _Part:
    """One quantity of the report."""

    result: CompareResult
    words: str
    unit: str
    figure: Markup
    rows: list[SpeedRow]
    peaks: list[PeakRow]
    peak_gain: str


def compare_report(
    results: Sequence[CompareResult], campaign: Campaign, identity: Identity, why: WhyPart | NoWhy = NOT_ASKED
) -> str:
    """Set the report of one campaign; the first result makes the claim, the others follow with figure and table."""
    first = results[0]
    return (
        environment()
        .get_template("compare.html")
        .render(
            campaign=campaign,
            first=first,
            parts=[_part(result) for result in results],
            facts=_facts(campaign, first),
            pulls=pull_notes(first),
            without=_without(first),
            correction_words=_correction_words(first.correction),
            not_shown=_not_shown(results),
            cautions=CAUTIONS,
            identity=identity,
            why=why,
            style=style(),
        )
    )


def figure_svg(result: CompareResult) -> Markup:
    """The figure for a page: SVG that a screen reader announces as one picture with the result's sentence."""
    return picture(compare_figure(result), result.quantity, result.sentence)


def _part(result: CompareResult) -> _Part:
    unit = printed_symbol(result.unit)
    gain = result.peak_gain
    return _Part(
        result=result,
        words=quantity_words(result.quantity),
        unit=unit,
        figure=figure_svg(result),
        rows=speed_rows(result),
        peaks=peak_rows(result),
        peak_gain=signed_plus_minus(gain.value / result.unit.scale, gain.half_width / result.unit.scale, unit),
    )


def _facts(campaign: Campaign, result: CompareResult) -> list[tuple[str, str]]:
    """The line of facts under the claim: stand, days, order of pulls, weather, correction."""
    letters = [("B" if pull.setup == result.candidate else "A", pull.used) for pull in result.pulls]
    order = " ".join(letter if used else f"({letter})" for letter, used in letters)
    return [
        ("Change", f"{result.baseline} (A) to {result.candidate} (B)"),
        ("Stand", f"{campaign.stand.name}, {campaign.stand.kind}"),
        ("Tested", joined(sorted({entry.session for entry in campaign.pulls}))),
        ("Order of pulls", order),
        ("Declared range", speed_span_text(result.range_from, result.range_to)),
        ("Weather", _weather(campaign)),
        ("Correction", "none, as measured" if result.correction == NO_CORRECTION.name else result.correction),
        ("Grade", result.grade),
    ]


def _correction_words(name: str) -> str:
    if name == NO_CORRECTION.name:
        return "no correction to a reference atmosphere is made"
    return f"power and torque are restated by {name} ({CORRECTION_RULES[name].source})"


def _weather(campaign: Campaign) -> str:
    known = [entry.weather for entry in campaign.pulls if entry.weather]
    if not known:
        return "not recorded"

    def span(values: list[float], dimension: str) -> str:
        low, high = (format_quantity(x, dimension=dimension, system=campaign.units) for x in (min(values), max(values)))
        return low if low == high else f"{low.rsplit(' ', 1)[0]}\u2013{high}"

    humidity = [100 * weather.relative_humidity for weather in known]
    return ", ".join((
        span([weather.barometer for weather in known], "pressure"),
        span([weather.air_temperature for weather in known], "temperature"),
        f"{min(humidity):.0f}\u2013{max(humidity):.0f}\u00a0% RH",
    ))  # fmt: skip


def _without(result: CompareResult) -> str:
    """What the average gain would be with the pulls that were left out."""
    other = result.without_dropping
    if other is None:
        return ""
    percent = signed_plus_minus(100 * other.relative_value, 100 * other.relative_half_width, "%")
    now = signed_plus_minus(100 * result.average.relative_value, 100 * result.average.relative_half_width, "%")
    return f"With the pulls that were left out the average gain would read {percent} instead of {now}."


def _not_shown(results: Sequence[CompareResult]) -> list[str]:
    """What a reader might take for shown and is not."""
    lines: list[str] = []
    for result in results:
        open_spans = [
            speed_span_text(part.from_speed, part.to_speed) for part in result.stretches if part.state == OPEN
        ]
        if open_spans:
            lines.append(f"The sign of the difference in {quantity_words(result.quantity)} at {joined(open_spans)}.")
    return [
        *lines,
        "Anything outside the declared range of engine speed.",
        "The same gain on another engine, stand, pulley, fuel or height: nothing of that was tested here.",
        "Ratios to figures from another stand or under another correction rule.",
    ]

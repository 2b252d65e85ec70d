"""The application sheet: the page that a maker prints for dealers, with pulleys, limits, requirements and cautions."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from boostwright.machine.build import Build
from boostwright.machine.operating_point import Ambient
from boostwright.physics.moist_air import ICE_POINT
from boostwright.publish.claim_report import cautions_in
from boostwright.publish.document import (
    Block,
    Bullets,
    Column,
    Document,
    Facts,
    Foot,
    Opening,
    Paragraph,
    Section,
    SmallPrint,
    Table,
)
from boostwright.publish.identity import Identity
from boostwright.publish.limits_blocks import unknown_limits
from boostwright.publish.pulley_tables import chance_text
from boostwright.records.build_file import BuildFile
from boostwright.records.sheet_file import SheetNotes
from boostwright.studies.language import Language
from boostwright.studies.limit_curves import CONFIDENCE, Estimate
from boostwright.studies.pulleys import PulleyChart, PulleyPlace, PulleyRow
from boostwright.studies.requirements import Requirement
from boostwright.studies.words import NO_BREAK, decimals_for, speed_text
from boostwright.units import System, display_unit, printed_symbol


@dataclass(frozen=True, kw_only=True)
class SheetFindings:
    """What a sheet is made from; the requirements are those of the pulley `required`."""

    name: str
    build_file: BuildFile
    build: Build
    chart: PulleyChart
    required: PulleyRow
    requirements: tuple[Requirement, ...]
    notes: SheetNotes
    identity: Identity
    units: System


def application_sheet(findings: SheetFindings, language: Language) -> Document:
    """Write the sheet; the same findings give the same document."""
    return _SheetWriter(findings=findings, language=language).document()


@dataclass(frozen=True, kw_only=True)
class _SheetWriter:
    """Puts the findings of a sheet into the words of one language."""

    findings: SheetFindings
    language: Language

    def document(self) -> Document:
        say, findings = self.language.say, self.findings
        title = findings.notes.title or say("sheet.title", build=findings.name)
        return Document(
            title=title,
            language=self.language.code,
            dated=None,
            opening=Opening(
                kicker=say("sheet.kicker"),
                sentence=self._answer(),
                standing=say("sheet.standing"),
                is_allowed=False,
                blocks=(Facts(rows=self._facts()),),
            ),
            sections=(
                Section(heading=say("sheet.pulleys"), blocks=(self._pulleys(), *self._chart_notes())),
                Section(heading=say("sheet.requirements"), blocks=(*self._requirements(), *self._maker())),
                Section(heading=say("heading.cautions"), blocks=(Bullets(items=cautions_in(self.language)),)),
                Section(heading=say("heading.identity"), blocks=self._identity()),
            ),
            foot=Foot(
                job=title,
                standing=say("sheet.foot"),
                version=f"boostwright {findings.identity.version}",
                check_words=say("report.check_code"),
                page_words=say("report.page"),
                of_words=say("report.of"),
            ),
        )

    def _answer(self) -> str:
        """Which pulley, and what it gives; or that none will do."""
        chart, say = self.findings.chart, self.language.say
        risk = self._risk()
        if chart.chosen is None:
            return say("sheet.answer_none", risk=risk)
        place = chart.chosen.reference
        return say(
            "sheet.answer_largest" if chart.question.target is None else "sheet.answer_target",
            pulley=chart.chosen.pulley.label,
            risk=risk,
            boost=self._plus_minus(place.boost, "gauge_pressure"),
            power=self._plus_minus(place.brake_power, "power"),
            speed=self.language.speed(chart.question.target_speed),
        )

    def _risk(self) -> str:
        risk = self.findings.chart.question.risk
        return self.language.percent(risk, 0 if risk >= 0.01 else 1)

    def _plus_minus(self, estimate: Estimate, dimension: str) -> str:
        unit = display_unit(dimension, self.findings.units)
        return self.language.plus_minus(
            float(unit.from_si(estimate.value)), estimate.half_width / unit.scale, printed_symbol(unit)
        )

    def _facts(self) -> tuple[tuple[str, str], ...]:
        build, question, say = self.findings.build, self.findings.chart.question, self.language.say
        numbers, words, drive = self.findings.build_file.numbers, self.findings.build_file.words, build.drive
        engine = say(
            "sheet.engine_words",
            displacement=self._amount(numbers["engine.displacement"], "volume"),
            cylinders=f"{numbers['engine.cylinders']:.0f}",
            ratio=self.language.number(numbers["engine.compression_ratio"], 1),
        )
        kind = self.language.phrase(words.get("blower.kind", "roots"))
        rows = [
            ("engine", engine),
            ("blower", f"{kind}, {self._amount(numbers['blower.displacement'], 'volume')}"),
            ("crank", say("sheet.not_stated") if drive.driving_pulley is None else self._length(drive.driving_pulley)),
            ("belt", say("sheet.not_stated") if drive.ribs is None else say("sheet.ribs", ribs=str(drive.ribs))),
            ("fuel", build.fuel_system.fuel.name),
            ("mixture", self.language.number(build.fuel_system.excess_air_ratio, 2)),
            ("octane", self._octane()),
            ("reference", self._air(question.reference)),
            ("hot", self._air(question.hot)),
            ("risk", self._risk()),
        ]
        return tuple((say(f"sheet.{name}"), value) for name, value in rows)

    def _octane(self) -> str:
        if "fuel.octane_number" not in self.findings.build.stated:
            return self.language.say("sheet.not_stated")
        return self.language.number(self.findings.build.fuel_system.octane_number)

    def _amount(self, value: float, dimension: str, decimals: int = 1) -> str:
        unit = display_unit(dimension, self.findings.units)
        return f"{self.language.number(float(unit.from_si(value)), decimals)}{NO_BREAK}{printed_symbol(unit)}"

    def _length(self, value: float) -> str:
        return self._amount(value, "length", 0 if self.findings.units == "metric" else 2)

    def _air(self, ambient: Ambient) -> str:
        pressure = self._amount(ambient.ambient_pressure, "pressure")
        warm = ambient.air_temperature - ICE_POINT
        return f"{pressure}, {self._amount(warm + ICE_POINT, 'temperature', 0)}"

    def _pulleys(self) -> Table:
        """The chart: every pulley with boost and power in both places, the first limit, and the risk."""
        say, chart = self.language.say, self.findings.chart
        boost, power = (printed_symbol(display_unit(name, self.findings.units)) for name in ("gauge_pressure", "power"))
        heads = (
            ("pulley", "left", ""),
            ("ratio", "right", ""),
            ("rotor", "right", ""),
            ("boost", "right", boost),
            ("power", "right", power),
            ("hot_boost", "right", boost),
            ("hot_power", "right", power),
            ("first", "left", ""),
            ("chance", "right", ""),
            ("choice", "left", ""),
        )
        return Table(
            caption=say("sheet.caption", speed=self.language.speed(chart.question.target_speed)),
            columns=tuple(
                Column(head=say(f"sheet.column_{name}", unit=unit), side="left" if side == "left" else "right")
                for name, side, unit in heads
            ),
            rows=tuple(self._row(row) for row in chart.rows),
            is_small=True,
        )

    def _row(self, row: PulleyRow) -> tuple[str, ...]:
        chart, language = self.findings.chart, self.language
        choice = "chosen" if row is chart.chosen else "within" if row.chance <= chart.question.risk else "beyond"
        worse = max((row.reference, row.hot), key=lambda place: place.chance)
        return (
            row.pulley.label,
            language.number(row.pulley.drive_ratio, 3),
            speed_text(row.reference.rotor_speed.value),
            self._range(row.reference.boost, "gauge_pressure"),
            self._range(row.reference.brake_power, "power"),
            self._range(row.hot.boost, "gauge_pressure"),
            self._range(row.hot.brake_power, "power"),
            self._first_limit(worse),
            language.numeral(chance_text(row.chance, row.worst.size)),
            language.say(f"sheet.{choice}"),
        )

    def _range(self, estimate: Estimate, dimension: str) -> str:
        """A value with its range, no finer than the range deserves."""
        unit = display_unit(dimension, self.findings.units)
        value, lower, upper = (float(unit.from_si(x)) for x in (estimate.value, estimate.lower, estimate.upper))
        decimals = decimals_for((upper - lower) / 2.0)
        said = [self.language.number(x, decimals) for x in (value, lower, upper)]
        return f"{said[0]} ({said[1]}–{said[2]})"

    def _first_limit(self, place: PulleyPlace) -> str:
        curve, say = place.first_limit, self.language.say
        if curve is None:
            return say("sheet.no_limit_known")
        name = self.language.phrase(curve.name)
        if math.isfinite(curve.reached_by_value):
            ends = (curve.first_speed.lower, curve.first_speed.upper)
            lower, upper = (speed_text(end) if math.isfinite(end) else say("sheet.never") for end in ends)
            return say("sheet.over", name=name, speed=speed_text(curve.reached_by_value), lower=lower, upper=upper)
        left = curve.greatest
        size = self.language.plus_minus(100.0 * (1.0 - left.value), 100.0 * left.half_width, "%")
        return say("sheet.left", name=name, size=size)

    def _chart_notes(self) -> tuple[Block, ...]:
        say, chart = self.language.say, self.findings.chart
        note = say(
            "sheet.chart_note", confidence=self.language.percent(CONFIDENCE), draws=str(chart.rows[0].worst.size)
        )
        warnings = chart.warnings[1:] if chart.unknown else chart.warnings  # the first names what is not known
        unknown = unknown_limits(chart.rows[0].reference.limits, self.language)
        return (SmallPrint(text=" ".join((note, *warnings))), *unknown)

    def _requirements(self) -> tuple[Block, ...]:
        said = self.language.say("sheet.required", pulley=self.findings.required.pulley.label)
        by_volume = self.findings.units == "metric"  # the US trade rates fuel pumps by mass, the metric one by volume
        other = "fuel mass flow" if by_volume else "fuel flow"
        rows = tuple(self._requirement(asked) for asked in self.findings.requirements if asked.name != other)
        return (Paragraph(text=said), Facts(rows=rows))

    def _requirement(self, asked: Requirement) -> tuple[str, str]:
        unit = printed_symbol(display_unit(asked.dimension, self.findings.units))
        absolute = " abs" if asked.dimension == "pressure" else ""
        return self.language.phrase(asked.name), f"{self._range(asked.greatest, asked.dimension)} {unit}{absolute}"

    def _maker(self) -> tuple[Block, ...]:
        """The maker's own notes, word for word, or that there are none."""
        notes = self.findings.notes.notes
        if not notes:
            return (Paragraph(text=self.language.say("sheet.no_notes")),)
        return (SmallPrint(text=self.language.say("sheet.maker")), Facts(rows=notes))

    def _identity(self) -> tuple[Block, ...]:
        say, identity = self.language.say, self.findings.identity
        made = say("identity.made_sheet", version=identity.version, command=identity.command)
        digests = [f"{name}: SHA-256 {digest}" for name, digest in identity.inputs]
        return (SmallPrint(text=made), *(SmallPrint(text=digest) for digest in digests), *self._kept_english())

    def _kept_english(self) -> Sequence[Block]:
        note = self.language.say("identity.untranslated")
        return (SmallPrint(text=note),) if note else ()

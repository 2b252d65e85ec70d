"""The report of a claim: what may be said, how it was tested, what it rests on and what was not shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from boostwright.publish.cautions import CAUTIONS
from boostwright.publish.compare_figure import compare_plots
from boostwright.publish.compare_tables import peak_rows, speed_rows
from boostwright.publish.document import (
    Block,
    Bullets,
    Column,
    Document,
    Facts,
    Foot,
    Opening,
    Paragraph,
    Picture,
    Section,
    SmallPrint,
    Table,
)
from boostwright.publish.figure_style import svg
from boostwright.publish.identity import Identity
from boostwright.records.campaign import Campaign, PullEntry
from boostwright.reduction.atmosphere import CORRECTION_RULES, NO_CORRECTION
from boostwright.studies import verdict
from boostwright.studies.claim import (
    CLAIMED,
    Claim,
    ClaimRequest,
    claim_of,
    claimed_gain,
    largest_gain,
    refuse_what_no_pulls_join,
)
from boostwright.studies.compare_result import CompareResult, Crossover, FittedInterval, Interval, Sensitivity
from boostwright.studies.language import Language
from boostwright.studies.words import NO_BREAK, decimals_for, signed
from boostwright.units import display_unit, printed_symbol


@dataclass(frozen=True, kw_only=True)
class Findings:
    """What a report is made from: the comparison that is claimed, what else was compared, and its identity.

    `companions` are other quantities of the same pair, `others` the same quantity of other pairs of setups. What stands
    on causes, other engines and limits comes from their own studies, or says that these were not run.
    """

    campaign: Campaign
    claimed: CompareResult
    companions: tuple[CompareResult, ...]
    others: tuple[CompareResult, ...]
    identity: Identity
    request: ClaimRequest
    why: tuple[Block, ...]
    elsewhere: tuple[Block, ...]
    limits: tuple[Block, ...]


def claim_report(findings: Findings, language: Language) -> Document:
    """Write the report; the same findings give the same document.

    Raises
    ------
    DataError
        If no pulls join the days or stands that the claim would cross, or it names a speed that was not measured.
    """
    for result in (findings.claimed, *findings.others):
        refuse_what_no_pulls_join(result)
    writer = _Writer(findings=findings, language=language)
    claim = claim_of(findings.claimed, findings.request, language)
    return Document(
        title=findings.campaign.title,
        language=language.code,
        dated=_last_pull(findings.campaign),
        opening=writer.opening(claim),
        sections=writer.sections(),
        foot=writer.foot(claim),
    )


def _last_pull(campaign: Campaign) -> datetime:
    return max(entry.started for entry in campaign.pulls)


@dataclass(frozen=True, kw_only=True)
class _Writer:
    """Puts findings into the words of one language."""

    findings: Findings
    language: Language

    @property
    def _claimed(self) -> CompareResult:
        return self.findings.claimed

    def opening(self, claim: Claim) -> Opening:
        say, result = self.language.say, self._claimed
        sentence = self.sentence(result)
        return Opening(
            kicker=say("report.kicker"),
            sentence=claim.sentence,
            standing=self._standing(claim),
            is_allowed=claim.is_allowed,
            blocks=(Paragraph(text=sentence), Facts(rows=self._facts()), self.picture(result)),
        )

    def sections(self) -> tuple[Section, ...]:
        say, findings = self.language.say, self.findings
        sections = [
            Section(heading=say("heading.measured"), blocks=self._measured(), starts_page=True),
            self._speeds(findings.claimed),
            Section(heading=say("heading.limits"), blocks=findings.limits),
            Section(heading=say("heading.rests"), blocks=self._method()),
            Section(heading=say("heading.not_shown"), blocks=(Bullets(items=self._not_shown()),)),
            Section(heading=say("heading.why"), blocks=findings.why),
            Section(heading=say("heading.elsewhere"), blocks=findings.elsewhere),
            *(self._companion(result) for result in findings.companions),
            *self._others(),
            Section(heading=say("heading.cautions"), blocks=(Bullets(items=cautions_in(self.language)),)),
            Section(heading=say("heading.identity"), blocks=self._identity()),
        ]
        return tuple(sections)

    def foot(self, claim: Claim) -> Foot:
        say, grade = self.language.say, self.language.phrase(self._claimed.grade)
        return Foot(
            job=self.findings.campaign.title,
            standing=say("report.foot_allowed") if claim.is_allowed else say("report.foot_refused", grade=grade),
            version=f"boostwright {self.findings.identity.version}",
            check_words=say("report.check_code"),
            page_words=say("report.page"),
            of_words=say("report.of"),
        )

    def sentence(self, result: CompareResult) -> str:
        """What the band shows, in the language of the report."""
        return verdict.sentence(
            parts=result.stretches,
            average=result.average,
            curves=result.curves,
            speed_range=(result.range_from, result.range_to),
            names=(result.baseline, result.candidate, result.quantity.replace("_", " ")),
            unit=result.unit,
            evidence=result.evidence,
            language=self.language,
        )

    def picture(self, result: CompareResult) -> Picture:
        """Both curves and the gain, under the verdict."""
        return Picture(
            verdict=verdict.headline(result.stretches, result.curves, result.evidence, self.language),
            svg=svg(compare_plots(result)),
            spoken=self.sentence(result),
        )

    def _standing(self, claim: Claim) -> str:
        """What the sentence on the first page may be taken for."""
        result, say = self._claimed, self.language.say
        if result.quantity not in CLAIMED:
            return say("standing.not_claimable")
        if result.grade != "publishable":
            grade, reason = self.language.phrase(result.grade), self.language.phrase(result.grade_reason)
            return say("standing.not_publishable", grade=grade, reason=reason)
        if not claim.is_allowed:
            return say("standing.no_gain")
        return say(
            "standing.allowed",
            baseline=result.baseline,
            candidate=result.candidate,
            baseline_pulls=self.language.pulls(result.evidence.baseline_pulls),
            candidate_pulls=str(result.evidence.candidate_pulls),
            installations=str(result.evidence.installations),
        )

    def _facts(self) -> tuple[tuple[str, str], ...]:
        """The job table."""
        result, campaign, say = self._claimed, self.findings.campaign, self.language.say
        claimed = claimed_gain(result, self.findings.request)
        correction = say("fact.no_correction") if campaign.correction == NO_CORRECTION.name else campaign.correction
        rows = [
            ("change", say("fact.change_words", baseline=result.baseline, candidate=result.candidate)),
            ("stand", self._stand()),
            ("tested", self._days()),
            ("order", self._order()),
            ("weather", self._weather()),
            ("correction", correction),
            ("range", self.language.speed_span(result.range_from, result.range_to)),
            ("gain", self._interval(result.average)),
            ("largest", self._between(largest_gain(result.curves))),
            *([] if claimed is result.average else [("claimed", self._between(claimed))]),
            ("confidence", self.language.percent(result.confidence)),
            ("grade", self.language.phrase(result.grade)),
        ]
        return tuple((say(f"fact.{name}"), value) for name, value in rows)

    def _interval(self, gain: Interval) -> str:
        unit = self._claimed.unit
        percent = self.language.signed_plus_minus(100.0 * gain.relative_value, 100.0 * gain.relative_half_width, "%")
        amount = self.language.signed_plus_minus(
            gain.value / unit.scale, gain.half_width / unit.scale, printed_symbol(unit)
        )
        return f"{percent} ({amount})"

    def _between(self, gain: Interval) -> str:
        """An interval by its ends, for a value that was picked and whose estimate alone would mislead."""
        digits = max(1, decimals_for(100.0 * gain.relative_half_width))
        lower, upper = (
            self.language.numeral(signed(100.0 * end, digits)) for end in (gain.relative_lower, gain.relative_upper)
        )
        return self.language.say("fact.between", lower=lower, upper=f"{upper}{NO_BREAK}%")

    def _stand(self) -> str:
        stand = self.findings.campaign.stand
        kind = self.language.phrase(stand.kind)
        return f"{stand.name}, {kind}" if stand.name else self.language.say("fact.no_stand_name", kind=kind)

    def _days(self) -> str:
        return self.language.joined(sorted({self._entry(pull.file).session for pull in self._claimed.pulls}))

    def _order(self) -> str:
        letters = [("B" if pull.setup == self._claimed.candidate else "A", pull.used) for pull in self._claimed.pulls]
        return " ".join(letter if used else f"({letter})" for letter, used in letters)

    def _entry(self, file: str) -> PullEntry:
        return next(entry for entry in self.findings.campaign.pulls if entry.file == file)

    def _amount(self, value: float, dimension: str, decimals: int = 1) -> str:
        unit = display_unit(dimension, self.findings.campaign.units)
        return f"{self.language.number(float(unit.from_si(value)), decimals)}{NO_BREAK}{printed_symbol(unit)}"

    def _weather(self) -> str:
        entries = [self._entry(pull.file) for pull in self._claimed.pulls]
        known = [entry.weather for entry in entries if entry.weather is not None]
        if not known:
            return self.language.say("fact.no_weather")

        def span(values: Sequence[float], dimension: str) -> str:
            low, high = self._amount(min(values), dimension), self._amount(max(values), dimension)
            return low if low == high else f"{low.split(NO_BREAK)[0]}–{high}"

        humidity = [weather.relative_humidity for weather in known]
        low, high = self.language.number(100.0 * min(humidity)), self.language.percent(max(humidity))
        return ", ".join((
            span([weather.barometer for weather in known], "pressure"),
            span([weather.air_temperature for weather in known], "temperature"),
            f"{low}–{high} {self.language.say('unit.humidity')}",
        ))  # fmt: skip

    def _measured(self) -> tuple[Block, ...]:
        result, campaign, say = self._claimed, self.findings.campaign, self.language.say
        total = self.language.pulls(len(result.pulls))
        key = "measured.intro_all" if all(pull.used for pull in result.pulls) else "measured.intro"
        said = [say(key, total=total, stand=self._stand(), days=self._days(), order=self._order())]
        said.append(say("measured.installations", installations=str(result.evidence.installations)))
        if campaign.correction == NO_CORRECTION.name:
            said.append(say("measured.correction_none"))
        else:
            source = CORRECTION_RULES[campaign.correction].source
            said.append(say("measured.correction", rule=campaign.correction, source=source))
        inertia = campaign.stand.rotating_inertia
        said.append(
            say("measured.inertia", inertia=self._amount(inertia, "inertia", 2))
            if inertia
            else say("measured.no_inertia")
        )
        blocks: list[Block] = [Paragraph(text=" ".join(said)), self._pulls(), self._air()]
        if result.without_dropping is not None:
            other, now = self._interval(result.without_dropping), self._interval(result.average)
            blocks.append(Paragraph(text=say("measured.without", other=other, now=now)))
        if result.warnings:
            blocks += [Paragraph(text=say("heading.warnings") + ":"), Bullets(items=result.warnings)]
        return tuple(blocks)

    def _pulls(self) -> Table:
        say = self.language.say
        heads = ("column_file", "column_setup", "column_started", "column_done", "column_masked")
        rows: list[tuple[str, ...]] = []
        for pull in self._claimed.pulls:
            done = "pull_left_out" if not pull.used else "pull_kept" if pull.fault else "pull_used"
            words = [f"{amount} {self.language.phrase(reason)}" for reason, amount in pull.masked]
            rows.append((
                pull.file,
                pull.setup,
                self._entry(pull.file).started.strftime("%Y-%m-%d %H:%M"),
                say(f"table.{done}", fault=pull.fault or ""),
                ", ".join(words) or say("table.nothing_masked"),
            ))  # fmt: skip
        columns = tuple(Column(head=say(f"table.{head}"), side="left") for head in heads)
        return Table(caption=say("table.pulls"), columns=columns, rows=tuple(rows), is_small=True)

    def _air(self) -> Table:
        """The air that each pull breathed, and what the correction made of it."""
        say, system = self.language.say, self.findings.campaign.units
        pressure, temperature = (printed_symbol(display_unit(name, system)) for name in ("pressure", "temperature"))
        heads = (
            say("table.column_barometer", unit=pressure),
            say("table.column_air", unit=temperature),
            say("table.column_humidity"),
            say("table.column_soak", unit=temperature),
            say("table.column_factor"),
        )
        columns = (Column(head=say("table.column_file"), side="left"), *(Column(head=head) for head in heads))
        rows: list[tuple[str, ...]] = []
        for pull in self._claimed.pulls:
            entry = self._entry(pull.file)
            weather, soak = entry.weather, entry.soak_temperature
            air = (
                (
                    self._figure(weather.barometer, "pressure"),
                    self._figure(weather.air_temperature, "temperature"),
                    self.language.number(100.0 * weather.relative_humidity),
                )
                if weather
                else ("–", "–", "–")
            )
            warm = "–" if soak is None else self._figure(soak, "temperature")
            rows.append((pull.file, *air, warm, self.language.number(pull.correction_factor, 4)))
        return Table(caption=say("table.weather"), columns=columns, rows=tuple(rows), is_small=True)

    def _figure(self, value: float, dimension: str) -> str:
        return self._amount(value, dimension).split(NO_BREAK)[0]

    def _speeds(self, result: CompareResult) -> Section:
        quantity = self.language.quantity(result.quantity)
        heading = self.language.say("heading.speeds", quantity=quantity[0].upper() + quantity[1:])
        return Section(heading=heading, blocks=self._speed_tables(result))

    def _speed_tables(self, result: CompareResult) -> tuple[Block, ...]:
        say, numeral, unit = self.language.say, self.language.numeral, printed_symbol(result.unit)
        quantity = self.language.quantity(result.quantity)
        columns = (
            Column(head=say("table.column_speed"), side="left"),
            Column(head=f"{result.baseline}, {unit}"),
            Column(head=f"{result.candidate}, {unit}"),
            Column(head=say("table.column_gain", unit=unit)),
            Column(head=say("table.column_gain", unit="%")),
            Column(head=say("table.column_shown"), side="left"),
        )
        rows = tuple(
            (
                row.engine_speed,
                numeral(row.baseline),
                numeral(row.candidate),
                numeral(f"{row.gain}{NO_BREAK}±{NO_BREAK}{row.half_width}"),
                numeral(f"{row.percent}{NO_BREAK}±{NO_BREAK}{row.percent_half_width}"),
                self.language.phrase(row.state),
            )
            for row in speed_rows(result)
        )
        confidence = self.language.percent(result.confidence)
        caption = say("table.speeds", quantity=quantity[0].upper() + quantity[1:], confidence=confidence)
        return (Table(caption=caption, columns=columns, rows=rows), self._peaks(result))

    def _peaks(self, result: CompareResult) -> Table:
        say, numeral, unit = self.language.say, self.language.numeral, result.unit
        gain, symbol = result.peak_gain, printed_symbol(unit)
        amount = self.language.signed_plus_minus(gain.value / unit.scale, gain.half_width / unit.scale, symbol)
        columns = (
            Column(head=say("table.column_setup"), side="left"),
            Column(head=say("table.column_peak")),
            Column(head=say("table.column_at")),
            Column(head=say("table.column_pressure")),
            Column(head=say("table.column_rotor")),
        )
        rows = tuple(
            (row.setup, numeral(row.value), row.engine_speed, numeral(row.manifold_pressure), row.rotor_speed)
            for row in peak_rows(result)
        )
        quantity = self.language.quantity(result.quantity)
        return Table(
            caption=say("table.peaks", quantity=quantity, difference=amount),
            columns=columns,
            rows=rows,
        )

    def _companion(self, result: CompareResult) -> Section:
        heading = self.language.say("heading.also", quantity=self.language.quantity(result.quantity))
        blocks = (Paragraph(text=self.sentence(result)), self.picture(result), *self._speed_tables(result))
        return Section(heading=heading, blocks=blocks)

    def _others(self) -> tuple[Section, ...]:
        if not self.findings.others:
            return ()
        items = tuple(self.sentence(result) for result in self.findings.others)
        return (Section(heading=self.language.say("heading.others"), blocks=(Bullets(items=items),)),)

    def _method(self) -> tuple[Block, ...]:
        result, say = self._claimed, self.language.say
        confidence = self.language.percent(result.confidence)
        said = [
            say("method.reduced"),
            say("method.alone"),
            say("method.gain"),
            say("method.band", confidence=confidence),
            say("method.claim"),
        ]
        shown = [say("method.bounds", bounds=verdict.bounds_words(result.curves, self.language))]
        shown += [self._crossing(crossing) for crossing in result.crossovers] or [say("method.no_crossing")]
        found = result.sensitivity
        shown += [] if found is None else [*self._shape(found), *self._drift(found)]
        sources = Table(
            caption=say("table.sources"),
            columns=(Column(head=say("table.column_source"), side="left"), Column(head=say("table.column_share"))),
            rows=tuple(
                (self.language.phrase(name), self.language.percent(share)) for name, share in result.uncertainty_shares
            ),
        )
        return (Paragraph(text=" ".join(said)), Paragraph(text=" ".join(shown)), sources)

    def _drift(self, found: Sensitivity) -> list[str]:
        """What drift and heat soak do to the average."""
        say = self.language.say
        said = [
            say("method.drift", session=drift.session, size=self._fitted(drift.interval, 3600.0))
            for drift in found.drift
        ]
        if found.soak is not None:
            said.append(say("method.soak", size=self._fitted(found.soak, 1.0)))
        return [*said, say("method.without_drift", size=self._fitted(found.without_drift, 1.0))]

    def _fitted(self, interval: FittedInterval, scale: float) -> str:
        half = (interval.upper - interval.lower) / 2.0
        return self.language.signed_plus_minus(100.0 * scale * interval.estimate, 100.0 * scale * half, "%")

    def _shape(self, found: Sensitivity) -> list[str]:
        """Where the gain lies above or below its own average, which holds though its level may be in doubt."""
        said: list[str] = []
        for state, key in (("above its average", "method.shape_above"), ("below its average", "method.shape_below")):
            parts = [part for part in found.shape if part.state == state]
            if parts:
                spans = [self.language.speed_span(part.from_speed, part.to_speed) for part in parts]
                said.append(self.language.say(key, spans=self.language.joined(spans)))
        return said

    def _crossing(self, crossing: Crossover) -> str:
        return self.language.say(
            "method.crossing",
            direction=self.language.phrase(crossing.direction),
            speed=self.language.speed(crossing.engine_speed),
            span=self.language.speed_span(crossing.lower, crossing.upper),
        )

    def _not_shown(self) -> tuple[str, ...]:
        """What a reader might take for shown and is not."""
        say, result = self.language.say, self._claimed
        lines: list[str] = []
        for each in (result, *self.findings.companions):
            spans = [
                self.language.speed_span(p.from_speed, p.to_speed) for p in each.stretches if p.state == verdict.OPEN
            ]
            if spans:
                quantity = self.language.quantity(each.quantity)
                lines.append(say("not_shown.sign", quantity=quantity, spans=self.language.joined(spans)))
        if not self.findings.companions and result.quantity != "boost":
            lines.append(say("missing.boost"))
        lines.append(say("not_shown.outside", span=self.language.speed_span(result.range_from, result.range_to)))
        return (*lines, *(say(f"not_shown.{key}") for key in ("elsewhere", "rules", "peak", "cause")))

    def _identity(self) -> tuple[Block, ...]:
        say, identity = self.language.say, self.findings.identity
        inputs = Table(
            caption=say("table.inputs"),
            columns=(
                Column(head=say("table.column_file"), side="left"),
                Column(head=say("table.column_digest"), side="left"),
            ),
            rows=identity.inputs,
            is_small=True,
        )
        made = say("identity.made", version=identity.version, command=identity.command)
        return (SmallPrint(text=made), SmallPrint(text=say("identity.code")), inputs, *self._kept_english())

    def _kept_english(self) -> tuple[Block, ...]:
        note, units = self.language.say("identity.untranslated"), self.language.say("elsewhere.units")
        notes = [note] if note else []
        notes += [units] if self.findings.campaign.units == "us" else []
        return tuple(SmallPrint(text=text) for text in notes)


def cautions_in(language: Language) -> tuple[str, ...]:
    """The cautions that every report carries, in a language."""
    return tuple(language.phrase(caution) for caution in CAUTIONS)

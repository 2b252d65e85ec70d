"""From a campaign to the document of its report; same files, version and request, same document."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeAlias

from boostwright.publish.carry_blocks import carried_blocks
from boostwright.publish.claim_report import Findings, claim_report
from boostwright.publish.document import Block, Document, Paragraph
from boostwright.publish.identity import Identity, digest, identity
from boostwright.publish.limits_blocks import tested_limits
from boostwright.publish.why_blocks import explanation
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.claim import AVERAGE, ClaimRequest
from boostwright.studies.compare import compare_pairs, compare_setups, question_of, reduced_pulls
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.explain_result import ExplainResult
from boostwright.studies.language import Language, language
from boostwright.units import System

Tell: TypeAlias = Callable[[str, float], None]
"""Who is told what is being done, and the share of the whole that is behind it."""


def untold(_: str, __: float) -> None:
    """Tell nobody."""


@dataclass(frozen=True, kw_only=True)
class Published:
    """A document with the results that it says; `explained` is missing where nothing could or should be explained."""

    document: Document
    claimed: CompareResult
    others: tuple[CompareResult, ...]
    companions: tuple[CompareResult, ...]
    explained: ExplainResult | None


@dataclass(frozen=True, kw_only=True)
class ReportRequest:
    """What is to be published: the quantity and the claim, for which reader, with the model or not."""

    quantity: str = "power"
    claim: ClaimRequest = AVERAGE
    units: System = "metric"
    language: str = "en"
    with_model: bool = True
    carry_to: tuple[Path, ...] = ()

    def command(self, campaign: Campaign) -> str:
        """The command that makes the same report again, in the folder of the campaign."""
        said = ["boostwright publish ."]
        if self.quantity != "power":
            said.append(f"--quantity {self.quantity}")
        if self.claim != AVERAGE:
            said.append(f'--claim "{self.claim}"')
        said.append(f"--units {self.units}")
        if self.language != "en":
            said.append(f"--language {self.language}")
        said += [] if self.with_model else ["--no-model"]
        return " ".join([*said, *(f"--to {within(campaign, path)}" for path in self.carry_to)])


def campaign_document(campaign: Campaign, request: ReportRequest) -> Document:
    """Compute and write the report of a campaign; same files, version and request, same document.

    Raises
    ------
    DataError
        If the claim would cross correction rules, days or stands, or a setup or a quantity is not there.
    """
    return pulls_document(campaign, reduced_pulls(campaign), request)


def pulls_document(campaign: Campaign, pulls: Sequence[ReducedPull], request: ReportRequest) -> Document:
    """Write the report of a campaign from pulls that are reduced already."""
    return published(campaign, pulls, request).document


def published(
    campaign: Campaign, pulls: Sequence[ReducedPull], request: ReportRequest, tell: Tell = untold
) -> Published:
    """The report of a campaign from pulls that are reduced already, with the results that it says."""
    campaign, words = replace(campaign, units=request.units), language(request.language)
    tell("Comparing the pulls", 0.05)
    claimed, *others = compare_pairs(pulls, campaign, request.quantity)
    explained, why, limits = _why_and_limits(campaign, pulls, words, tell, is_asked=request.with_model)
    tell("Setting what it does elsewhere, and the report", 0.8)
    findings = Findings(
        campaign=campaign,
        claimed=claimed,
        companions=_companions(campaign, pulls, request.quantity),
        others=tuple(others),
        identity=_identity(campaign, request),
        request=request.claim,
        why=why,
        elsewhere=_elsewhere(campaign, request, words),
        limits=limits,
    )
    return Published(
        document=claim_report(findings, words),
        claimed=claimed,
        others=findings.others,
        companions=findings.companions,
        explained=explained,
    )


def _identity(campaign: Campaign, request: ReportRequest) -> Identity:
    """Version, command, and digests of the campaign's files and of the builds that were carried to."""
    own = identity(campaign.folder, input_files(campaign), request.command(campaign))
    others = {within(campaign, path): path for path in request.carry_to}
    more = tuple((name, digest(path)) for name, path in others.items() if name not in dict(own.inputs))
    return replace(own, inputs=(*own.inputs, *more))


def within(campaign: Campaign, path: Path) -> str:
    """A build's path within the campaign folder, or its bare name if it lies elsewhere."""
    folder, whole = campaign.folder.resolve(), path.resolve()
    return whole.relative_to(folder).as_posix() if whole.is_relative_to(folder) else path.name


def _said(words: Language, key: str, **values: str) -> Paragraph:
    return Paragraph(text=words.say(key, **values))


def _why_and_limits(
    campaign: Campaign, pulls: Sequence[ReducedPull], words: Language, tell: Tell, *, is_asked: bool
) -> tuple[ExplainResult | None, tuple[Block, ...], tuple[Block, ...]]:
    """What the model of the machine says of the test itself: why it gained, and which limit gives first."""
    if is_asked:
        tell("Explaining the gain", 0.15)
        explained, why = explanation(campaign, pulls, words)
        tell("Looking for what gives first", 0.6)
        return explained, why, tested_limits(campaign, words)
    return None, (_said(words, "missing.why_asked"),), (_said(words, "missing.limits_asked"),)


def _elsewhere(campaign: Campaign, request: ReportRequest, words: Language) -> tuple[Block, ...]:
    """The gain on the builds that are named, or the command that carries it."""
    if not request.carry_to:
        return (_said(words, "missing.elsewhere"),)
    return carried_blocks(campaign, request.carry_to, words)


def _companions(campaign: Campaign, pulls: Sequence[ReducedPull], quantity: str) -> tuple[CompareResult, ...]:
    """Boost beside what is claimed, where every pull has it."""
    involved = [pull for pull in pulls if pull.setup in (campaign.baseline, campaign.candidate)]
    if quantity == "boost" or not all("manifold_pressure" in pull.values and pull.weather for pull in involved):
        return ()
    return (compare_setups(pulls, question_of(campaign, "boost")),)


def input_files(campaign: Campaign) -> list[str]:
    """Every file of the campaign's folder that a report is made from."""
    builds = [setup.build for setup in campaign.setups.values() if setup.build is not None]
    return [CAMPAIGN_FILE, *dict.fromkeys(builds), *(entry.file for entry in campaign.pulls)]

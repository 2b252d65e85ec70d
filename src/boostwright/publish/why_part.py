"""What the "why" part of a report consists of, apart from what makes it: without a why, no machine is loaded."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from boostwright.records.campaign import CAMPAIGN_FILE, Campaign

if TYPE_CHECKING:
    from boostwright.publish.explain_tables import Table


@dataclass(frozen=True, kw_only=True)
class NoWhy:
    """Why a report does not say why it gained, and what to do about it, in a sentence."""

    reason: str


NOT_ASKED = NoWhy(
    reason='It was not asked for: "boostwright compare CAMPAIGN --why" adds it where the builds are given.'
)


@dataclass(frozen=True, kw_only=True)
class WhyStep:
    """One question of the why part: its sentence, its picture if it has one, the tables, and notes on them."""

    question: str
    sentence: str
    figure: Markup
    tables: "list[Table]"
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class WhyPart:
    """The why part of a report."""

    sentence: str
    steps: list[WhyStep]
    warnings: tuple[str, ...]


def input_files(campaign: Campaign) -> list[str]:
    """Every file of the campaign's folder that an explanation reads."""
    builds = [campaign.setups[setup].build for setup in (campaign.baseline, campaign.candidate)]
    named = dict.fromkeys(str(build) for build in builds if build is not None)
    return [CAMPAIGN_FILE, *named, *(entry.file for entry in campaign.pulls)]

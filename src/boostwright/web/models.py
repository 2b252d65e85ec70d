"""What goes in and what comes out: one model a body, from which requests are checked and the description is made."""

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from boostwright.errors import Fault
from boostwright.publish.carry_page import CarryPage
from boostwright.publish.compare_page import ComparePage
from boostwright.publish.document import Paper
from boostwright.publish.explain_page import ExplainPage
from boostwright.publish.limits_page import LimitsPage
from boostwright.publish.map_page import MapPage
from boostwright.publish.plan_page import PlanPage
from boostwright.publish.what_if_page import Slider, WhatIfPage

State = Literal["empty", "logs", "ready", "fault"]
Units = Literal["metric", "us"]
ReportKind = Literal["pdf", "html", "zip"]
REPORT_KINDS: Final = {"pdf": "application/pdf", "html": "text/html", "zip": "application/zip"}


class Model(BaseModel):
    """A body without keys that nobody knows."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class FaultView(Model):
    """One thing that is wrong: where it stands, what stands there, what to do; `said` is all of it in one line."""

    problem: str
    remedy: str
    file: str
    row: int | None
    column: str
    key: str
    value: str
    said: str


class Faults(Model):
    """The body of every refusal."""

    faults: list[FaultView]


class StandDraft(Model):
    """The dynamometer, as campaign.toml says it."""

    name: Annotated[str, Field(max_length=200)] = ""
    kind: Annotated[str, Field(max_length=20)] = "engine"
    rotating_inertia: Annotated[str, Field(max_length=60)] = ""


class SetupDraft(Model):
    """A setup, as campaign.toml says it."""

    name: str = Field(max_length=80)
    build: Annotated[str, Field(max_length=300)] = ""


class PullDraft(Model):
    """A pull, as campaign.toml says it; what is empty is not said."""

    file: str = Field(max_length=300)
    setup: Annotated[str, Field(max_length=80)] = ""
    started: Annotated[str, Field(max_length=40)] = ""
    barometer: Annotated[str, Field(max_length=60)] = ""
    air_temperature: Annotated[str, Field(max_length=60)] = ""
    relative_humidity: Annotated[str, Field(max_length=60)] = ""
    soak_temperature: Annotated[str, Field(max_length=60)] = ""
    installation: Annotated[int | None, Field(ge=1, le=10_000)] = None
    session: Annotated[str, Field(max_length=80)] = ""


class CampaignDraft(Model):
    """A campaign as a person writes it: text with units, not yet checked."""

    title: Annotated[str, Field(max_length=300)] = ""
    baseline: Annotated[str, Field(max_length=80)] = ""
    candidate: Annotated[str, Field(max_length=80)] = ""
    speed_range_rpm: list[float] = Field(default_factory=list[float], max_length=2)
    correction: Annotated[str, Field(max_length=30)] = "none"
    units: Annotated[str, Field(max_length=10)] = "metric"
    stand: StandDraft = StandDraft()
    setups: list[SetupDraft] = Field(default_factory=list[SetupDraft], max_length=40)
    columns: dict[str, str] = Field(default_factory=dict[str, str], max_length=400)
    pulls: list[PullDraft] = Field(default_factory=list[PullDraft], max_length=400)


class CampaignChange(Model):
    """A campaign to be written; `version` is that of the campaign it began from."""

    version: str = Field(max_length=80)
    campaign: CampaignDraft


class ColumnsAsked(Model):
    """Column rules to try on the logs; nothing is written."""

    columns: dict[str, str] = Field(max_length=400)


class ColumnView(Model):
    """A column that was understood, and the range of its numbers as logged."""

    header: str
    quantity: str
    unit: str
    conversion: str
    lowest: float | None
    highest: float | None


class IgnoredView(Model):
    """A column that is left out, and why."""

    header: str
    reason: str


class LogView(Model):
    """One log: what was understood of it, and what was not."""

    file: str
    samples: int
    sample_rate_hz: float | None
    sweep: dict[str, float | None] | None
    columns: list[ColumnView]
    ignored: list[IgnoredView]
    faults: list[FaultView]
    notes: list[str]


class InspectionView(Model):
    """All the logs of the folder."""

    logs: list[LogView]
    faults: list[FaultView]


class CampaignView(Model):
    """The folder as it stands: the campaign as written, what was understood of its logs, and every fault."""

    state: State
    version: str
    content: str
    campaign: CampaignDraft
    inspection: InspectionView
    faults: list[FaultView]
    quantities: list[str]
    known_quantities: list[str]
    log_suffixes: list[str]
    builds: list[str]
    setups_with_build: list[str]


class UploadView(Model):
    """Which logs were kept, and what is wrong with the others."""

    kept: list[str]
    faults: list[FaultView]


class CompareAsked(Model):
    """A comparison of the campaign's pair; what is not said of units stands as the campaign says."""

    quantity: Annotated[str, Field(max_length=60)] = "power"
    units: Units | None = None


class CompareView(Model):
    """A comparison: the JSON of `boostwright compare`, and what the page adds to it."""

    result: dict[str, Any]
    page: ComparePage


class PlanAsked(Model):
    """What a pull and a change of setup take, the average gain that matters, and what is left of the session."""

    quantity: Annotated[str, Field(max_length=60)] = "power"
    pull_min: Annotated[float, Field(ge=0.5, le=240)] = 6.0
    change_min: Annotated[float, Field(ge=0.5, le=2880)] = 30.0
    gain_percent: Annotated[float, Field(ge=0.1, le=50)] = 1.0
    hours_left: Annotated[float | None, Field(ge=0.05, le=24)] = None


class PlanView(Model):
    """What to pull next: the JSON of `boostwright plan`, and what the page adds to it."""

    result: dict[str, Any]
    page: PlanPage


class ExplainAsked(Model):
    """An explanation of the campaign's gain."""

    units: Units | None = None


class ExplainView(Model):
    """An explanation: the JSON of `boostwright explain`, and what the page adds to it."""

    result: dict[str, Any]
    page: ExplainPage


class CarryAsked(Model):
    """The gain on the builds of the folder that no setup uses."""

    units: Units | None = None


class CarryView(Model):
    """A carried gain: the JSON of `boostwright carry`, none if no build can be carried to, and what the page adds."""

    result: dict[str, Any] | None
    page: CarryPage


class LimitsAsked(Model):
    """The limits of a setup whose pulls were explained; the candidate if none is said."""

    setup: Annotated[str, Field(max_length=80)] = ""
    units: Units | None = None


class LimitsView(Model):
    """What gives first: the JSON of `boostwright limits`, and what the page adds to it."""

    result: dict[str, Any]
    page: LimitsPage


class WhatIfAsked(Model):
    """A setup whose build is tried in another setting; what is not said stands as tested."""

    setup: str = Field(max_length=80)
    units: Units | None = None
    drive_ratio: Annotated[float | None, Field(ge=0.2, le=20)] = None
    ambient_pressure_kpa: Annotated[float | None, Field(ge=50, le=110)] = None
    ambient_pressure_inhg: Annotated[float | None, Field(ge=14.8, le=32.5)] = None
    air_temperature_degC: Annotated[float | None, Field(ge=-40, le=60)] = None
    air_temperature_degF: Annotated[float | None, Field(ge=-40, le=140)] = None
    fuel_blend: Annotated[str | None, Field(max_length=20)] = None


class WhatIfView(Model):
    """A what-if with its sliders."""

    setup: str
    sliders: list[Slider]
    fuels: list[str]
    tested_fuel: str
    page: WhatIfPage


class MapAsked(Model):
    """The blower map of a setup's build."""

    setup: Annotated[str, Field(max_length=80)] = ""
    units: Units | None = None


class MapView(Model):
    """The blower map of a setup's build."""

    map: MapPage


class PublishAsked(Model):
    """A report to be published: what is claimed, for which reader."""

    quantity: Annotated[str, Field(max_length=60)] = "power"
    units: Units | None = None
    paper: Paper = "a4"


class PublishView(Model):
    """A published report: its claim, its grade, its check code, and how large each of its files is."""

    sentence: str
    standing: str
    check_code: str
    file_bytes: dict[str, int]


class ReportAsked(PublishAsked):
    """One file of a published report: its pages, its one HTML file, or the bundle with all that makes it again."""

    kind: ReportKind = "pdf"


class VersionView(Model):
    """Which state of the folder is there: of campaign.toml, and of all that results are made from."""

    version: str
    content: str


def fault_view(fault: Fault) -> FaultView:
    """A fault with its line."""
    return FaultView(
        problem=fault.problem,
        remedy=fault.remedy,
        file=fault.file,
        row=fault.row,
        column=fault.column,
        key=fault.key,
        value=fault.value,
        said=str(fault),
    )

"""The folder as the page sees it: the campaign as its file says it, what was understood of the logs, every fault."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, cast

from boostwright.errors import BoostwrightError, Fault, FileError
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign, campaign_from_document
from boostwright.records.campaign_writer import write_campaign
from boostwright.records.columns import IGNORE, QUANTITIES, ColumnRule, parse_rule
from boostwright.records.folder import draft_campaign, find_logs
from boostwright.records.log import LOG_SUFFIXES
from boostwright.records.toml import PLACEHOLDER, read_toml
from boostwright.studies.inspect import InspectedLog, Inspection, inspect_path
from boostwright.units import UnitError
from boostwright.web.faults import Refused, faults_of
from boostwright.web.folder import confined, confined_campaign, content_of, find_builds, version_of
from boostwright.web.models import (
    CampaignChange,
    CampaignDraft,
    CampaignView,
    FaultView,
    InspectionView,
    PullDraft,
    SetupDraft,
    StandDraft,
    State,
    fault_view,
)

NOTHING_INSPECTED = Inspection(place="", logs=())


def campaign_view(folder: Path, inspection: Inspection) -> CampaignView:
    """All that the page has to know of the folder before anything is computed."""
    logs = find_logs(folder)
    written = confined(folder, CAMPAIGN_FILE).is_file()
    draft, faults = _draft(folder, written=written, logs=logs)
    campaign: Campaign | None = None
    if written and not faults:
        campaign, faults = _read(folder)
    if faults and not logs:
        inspection = NOTHING_INSPECTED
    faults = [*faults, *(fault for fault in inspection.faults if fault not in faults)]
    return CampaignView(
        state=_state(written=written, has_logs=bool(logs), has_faults=bool([*faults, *inspection.all_faults])),
        version=version_of(folder),
        content=content_of(folder),
        campaign=draft,
        inspection=inspection_view(inspection, folder),
        faults=[_placed(fault, folder) for fault in faults],
        quantities=_comparable(campaign, inspection),
        known_quantities=[*QUANTITIES, IGNORE],
        log_suffixes=list(LOG_SUFFIXES),
        builds=find_builds(folder),
        setups_with_build=[setup.name for setup in campaign.setups.values() if setup.build] if campaign else [],
    )


def _state(*, written: bool, has_logs: bool, has_faults: bool) -> State:
    if not written:
        return "logs" if has_logs else "empty"
    return "fault" if has_faults else "ready"


def _read(folder: Path) -> tuple[Campaign | None, list[Fault]]:
    try:
        return confined_campaign(folder), []
    except FileError as wrong:
        return None, list(wrong.faults)


def inspected(folder: Path, columns: Mapping[str, str] | None) -> Inspection:
    """What is understood of the folder's logs, by its own column rules or by these, which are not written yet.

    Raises
    ------
    FileError
        If a rule cannot be understood, or, under rules of its own, there are no logs.
    """
    logs = find_logs(folder)
    for name in logs:
        confined(folder, name)
    if columns is not None:
        return inspect_path(folder, _rules(columns))
    try:
        return inspect_path(folder)
    except FileError as wrong:
        return Inspection(place=str(folder), logs=(), faults=wrong.faults if logs else ())


def _rules(columns: Mapping[str, str]) -> list[ColumnRule]:
    rules: list[ColumnRule] = []
    faults: list[Fault] = []
    for header, said in columns.items():
        try:
            rules.append(parse_rule(header, said))
        except UnitError as wrong:
            faults.append(replace(wrong.fault, column=header))
    if faults:
        raise FileError(faults)
    return rules


def inspection_view(inspection: Inspection, folder: Path) -> InspectionView:
    """An inspection as the page sees it."""
    said = inspection.as_json()
    for log, found in zip(said["logs"], inspection.logs, strict=True):
        log["faults"] = [_placed(fault, folder).model_dump() for fault in found.faults]
    faults = [_placed(fault, folder).model_dump() for fault in inspection.faults]
    return InspectionView.model_validate({"logs": said["logs"], "faults": faults})


def _placed(fault: Fault, folder: Path) -> FaultView:
    """A fault whose file is named within the folder: where the folder lies is nobody's business on a network."""
    return fault_view(replace(fault, file=fault.file.removeprefix(f"{folder}/")))


def _comparable(campaign: Campaign | None, inspection: Inspection) -> list[str]:
    """What every pull of the campaign carries, power and torque first."""
    if campaign is None or not inspection.logs:
        return []
    common = set[str].intersection(*(_carried(log) for log in inspection.logs))
    firsts = [quantity for quantity in ("power", "torque", "manifold_pressure", "boost") if quantity in common]
    return [*firsts, *sorted(common - {*firsts, "time", "engine_speed", "throttle_position"})]


def _carried(log: InspectedLog) -> set[str]:
    """What a log carries, and what follows from it: power from torque, boost from manifold pressure."""
    logged = {column.quantity for column in log.columns}
    either = logged & {"power", "torque"}
    return logged | ({"power", "torque"} if either else set()) | ({"boost"} if "manifold_pressure" in logged else set())


def write_change(folder: Path, change: CampaignChange) -> None:
    """Write a changed campaign, if the one that is there is still the one it began from.

    Raises
    ------
    Refused
        If somebody else has written one meanwhile.
    FileError
        With every fault of the campaign; then nothing is written.
    """
    confined(folder, CAMPAIGN_FILE)
    if change.version != version_of(folder):
        remedy = "load the page again and repeat your change"
        raise Refused(409, Fault(file=CAMPAIGN_FILE, problem="was changed by somebody else meanwhile", remedy=remedy))
    try:
        campaign = campaign_from_document(_document(change.campaign), folder)
    except FileError as wrong:
        raise FileError([replace(fault, file=CAMPAIGN_FILE) for fault in wrong.faults]) from wrong
    for pull in campaign.pulls:
        if not confined(folder, pull.file).is_file():
            fault = Fault(file=CAMPAIGN_FILE, key="pulls", value=f'"{pull.file}"', problem="is not there", remedy="")
            raise FileError([replace(fault, remedy="drop the log first, or take the pull out")])
    write_campaign(campaign)


def _document(draft: CampaignDraft) -> dict[str, Any]:
    """The draft as the TOML document that a person would have written."""
    stand = {key: said for key, said in draft.stand.model_dump().items() if said}
    return {
        **{key: said for key in ("title", "baseline", "candidate") if (said := getattr(draft, key).strip())},
        **({"speed_range_rpm": draft.speed_range_rpm} if draft.speed_range_rpm else {}),
        "correction": draft.correction,
        "units": draft.units,
        **({"stand": stand} if stand else {}),
        "setups": {setup.name: {"build": setup.build} if setup.build else {} for setup in draft.setups if setup.name},
        **({"columns": columns} if (columns := {h: said for h, said in draft.columns.items() if said.strip()}) else {}),
        "pulls": [_pull_document(pull) for pull in draft.pulls],
    }


def _pull_document(pull: PullDraft) -> dict[str, Any]:
    said = {key: value for key, value in pull.model_dump().items() if value not in ("", None)}
    if "started" in said:
        said["started"] = _moment(said["started"])
    if "relative_humidity" in said:
        said["relative_humidity"] = _plain(said["relative_humidity"])
    return said


def _moment(text: str) -> datetime | str:
    """A date with a time of day; anything else stays as it is, for the reader to refuse."""
    try:
        return datetime.fromisoformat(text) if len(text) > len("2026-03-14") else text
    except ValueError:
        return text


def _plain(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _draft(folder: Path, *, written: bool, logs: Sequence[str]) -> tuple[CampaignDraft, list[Fault]]:
    """The campaign in the words of its file, or the draft for the logs that lie there."""
    try:
        if written:
            return _draft_of(read_toml(folder / CAMPAIGN_FILE, "")), []
        return (_with_builds(_draft_of(tomllib.loads(draft_campaign(folder))), folder) if logs else CampaignDraft()), []
    except BoostwrightError as wrong:
        return CampaignDraft(), list(faults_of(wrong))
    except (ValueError, TypeError, AttributeError):
        return CampaignDraft(), []  # not of the form of a campaign: reading it names each fault at its place


def _with_builds(draft: CampaignDraft, folder: Path) -> CampaignDraft:
    """Each setup with the build that carries its name, if there is one."""
    named = {Path(build).stem: build for build in find_builds(folder)}
    setups = [setup.model_copy(update={"build": named.get(setup.name, "")}) for setup in draft.setups]
    return draft.model_copy(update={"setups": setups})


def _draft_of(document: dict[str, Any]) -> CampaignDraft:
    speeds = document.get("speed_range_rpm", [])
    setups = cast("dict[str, dict[str, Any]]", document.get("setups", {}))
    stand = cast("dict[str, Any]", document.get("stand", {}))
    return CampaignDraft(
        title=_said(document.get("title")),
        baseline=_said(document.get("baseline")),
        candidate=_said(document.get("candidate")),
        speed_range_rpm=speeds if isinstance(speeds, list) else [],
        correction=_said(document.get("correction")) or "none",
        units=_said(document.get("units")) or "metric",
        stand=StandDraft(**{key: _said(value) for key, value in stand.items() if key in StandDraft.model_fields}),
        setups=[SetupDraft(name=name, build=_said(table.get("build"))) for name, table in setups.items()],
        columns={header: _said(said) for header, said in document.get("columns", {}).items()},
        pulls=[_pull_draft(pull) for pull in document.get("pulls", [])],
    )


def _pull_draft(pull: dict[str, Any]) -> PullDraft:
    said = {key: _said(value) for key, value in pull.items() if key in PullDraft.model_fields and key != "installation"}
    return PullDraft(**said, installation=pull.get("installation"))


def _said(value: object) -> str:
    if value is None or value == PLACEHOLDER:
        return ""
    return value.isoformat() if isinstance(value, date) else str(value)

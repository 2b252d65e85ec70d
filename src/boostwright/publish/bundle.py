"""A bundle: a claim with everything that makes it again, as files by their names within one zip.

What is in a bundle follows from the campaign's files, the request and the version alone. So making one and checking one
are the same work done twice, and a check compares file by file.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any, Final, cast

import numpy as np

from boostwright.errors import Fault, FileError
from boostwright.publish.bundle_descriptor import descriptor
from boostwright.publish.document import Document, Paper
from boostwright.publish.document_files import document_files
from boostwright.publish.published import Published, ReportRequest, Tell, input_files, published, untold, within
from boostwright.publish.versions import versions
from boostwright.records.campaign import CAMPAIGN_FILE, Campaign, read_campaign
from boostwright.records.toml import read_toml
from boostwright.studies.claim import claim_of, claim_request, claimed_gain
from boostwright.studies.compare import reduced_pulls
from boostwright.studies.compare_result import CompareResult
from boostwright.studies.language import language
from boostwright.studies.rounding import json_list, json_number, json_text
from boostwright.units import System

INPUTS: Final = "inputs"
RESULTS: Final = "results"
REPORT: Final = "report"
REQUEST: Final = "request.json"
VERSIONS: Final = "versions.json"
DESCRIPTOR: Final = "datapackage.json"
README: Final = "README.txt"
FORMAT: Final = "boostwright bundle 1"
ASKED: Final = ("title", "quantity", "claim", "units", "language", "paper", "with_model", "carry_to")
VERIFY: Final = "boostwright verify"


@dataclass(frozen=True, kw_only=True)
class Contents:
    """The files of a bundle before it is sealed, which command makes each again, and the document of its report."""

    files: Mapping[str, bytes]
    recomputed_by: Mapping[str, str]
    document: Document


def bundle_contents(campaign: Campaign, request: ReportRequest, paper: Paper, tell: Tell = untold) -> Contents:
    """Compute everything that a bundle holds.

    Raises
    ------
    FileError
        If two inputs would have the same name in it.
    DataError
        If the claim may not be made.
    """
    inputs = _inputs(campaign, request)
    tell("Reading the pulls", 0.0)
    found = published(campaign, reduced_pulls(campaign), request, tell)
    tell("Writing the pages and the bundle", 0.9)
    files = {
        **{f"{INPUTS}/{name}": path.read_bytes() for name, path in inputs.items()},
        REQUEST: _json(_request_json(campaign, request, paper)),
        VERSIONS: _json(versions()),
        **{f"{RESULTS}/{name}": data for name, data in _results(found, request).items()},
        **{f"{REPORT}/report{end}": data for end, data in document_files(found.document, paper).items()},
        README: _readme(found).encode("utf-8"),
    }
    files[DESCRIPTOR] = _json(descriptor(files, campaign, found))
    commands = _recomputed_by(files, found, campaign, request)
    return Contents(files=files, recomputed_by=commands, document=found.document)


def requested(
    files: Mapping[str, bytes], request: Mapping[str, Any], folder: Path
) -> tuple[Campaign, ReportRequest, Paper]:
    """The campaign, the request and the paper that a bundle was made for, with its inputs unpacked in a folder.

    Raises
    ------
    FileError
        If the inputs are not a campaign.
    DataError
        If the request is not one that can be asked; it has every key that is `ASKED`.
    """
    campaign = read_campaign(folder)
    if "title" not in read_toml(
        folder / CAMPAIGN_FILE, ""
    ):  # its title was the name of the folder, which is another now
        campaign = replace(campaign, title=str(request["title"]))
    if not isinstance(request["carry_to"], list):
        raise _unknown(request["carry_to"], "carry_to", "it is a list of names")
    carried = [str(name) for name in cast("list[Any]", request["carry_to"])]
    for name in carried:
        if f"{INPUTS}/{name}" not in files:
            raise _unknown(name, "carry_to", "it is the name of one of the inputs")
    asked = ReportRequest(
        quantity=str(request["quantity"]),
        claim=claim_request(str(request["claim"])),
        units=cast("System", _one_of(request["units"], ("metric", "us"), "units")),
        language=str(request["language"]),
        with_model=bool(request["with_model"]),
        carry_to=tuple(folder / name for name in carried),
    )
    return campaign, asked, cast("Paper", _one_of(request["paper"], ("a4", "letter"), "paper"))


def _one_of(value: Any, choices: tuple[str, ...], key: str) -> str:
    if value not in choices:
        raise _unknown(value, key, f"it is {' or '.join(choices)}")
    return str(value)


def _unknown(value: Any, key: str, remedy: str) -> FileError:
    return FileError(
        [Fault(file=REQUEST, key=key, value=f'"{value}"', problem="is not what stands there", remedy=remedy)]
    )


def _recomputed_by(
    names: Iterable[str], found: Published, campaign: Campaign, request: ReportRequest
) -> dict[str, str]:
    """The command that makes each file again, in the folder of the inputs; none for what was measured or stated."""
    commands: dict[str, str] = {}
    is_pair_alone = not found.others and request.units == campaign.units
    for name in names:
        folder, _, own = name.partition("/")
        quantity = own.removeprefix("compare-").removesuffix(".json")
        if folder == REPORT:
            commands[name] = request.command(campaign)
        elif folder == RESULTS and quantity != own and is_pair_alone:
            commands[name] = f"boostwright compare . --quantity {quantity} --no-files --json -"
        elif folder == RESULTS and own == "explain.json":
            commands[name] = "boostwright explain . --json -"
        elif folder != INPUTS and name not in (REQUEST, VERSIONS):
            commands[name] = VERIFY
    return commands


def _inputs(campaign: Campaign, request: ReportRequest) -> dict[str, Path]:
    """Every file that the claim is made from, by its name within the inputs."""
    inputs: dict[str, Path] = {}
    named = [(name, campaign.folder / name) for name in input_files(campaign)]
    for said, path in (*named, *((within(campaign, path), path) for path in request.carry_to)):
        name = PurePosixPath(said).as_posix()
        if name in inputs and inputs[name].resolve() != path.resolve():
            remedy = "rename one of them, or copy it into the campaign's builds/"
            problem = f'would be "{name}" in the bundle, as {inputs[name]} is'
            raise FileError([Fault(file=str(path), problem=problem, remedy=remedy)])
        inputs[name] = path
    return inputs


def _request_json(campaign: Campaign, request: ReportRequest, paper: Paper) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "title": campaign.title,
        "quantity": request.quantity,
        "claim": str(request.claim),
        "units": request.units,
        "language": request.language,
        "paper": paper,
        "with_model": request.with_model,
        "carry_to": [within(campaign, path) for path in request.carry_to],
        "command": request.command(campaign),
    }


def _results(found: Published, request: ReportRequest) -> dict[str, bytes]:
    results = {"claim.json": _json(_claim_json(found, request))}
    pairs = {"pairs": [pair.as_json() for pair in found.others]} if found.others else {}
    results[f"compare-{found.claimed.quantity}.json"] = _json(found.claimed.as_json() | pairs)
    for result in found.companions:
        results[f"compare-{result.quantity}.json"] = _json(result.as_json())
    for result in (found.claimed, *found.companions):
        results[f"curve-{result.quantity}.csv"] = result.as_frame().write_csv().encode("utf-8")
        results[f"pulls-{result.quantity}.csv"] = _pulls_csv(result)
    if found.explained is not None:
        results["explain.json"] = _json(found.explained.as_json())
    return results


def _claim_json(found: Published, request: ReportRequest) -> dict[str, Any]:
    """The claim in words and numbers; its interval allows for how its speed or its pull was picked."""
    claim, gain = (
        claim_of(found.claimed, request.claim, language(request.language)),
        claimed_gain(found.claimed, request.claim),
    )
    return {
        "sentence": claim.sentence,
        "is_allowed": claim.is_allowed,
        "standing": found.document.opening.standing,
        "kind": str(request.claim),
        "quantity": found.claimed.quantity,
        "unit": found.claimed.unit.symbol,
        "confidence": found.claimed.confidence,
        "gain": json_number(gain.value / found.claimed.unit.scale),
        "lower": json_number(gain.lower / found.claimed.unit.scale),
        "upper": json_number(gain.upper / found.claimed.unit.scale),
        "gain_percent": json_number(100.0 * gain.relative_value),
        "lower_percent": json_number(100.0 * gain.relative_lower),
        "upper_percent": json_number(100.0 * gain.relative_upper),
        "verdict": found.claimed.verdict,
        "grade": found.claimed.grade,
        "grade_reason": found.claimed.grade_reason,
        "correction": found.claimed.correction,
        "check_code": found.document.check_code,
    }


def _pulls_csv(result: CompareResult) -> bytes:
    """What each pull gave at each engine speed after reduction, one row each; empty where samples were masked."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("file", "setup", "is_used", "engine_speed_rpm", "value"))
    writer.writerows(_pull_rows(result))
    return text.getvalue().encode("utf-8")


def _pull_rows(result: CompareResult) -> Iterator[tuple[object, ...]]:
    speeds = json_list(60.0 * result.curves.engine_speed)
    for pull in result.pulls:
        values = json_list(np.asarray(result.unit.from_si(pull.values)))
        for speed, value in zip(speeds, values, strict=True):
            yield pull.file, pull.setup, str(pull.used).lower(), speed, "" if value is None else value


def _readme(found: Published) -> str:
    opening = found.document.opening
    return f"""\
{found.document.title}

{opening.sentence}
{opening.standing}

This is a claim with all that is needed to check it:

  {INPUTS}/            the campaign as it was measured: {CAMPAIGN_FILE}, logs, descriptions of the builds
  {RESULTS}/           what was computed from it, as JSON and CSV
  {REPORT}/            the report as PDF and HTML, and its words as JSON
  {REQUEST}       what was asked          {VERSIONS}  what it was computed with
  {DESCRIPTOR}   every file described as a Data Package (datapackage.org), version 2
  manifest.json      size and SHA-256 of every file; manifest.sig, if there is one, is its Ed25519 signature

Compute everything again and compare, without a network:

  boostwright verify THIS_FILE.zip --key THE_MAKER.public.pem

The key has to come from the maker by another way than this file. Without boostwright, the signature alone:

  openssl pkeyutl -verify -pubin -inkey THE_MAKER.public.pem -rawin -in manifest.json -sigfile manifest.sig
"""


def _json(content: Mapping[str, Any]) -> bytes:
    return json_text(content).encode("utf-8")

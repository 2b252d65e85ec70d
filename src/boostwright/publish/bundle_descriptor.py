"""The descriptor of a bundle after the Data Package standard, version 2 (datapackage.org), an open one.

Any tool that reads the standard finds every file with its size and digest, and the tables of results with the type,
the unit and the meaning of each column. Logs are described as files, with what was understood of their columns: the
form of a logger's file is its own.
"""

import hashlib
import re
from collections.abc import Mapping
from itertools import chain, count
from pathlib import PurePosixPath
from typing import Any, Final

from boostwright.nomenclature import WORDS
from boostwright.publish.published import Published
from boostwright.records.campaign import Campaign, PullEntry
from boostwright.records.columns import understand_columns
from boostwright.records.log import open_table
from boostwright.studies.compare_result import CompareResult

PROFILE: Final = "https://datapackage.org/profiles/2.0/datapackage.json"

_MEDIA = {
    "csv": "text/csv",
    "tsv": "text/tab-separated-values",
    "txt": "text/plain",
    "json": "application/json",
    "toml": "application/toml",
    "html": "text/html",
    "pdf": "application/pdf",
    "parquet": "application/vnd.apache.parquet",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_TEXT = ("csv", "tsv", "txt", "json", "toml", "html")


def descriptor(files: Mapping[str, bytes], campaign: Campaign, found: Published) -> dict[str, Any]:
    """Describe the files of a bundle; what a file is follows from its place."""
    tables = {
        f"results/{kind}-{result.quantity}.csv": schema
        for result in (found.claimed, *found.companions)
        for kind, schema in (("curve", _curve_schema(result)), ("pulls", _pulls_schema(result)))
    }
    names = _names(sorted(files))
    pulls = {f"inputs/{PurePosixPath(entry.file).as_posix()}": entry for entry in campaign.pulls}
    return {
        "$schema": PROFILE,
        "name": _slug(campaign.title) or "claim",
        "title": campaign.title,
        "description": found.document.opening.sentence,
        "resources": [
            {"name": names[path]}
            | _resource(path, files[path])
            | ({"type": "table", "schema": tables[path]} if path in tables else {"type": "file"})
            | (_pull(pulls[path], campaign) if path in pulls else {})
            for path in sorted(files)
        ],
    }


def _resource(path: str, data: bytes) -> dict[str, Any]:
    form = path.rpartition(".")[2].lower()
    said: dict[str, Any] = {"path": path, "format": form}
    said |= {"mediatype": _MEDIA[form]} if form in _MEDIA else {}
    said |= {"encoding": "utf-8"} if form in _TEXT and not path.startswith("inputs/") else {}
    return said | {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}


def _names(paths: list[str]) -> dict[str, str]:
    """A name of its own for each path; where two would be alike, the later one is numbered."""
    names: dict[str, str] = {}
    for path in paths:
        plain = _slug(path)
        taken = set(names.values())
        names[path] = next(name for name in chain([plain], (f"{plain}-{n}" for n in count(2))) if name not in taken)
    return names


def _slug(text: str) -> str:
    """A name of the standard: small letters, digits, points, hyphens and underscores; others become hyphens."""
    return re.sub(r"[^a-z0-9._-]+", "-", text.lower()).strip("-")


def _pull(entry: PullEntry, campaign: Campaign) -> dict[str, Any]:
    """When and of what a log was made, and what each of its columns was understood to be."""
    table = open_table(campaign.folder / entry.file)
    understood = understand_columns(table.headers, table.units, campaign.columns)
    return {
        "description": f"pull of {entry.setup}, started {entry.started.isoformat()}, installation {entry.installation}",
        "columns": [
            {"header": column.header, "quantity": column.quantity, "unit": column.unit.symbol}
            for column in understood.columns
        ],
    }


def _field(name: str, kind: str, description: str, unit: str = "") -> dict[str, Any]:
    return {"name": name, "type": kind, "description": description} | ({"unit": unit} if unit else {})


def _curve_schema(result: CompareResult) -> dict[str, Any]:
    unit = result.unit.symbol
    band = "of the band that holds the whole curve at once"
    return {
        "fields": [
            _field("engine_speed_rpm", "number", WORDS["engine_speed"].meaning, "1/min"),
            _field("baseline", "number", f"{result.quantity} with {result.baseline}", unit),
            _field("candidate", "number", f"{result.quantity} with {result.candidate}", unit),
            _field("gain", "number", "candidate less baseline", unit),
            _field("lower", "number", f"lower edge {band}", unit),
            _field("upper", "number", f"upper edge {band}", unit),
            _field("gain_percent", "number", "gain in percent of the baseline", "%"),
            _field("lower_percent", "number", f"lower edge {band}, in percent of the baseline", "%"),
            _field("upper_percent", "number", f"upper edge {band}, in percent of the baseline", "%"),
        ],
        "primaryKey": ["engine_speed_rpm"],
        "missingValues": [""],
    }


def _pulls_schema(result: CompareResult) -> dict[str, Any]:
    return {
        "fields": [
            _field("file", "string", "log of the pull"),
            _field("setup", "string", "setup that was pulled"),
            _field("is_used", "boolean", "whether it counts, or was left out for a fault"),
            _field("engine_speed_rpm", "number", WORDS["engine_speed"].meaning, "1/min"),
            _field("value", "number", f"{result.quantity} after reduction, empty where masked", result.unit.symbol),
        ],
        "primaryKey": ["file", "engine_speed_rpm"],
        "missingValues": [""],
    }

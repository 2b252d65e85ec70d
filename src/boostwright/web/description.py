"""The description of the interface, OpenAPI 3.1, made from the models that check the requests."""

from collections.abc import Iterable
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from boostwright import __version__
from boostwright.web.models import (
    REPORT_KINDS,
    CampaignChange,
    CampaignView,
    CarryAsked,
    CarryView,
    ColumnsAsked,
    CompareAsked,
    CompareView,
    ExplainAsked,
    ExplainView,
    Faults,
    InspectionView,
    LimitsAsked,
    LimitsView,
    MapAsked,
    MapView,
    PlanAsked,
    PlanView,
    PublishAsked,
    PublishView,
    ReportAsked,
    UploadView,
    VersionView,
    WhatIfAsked,
    WhatIfView,
)

_PLACE = "#/components/schemas/{model}"
_ASKED: tuple[type[BaseModel], ...] = (CampaignChange, ColumnsAsked, WhatIfAsked)
_ANSWERED: tuple[type[BaseModel], ...] = (
    CampaignView,
    CarryView,
    CompareView,
    ExplainView,
    Faults,
    InspectionView,
    LimitsView,
    MapView,
    PlanView,
    PublishView,
    UploadView,
    VersionView,
    WhatIfView,
)


@cache
def description() -> dict[str, Any]:
    """The whole description."""
    models = [*((model, "validation") for model in _ASKED), *((model, "serialization") for model in _ANSWERED)]
    _, schemas = models_json_schema(models, ref_template=_PLACE)  # pyright: ignore[reportArgumentType]
    return {
        "openapi": "3.1.0",
        "info": {"title": "boostwright", "version": __version__, "license": {"name": "Apache-2.0"}},
        "paths": {
            "/api/campaign": {
                "get": _operation("The folder as it stands", CampaignView),
                "put": _operation("Write campaign.toml", CampaignView, body=_json(CampaignChange)),
            },
            "/api/version": {"get": _operation("Which state of the folder is there", VersionView)},
            "/api/inspect": {"post": _operation("Try column rules", InspectionView, body=_json(ColumnsAsked))},
            "/api/logs": {"post": _operation("Keep logs in pulls/", UploadView, body=_LOGS)},
            "/api/compare": {"get": _study("Compare the pair", CompareView, CompareAsked)},
            "/api/gain.csv": {"get": _file("The gain curve", ["text/csv"], CompareAsked)},
            "/api/publish": {"get": _study("The published report", PublishView, PublishAsked)},
            "/api/report": {"get": _file("One file of the report", REPORT_KINDS.values(), ReportAsked)},
            "/api/plan": {"get": _study("What to pull next", PlanView, PlanAsked)},
            "/api/explain": {"get": _study("Why the candidate gained", ExplainView, ExplainAsked)},
            "/api/carry": {"get": _study("The gain on other builds", CarryView, CarryAsked)},
            "/api/limits": {"get": _study("What gives first", LimitsView, LimitsAsked)},
            "/api/match": {"post": _operation("A build in another setting", WhatIfView, body=_json(WhatIfAsked))},
            "/api/map": {"get": _operation("The blower map of a build", MapView, query=MapAsked)},
        },
        "components": {"schemas": schemas["$defs"]},
    }


_LOGS = {
    "multipart/form-data": {
        "schema": {
            "type": "object",
            "properties": {"logs": {"type": "array", "items": {"type": "string", "format": "binary"}}},
        }
    }
}


def _reference(model: type[BaseModel]) -> dict[str, Any]:
    return {"$ref": _PLACE.format(model=model.__name__)}


def _json(model: type[BaseModel]) -> dict[str, Any]:
    return {"application/json": {"schema": _reference(model)}}


def _query(model: type[BaseModel]) -> list[dict[str, Any]]:
    """The fields of a model as parameters of a query."""
    fields = model.model_json_schema()["properties"]
    return [{"name": name, "in": "query", "required": False, "schema": schema} for name, schema in fields.items()]


def _operation(
    summary: str,
    answer: type[BaseModel],
    *,
    body: dict[str, Any] | None = None,
    query: type[BaseModel] | None = None,
    streamed: dict[str, Any] | None = None,
) -> dict[str, Any]:
    return {
        "summary": summary,
        **({"parameters": _query(query)} if query else {}),
        **({"requestBody": {"required": True, "content": body}} if body else {}),
        "responses": {"200": {"description": summary, "content": {**_json(answer), **(streamed or {})}}, **_REFUSALS},
    }


def _study(summary: str, answer: type[BaseModel], query: type[BaseModel]) -> dict[str, Any]:
    """A long study: who accepts a stream of events is told its progress, then the result or the faults."""
    return _operation(summary, answer, query=query, streamed={"text/event-stream": {"schema": {"type": "string"}}})


def _file(summary: str, kinds: Iterable[str], query: type[BaseModel]) -> dict[str, Any]:
    return {
        "summary": summary,
        "parameters": _query(query),
        "responses": {
            "200": {"description": summary, "content": {kind: {"schema": {"type": "string"}} for kind in kinds}},
            **_REFUSALS,
        },
    }


_REFUSALS = {
    status: {"description": words, "content": _json(Faults)}
    for status, words in {
        "401": "The token is missing or wrong",
        "403": "The request comes from another page, or under another name",
        "409": "Somebody else has changed the campaign",
        "413": "Too large",
        "415": "Not JSON",
        "422": "Wrong input: place, value, remedy",
    }.items()
}

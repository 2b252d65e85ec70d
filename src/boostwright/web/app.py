"""The app of one folder: its routes, each a few lines over the studies, and the page."""

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from boostwright.errors import BoostwrightError, Fault, FileError
from boostwright.web.access import Access, Gate
from boostwright.web.campaign_view import campaign_view, inspected_with, write_change
from boostwright.web.description import description
from boostwright.web.faults import Refused, as_json, refused, wrong_input, wrong_request
from boostwright.web.folder import MOST_FILE, MOST_FILES, keep_file
from boostwright.web.models import CampaignChange, ColumnsAsked, UploadView, WhatIfAsked, fault_view
from boostwright.web.studies import Studies
from boostwright.web.work import Workshop

STATIC = Path(__file__).parent / "static"
Asked = TypeVar("Asked", bound=BaseModel)
Endpoint = Callable[[Request], Awaitable[Response]]


def create_app(folder: Path, access: Access) -> Starlette:
    """The app that serves one campaign folder."""
    doors = Doors(folder.resolve(), Workshop())
    api = [
        Route("/api/campaign", doors.campaign, methods=["GET"]),
        Route("/api/campaign", doors.change_campaign, methods=["PUT"]),
        Route("/api/inspect", doors.inspect, methods=["POST"]),
        Route("/api/logs", doors.drop_logs, methods=["POST"]),
        Route("/api/compare", doors.compare, methods=["GET"]),
        Route("/api/gain.csv", doors.csv, methods=["GET"]),
        Route("/api/report", doors.report, methods=["GET"]),
        Route("/api/match", doors.match, methods=["POST"]),
        Route("/api/map", doors.blower_map, methods=["GET"]),
        Route("/openapi.json", describe, methods=["GET"]),
    ]
    return Starlette(
        routes=[*api, Mount("/", StaticFiles(directory=STATIC, html=True, check_dir=False))],
        middleware=[Middleware(Gate, access=access)],
        exception_handlers={
            BoostwrightError: wrong_input,
            ValidationError: wrong_request,
            Refused: refused,
            HTTPException: _not_served,
        },
    )


class Doors:
    """One method a route."""

    def __init__(self, folder: Path, workshop: Workshop) -> None:
        self.folder = folder
        self.workshop = workshop
        self.studies = Studies(folder, workshop)

    async def campaign(self, _: Request) -> Response:
        """The folder as it stands."""
        return _answer(await self.workshop.promptly(lambda: campaign_view(self.folder, self.workshop)))

    async def change_campaign(self, request: Request) -> Response:
        """Write campaign.toml."""
        change = await _asked(request, CampaignChange)
        await self.workshop.promptly(lambda: write_change(self.folder, change))
        return await self.campaign(request)

    async def inspect(self, request: Request) -> Response:
        """Try column rules."""
        asked = await _asked(request, ColumnsAsked)
        return _answer(await self.workshop.promptly(lambda: inspected_with(self.folder, asked.columns)))

    async def drop_logs(self, request: Request) -> Response:
        """Keep dropped logs."""
        kept: list[str] = []
        faults: list[Fault] = []
        async with request.form(max_files=MOST_FILES, max_fields=0) as form:
            for upload in form.getlist("logs"):
                try:
                    kept.append(await self._keep(upload))
                except FileError as wrong:
                    faults += wrong.faults
        view = UploadView(kept=kept, faults=[fault_view(fault) for fault in faults])
        return _answer(view, 200 if kept else 422)

    async def _keep(self, upload: UploadFile | str) -> str:
        if isinstance(upload, str):
            raise FileError([Fault(problem="is not a file", remedy="send the logs as files")])
        name = upload.filename or ""
        if (upload.size or 0) > MOST_FILE:
            problem = f"is larger than {MOST_FILE >> 20} MB"
            raise FileError([Fault(file=name[:120], problem=problem, remedy="copy it into the folder's pulls/")])
        data = await upload.read()
        return await self.workshop.promptly(lambda: keep_file(self.folder, name, data))

    async def compare(self, request: Request) -> Response:
        """Compare the campaign's pair in one quantity."""
        quantity = _quantity(request)
        return _answer(await self.workshop.beside(lambda: self.studies.comparison(quantity)))

    async def csv(self, request: Request) -> Response:
        """The gain curve as a table."""
        quantity = _quantity(request)
        text = await self.workshop.beside(lambda: self.studies.csv(quantity))
        return Response(text, media_type="text/csv", headers=_download(f"gain-{quantity}.csv"))

    async def report(self, request: Request) -> Response:
        """The report as a file to keep."""
        quantity = _quantity(request)
        page = await self.workshop.beside(lambda: self.studies.report(quantity))
        return Response(page, media_type="text/html", headers=_download(f"report-{quantity}.html"))

    async def match(self, request: Request) -> Response:
        """A build in another setting."""
        asked = await _asked(request, WhatIfAsked)
        return _answer(await self.workshop.beside(lambda: self.studies.what_if(asked)))

    async def blower_map(self, request: Request) -> Response:
        """The blower map of a setup's build."""
        setup = request.query_params.get("setup", "")
        return _answer(await self.workshop.beside(lambda: self.studies.blower_map(setup)))


async def describe(_: Request) -> Response:
    """The description of this interface."""
    return JSONResponse(description())


async def _asked(request: Request, model: type[Asked]) -> Asked:
    """The body of a request; only a page of ours may send JSON without being asked first by the browser."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise Refused(415, Fault(problem="the body is not sent as JSON", remedy="send it as application/json"))
    return model.model_validate_json(await request.body())


def _quantity(request: Request) -> str:
    return request.query_params.get("quantity", "power")[:60]


def _answer(view: BaseModel, status: int = 200) -> Response:
    return Response(
        view.model_dump_json(), status, media_type="application/json", headers={"cache-control": "no-store"}
    )


def _download(name: str) -> dict[str, str]:
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}", "cache-control": "no-store"}


async def _not_served(_: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, HTTPException)
    fault = Fault(problem=wrong.detail.lower(), remedy="see /openapi.json for what is served")
    status = 422 if wrong.status_code == 400 else wrong.status_code
    return JSONResponse(as_json([fault]), status, headers=dict(wrong.headers or {}))

"""The app of one folder: its routes, each a few lines over the studies, and the page."""

from collections.abc import AsyncGenerator, Awaitable, Callable, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, TypeVar
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
from boostwright.publish.carry_page import carry_page
from boostwright.publish.compare_page import compare_page
from boostwright.publish.explain_page import explain_page
from boostwright.publish.export import gain_csv
from boostwright.publish.limits_page import limits_page
from boostwright.publish.plan_page import plan_page
from boostwright.records.campaign import Campaign
from boostwright.studies.plan import PlanQuestion
from boostwright.studies.run_card import RunCardQuestion
from boostwright.web.access import Access, Gate
from boostwright.web.answers import Events, Gone, wants_events, while_connected
from boostwright.web.campaign_view import campaign_view, inspection_view, write_change
from boostwright.web.description import description
from boostwright.web.faults import Refused, as_json, refused, wrong_input, wrong_request
from boostwright.web.folder import (
    MOST_FILE,
    MOST_FILES,
    confined_campaign,
    content_key,
    content_of,
    files_of,
    inspected_files,
    keep_file,
    other_builds,
    version_of,
)
from boostwright.web.models import (
    REPORT_KINDS,
    CampaignChange,
    CarryAsked,
    CarryView,
    ColumnsAsked,
    CompareAsked,
    CompareView,
    ExplainAsked,
    ExplainView,
    LimitsAsked,
    LimitsView,
    MapAsked,
    PlanAsked,
    PlanView,
    PublishAsked,
    PublishView,
    ReportAsked,
    UploadView,
    VersionView,
    WhatIfAsked,
    fault_view,
)
from boostwright.web.work import Workshop
from boostwright.web.workers import Errand, Workers

STATIC = Path(__file__).parent / "static"
STUDIES_AT_ONCE = 2
Asked = TypeVar("Asked", bound=BaseModel)
Endpoint = Callable[[Request], Awaitable[Response]]
Rendered = Callable[[Any], str]
_PROCESSES = (Workers(STUDIES_AT_ONCE), Workers(1))  # for long studies, and for what answers a hand at once


def create_app(folder: Path, access: Access) -> Starlette:
    """The app that serves one campaign folder."""
    doors = Doors(folder.resolve(), Workshop(*_PROCESSES))
    api = [
        Route("/api/campaign", doors.campaign, methods=["GET"]),
        Route("/api/campaign", doors.change_campaign, methods=["PUT"]),
        Route("/api/version", doors.version, methods=["GET"]),
        Route("/api/inspect", doors.inspect, methods=["POST"]),
        Route("/api/logs", doors.drop_logs, methods=["POST"]),
        Route("/api/compare", doors.compare, methods=["GET"]),
        Route("/api/gain.csv", doors.csv, methods=["GET"]),
        Route("/api/publish", doors.publish, methods=["GET"]),
        Route("/api/report", doors.report, methods=["GET"]),
        Route("/api/plan", doors.plan, methods=["GET"]),
        Route("/api/explain", doors.explain, methods=["GET"]),
        Route("/api/carry", doors.carry, methods=["GET"]),
        Route("/api/limits", doors.limits, methods=["GET"]),
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
            Gone: _nobody_there,
        },
        lifespan=_warmed,
    )


@asynccontextmanager
async def _warmed(_: Starlette) -> AsyncGenerator[None]:
    """Begin the processes while the browser opens, so that the first answer does not wait for them."""
    for workers in _PROCESSES:
        workers.warm()
    yield


class Doors:
    """One method a route."""

    def __init__(self, folder: Path, workshop: Workshop) -> None:
        self.folder = folder
        self.workshop = workshop

    async def campaign(self, request: Request) -> Response:
        """The folder as it stands."""
        key = await self.workshop.beside(lambda: content_key(self.folder, inspected_files(self.folder), "inspect"))
        found = await self._made(request, key, "inspection", None)
        return _answer(await self.workshop.beside(lambda: campaign_view(self.folder, found)))

    async def change_campaign(self, request: Request) -> Response:
        """Write campaign.toml."""
        change = await _asked(request, CampaignChange)
        await self.workshop.beside(lambda: write_change(self.folder, change))
        return await self.campaign(request)

    async def version(self, _: Request) -> Response:
        """Which state of the folder is there."""
        return _answer(
            await self.workshop.beside(
                lambda: VersionView(version=version_of(self.folder), content=content_of(self.folder))
            )
        )

    async def inspect(self, request: Request) -> Response:
        """Try column rules."""
        columns = (await _asked(request, ColumnsAsked)).columns
        key = await self.workshop.beside(lambda: content_key(self.folder, inspected_files(self.folder), columns))
        found = await self._made(request, key, "inspection", columns)
        return _answer(await self.workshop.beside(lambda: inspection_view(found, self.folder)))

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
        if not kept:
            raise FileError(faults or [Fault(problem="no file was sent", remedy='send the logs as "logs" of a form')])
        return _answer(UploadView(kept=kept, faults=[fault_view(fault) for fault in faults]))

    async def _keep(self, upload: UploadFile | str) -> str:
        if isinstance(upload, str):
            raise FileError([Fault(problem="is not a file", remedy="send the logs as files")])
        name = upload.filename or ""
        if (upload.size or 0) > MOST_FILE:
            problem = f"is larger than {MOST_FILE >> 20} MB"
            raise FileError([Fault(file=name[:120], problem=problem, remedy="copy it into the folder's pulls/")])
        data = await upload.read()
        return await self.workshop.beside(lambda: keep_file(self.folder, name, data))

    async def compare(self, request: Request) -> Response:
        """Compare the campaign's pair in one quantity."""
        asked = _queried(request, CompareAsked)
        campaign = await self._campaign()
        key, errand = self._comparison(campaign, asked)

        def rendered(result: Any) -> str:
            return CompareView(result=result.as_json(), page=compare_page(result)).model_dump_json()

        return await self._study(request, key, errand, rendered)

    async def csv(self, request: Request) -> Response:
        """The gain curve as a table."""
        asked = _queried(request, CompareAsked)
        key, errand = self._comparison(await self._campaign(), asked)
        result = await self._made(request, key, errand.name, *errand.arguments, is_long=True)
        text = await self.workshop.beside(lambda: gain_csv(result))
        return Response(text, media_type="text/csv", headers=_download(f"gain-{asked.quantity}.csv"))

    async def publish(self, request: Request) -> Response:
        """The published report and its bundle, made to be kept."""
        key, errand = self._publication(await self._campaign(), _queried(request, PublishAsked))

        def rendered(made: Any) -> str:
            sizes = {kind: len(data) for kind, data in made.files.items()}
            said = PublishView(
                sentence=made.sentence, standing=made.standing, check_code=made.check_code, file_bytes=sizes
            )
            return said.model_dump_json()

        return await self._study(request, key, errand, rendered)

    async def report(self, request: Request) -> Response:
        """One file of the published report."""
        asked = _queried(request, ReportAsked)
        key, errand = self._publication(await self._campaign(), asked)
        made = await self._made(request, key, errand.name, *errand.arguments, is_long=True)
        name = f"{'claim' if asked.kind == 'zip' else 'report'}-{asked.quantity}.{asked.kind}"
        return Response(made.files[asked.kind], media_type=REPORT_KINDS[asked.kind], headers=_download(name))

    async def plan(self, request: Request) -> Response:
        """What to pull next."""
        asked = _queried(request, PlanAsked)
        campaign = await self._campaign()
        question = RunCardQuestion(
            plan=PlanQuestion(
                speed_range=campaign.speed_range, pull_time=60.0 * asked.pull_min, change_time=60.0 * asked.change_min
            ),
            worthwhile_gain=asked.gain_percent / 100.0,
            time_left=None if asked.hours_left is None else 3600.0 * asked.hours_left,
        )

        def rendered(card: Any) -> str:
            return PlanView(result=card.as_json(), page=plan_page(card, question.plan)).model_dump_json()

        errand = Errand(folder=self.folder, name="run_card", arguments=(asked.quantity, question))
        return await self._study(request, self._key(campaign, "plan", asked.quantity, question), errand, rendered)

    async def explain(self, request: Request) -> Response:
        """Why the candidate gained."""
        campaign = await self._campaign()
        units = _queried(request, ExplainAsked).units or campaign.units

        def rendered(found: Any) -> str:
            page = explain_page(found.result, units)
            return ExplainView(result=found.result.as_json(), page=page).model_dump_json()

        errand = Errand(folder=self.folder, name="explanation")
        return await self._study(request, _explanation_key(self._key(campaign)), errand, rendered)

    async def limits(self, request: Request) -> Response:
        """What gives first in the machine that fits the pulls."""
        asked = _queried(request, LimitsAsked)
        campaign = await self._campaign()
        units = asked.units or campaign.units

        def rendered(found: Any) -> str:
            return LimitsView(result=found.as_json(), page=limits_page(found, units)).model_dump_json()

        errand = Errand(folder=self.folder, name="limits", arguments=(asked.setup,))
        return await self._study(request, self._key(campaign, "limits", asked.setup), errand, rendered)

    async def carry(self, request: Request) -> Response:
        """The gain on the builds of the folder that no setup uses."""
        asked = _queried(request, CarryAsked)
        campaign = await self._campaign()
        units = asked.units or campaign.units

        def rendered(found: Any) -> str:
            result = None if found.result is None else found.result.as_json()
            page = carry_page(found.result, found.refused, units)
            return CarryView(result=result, page=page).model_dump_json()

        names = [*files_of(campaign), *other_builds(self.folder, campaign)]
        key = content_key(self.folder, names, "carry")
        return await self._study(request, key, Errand(folder=self.folder, name="carried"), rendered)

    async def match(self, request: Request) -> Response:
        """A build in another setting; of a setup that was explained, the machine that fits its pulls."""
        asked = await _asked(request, WhatIfAsked)
        campaign = await self._campaign()
        content = self._key(campaign)
        explained = self.workshop.kept(_explanation_key(content))
        fitted: Mapping[str, Any] = {} if explained is None else explained.fitted
        units = asked.units or campaign.units
        key = f"{content} what if {asked.model_dump_json()} {units} {asked.setup in fitted}"
        return _json(
            await self._made(request, key, "what_if", (campaign, content), asked, fitted.get(asked.setup), units)
        )

    async def blower_map(self, request: Request) -> Response:
        """The blower map of a setup's build."""
        asked = _queried(request, MapAsked)
        campaign = await self._campaign()
        units = asked.units or campaign.units
        key = self._key(campaign, "map", asked.setup, units)
        return _json(await self._made(request, key, "blower_map", asked.setup, units, is_long=True))

    async def _campaign(self) -> Campaign:
        return await self.workshop.beside(lambda: confined_campaign(self.folder))

    def _comparison(self, campaign: Campaign, asked: CompareAsked) -> tuple[str, Errand]:
        units = asked.units or campaign.units
        errand = Errand(folder=self.folder, name="comparison", arguments=(asked.quantity, units))
        return self._key(campaign, "compare", asked.quantity, units), errand

    def _publication(self, campaign: Campaign, asked: PublishAsked) -> tuple[str, Errand]:
        units = asked.units or campaign.units
        errand = Errand(folder=self.folder, name="publication", arguments=(asked.quantity, units, asked.paper))
        return self._key(campaign, "publish", asked.quantity, units, asked.paper), errand

    async def _study(self, request: Request, key: str, errand: Errand, rendered: Rendered) -> Response:
        """A long study: a stream of its progress for who wants one, and otherwise its result when it is there."""
        if wants_events(request):
            return Events(self.workshop, key, errand, rendered)
        result = await while_connected(request.receive, self.workshop.made(key, errand, is_long=True))
        return _json(await self.workshop.beside(lambda: rendered(result)))

    async def _made(self, request: Request, key: str, name: str, *arguments: object, is_long: bool = False) -> Any:
        errand = Errand(folder=self.folder, name=name, arguments=arguments)
        return await while_connected(request.receive, self.workshop.made(key, errand, is_long=is_long))

    def _key(self, campaign: Campaign, *said: object) -> str:
        return content_key(self.folder, files_of(campaign), *said)


def _explanation_key(content: str) -> str:
    """Under which an explanation of this content is kept; a what-if asks for it at every move of a slider."""
    return f"{content} explain"


async def describe(_: Request) -> Response:
    """The description of this interface."""
    return JSONResponse(description())


async def _asked(request: Request, model: type[Asked]) -> Asked:
    """The body of a request; only a page of ours may send JSON without being asked first by the browser."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise Refused(415, Fault(problem="the body is not sent as JSON", remedy="send it as application/json"))
    return model.model_validate_json(await request.body())


def _queried(request: Request, model: type[Asked]) -> Asked:
    """The query of a request, each key at most once."""
    return model.model_validate_strings(dict(request.query_params))


def _answer(view: BaseModel) -> Response:
    return _json(view.model_dump_json())


def _json(text: str) -> Response:
    return Response(text, media_type="application/json", headers={"cache-control": "no-store"})


def _download(name: str) -> dict[str, str]:
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}", "cache-control": "no-store"}


async def _not_served(_: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, HTTPException)
    fault = Fault(problem=wrong.detail.lower(), remedy="see /openapi.json for what is served")
    status = 422 if wrong.status_code == 400 else wrong.status_code
    return JSONResponse(as_json([fault]), status, headers=dict(wrong.headers or {}))


async def _nobody_there(_: Request, __: Exception) -> Response:
    """For the log alone: whoever asked has left."""
    return Response(status_code=499)

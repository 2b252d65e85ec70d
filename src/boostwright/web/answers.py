"""How work under way is answered: as JSON when it is done, or as a stream that says how far it is.

Whoever closes the connection leaves the work; when the last one leaves, it is ended.
"""

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Coroutine
from dataclasses import asdict
from typing import Any, TypeAlias, TypeVar

from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from boostwright.errors import BoostwrightError
from boostwright.web.faults import as_json, faults_of
from boostwright.web.work import Job, Workshop
from boostwright.web.workers import Errand

Result = TypeVar("Result")
Rendered: TypeAlias = Callable[[Any], str]
EVENTS = "text/event-stream"


class Gone(Exception):
    """Whoever asked has closed the connection."""


async def while_connected(receive: Receive, work: Coroutine[Any, Any, Result]) -> Result:
    """The result of some work, given up when the connection closes.

    Raises
    ------
    Gone
        If it closed before the work was done.
    """
    doing, listening = asyncio.ensure_future(work), asyncio.ensure_future(_disconnected(receive))
    try:
        await asyncio.wait((doing, listening), return_when=asyncio.FIRST_COMPLETED)
        if not doing.done():
            raise Gone
        return doing.result()
    finally:
        for task in (doing, listening):
            task.cancel()
        await asyncio.gather(doing, listening, return_exceptions=True)


async def _disconnected(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def wants_events(request: Request) -> bool:
    """Whether the request asks for a stream."""
    return request.headers.get("accept", "").partition(";")[0].strip() == EVENTS


class Events(Response):
    """A stream of server-sent events: `progress` as often as it changes, then `result` or `faults`."""

    media_type = EVENTS

    def __init__(self, workshop: Workshop, key: str, errand: Errand, rendered: Rendered) -> None:
        super().__init__(headers={"cache-control": "no-store"})
        del self.headers["content-length"]
        self._asked = (workshop, key, errand, rendered)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send events until the work is over or the connection closes."""
        del scope
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
        try:
            await while_connected(receive, self._all_sent(send))
        except Gone:
            return
        await send({"type": "http.response.body", "body": b"", "more_body": False})

    async def _all_sent(self, send: Send) -> None:
        workshop, key, errand, rendered = self._asked
        with workshop.joined(key, errand, is_long=True) as job:
            async for body in _events(workshop, job, rendered):
                await send({"type": "http.response.body", "body": body, "more_body": True})


async def _events(workshop: Workshop, job: Job, rendered: Rendered) -> AsyncIterator[bytes]:
    async for told in job.progress():
        yield _event("progress", json.dumps(asdict(told)))
    try:
        yield _event("result", await workshop.beside(lambda: rendered(job.result())))
    except BoostwrightError as wrong:
        yield _event("faults", json.dumps(as_json(faults_of(wrong))))


def _event(name: str, data: str) -> bytes:
    return f"event: {name}\ndata: {data}\n\n".encode()

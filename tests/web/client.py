"""A browser's worth of HTTP without a network: requests go straight into the app, as ASGI says."""

import asyncio
import json
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from starlette.types import ASGIApp

HOST = "127.0.0.1:8460"


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def faults(self) -> list[str]:
        """Each fault in one line."""
        return [fault["said"] for fault in self.json["faults"]]


@dataclass
class Client:
    """Sends requests to an app; `headers` go along with each."""

    app: ASGIApp
    headers: dict[str, str] = field(default_factory=lambda: {"host": HOST})

    def get(self, path: str, **headers: str) -> Answer:
        return self.send("GET", path, b"", headers)

    def post(self, path: str, said: object, **headers: str) -> Answer:
        return self.send("POST", path, json.dumps(said).encode(), {"content-type": "application/json", **headers})

    def put(self, path: str, said: object, **headers: str) -> Answer:
        return self.send("PUT", path, json.dumps(said).encode(), {"content-type": "application/json", **headers})

    def drop(self, *files: tuple[str, bytes], **headers: str) -> Answer:
        """Send files as a form does; the names go as they are, so that a test may lie."""
        parts = b"".join(
            b'--bw\r\nContent-Disposition: form-data; name="logs"; filename="'
            + name.encode()
            + b'"\r\nContent-Type: application/octet-stream\r\n\r\n'
            + data
            + b"\r\n"
            for name, data in files
        )
        kind = {"content-type": "multipart/form-data; boundary=bw"}
        return self.send("POST", "/api/logs", parts + b"--bw--\r\n", {**kind, **headers})

    def send(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> Answer:
        return asyncio.run(self._send(method, path, body, headers))

    def events(self, path: str, leave_at: str = "") -> list[tuple[str, Any]]:
        """What a stream says, as (event, data); the connection closes when an event of the name `leave_at` comes."""
        return asyncio.run(self.followed(path, leave_at))

    async def followed(self, path: str, leave_at: str = "") -> list[tuple[str, Any]]:
        """The same, for several at once."""
        leaving = asyncio.Event()
        told: list[tuple[str, Any]] = []

        async def send(message: Any) -> None:
            for block in message.get("body", b"").decode().split("\n\n")[:-1]:
                name, data = (line.partition(": ")[2] for line in block.split("\n"))
                told.append((name, json.loads(data)))
                if name == leave_at:
                    leaving.set()

        async def receive() -> dict[str, Any]:
            await leaving.wait()
            return {"type": "http.disconnect"}

        await self.app(self._scope("GET", path, {"accept": "text/event-stream"}), receive, send)
        return told

    def _scope(self, method: str, path: str, headers: dict[str, str]) -> dict[str, Any]:
        parts = urlsplit(path)
        said = {**self.headers, **{name.replace("_", "-"): value for name, value in headers.items()}}
        return {
            "type": "http",
            "asgi": {"version": "3.0", "spec_version": "2.4"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": parts.path,
            "raw_path": parts.path.encode(),
            "query_string": parts.query.encode(),
            "root_path": "",
            "headers": [(name.encode(), value.encode()) for name, value in said.items() if value],
            "client": ("127.0.0.1", 50000),
            "server": ("127.0.0.1", 8460),
        }

    async def _send(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> Answer:
        scope = self._scope(method, path, {**({"content-length": str(len(body))} if body else {}), **headers})
        status, got, sent = 0, {}, b""
        pieces = [body[start : start + 65536] for start in range(0, len(body), 65536)] or [b""]

        async def receive() -> dict[str, Any]:
            if not pieces:
                await asyncio.Event().wait()  # the connection stays open until the answer is there
            piece = pieces.pop(0)
            return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

        async def send(message: Any) -> None:
            nonlocal status, got, sent
            if message["type"] == "http.response.start":
                status = message["status"]
                got = {name.decode().lower(): value.decode() for name, value in message["headers"]}
            else:
                sent += message.get("body", b"")

        await self.app(scope, receive, send)
        return Answer(status, got, sent)

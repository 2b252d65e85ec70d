"""Who may ask: host and origin of every request, a token beyond this computer, sizes, and headers that keep text inert.

A page of somebody else's, open in the same browser, can send requests to this computer. It cannot choose the `Origin`
that the browser writes, and a name of its own that it points at us shows in `Host`: both are checked before anything.
"""

import ipaddress
import secrets
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from boostwright.errors import Fault
from boostwright.web.faults import as_json

MOST_JSON: Final = 1 << 20
MOST_UPLOAD: Final = 256 << 20
COOKIE: Final = "boostwright_token"
_SAFE_METHODS: Final = ("GET", "HEAD")
_SAME_SITE: Final = (None, "same-origin", "none")
_HEADERS: Final = {
    "content-security-policy": "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


class _TooLarge(Exception):
    """The body grew beyond what is allowed while it came in."""


@dataclass(frozen=True, kw_only=True)
class Access:
    """Which requests are let in: without a token only those of this computer, with one those that carry it."""

    token: str | None = None

    def host_is_allowed(self, host: str) -> bool:
        """Whether a `Host` is an address: a name could have been pointed at us by anybody, `localhost` excepted."""
        name = urlsplit(f"//{host}").hostname or ""
        if name == "localhost":
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return address.is_loopback or self.token is not None

    def token_is_right(self, token: str | None) -> bool:
        """Whether a request may pass with this token."""
        return self.token is None or (token is not None and secrets.compare_digest(token.encode(), self.token.encode()))


class Gate:
    """ASGI layer around the whole app."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app = app
        self.access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or let in with the body counted and the headers set."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        send = _with_headers(send)
        most = MOST_UPLOAD if scope["path"] == "/api/logs" else MOST_JSON
        answer = self._refusal(scope, Headers(scope=scope), most)
        if answer is not None:
            await answer(scope, receive, send)
            return
        try:
            await self.app(scope, _counted(receive, most), send)
        except _TooLarge:
            await _too_large(most)(scope, receive, send)

    def _refusal(self, scope: Scope, headers: Headers, most: int) -> Response | None:
        host = headers.get("host", "")
        if not self.access.host_is_allowed(host):
            remedy = "open the address that the command has printed"
            return _refuse(403, Fault(value=f'"{host}"', problem="is not an address of this app", remedy=remedy))
        if _is_foreign(scope["method"], headers, f"{scope['scheme']}://{host}"):
            remedy = "open the app itself and do it there"
            return _refuse(403, Fault(problem="the request comes from another page", remedy=remedy))
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > most:
            return _too_large(most)
        return self._token_refusal(scope, headers)

    def _token_refusal(self, scope: Scope, headers: Headers) -> Response | None:
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [None])[0]
        if self.access.token is None or self.access.token_is_right(_cookie(headers)):
            return None
        if given is not None and self.access.token_is_right(given) and scope["method"] == "GET":
            welcome = RedirectResponse("/", status_code=303)
            welcome.set_cookie(COOKIE, given, httponly=True, samesite="strict")
            return welcome
        remedy = "open the address with the token that the command has printed"
        return _refuse(401, Fault(problem="the request carries no token, or another one", remedy=remedy))


def _is_foreign(method: str, headers: Headers, own: str) -> bool:
    origin = headers.get("origin")
    if origin is not None and origin != own:
        return True
    site = headers.get("sec-fetch-site")
    is_navigation = method in _SAFE_METHODS and headers.get("sec-fetch-mode") == "navigate"
    return site not in _SAME_SITE and not is_navigation


def _cookie(headers: Headers) -> str | None:
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return None
    return cookies[COOKIE].value if COOKIE in cookies else None


def _refuse(status: int, fault: Fault) -> Response:
    return JSONResponse(as_json([fault]), status_code=status)


def _too_large(most: int) -> Response:
    remedy = "send fewer or smaller files at once, or copy them into the folder's pulls/"
    return _refuse(413, Fault(problem=f"the request is larger than {most >> 20} MB", remedy=remedy))


def _counted(receive: Receive, most: int) -> Receive:
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise _TooLarge
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending

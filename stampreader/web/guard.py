"""The guard before the page: address, origin, key and size of every request are checked here.

Nothing behind the guard runs for a request that fails. Refusals say nothing of what lies behind.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from stampreader.errors import StampError
from stampreader.web.keys import Keyring

COOKIE = "key"
SESSION = "stampreader.session"
MOST_FORM_BYTES = 64 * 1024
MOST_PHOTO_BYTES = 40 * 2**20
MOST_ADDRESS_BYTES = 4096
MOST_HEADER_BYTES = 16 * 1024
PAUSE_S = 20.0
"""Longest silence in the middle of an upload."""

POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: Mapping[str, str] = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


class TooLarge(StampError):
    """More was sent than is taken."""

    kind = "too-large"
    remedy = "Send one photo at a time, saved smaller."


class TooSlow(StampError):
    """An upload stopped in the middle."""

    kind = "too-slow"
    remedy = "Send it again."


@dataclass(frozen=True, slots=True)
class Gate:
    """An address the page listens on.

    Attributes:
        host: `127.0.0.1:41234`, the only Host it answers to.
        base: first part of every path, such as `/k3v9x2mq`; also keeps the cookie away from other
            programs that listen on this computer.
        keys: links and sessions of this address.
        trusted: the laptop itself; others may do only what `allowed` names.
        allowed: paths behind `base` for everybody who has a key.
        confirming: further paths for a session that may confirm.
        photos: paths that take a photo.
    """

    host: str
    base: str
    keys: Keyring
    trusted: bool
    allowed: frozenset[str] = frozenset()
    confirming: frozenset[str] = frozenset()
    photos: frozenset[str] = frozenset()

    @property
    def origin(self) -> str:
        """The origin of pages from this address."""
        return f"http://{self.host}"


class Refused(Exception):
    """A request that goes no further: status and a short line."""

    def __init__(self, status: int, line: str) -> None:
        super().__init__(line)
        self.status = status


class Guard:
    """Checks every request before the page sees it."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        self._app = app
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse a request, or pass it on with its session."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        guarded = _with_headers(send)
        try:
            scope[SESSION] = self._checked(scope, Headers(scope=scope))
        except Refused as refused:
            answer = PlainTextResponse(str(refused), refused.status)
            await answer(scope, receive, guarded)
            return
        limit = MOST_PHOTO_BYTES if self._tail(scope) in self._gate.photos else MOST_FORM_BYTES
        await self._app(scope, _limited(receive, limit), guarded)

    def _tail(self, scope: Scope) -> str:
        """The path behind the base, its first part only."""
        rest = str(scope["path"])[len(self._gate.base) :]
        return "/" + rest.lstrip("/").split("/", 1)[0]

    def _checked(self, scope: Scope, headers: Headers) -> Any:
        """The session of a request; `None` for one that opens a link."""
        gate = self._gate
        if headers.getlist("host") != [gate.host]:
            raise Refused(421, "This is not the address of this page.")
        _check_origin(scope["method"], headers, gate.origin)
        _check_body(scope, headers, MOST_PHOTO_BYTES)
        if not str(scope["path"]).startswith(gate.base + "/"):
            raise Refused(403, NO_KEY)
        tail = self._tail(scope)
        if tail == "/open":
            return None
        session = gate.keys.session(_key_of(headers))
        if session is None:
            raise Refused(403, NO_KEY)
        allowed = gate.allowed | gate.confirming if session.may_confirm else gate.allowed
        if gate.trusted or tail in allowed:
            return session
        raise Refused(403, "This is done at the laptop.")


NO_KEY = "This address opens only with a key that holds. Get a new one where stampreader runs."


def _check_origin(method: str, headers: Headers, origin: str) -> None:
    """No other page may post here, fetch from here, or show what is here."""
    if method not in ("GET", "HEAD", "POST"):
        raise Refused(405, "Not taken here.")
    if method == "POST" and headers.getlist("origin") != [origin]:
        raise Refused(403, "This came from another page.")
    if headers.get("origin", origin) != origin:
        raise Refused(403, "This came from another page.")
    from_site = headers.get("sec-fetch-site", "none")
    opened = headers.get("sec-fetch-mode") == "navigate" and method == "GET"
    if from_site not in ("none", "same-origin") and not opened:
        raise Refused(403, "This came from another page.")


def _check_body(scope: Scope, headers: Headers, most: int) -> None:
    if headers.get("content-encoding", "identity") != "identity":
        raise Refused(415, "Send it uncompressed.")
    said = headers.get("content-length", "0")
    if not (said.isascii() and said.isdigit()) or len(said) > 12:
        raise Refused(400, "The length is not a number.")
    if int(said) > most:
        raise Refused(413, "Too large.")
    if len(scope["path"]) + len(scope["query_string"]) > MOST_ADDRESS_BYTES:
        raise Refused(414, "Too long.")
    if sum(len(name) + len(value) for name, value in scope["headers"]) > MOST_HEADER_BYTES:
        raise Refused(431, "Too long.")


def _key_of(headers: Headers) -> str:
    """The key in the cookie; empty if there is none."""
    cookies: SimpleCookie = SimpleCookie()
    try:
        cookies.load(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[COOKIE].value if COOKIE in cookies else ""


def _limited(receive: Receive, most: int) -> Receive:
    """Takes no more than so many bytes, and waits for none of them too long."""
    taken = 0

    async def next_part() -> Message:
        nonlocal taken
        try:
            message = await asyncio.wait_for(receive(), PAUSE_S)
        except TimeoutError as error:
            raise TooSlow("the upload stopped in the middle") from error
        taken += len(message.get("body", b""))
        if taken > most:
            raise TooLarge("that is more than is taken at once")
        return message

    return next_part


def _with_headers(send: Send) -> Send:
    """Adds the headers that every answer carries."""

    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return with_headers

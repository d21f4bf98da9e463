"""The page as an application: its addresses, and what an error becomes."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp

from stampreader.errors import StampError
from stampreader.web import pages_look, pages_phone, pages_review
from stampreader.web.guard import COOKIE, NO_KEY, Gate, Guard
from stampreader.web.pages_review import workplace
from stampreader.web.refusals import OTHER, line_of, status_of
from stampreader.web.render import (
    LOOKS,
    STATIC,
    SWITCH,
    address,
    gate_of,
    page,
    prepare_pages,
    static_file,
)
from stampreader.web.workplace import Workplace

EVERYBODY = frozenset(
    {"/", "/camera", "/look", "/margin", "/crop", "/looks", *(f"/{name}" for name in STATIC)}
)
"""Paths a phone may use."""
CONFIRMING = frozenset({"/review", "/pulse", "/rest", "/whole", "/photo", "/deliveries"})
"""Paths for a phone that was allowed to confirm."""
PHOTOS = frozenset({"/camera", "/look"})
"""Paths that take a photo."""


def make_app(shared: Workplace, gate: Gate) -> ASGIApp:
    """The page behind one gate."""
    app = Starlette(
        routes=[Mount(gate.base, routes=ROUTES)],
        exception_handlers={
            StampError: _refused,
            ClientDisconnect: _gone,
            HTTPException: _plain,
            Exception: _failed,
        },
    )
    prepare_pages()
    app.state.workplace = shared
    app.state.gate = gate
    return Guard(app, gate)


async def enter(request: Request) -> Response:
    """Open a link: it works once and gives the browser its own key."""
    if "prefetch" in request.headers.get("sec-purpose", ""):
        return Response(status_code=425)  # a look ahead must not use the link up
    gate, place = gate_of(request), workplace(request)
    name = _browser(request)
    key = gate.keys.redeem(request.query_params.get("key", ""), name)
    if key is None:
        return Response(NO_KEY, 403, media_type="text/plain")
    place.opened(gate)
    answer = RedirectResponse(address(gate, "/"), 303)
    answer.set_cookie(COOKIE, key, path=gate.base + "/", httponly=True, samesite="strict")
    return answer


def _browser(request: Request) -> str:
    """What a browser may be called in the list of phones: its kind and its address."""
    agent = request.headers.get("user-agent", "")
    kinds = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
    kind = next((k for k in kinds if k in agent), "Browser")
    return f"{kind} at {request.client.host if request.client else 'an unknown address'}"


async def home(request: Request) -> Response:
    """The review at the laptop, the camera on a phone."""
    session = request.scope["stampreader.session"]
    if gate_of(request).trusted or session.may_confirm:
        return await pages_review.start(request)
    return RedirectResponse(address(gate_of(request), "/camera"), 303)


async def looks(request: Request) -> Response:
    """How the page looks, and whether single keys work; kept in the browser."""
    back = request.headers.get("referer", "")
    gate = gate_of(request)
    start = f"{gate.origin}{gate.base}/"
    answer = RedirectResponse(back if back.startswith(start) else address(gate, "/"), 303)
    async with request.form(max_files=0, max_fields=4) as form:
        for name, allowed in (("look", LOOKS), ("keys", SWITCH)):
            value = form.get(name)
            if value in allowed:
                answer.set_cookie(name, str(value), max_age=31_536_000, samesite="strict")
    return answer


async def static(request: Request) -> Response:
    """A file of the page itself; its name is one of those in the table of routes."""
    return static_file(request.url.path.rsplit("/", 1)[-1])


async def stop(request: Request) -> Response:
    """End the program; what was confirmed is stored."""
    answer = page(request, "stopped.html")
    workplace(request).stop()
    return answer


ROUTES = [
    Route("/open", enter, methods=["GET"]),
    Route("/", home, methods=["GET"]),
    Route("/deliveries", pages_review.choose, methods=["GET"]),
    Route("/review", pages_review.review, methods=["GET"]),
    Route("/review", pages_review.answer, methods=["POST"]),
    Route("/rest", pages_review.rest, methods=["GET"]),
    Route("/pulse", pages_review.pulse, methods=["GET"]),
    Route("/crop/{sha256}", pages_review.crop, methods=["GET"]),
    Route("/whole/{key:int}/{number:int}", pages_review.whole, methods=["GET"]),
    Route("/photo/{key:int}/{number:int}", pages_review.photo, methods=["GET"]),
    Route("/phone", pages_phone.panel, methods=["GET"]),
    Route("/phone", pages_phone.manage, methods=["POST"]),
    Route("/camera", pages_phone.camera, methods=["GET"]),
    Route("/camera", pages_phone.upload, methods=["POST"]),
    Route("/look", pages_look.look, methods=["GET"]),
    Route("/look", pages_look.scan, methods=["POST"]),
    Route("/margin", pages_look.margin, methods=["GET"]),
    Route("/looks", looks, methods=["POST"]),
    Route("/stop", stop, methods=["POST"]),
    *(Route(f"/{name}", static, methods=["GET"]) for name in STATIC),
]


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, StampError)
    if status_of(error) >= 500:
        workplace(request).tell(error.line())
    return page(request, "refused.html", status_of(error), told=line_of(error))


async def _gone(request: Request, error: Exception) -> Response:
    """The browser went away in the middle; nobody reads the answer."""
    return Response(status_code=400)


async def _plain(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    told = "There is nothing here." if error.status_code == 404 else "That was not understood."
    return page(request, "refused.html", error.status_code, told=told)


async def _failed(request: Request, error: Exception) -> Response:
    """A fault of ours: the terminal has the details, the page only says so."""
    return page(request, "refused.html", 500, told=OTHER)

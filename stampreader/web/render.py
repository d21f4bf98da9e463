"""Pages from templates: every text is escaped, every file comes from the package."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from typing import Any
from urllib.parse import urlencode

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from stampreader.web.guard import Gate
from stampreader.words import CAUTION

LOOKS = ("auto", "light", "dark", "sun")
"""How the page looks: as the system says, light, dark, or of highest contrast."""
SWITCH = ("on", "off")
STATIC = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}


@lru_cache(maxsize=1)
def templates() -> jinja2.Environment:
    """The templates; undefined names are faults."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader("stampreader.web"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def prepare_pages() -> None:
    """Read templates and files before anybody waits for them."""
    for name in templates().list_templates():
        templates().get_template(name)
    for name in STATIC:
        static_file(name)


@lru_cache(maxsize=len(STATIC))
def static_file(name: str) -> Response:
    """A file of the page itself; only those listed are ever read."""
    data = files("stampreader.web").joinpath("static", name).read_bytes()
    return Response(data, media_type=STATIC[name], headers={"cache-control": "no-cache"})


def gate_of(request: Request) -> Gate:
    """The gate a request came through."""
    gate = request.app.state.gate
    assert isinstance(gate, Gate)
    return gate


def page(request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from a template, with what every page needs."""
    gate = gate_of(request)
    session = request.scope.get("stampreader.session")
    whole = {
        "base": gate.base,
        "trusted": gate.trusted,
        "may_confirm": bool(session and session.may_confirm),
        "look": _chosen(request, "look", LOOKS),
        "keys": _chosen(request, "keys", SWITCH) if gate.trusted else "off",
        "caution": CAUTION,
        "key": _key,
        "here": lambda name: _here(request, gate, name),
        "who": request.app.state.workplace.sitting.who,
        "url": lambda path, **query: address(gate, path, **query),
        **values,
    }
    return HTMLResponse(templates().get_template(name).render(whole), status)


def address(gate: Gate, path: str, **query: str) -> str:
    """The address of a page, with its values escaped."""
    return f"{gate.base}{path}" + (f"?{urlencode(query)}" if query else "")


def _key(name: object) -> Markup:
    """A key as it is shown on a button; the page hides it where keys are of no use."""
    return Markup("<kbd aria-hidden='true'>{}</kbd>").format(name)


def _here(request: Request, gate: Gate, name: str) -> str:
    """Marks the link of the page that is shown."""
    tail = request.url.path[len(gate.base) :].lstrip("/").split("/", 1)[0]
    return Markup('aria-current="page"') if tail == name else ""


def _chosen(request: Request, name: str, allowed: tuple[str, ...]) -> str:
    value = request.cookies.get(name, "")
    return value if value in allowed else allowed[0]

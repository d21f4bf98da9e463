"""The review: the question asked now, and the answers to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import PurePath

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from stampreader.confirm import Answer, Decision
from stampreader.errors import RegisterError, StampError, UsageError
from stampreader.reading import evidence_quad
from stampreader.register import find_reading, read_crop, waiting
from stampreader.web.overlay import photo_drawing
from stampreader.web.refusals import NotFound, line_of, status_of
from stampreader.web.render import address, gate_of, page
from stampreader.web.show_question import question_shown
from stampreader.web.sitting import Asking, Stale
from stampreader.web.typed import numbers, understood
from stampreader.web.workplace import Workplace
from stampreader.words import Sighting

VIEW_PX = 1800
AT_ONCE = 120
"""Members of a group that come with the page; of a larger group, only the first `FIRST`."""
FIRST = 60
PICTURES_KEPT = {"cache-control": "private, max-age=3600, immutable"}
MEDIA = ("image/jpeg", "image/png")


def workplace(request: Request) -> Workplace:
    """What all pages share."""
    shared = request.app.state.workplace
    assert isinstance(shared, Workplace)
    return shared


async def start(request: Request) -> Response:
    """The deliveries that wait; with one of them only, straight to it."""
    place = workplace(request)
    if place.only is not None:
        return RedirectResponse(address(gate_of(request), "/review", delivery=place.only), 303)
    waits = await place.on_register(place.sitting.deliveries)
    if len(waits) == 1:
        only = waits[0].delivery
        return RedirectResponse(address(gate_of(request), "/review", delivery=only), 303)
    return page(request, "deliveries.html", waits=waits)


async def choose(request: Request) -> Response:
    """All deliveries that wait."""
    place = workplace(request)
    return page(request, "deliveries.html", waits=await place.on_register(place.sitting.deliveries))


def delivery_of(request: Request) -> str:
    """The delivery an address names.

    Raises:
        UsageError: none, several, or too long a name.
    """
    names = request.query_params.getlist("delivery")
    if len(names) != 1 or not 0 < len(names[0]) <= 200:
        raise UsageError("no delivery is named", remedy="Choose one at the start page.")
    return names[0]


async def review(request: Request) -> Response:
    """The question asked now."""
    place, delivery = workplace(request), delivery_of(request)
    asking = await place.on_register(place.sitting.ask, delivery)
    return _review_page(request, asking)


def _review_page(
    request: Request,
    asking: Asking,
    *,
    status: int = 200,
    error: str = "",
    typed: Mapping[str, str] | None = None,
) -> Response:
    question = asking.question
    part = slice(None) if question is None or len(question.members) <= AT_ONCE else slice(FIRST)
    shown = None if question is None else question_shown(question, evidence_quad, part)
    return page(
        request,
        "review.html" if shown is not None else "done.html",
        status,
        asking=asking,
        delivery=asking.progress.delivery,
        q=shown,
        error=error,
        typed=dict(typed or {}),
    )


async def rest(request: Request) -> Response:
    """The members of a large group that the page did not hold at first."""
    place, delivery = workplace(request), delivery_of(request)
    asking = await place.on_register(place.sitting.ask, delivery)
    if asking.question is None or request.query_params.get("token") != asking.token:
        raise Stale("this has changed meanwhile")
    shown = question_shown(asking.question, evidence_quad, slice(FIRST, None))
    return page(request, "cells.html", q=shown)


async def answer(request: Request) -> Response:
    """Carry out an answer, then show what is asked next."""
    place, delivery = workplace(request), delivery_of(request)
    async with request.form(max_files=0, max_fields=2000) as sent:
        form = {name: [str(v) for v in sent.getlist(name)] for name in sent}
    try:
        await place.on_register(_answered, place, delivery, form)
    except StampError as error:
        asking = await place.on_register(place.sitting.ask, delivery)
        typed = {name: values[0] for name, values in form.items() if values}
        return _review_page(
            request, asking, status=status_of(error), error=line_of(error), typed=typed
        )
    return RedirectResponse(address(gate_of(request), "/review", delivery=delivery), 303)


def _answered(place: Workplace, delivery: str, form: Mapping[str, list[str]]) -> None:
    sitting = place.sitting
    token = "".join(form.get("token", ()))
    seen = numbers(",".join(form.get("seen", ())))
    if form.get("decision") == ["again"]:
        sitting.ask_skipped_again(delivery)
        return
    question = sitting.ask(delivery).question
    asked = Answer(Decision.UNDO) if question is None else understood(form, question)
    sitting.answer(delivery, asked, token, seen)


async def pulse(request: Request) -> Response:
    """Whether what is shown is still what is asked; the page looks every few seconds."""
    place, delivery = workplace(request), delivery_of(request)
    asking = await place.on_register(place.sitting.ask, delivery)
    return JSONResponse({"token": asking.token, "waiting": asking.progress.waiting})


async def crop(request: Request) -> Response:
    """An evidence picture, by the hash of its content."""
    place, sha256 = workplace(request), request.path_params["sha256"]
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise NotFound("there is no such picture")
    try:
        found = await place.on_register(read_crop, place.register, sha256)
    except RegisterError as error:  # not there, or altered behind our back
        place.tell(error.line())
        raise NotFound("this picture cannot be shown") from error
    if found.media not in MEDIA:
        raise NotFound("there is no such picture")
    return Response(found.picture, media_type=found.media, headers=PICTURES_KEPT)


async def whole(request: Request) -> Response:
    """The whole photo of an arrival that waits, with the boxes of its stamp."""
    place = workplace(request)
    sighting = await place.on_register(_sighting, place, request)
    reading = await place.on_register(
        find_reading, place.register, sighting.photo, sighting.readers
    )
    size = reading.size if reading is not None else (0, 0)
    return page(
        request,
        "whole.html",
        source=f"/photo/{request.path_params['key']}/{request.path_params['number']}",
        drawing=photo_drawing(sighting.stamp, size) if min(size) > 0 else None,
        photo=PurePath(sighting.path).name,
    )


async def photo(request: Request) -> Response:
    """The photo itself, found by what the register says, decoded in a worker, made smaller."""
    place = workplace(request)
    sighting = await place.on_register(_sighting, place, request)
    seen = await place.aside(place.crew.glance, sighting.path, VIEW_PX)
    if seen.reading is None or seen.view is None or seen.reading.sha256 != sighting.photo:
        raise NotFound("the photo is no longer where it was read")
    return Response(seen.view, media_type="image/jpeg", headers=PICTURES_KEPT)


def _sighting(place: Workplace, request: Request) -> Sighting:
    """The photo of a waiting arrival that an address names by two numbers."""
    key, number = int(request.path_params["key"]), int(request.path_params["number"])
    arrivals = waiting(place.register, keys=[key])
    if not arrivals or number >= len(arrivals[0].seen):
        raise NotFound("there is no such photo")
    return arrivals[0].seen[number]

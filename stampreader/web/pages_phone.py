"""The phone: the camera page, and the panel at the laptop that lets phones in and out."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

import segno
from markupsafe import Markup
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from stampreader.errors import StampError, UsageError
from stampreader.reading import Attempt
from stampreader.register import clean_fields
from stampreader.web.arriving import Sent, arrive
from stampreader.web.guard import SESSION, Gate
from stampreader.web.keys import Session
from stampreader.web.pages_review import workplace
from stampreader.web.refusals import TooMany, line_of, status_of
from stampreader.web.render import address, gate_of, page
from stampreader.web.workplace import MOST_AT_ONCE, MOST_PHOTOS, MOST_SHOWN, Workplace

INNER = ("unexpected", "OpenCV")
"""How reasons begin that speak of the program's inside; they stay in the terminal."""
FRAGMENT = "x-part"
"""Header by which the script asks for the result alone instead of the whole page."""


def link_of(gate: Gate) -> str:
    """The address that opens a gate once."""
    return f"{gate.origin}{gate.base}/open?key={gate.keys.link().key}"


def qr_picture(text: str) -> Markup:
    """A QR code as a drawing, dark on white in every look."""
    code = segno.make(text, error="m", micro=False)
    return Markup(code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True))


async def panel(request: Request) -> Response:
    """At the laptop: a code to scan, and the phones that came in."""
    place = workplace(request)
    gate = place.phone
    link = link_of(gate) if gate is not None else ""
    return page(
        request,
        "phone.html",
        link=link,
        code=qr_picture(link) if link else "",
        until=_clock_time(gate.keys.link().until if gate else None),
        phones=gate.keys.sessions() if gate else [],
        clock=_clock_time,
        target=place.delivery,
    )


def _clock_time(moment: datetime | None) -> str:
    return "" if moment is None else moment.astimezone().strftime("%H:%M")


async def manage(request: Request) -> Response:
    """At the laptop: send a phone away, let one confirm, or say where photos go."""
    place = workplace(request)
    async with request.form(max_files=0, max_fields=8) as form:
        await _manage(place, form)
    return RedirectResponse(address(gate_of(request), "/phone"), 303)


async def _manage(place: Workplace, form: FormData) -> None:
    what, gate = form.get("what"), place.phone
    number = str(form.get("number", ""))
    session = (
        gate.keys.numbered(int(number))
        if gate is not None and re.fullmatch(r"[0-9]{1,6}", number)
        else None
    )
    if what == "delivery":
        cleaned = clean_fields({"delivery": str(form.get("delivery", ""))})["delivery"]
        if not cleaned:
            raise UsageError("no delivery is named", remedy="Type its name.")
        place.delivery = cleaned
    elif what == "revoke-all" and gate is not None:
        gate.keys.revoke_all()
    elif what == "revoke" and gate is not None and session is not None:
        gate.keys.revoke(session.number)
    elif what == "allow" and session is not None:
        session.may_confirm = not session.may_confirm


async def camera(request: Request) -> Response:
    """The camera page with the latest results."""
    return _camera_page(request)


def _camera_page(request: Request, status: int = 200) -> Response:
    session: Session = request.scope[SESSION]
    ends = gate_of(request).keys.ends(session)
    return page(
        request,
        "camera.html",
        status,
        sent=session.sent,
        target=workplace(request).delivery,
        until=_clock_time(ends),
    )


async def upload(request: Request) -> Response:
    """Take one photo, read it at once, and tell what was read."""
    session: Session = request.scope[SESSION]
    result, status = await _result(request, session)
    session.sent.insert(0, result)
    del session.sent[MOST_SHOWN:]
    if request.headers.get(FRAGMENT) == "1":
        return page(request, "sent.html", status, one=result)
    return RedirectResponse(address(gate_of(request), "/camera"), 303)


async def _result(request: Request, session: Session) -> tuple[Sent, int]:
    """What came of an upload; a refusal is a result too."""
    place = workplace(request)
    try:
        with _a_turn(place, session):
            async with request.form(max_files=1, max_fields=4, max_part_size=1024) as form:
                return await _read(place, form), 200
    except StampError as error:
        return Sent("failed", line_of(error)), status_of(error)


class _a_turn:  # noqa: N801 (a context manager reads like a word)
    """One of the few uploads that may be under way, counted for the phone's key."""

    def __init__(self, place: Workplace, session: Session) -> None:
        self._place = place
        self._session = session

    def __enter__(self) -> None:
        if self._place.under_way >= MOST_AT_ONCE:
            raise TooMany("several photos are being read already")
        if self._session.photos >= MOST_PHOTOS:
            raise TooMany(
                f"this key has sent {MOST_PHOTOS} photos", remedy="Scan the code again for another."
            )
        self._place.under_way += 1
        self._session.photos += 1

    def __exit__(self, *_: object) -> None:
        self._place.under_way -= 1


def the_photo(form: FormData) -> BinaryIO:
    """The file of a form.

    Raises:
        UsageError: there is none.
    """
    photo = form.get("photo")
    if not isinstance(photo, UploadFile) or photo.size == 0:
        raise UsageError("no photo came", remedy="Take one, and wait until it is sent.")
    return photo.file


async def _read(place: Workplace, form: FormData) -> Sent:
    onto = str(form.get("onto", ""))
    put_down = await place.aside(place.shelf.put_down, the_photo(form))
    try:
        attempt = await place.aside(place.crew.read, put_down)
        if attempt.reading is None:
            place.tell(attempt.failure.message if attempt.failure else "a photo was not read")
            return Sent("failed", photo_failure(attempt))
        kept = await place.aside(place.shelf.keep, put_down, attempt.reading.sha256)
        return await place.on_register(
            _arrive, place, attempt, kept, int(onto) if re.fullmatch(r"[0-9]{1,15}", onto) else None
        )
    finally:
        await place.aside(place.shelf.throw_away, put_down)


def _arrive(place: Workplace, attempt: Attempt, kept: Path, onto: int | None) -> Sent:
    return arrive(place.register, attempt, kept, place.delivery, at=place.clock(), onto=onto)


def photo_failure(attempt: Attempt) -> str:
    """Why a photo was not read, without the name of any file here."""
    failure = attempt.failure
    if failure is None or failure.kind != "photo":
        return "The photo could not be read. See the terminal."
    told = failure.message.split(": ", 1)[-1].replace(attempt.path, "the file")
    if told.startswith(INNER):
        return "The photo could not be read. See the terminal."
    return f"This photo cannot be read: {told}"

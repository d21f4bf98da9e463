"""Looking a connector up by the label in a photo or by its typed id, and its margin."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from stampreader.confirm import parse_label
from stampreader.errors import UnknownConnector, UsageError
from stampreader.reading import Attempt
from stampreader.register import (
    ID_PATTERN,
    Connector,
    find_connector,
    read_intervals,
    read_settings,
)
from stampreader.standards import NO_THIRD_PARTY, third_party_marks
from stampreader.web.pages_phone import photo_failure, the_photo
from stampreader.web.pages_review import workplace
from stampreader.web.refusals import line_of, status_of
from stampreader.web.render import address, gate_of, page
from stampreader.web.show_record import (
    MarginShown,
    MOST_LOAD_kN,
    StateShown,
    STEP_kN,
    facts,
    figures_shown,
    history_shown,
    load_from,
    margin_shown,
    state_shown,
)
from stampreader.web.workplace import Workplace

LABEL_PX = 320
USUAL_LOAD = "2.0"


async def look(request: Request) -> Response:
    """The form, or the record of the connector that is named."""
    id = request.query_params.get("id", "").strip()
    if not id:
        return page(request, "look.html", error="", asked="")
    place, load = workplace(request), request.query_params.get("load", USUAL_LOAD)
    try:
        record = await place.on_register(_record, place, _checked(id), load_from(load))
    except (UnknownConnector, UsageError) as error:
        return page(request, "look.html", status_of(error), error=line_of(error), asked=id[:40])
    return page(request, "record.html", step=STEP_kN, most=MOST_LOAD_kN, **record)


async def margin(request: Request) -> Response:
    """Only the margins, for the slider."""
    place, query = workplace(request), request.query_params
    id, load = _checked(query.get("id", "")), load_from(query.get("load", USUAL_LOAD))
    _, _, shown = await place.on_register(_judged, place, id, load)
    return page(request, "margin.html", margin=shown)


async def scan(request: Request) -> Response:
    """A photo of a label: to the record of the connector it names."""
    place = workplace(request)
    async with request.form(max_files=1, max_fields=4, max_part_size=1024) as form:
        put_down = await place.aside(place.shelf.put_down, the_photo(form))
    try:
        seen = await place.aside(place.crew.glance, put_down, LABEL_PX)
    finally:
        await place.aside(place.shelf.throw_away, put_down)
    ids = _ids(seen)
    if len(ids) == 1:
        return RedirectResponse(address(gate_of(request), "/look", id=ids[0]), 303)
    return page(request, "look.html", 422, error=_why(seen, ids), asked="")


def _ids(seen: Attempt) -> list[str]:
    labels = seen.reading.labels if seen.reading is not None else ()
    return list(dict.fromkeys(filter(None, map(parse_label, labels))))


def _why(seen: Attempt, ids: list[str]) -> str:
    if seen.reading is None:
        return photo_failure(seen)
    if ids:
        return f"Several labels are in the photo: {', '.join(ids)}. Take one by itself."
    return (
        "No label was found in the photo. Go closer, hold still, and avoid glare; or type the id."
    )


def _checked(id: str) -> str:
    if not ID_PATTERN.fullmatch(id):
        raise UsageError(
            "that cannot be an id",
            remedy="An id has up to 40 letters, digits, '.', '_', '/' or '-'.",
        )
    return id


def _judged(
    place: Workplace, id: str, load_kN: Decimal
) -> tuple[Connector, StateShown, MarginShown]:
    register = place.register
    settings = read_settings(register)
    connector = find_connector(register, id)
    today = place.clock().astimezone().date()
    state = state_shown(connector, read_intervals(register), settings, today)
    return connector, state, margin_shown(connector, state, load_kN, settings)


def _record(place: Workplace, id: str, load_kN: Decimal) -> dict[str, Any]:
    connector, state, shown = _judged(place, id, load_kN)
    return {
        "id": connector.id,
        "state": state,
        "figures": figures_shown(connector),
        "marks": connector.marks,
        "flag": "" if third_party_marks(connector.marks) else NO_THIRD_PARTY,
        "facts": list(facts(connector)),
        "crops": [crop for _, _, crop in connector.photos if crop],
        "conflicts": connector.conflicts,
        "by_hand": connector.by_hand,
        "history": history_shown(place.register.history(connector.uid)),
        "margin": shown,
        "load": load_kN,
    }

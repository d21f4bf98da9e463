"""The kit list on paper: what was drawn, its margins at the planned load, and what was left out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from stampreader.cli.common import say
from stampreader.cli.fitness import remarks_of
from stampreader.cli.printing import paper_named, refuse_taken, write_file
from stampreader.cli.reports import SUFFIXES, drawn_as
from stampreader.cli.show_pick import verdict_text
from stampreader.errors import UsageError
from stampreader.margin import weakest_first
from stampreader.register import Connector, Register, Settings, next_due

if TYPE_CHECKING:
    from stampreader.cli.picking import Picked, Wish
    from stampreader.report import Document, KitLine


def refuse_files(wish: Wish) -> None:
    """Stop before any work if the list could not be written as asked.

    Raises:
        UsageError: an unknown form, a file that exists, or no load to print margins for.
    """
    for path in wish.files:
        if path.suffix.lower() not in SUFFIXES:
            raise UsageError(
                f"{path.name} does not say in which form to write",
                remedy=f"End the file's name with {', '.join(SUFFIXES)}.",
            )
    if wish.files and wish.load is None:
        raise UsageError(
            "a kit list shows margins, and no load is given", remedy="Give --load, such as '2 kN'."
        )
    paper_named(wish.paper)
    refuse_taken(wish.files, overwrite=wish.overwrite)


def write_kit(picked: Picked, wish: Wish, book: Register, settings: Settings, at: datetime) -> None:
    """Write the kit list in every form asked for."""
    drawn = []
    for path in wish.files:
        form = path.suffix.lower()
        # a CSV file holds one table: the kit itself
        document = _document(picked, wish, book, settings, at, left_out=form != ".csv")
        drawn.append((path, drawn_as(form, [document])))
    for path, data in drawn:
        write_file(path, data)
        say(f"{path}: {len(_members(picked))} connectors")


def _document(
    picked: Picked,
    wish: Wish,
    book: Register,
    settings: Settings,
    at: datetime,
    *,
    left_out: bool,
) -> Document:
    from stampreader.report import KitList, Printing, kit_document
    from stampreader.report.filing import state_of

    team = settings.team or "Team name not set"
    printing = Printing(team, at.astimezone(), paper_named(wish.paper), state_of(book))
    uses = "; ".join(answer.use.title for answer in picked.answers)
    kit = KitList(
        name=wish.name,
        use=uses,
        load=str(picked.planned.load),
        ratio=picked.planned.ratio,
        lines=_kit_lines(picked),
        left_out=tuple(_left_out(picked)) if left_out else (),
    )
    return kit_document(kit, printing)


def _left_out(picked: Picked) -> Iterator[tuple[str, str]]:
    """Connectors that do for none of the uses, each once with every reason."""
    reasons: dict[str, list[str]] = {}
    for answer in picked.answers:
        for connector, why in answer.unfit:
            reasons.setdefault(connector.id, []).extend(why)
    fit = {connector.id for answer in picked.answers for connector in answer.fit}
    for id, every in reasons.items():
        if id not in fit:
            yield id, "; ".join(dict.fromkeys(every))


def _members(picked: Picked) -> list[tuple[str, Connector]]:
    """Each connector of the kit with what it was drawn for; all that qualify without counts."""
    if picked.needs:
        return [(use.name, connector) for use, connector in picked.kit()]
    return [(a.use.name, connector) for a in picked.answers for connector in a.fit]


def _kit_lines(picked: Picked) -> tuple[KitLine, ...]:
    members: dict[str, tuple[list[str], Connector]] = {}
    for use, connector in _members(picked):
        members.setdefault(connector.id, ([], connector))[0].append(use)
    margins = filter(None, (picked.planned.margin(c) for _, c in members.values()))
    order = [margin.name for margin in weakest_first(margins)]
    return tuple(_kit_line(*members[id], picked) for id in order)


def _kit_line(uses: Sequence[str], connector: Connector, picked: Picked) -> KitLine:
    from stampreader.report import KitLine

    margin = picked.planned.margin(connector)
    assert margin is not None, "a kit list is refused without a load"
    several = f"({', '.join(uses)})" if len(picked.answers) > 1 else ""
    return KitLine(
        id=connector.id,
        name=" ".join(filter(None, (connector.maker, connector.model, several))),
        place=connector.place,
        closed_kN=connector.closed_kN,
        cross_kN=connector.cross_kN,
        open_kN=connector.open_kN,
        weakest=str(margin.weakest.slot),
        margin=margin.weakest.margin,
        verdict=f"{picked.planned.ratio}:1 {verdict_text(margin)}",
        remarks=remarks_of(connector),
        next_due=next_due(connector, picked.intervals),
    )

"""From what was asked on the command line to documents, and from documents to files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.cli.common import register_path
from stampreader.cli.printing import (
    paper_named,
    printing_tools,
    refuse_taken,
    tell_written,
    write_file,
)
from stampreader.errors import UsageError

if TYPE_CHECKING:
    from stampreader.register import Register
    from stampreader.report import Document, Printing

SUFFIXES = (".pdf", ".html", ".csv", ".xlsx")


@dataclass(frozen=True, slots=True)
class Asked:
    """A report as asked for; see the options of `stampreader report`."""

    what: str
    names: tuple[str, ...]
    files: tuple[Path, ...]
    at: datetime
    on: str = ""
    days: int | None = None
    states: tuple[str, ...] = ()
    delivery: str = ""
    place: str = ""
    load: str | None = None
    ratio: str | None = None
    paper: str = "a4"
    overwrite: bool = False
    as_json: bool = False
    register: Path | None = None


def write_reports(asked: Asked) -> None:
    """Gather the report once and write it in every form asked for.

    Raises:
        UsageError: a form that is not known, a name missing or too many, a file that exists.
        RegisterError: the register cannot be read.
    """
    from stampreader.register import open_register, read_settings
    from stampreader.report import Printing
    from stampreader.report.filing import state_of

    unknown = [path for path in asked.files if path.suffix.lower() not in SUFFIXES]
    if unknown:
        raise UsageError(
            f"{unknown[0].name} does not say in which form to write",
            remedy=f"End the file's name with {', '.join(SUFFIXES)}.",
        )
    paper = paper_named(asked.paper)
    refuse_taken(asked.files, overwrite=asked.overwrite)
    with open_register(register_path(asked.register), read_only=True) as register:
        team = read_settings(register).team or "Team name not set"
        printing = Printing(team, asked.at.astimezone(), paper, state_of(register))
        documents = _GATHER[asked.what](register, asked, printing)
    drawn = [(path, drawn_as(path.suffix.lower(), documents)) for path in asked.files]
    for path, data in drawn:
        write_file(path, data)
        tell_written(path, as_json=asked.as_json, report=asked.what, rows=_rows(documents))


def drawn_as(suffix: str, documents: list[Document]) -> bytes:
    """The documents in the form that a file name's ending asks for."""
    if suffix in (".csv", ".xlsx") and len(documents) > 1:
        raise UsageError(
            f"{len(documents)} cards do not fit one {suffix[1:].upper()} file",
            remedy="Give one id, or write them as .pdf or .html.",
        )
    with printing_tools():
        return _FORMS[suffix](documents)


def _pdf(documents: list[Document]) -> bytes:
    from stampreader.report.pdf import document_pdf

    return document_pdf(*documents)


def _html(documents: list[Document]) -> bytes:
    from stampreader.report.html import document_html

    return document_html(*documents).encode("utf-8")


def _csv(documents: list[Document]) -> bytes:
    from stampreader.report import document_csv

    # the mark lets spreadsheet programs see that it is UTF-8
    return document_csv(documents[0]).encode("utf-8-sig")


def _xlsx(documents: list[Document]) -> bytes:
    from stampreader.report import document_xlsx

    return document_xlsx(documents[0])


_FORMS = {".pdf": _pdf, ".html": _html, ".csv": _csv, ".xlsx": _xlsx}


def _rows(documents: list[Document]) -> int:
    return sum(len(table.rows) for document in documents for table in document.tables)


def _one_name(asked: Asked, what: str) -> str:
    if len(asked.names) != 1:
        raise UsageError(f"give one {what}", remedy=f"Such as: report {asked.what} NAME --to FILE.")
    return asked.names[0]


def _no_name(asked: Asked) -> None:
    if asked.names:
        raise UsageError(
            f"the report '{asked.what}' takes no name, but {asked.names[0]} was given",
            remedy="Limit it with --state, --delivery or --place where that is possible.",
        )


def _cards(register: Register, asked: Asked, printing: Printing) -> list[Document]:
    from stampreader.cli.reporting import margin_terms
    from stampreader.register import find_connector, next_due, read_intervals
    from stampreader.report import card_document
    from stampreader.report.filing import card_of

    if not asked.names:
        raise UsageError("no connector is named", remedy="Give ids: report card C-0001 --to FILE.")
    load_kN, ratio = margin_terms(register, asked.load, asked.ratio)
    intervals = read_intervals(register)
    connectors = [find_connector(register, name) for name in dict.fromkeys(asked.names)]
    return [
        card_document(
            card_of(register, c, due_on=next_due(c, intervals), load_kN=load_kN, ratio=ratio),
            printing,
        )
        for c in connectors
    ]


def _register(register: Register, asked: Asked, printing: Printing) -> list[Document]:
    from stampreader.cli.choosing import typed_filter
    from stampreader.register import list_connectors, next_due, read_intervals
    from stampreader.report import register_document
    from stampreader.report.filing import list_line

    _no_name(asked)
    which = typed_filter(
        asked.states, mark="", at_least="", in_conflict=False,
        delivery=asked.delivery, place=asked.place,
    )  # fmt: skip
    said = [
        *(["state " + " or ".join(asked.states)] if asked.states else []),
        *([f"delivery {asked.delivery}"] if asked.delivery else []),
        *([f"place {asked.place}"] if asked.place else []),
    ]
    intervals = read_intervals(register)
    lines = [list_line(c, next_due(c, intervals)) for c in list_connectors(register, which)]
    return [register_document(lines, printing, ", ".join(said))]


def _delivery(register: Register, asked: Asked, printing: Printing) -> list[Document]:
    from stampreader.cli.reporting import delivery_of
    from stampreader.report import delivery_document

    name = _one_name(asked, "delivery")
    return [delivery_document(delivery_of(register, name), printing)]


def _due(register: Register, asked: Asked, printing: Printing) -> list[Document]:
    from stampreader.register import list_due, read_settings
    from stampreader.report import due_document
    from stampreader.report.filing import due_line

    _no_name(asked)
    soon = read_settings(register).due_soon_days
    days = soon if asked.days is None else asked.days
    today = day_named(asked.on, asked.at)
    found = list_due(
        register, today=today, within_days=days, place=asked.place, delivery=asked.delivery
    )
    return [due_document(list(map(due_line, found)), printing, today, days)]


def _inspections(register: Register, asked: Asked, printing: Printing) -> list[Document]:
    from stampreader.report import inspection_document
    from stampreader.report.filing import inspection_day

    _no_name(asked)
    day = day_named(asked.on, asked.at)
    return [inspection_document(inspection_day(register, day), printing)]


_GATHER: dict[str, Callable[[Register, Asked, Printing], list[Document]]] = {
    "card": _cards,
    "register": _register,
    "due": _due,
    "inspections": _inspections,
    "delivery": _delivery,
}


def day_named(text: str, at: datetime) -> date:
    """A day as typed; today if none.

    Raises:
        UsageError: not a day.
    """
    from stampreader.register import clean_day

    return date.fromisoformat(clean_day(text)) if text else at.astimezone().date()

"""The exchange file: a whole register as JSON Lines, written and read back.

Described by `schema/exchange.schema.json`. The first line says what it is, the last one how many
lines there are and their SHA-256, so that a file cut short is noticed. Events carry their hashes;
reading it back unites the two histories as a merger does. Lines of connectors are for other
programs and are worked out again here.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from stampreader.errors import ImportRefused
from stampreader.register.connectors import list_connectors
from stampreader.register.events import Event, stamp_time
from stampreader.register.faults import explained
from stampreader.register.incoming import SHA256, event_from
from stampreader.register.merge import EVIDENCE, Merger, unite
from stampreader.register.raw import reading_from_json
from stampreader.register.sheet import as_row
from stampreader.register.store import Register, event_of

FORMAT = "stampreader register"
VERSION = 1
MOST_LINE_BYTES = 64 * 2**20
COLUMNS: dict[str, tuple[str, ...]] = {
    "photos": ("sha256", "name", "width_px", "height_px", "taken_on", "first_at"),
    "readings": ("photo", "readers", "at", "body"),
    "crops": ("sha256", "photo", "stamp", "media", "picture"),
}
_SINGULAR = {"photos": "photo", "readings": "reading", "crops": "crop"}
_PLURAL = {singular: plural for plural, singular in _SINGULAR.items()}


def export_lines(register: Register, *, at: datetime) -> Iterator[str]:
    """The register as lines of JSON, each with its line end; the same register, the same lines.

    It is written as it was at one moment; others may go on writing.

    Args:
        register: the register.
        at: the present time, written into the first line.
    """
    digest, count = hashlib.sha256(), 0
    with register.snapshot():
        for value in _values(register, at):
            line = json.dumps(value, ensure_ascii=False, separators=(",", ":")) + "\n"
            digest.update(line.encode("utf-8"))
            count += 1
            yield line
    end = {"type": "end", "lines": count, "sha256": digest.hexdigest()}
    yield json.dumps(end, separators=(",", ":")) + "\n"


def _values(register: Register, at: datetime) -> Iterator[dict[str, Any]]:
    count = register.rows(
        "SELECT (SELECT count(*) FROM events) AS events,"
        " (SELECT count(*) FROM connectors WHERE life != 'withdrawn') AS connectors"
    )[0]
    head = {"type": "header", "format": FORMAT, "version": VERSION, "made_at": stamp_time(at)}
    yield {**head, **count}
    for row in _rows(register, "SELECT * FROM events ORDER BY station, number"):
        event = event_of(row)
        yield {"type": "event", "event": event.id, **event.content(), "hash": event.hash}
    for table in EVIDENCE:
        key = "photo, readers" if table == "readings" else "sha256"
        for row in _rows(register, f"SELECT * FROM {table} ORDER BY {key}"):
            yield {"type": _SINGULAR[table], **_evidence_out(row)}
    for connector in list_connectors(register):
        values = as_row(connector)
        for name in ("closed_kN", "cross_kN", "open_kN"):
            values[name] = None if values[name] is None else str(values[name])
        yield {"type": "connector", **values}


def _rows(register: Register, sql: str) -> Iterator[dict[str, Any]]:
    with explained(register.path):
        cursor = register.db.conn.execute(sql)
        names = [column[0] for column in cursor.description]
        for row in cursor:
            yield dict(zip(names, row, strict=True))


def _evidence_out(row: dict[str, Any]) -> dict[str, Any]:
    if "picture" in row:
        row["picture"] = base64.b64encode(row["picture"]).decode("ascii")
    if "body" in row:
        row["body"] = json.loads(row["body"])
    return row


def import_lines(
    register: Register,
    lines: Iterable[bytes],
    *,
    source: str,
    who: str,
    at: datetime,
    rehearse: bool = False,
) -> Merger:
    """Unite the register with an exchange file: all of it or nothing.

    Args:
        register: the register that grows.
        lines: lines of the file as bytes.
        source: name of the file, for the record.
        who: who imports.
        at: the present time.
        rehearse: work everything out, and store nothing.

    Raises:
        ImportRefused: the file is cut short, altered, of a newer form, or not understood; the
            number of the line is named.
    """
    reader = _Reader(lines)
    return unite(
        register, reader.events(), reader.evidence(), source=source, who=who, at=at,
        rehearse=rehearse,
    )  # fmt: skip


class _Reader:
    """Goes through an exchange file once: first its events, then its evidence, then its end."""

    def __init__(self, lines: Iterable[bytes]) -> None:
        self.values = _checked(lines)
        self.held: tuple[int, dict[str, Any]] | None = None

    def events(self) -> Iterator[Event]:
        """The events; stops at the first line of another kind and keeps it."""
        for number, value in self.values:
            if value["type"] != "event":
                self.held = (number, value)
                return
            try:
                yield event_from(value)
            except ImportRefused as error:
                raise _at(number, str(error)) from error

    def evidence(self) -> Iterator[tuple[str, Sequence[Any]]]:
        """Rows of photos, readings and pictures; runs on to the end of the file."""
        for number, value in self._rest():
            kind = value["type"]
            if kind == "event":
                raise _at(number, "an event stands after the evidence")
            if kind in _PLURAL:
                yield _PLURAL[kind], _evidence_in(number, _PLURAL[kind], value)
            elif kind != "connector":
                raise _at(number, f"there is no kind of line '{kind}'")

    def _rest(self) -> Iterator[tuple[int, dict[str, Any]]]:
        if self.held is not None:
            yield self.held
        yield from self.values


def _at(number: int, what: str) -> ImportRefused:
    return ImportRefused(f"line {number}: {what}")


def _checked(lines: Iterable[bytes]) -> Iterator[tuple[int, dict[str, Any]]]:
    """Each line with its number; header and end are looked at here and not given on."""
    digest, number, ended = hashlib.sha256(), 0, False
    for number, line in enumerate(lines, 1):
        if ended:
            raise _at(number, "something follows the end of the file")
        value = _value_of(number, line)
        if number == 1:
            _check_header(value)
        elif value["type"] == "end":
            _check_end(number, value, digest.hexdigest())
            ended = True
        else:
            yield number, value
        digest.update(line)
    if not ended:
        raise ImportRefused(
            "the file is empty" if number == 0 else f"the file is cut short after line {number}",
            remedy="Export it again and copy it whole; nothing was imported.",
        )


def _value_of(number: int, line: bytes) -> dict[str, Any]:
    if len(line) > MOST_LINE_BYTES:
        raise _at(number, f"is longer than {MOST_LINE_BYTES // 2**20} MB")
    try:
        value = json.loads(line.decode("utf-8"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        cut = "" if line.endswith(b"\n") else "; the file may be cut short here"
        raise _at(number, f"is no JSON{cut}") from error
    if not isinstance(value, dict) or not isinstance(value.get("type"), str):
        raise _at(number, "is no object with a type")
    return value


def _no_constant(text: str) -> None:
    raise ValueError(f"{text} is no JSON")


def _check_header(value: Mapping[str, Any]) -> None:
    if value["type"] != "header" or value.get("format") != FORMAT:
        raise ImportRefused(
            "this is no exchange file of a register",
            remedy="Give a file written by `stampreader export`, or a .csv or .xlsx sheet.",
        )
    if value.get("version") != VERSION:
        raise ImportRefused(
            f"the file has form {value.get('version')}, this program reads form {VERSION}",
            remedy="Update stampreader; nothing was imported.",
        )


def _check_end(number: int, value: Mapping[str, Any], digest: str) -> None:
    if value.get("lines") != number - 1:
        raise _at(number, f"the file should have {value.get('lines')} lines before its end")
    if value.get("sha256") != digest:
        raise _at(number, "the file was altered or damaged: its SHA-256 does not agree")


_STARTS = {"image/jpeg": (b"\xff\xd8",), "image/png": (b"\x89PNG\r\n\x1a\n",)}
_KINDS: dict[str, tuple[type, ...]] = {
    "width_px": (int,),
    "height_px": (int,),
    "stamp": (int,),
    "taken_on": (str, type(None)),
    "body": (dict,),
}


def _evidence_in(number: int, table: str, value: Mapping[str, Any]) -> list[Any]:
    """A line of evidence as the row of its table."""
    row: list[Any] = []
    for name in COLUMNS[table]:
        if type(value.get(name)) not in _KINDS.get(name, (str,)):
            raise _at(number, f"its {name} is missing or of the wrong kind")
        row.append(_cell(number, name, value[name]))
    key = row[0]
    if table == "crops" and not row[4].startswith(_STARTS.get(row[3], (b"\0never",))):
        raise _at(number, "its picture is neither JPEG nor PNG")
    if not SHA256.fullmatch(key) or (table == "crops" and not SHA256.fullmatch(row[1])):
        raise _at(number, "its SHA-256 has a form it cannot have")
    return row


def _cell(number: int, name: str, value: Any) -> Any:
    if name == "body":
        try:
            reading_from_json(value)
        except (ArithmeticError, LookupError, TypeError, ValueError) as error:
            raise _at(number, f"its reading is not understood: {error}") from error
        return json.dumps(value, ensure_ascii=False)
    if name == "picture":
        try:
            return base64.b64decode(value, validate=True)
        except (binascii.Error, ValueError) as error:
            raise _at(number, "its picture is not in base64") from error
    if name == "name":
        return re.sub(r"[\x00-\x1f]", " ", value)[:300]
    return value

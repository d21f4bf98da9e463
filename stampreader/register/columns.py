"""Which column of a spreadsheet is what: from its heading, or as a person says."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from stampreader.errors import UsageError
from stampreader.register.deriving import FIELDS
from stampreader.register.table_file import TableFile, heading_at

STEPS = ("in_service_on", "place", "inspected_on", "retired_on", "retired_because")
"""Columns that become life events."""

TARGETS = (*FIELDS, "figures", *STEPS)
"""What a column can be."""

LEFT_OUT = "-"

_SAME: Mapping[str, Sequence[str]] = {
    "id": ("item number", "label", "tag", "inventory number"),
    "maker": ("manufacturer", "brand", "made by"),
    "model": ("product", "model name"),
    "serial": ("serial number", "serial no", "sn", "s n"),
    "batch": ("lot", "lot number", "batch number", "lot no", "batch no"),
    "made_on": ("made", "date of manufacture", "manufactured", "year of manufacture"),
    "gate": ("gate type", "closure", "lock"),
    "note": ("notes", "remark", "remarks", "comment", "comments"),
    "delivery": ("order number", "invoice"),
    "figures": ("strength", "strengths", "mbs", "figures kn"),
    "closed_kN": ("closed", "major axis", "gate closed", "major", "mbs closed"),
    "cross_kN": ("cross", "minor axis", "cross loaded", "minor", "mbs cross"),
    "open_kN": ("open", "gate open", "mbs open"),
    "marks": ("standard", "standards", "norm", "certification"),
    "place": ("location", "kit", "bag", "store", "vehicle", "where"),
    "in_service_on": ("first use", "in use since", "date of first use", "in service since"),
    "inspected_on": ("last inspection", "last inspected", "inspected", "inspection date"),
    "retired_on": ("retired", "retirement date"),
    "retired_because": ("retirement reason", "why retired"),
}  # fmt: skip
"""Headings that mean one thing only, in plain letters; anything else a person must say."""


def plain_heading(text: str) -> str:
    """A heading for comparing: small letters, signs and units in brackets left out.

    Example:
        >>> plain_heading("Gate-open [kN]")
        'gate open'
    """
    without_units = re.sub(r"[\[(]\s*kn\s*[\])]|\s+kn$|_kn$", "", text.strip().casefold())
    return " ".join(re.sub(r"[\W_]+", " ", without_units or text.casefold()).split())


def _known_headings() -> dict[str, str]:
    found = {plain_heading(target): target for target in TARGETS}
    for target, names in _SAME.items():
        for name in names:
            found.setdefault(name, target)
    return found


def map_columns(table: TableFile, said: Iterable[str] = ()) -> dict[int, str]:
    """What each column is; columns left out are not in the answer.

    Args:
        table: the spreadsheet.
        said: what a person says, as `HEADING=FIELD`, `HEADING=-` to leave a column out; a column
            without a heading is named by its letter, such as `column C=note`.

    Raises:
        UsageError: a column that nobody knows, two for the same field, or a field that is none.
    """
    given = _said(table, said)
    known = _known_headings()
    found: dict[int, str] = {}
    unknown: list[str] = []
    for index in range(_width(table)):
        heading = heading_at(table.headings, index)
        target = given.get(index, known.get(plain_heading(heading), ""))
        if target == LEFT_OUT:
            continue
        if not target:
            unknown.append(heading)
            continue
        if target in found.values():
            raise UsageError(
                f"two columns are {target}, the second is '{heading}'",
                remedy=f"Leave one out: --map '{heading}=-'.",
            )
        found[index] = target
    if unknown:
        raise UsageError(
            f"columns not understood: {', '.join(unknown)}",
            remedy=f"Say what each is with --map '{unknown[0]}=FIELD', or leave it out with "
            f"--map '{unknown[0]}=-'. Fields: {', '.join(TARGETS)}.",
        )
    return found


def _width(table: TableFile) -> int:
    """How many columns hold anything."""
    filled = (
        index
        for row in table.rows
        for index, cell in enumerate(row.cells)
        if cell is not None and cell != ""
    )
    named = (index for index, heading in enumerate(table.headings) if heading)
    return 1 + max((*filled, *named), default=-1)


def _said(table: TableFile, said: Iterable[str]) -> dict[int, str]:
    headings = [heading_at(table.headings, index) for index in range(_width(table))]
    plain = [plain_heading(heading) for heading in headings]
    given: dict[int, str] = {}
    for text in said:
        heading, sign, target = (part.strip() for part in text.rpartition("="))
        if not sign or not heading:
            raise UsageError(f"'{text}' is not HEADING=FIELD", remedy="Write --map 'Maker=maker'.")
        if target not in (*TARGETS, LEFT_OUT):
            raise UsageError(
                f"there is no field {target}",
                remedy=f"Fields: {', '.join(TARGETS)}; - leaves a column out.",
            )
        if plain_heading(heading) not in plain:
            raise UsageError(
                f"there is no column '{heading}'", remedy=f"Columns: {', '.join(headings)}."
            )
        given[plain.index(plain_heading(heading))] = target
    return given

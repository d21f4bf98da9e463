"""What was ordered, and how what arrived differs from it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from stampreader.confirm.entry import Entry, Values
from stampreader.errors import UsageError
from stampreader.words import SLOTS

_HOW = (
    'Write it as "count=40; maker=Felsnase; model=Oval; figures=27/8/7; marks=CE 9123, EN 362/B".'
)
_YEAR = re.compile(r":\d{4}")
NOT_READ = "not read"
NONE_SEEN = "none seen"
KEYS = ("count", "maker", "model", "figures", "marks")


@dataclass(frozen=True, slots=True)
class Order:
    """One line of an order; what is left out is not compared.

    Attributes:
        count: how many.
        maker, model: as ordered.
        figures: closed, cross-loaded, gate open; `None` in a place means "not stamped".
        marks: marks in normal form that must be there; a year is compared only if ordered.
    """

    count: int | None = None
    maker: str = ""
    model: str = ""
    figures: Values | None = None
    marks: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As it is kept in the history."""
        return {
            "count": self.count,
            "maker": self.maker,
            "model": self.model,
            "figures": None if self.figures is None else figures_text(self.figures),
            "marks": list(self.marks),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Order:
        """As it was kept."""
        figures = data.get("figures")
        return cls(
            count=data.get("count"),
            maker=data.get("maker", ""),
            model=data.get("model", ""),
            figures=None if figures is None else parse_figures(figures),
            marks=tuple(data.get("marks", ())),
        )


@dataclass(frozen=True, slots=True)
class Difference:
    """One way in which a delivery differs from its order.

    Attributes:
        field: `count`, `closed`, `cross`, `open`, `mark`, `maker` or `model`.
        ordered, arrived: both values in words.
        arrivals: keys of the arrivals concerned; empty where the whole delivery is meant.
    """

    field: str
    ordered: str
    arrived: str
    arrivals: tuple[int, ...] = ()

    def __str__(self) -> str:
        """One line for a person."""
        if self.arrived in (NOT_READ, NONE_SEEN):
            return f"{self.field}: ordered {self.ordered}, {self.arrived}"
        return f"{self.field}: ordered {self.ordered}, arrived {self.arrived}"


def parse_figures(text: str) -> Values:
    """Three figures as written: closed/cross/open, `-` where none is stamped.

    Example:
        >>> parse_figures("27/8/-")
        (Decimal('27'), Decimal('8'), None)

    Raises:
        UsageError: not three figures, or not strengths.
    """
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != 3:
        raise UsageError(
            f"'{text}' is not three figures",
            remedy="Write closed/cross/open such as 27/8/7, with - for one that is not stamped.",
        )
    closed, cross, open_ = (parse_figure(part) for part in parts)
    return (closed, cross, open_)


def parse_figure(text: str) -> Decimal | None:
    """One figure in kN as typed; `-` for none.

    Raises:
        UsageError: not a number above 0 and up to 200 with at most two decimals.
    """
    written = text.strip()
    if written in ("-", "–"):
        return None
    try:
        value = Decimal(written.replace(",", "."))
    except InvalidOperation:
        value = Decimal(0)
    if not re.fullmatch(r"[0-9]{1,3}(?:[.,][0-9]{1,2})?", written) or not 0 < value <= 200:
        raise UsageError(f"'{text}' is not a strength in kN", remedy="Write a number such as 27.")
    return value


def figures_text(values: Values) -> str:
    """Three figures as written: `27/8/7`."""
    return "/".join("-" if value is None else str(value) for value in values)


def parse_order(text: str) -> Order:
    """One order line as typed: `count=40; maker=Felsnase; figures=27/8/7; marks=CE 9123`.

    Marks are taken as typed; the caller brings them into normal form.

    Raises:
        UsageError: unknown key, or a value it cannot have.
    """
    given: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in text.split(";"))):
        key, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or key not in KEYS or key in given or not value:
            raise UsageError(f"'{part}' in the order is not understood", remedy=_HOW)
        given[key] = value
    if not given:
        raise UsageError("the order is empty", remedy=_HOW)
    count = given.get("count")
    if count is not None and not re.fullmatch(r"[0-9]{1,6}", count):
        raise UsageError(f"'{count}' is not a count", remedy=_HOW)
    return Order(
        count=None if count is None else int(count),
        maker=given.get("maker", ""),
        model=given.get("model", ""),
        figures=parse_figures(given["figures"]) if "figures" in given else None,
        marks=tuple(m.strip() for m in given.get("marks", "").split(",") if m.strip()),
    )


def compare(orders: Sequence[Order], entries: Mapping[int, Entry]) -> tuple[Difference, ...]:
    """Every difference between what was ordered and what arrived.

    Each arrival is held against the order line it differs from least.

    Args:
        orders: the order's lines.
        entries: what arrived, by arrival key.
    """
    assigned = assign(orders, entries)
    found: dict[Difference, list[int]] = {}
    for key, order in assigned.items():
        for difference in differences(order, entries[key]):
            found.setdefault(difference, []).append(key)
    counts = []
    for order in orders:
        arrived_count = sum(1 for other in assigned.values() if other is order)
        if order.count is not None and order.count != arrived_count:
            counts.append(Difference("count", _line_text(order), str(arrived_count)))
    return (*counts, *(replace(one, arrivals=tuple(keys)) for one, keys in found.items()))


def assign(orders: Sequence[Order], entries: Mapping[int, Entry]) -> dict[int, Order]:
    """The order line each arrival belongs to: the one it differs from least."""
    if not orders:
        return {}
    return {
        key: min(orders, key=lambda order: len(differences(order, entry)))
        for key, entry in entries.items()
    }


def _line_text(order: Order) -> str:
    name = " ".join(filter(None, (order.maker, order.model)))
    figures = "" if order.figures is None else figures_text(order.figures)
    line = ", ".join(filter(None, (name, figures)))
    return f"{order.count} ({line})" if line else str(order.count)


def differences(order: Order, entry: Entry) -> tuple[Difference, ...]:
    """How one connector differs from the order line it belongs to."""
    found = []
    if order.figures is not None:
        for slot, ordered, arrived in zip(SLOTS, order.figures, entry.values, strict=True):
            if ordered != arrived:
                found.append(
                    Difference(slot.value, _said(ordered), _said(arrived, unknown=NOT_READ))
                )
    for mark in order.marks:
        if not any(satisfies(present, mark) for present in entry.marks):
            found.append(Difference("mark", mark, ", ".join(entry.marks) or NONE_SEEN))
    fields = entry.fields or {}
    for name, wanted in (("maker", order.maker), ("model", order.model)):
        typed = fields.get(name, "")
        if wanted and typed and typed.casefold() != wanted.casefold():
            found.append(Difference(name, wanted, typed))
    return tuple(found)


def _said(value: Decimal | None, unknown: str = "none") -> str:
    return unknown if value is None else str(value)


def satisfies(present: str, ordered: str) -> bool:
    """Whether a mark that is there is the one ordered; a year counts only if it was ordered.

    Example:
        >>> satisfies("EN 362:2004/B", "EN 362/B")
        True
    """
    if present.casefold() == ordered.casefold():
        return True
    return not _YEAR.search(ordered) and _YEAR.sub("", present).casefold() == ordered.casefold()
